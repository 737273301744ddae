"""The guide's page for callers: each example is run as it stands, or says that it is not executed.

Only the address of the service differs: that of the one that runs here takes the place of the one on the page.
"""

from __future__ import annotations

import asyncio
import csv
import importlib.util
import json
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml

from warmstead.api.guide import markdown

PAGE = markdown("callers")
ADDRESS = "http://localhost:8080"
GENERATOR_CONFIG = Path(__file__).parent / "python" / "generator.yaml"
RUN = ("sh", "python", "typescript", "uno")
NOT_RUN = ("m", "javascript")


class Example(NamedTuple):
    """A block of code, the section in which it stands, and the output shown after it."""

    language: str
    section: str
    code: str
    output: str


def sections() -> Iterator[tuple[str, str]]:
    for part in PAGE.split("\n## ")[1:]:
        heading, _, text = part.partition("\n")
        yield heading, text


def examples(*languages: str) -> list[Example]:
    """Return the blocks in these languages; each is followed by its output, if it is run."""
    found = []
    for section, text in sections():
        blocks = re.findall(r"^```(\w+)\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
        for (language, code), (following, output) in zip(blocks, [*blocks[1:], ("", "")], strict=True):
            if language in languages:
                found.append(Example(language, section, code, output if following == "output" else ""))
    return found


def only(language: str) -> Example:
    (example,) = examples(language)
    return example


def test_every_block_is_run_or_says_that_it_is_not() -> None:
    known = {*RUN, *NOT_RUN, "output", "json", "yaml"}
    assert set(re.findall(r"^```(\w+)$", PAGE, re.MULTILINE)) == known
    for example in examples(*RUN):
        assert example.output, example.section
    text = dict(sections())
    for example in examples(*NOT_RUN):
        assert text[example.section].lstrip().startswith("Not executed: "), example.section
    said = {section for section, words in text.items() if "Not executed" in words}
    assert said == {example.section for example in examples(*NOT_RUN)}


def printed(command: list[str], folder: Path, environment: dict[str, str] | None = None) -> str:
    run = subprocess.run(
        command, cwd=folder, env=environment, capture_output=True, text=True, timeout=300, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout


@pytest.mark.parametrize("example", examples("sh"), ids=lambda example: example.section)
def test_a_shell_example(
    example: Example, service: str, tmp_path: Path, programs: dict[str, str], absent: Any
) -> None:
    program = example.code.split()[0]
    if shutil.which(program, path=programs["PATH"]) is None:
        absent(f"{program} is not on this machine")
    shutil.copy(GENERATOR_CONFIG, tmp_path / "generator.yaml")
    code = example.code.replace(ADDRESS, service)
    assert printed(["bash", "-euo", "pipefail", "-c", code], tmp_path, programs) == example.output


def test_the_generator_is_told_what_the_page_says() -> None:
    assert yaml.safe_load(only("yaml").code) == yaml.safe_load(GENERATOR_CONFIG.read_text(encoding="utf-8"))


def test_the_python_example(service: str, tmp_path: Path) -> None:
    code = only("python").code.replace(ADDRESS, service)
    assert printed([sys.executable, "-c", code], tmp_path) == only("python").output


def test_the_typescript_example(service: str, tmp_path: Path, node_project: Any, schema_file: Path) -> None:
    for name in ("package.json", "tsconfig.json"):
        shutil.copy(node_project.folder / name, tmp_path / name)
    (tmp_path / "node_modules").symlink_to(node_project.folder / "node_modules")
    code = only("typescript").code
    (tmp_path / "example.ts").write_text(code.replace(ADDRESS, service), encoding="utf-8")
    shutil.copy(schema_file, tmp_path / "openapi.json")
    said = re.search(r"`(openapi-typescript [^`]*)`", PAGE)
    assert said is not None
    generator, document, *options = said.group(1).split()
    node_project.run(generator, tmp_path / document, *options[:-1], tmp_path / options[-1])
    node_project.run("tsc", "--project", tmp_path, "--outDir", tmp_path / "made")
    assert node_project.node(tmp_path / "made" / "example.js").stdout == only("typescript").output


LINES = [("area", "U", "inside", "outside"), (10, 2.2, 21, -3), (4, 1.4, 21, -3)]
"""What the page says of `elements.ods`."""


@pytest.fixture
def elements(tmp_path: Path, office_python: str) -> Path:
    """Make `elements.ods` of a CSV, by the program itself."""
    with (tmp_path / "elements.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(LINES)
    convert(tmp_path, "ods", "elements.csv")
    (tmp_path / "elements.csv").unlink()
    return tmp_path / "elements.ods"


def convert(folder: Path, to: str, file: str) -> None:
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    printed(["soffice", profile, "--headless", "--convert-to", to, file], folder)


def test_the_script_beside_a_sheet(service: str, elements: Path, office_python: str) -> None:
    folder = elements.parent
    said = re.search(r'`soffice (--headless) (--accept)="([^`]*)"`', PAGE)
    assert said is not None
    profile = f"-env:UserInstallation={(folder / 'profile').as_uri()}"
    command = ["soffice", profile, said[1], f"{said[2]}={said[3]}"]
    script = [office_python, "-c", only("uno").code.replace(ADDRESS, service)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as office:
        try:
            assert until_it_answers(script, folder) == only("uno").output
        finally:
            office.terminate()
    convert(folder, "csv", "elements.ods")
    held = list(csv.reader((folder / "elements.csv").read_text(encoding="utf-8").splitlines()))
    # By hand: 10 · 2.2 · 24 and 4 · 1.4 · 24.
    assert [float(row[4]) for row in held[1:]] == pytest.approx([528.0, 134.4])


def until_it_answers(script: list[str], folder: Path) -> str:
    """Run a script as soon as the program takes connections."""
    for _ in range(100):
        run = subprocess.run(script, cwd=folder, capture_output=True, text=True, timeout=120, check=False)
        if run.returncode == 0 or "NoConnectException" not in run.stderr:
            assert run.returncode == 0, run.stderr
            return run.stdout
        time.sleep(0.3)
    pytest.fail("the program took no connection")


def test_the_assistant_s_configuration_starts_the_tools(
    programs: dict[str, str], monkeypatch: pytest.MonkeyPatch, absent: Any
) -> None:
    if importlib.util.find_spec("fastmcp") is None:
        absent("fastmcp, of the extra `assistant`, is not installed")
    import fastmcp

    monkeypatch.setenv("PATH", programs["PATH"])
    configuration = json.loads(only("json").code)
    # The library starts a command with few of this process's variables.
    configuration["mcpServers"]["warmstead"]["env"] = programs

    async def asked() -> Any:
        async with fastmcp.Client(configuration) as client:
            return await client.call_tool("get_table", {"name": "flues"})

    assert asyncio.run(asked()).structured_content["name"] == "flues"
