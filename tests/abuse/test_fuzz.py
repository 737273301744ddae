"""A short, seeded run of the fuzzer on each target, and the proof that it finds what is planted.

`WARMSTEAD_FUZZ_SECONDS` says how much processor time each target gets; a long run gives more than the two seconds of here.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("atheris", reason="made for Linux on x86-64 only")

FUZZ = Path(__file__).with_name("fuzz.py")
SECONDS = os.environ.get("WARMSTEAD_FUZZ_SECONDS", "2")
FEWEST = {"text": 200, "values": 200, "long-values": 10, "workbook": 5, "table": 20, "batch": 5, "query": 5}
"""Inputs that each target tries at least in two seconds of processor time; a run that tries nothing finds nothing."""


def fuzz(*arguments: str) -> tuple[int, str]:
    ran = subprocess.run(
        [sys.executable, str(FUZZ), *arguments], capture_output=True, text=True, timeout=3000, check=False
    )
    return ran.returncode, ran.stdout + ran.stderr[-2000:]


def test_no_input_crashes_hangs_or_is_answered_wrongly() -> None:
    code, said = fuzz("--seconds", SECONDS)
    print(said)
    assert code == 0, said
    reports = [json.loads(line) for line in said.splitlines() if line.startswith("{")]
    counts = {report["target"]: report for report in reports}
    assert {name for name, least in FEWEST.items() if counts[name]["tried"] < least} == set()


def test_planted_faults_are_found() -> None:
    # Two of nine: all of them take minutes of processor time (`fuzz.py --prove`, before a release).
    code, said = fuzz("query", "table", "--prove", "--seconds", "60")
    assert code == 0, said
    assert re.findall(r"(?m)^planted (.+) in \w+: found$", said) == ["crash in a table", "crash in a query"]
