"""The guide's page on many houses: its commands and programs are run as they stand, against a running service."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from warmstead.api.guide import markdown

PAGE = markdown("batch")
ADDRESS = "localhost:8080"
BLOCK = re.compile(r"^```([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
RUN = ("sh", "python")
BLOCKS = BLOCK.findall(PAGE)
EXAMPLES = [
    (language, code, following)
    for (language, code), (after, following) in pairwise(BLOCKS)
    if language in RUN and after == "output"
]


def test_every_program_on_the_page_is_run() -> None:
    assert len(EXAMPLES) == sum(language in RUN for language, _ in BLOCKS) >= 4
    # What needs machines that are not here is shown without a language; the tests of the command do the same with two workers.
    assert [code.split()[0] for language, code in BLOCKS if not language] == ["dask"]


@pytest.mark.parametrize(("language", "code", "output"), EXAMPLES, ids=range(len(EXAMPLES)))
def test_an_example_prints_what_is_shown(
    language: str, code: str, output: str, service: str, tmp_path: Path, programs: dict[str, str], absent: Any
) -> None:
    if "curl" in code and shutil.which("curl") is None:
        absent("curl is not on this machine")
    code = code.replace(ADDRESS, service.removeprefix("http://"))
    command = (
        [sys.executable, "-c", code] if language == "python" else ["bash", "-euo", "pipefail", "-c", code]
    )
    run = subprocess.run(
        command, cwd=tmp_path, env=programs, capture_output=True, text=True, timeout=300, check=False
    )
    assert run.returncode == 0, run.stderr
    assert run.stdout == output
