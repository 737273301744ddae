"""The command `warmstead check`: its options, its exit status, and what it must not pass."""

from __future__ import annotations

import json
import os
import pty
import shutil
import socket
import subprocess
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result

from warmstead.cli import main
from warmstead.corpus import default_folder, load, select

ADAPTER = Path(__file__).parent / "adapter"
Serve = Callable[[Any], AbstractContextManager[str]]
Write = Callable[[str, Any], Path]


def _check(*options: str | Path) -> Result:
    return CliRunner(env={"COLUMNS": "140"}).invoke(main, ["check", *map(str, options)])


@pytest.fixture
def own(folder: Path, write: Write, case_data: dict[str, Any]) -> dict[str, Any]:
    """Give a case that this service answers as it expects, written into the sound folder; returns its data."""
    case_data["request"]["body"] = {
        "construction": {"kind": "declared", "u_value_w_m2k": 0.3, "source": "a certificate"}
    }
    write("u-value/one-layer.json", case_data)
    return case_data


def test_all_cases_pass_in_process() -> None:
    result = _check("--concurrency", "2")
    assert result.exit_code == 0, result.output
    assert f"{len(load(default_folder()))} of" in result.output
    assert result.stderr == ""


def test_cases_of_a_user_s_own(folder: Path, own: dict[str, Any]) -> None:
    result = _check("--cases", folder)
    assert result.exit_code == 0, result.output
    assert "1 of 1 cases passed" in result.output


def test_cases_of_a_user_s_own_with_the_service_s_registers(
    folder: Path, own: dict[str, Any], write: Write
) -> None:
    (folder / "flags.json").unlink()
    (folder / "sources.json").unlink()
    source = {**own["source"], "key": "contract-v1"}
    write("u-value/one-layer.json", {**own, "flags": ["declared_value"], "source": source})
    assert _check("--cases", folder).exit_code == 0


# What must not pass.


def test_an_empty_folder_does_not_pass(tmp_path: Path) -> None:
    result = _check("--cases", tmp_path)
    assert result.exit_code == 2
    assert "holds no cases" in result.stderr


def test_a_misspelt_pointer_does_not_pass(folder: Path, own: dict[str, Any], write: Write) -> None:
    own["expect"]["values"][0]["pointer"] = "/u_valeu_w_m2k"
    write("u-value/one-layer.json", own)
    result = _check("--cases", folder)
    assert result.exit_code == 1
    assert "nothing at pointer" in result.output


def test_a_tolerance_that_is_absurdly_wide_does_not_pass(
    folder: Path, own: dict[str, Any], write: Write
) -> None:
    tolerance = {"absolute": 0.04, "reason": "sources differ very much"}
    own["expect"]["values"][0]["tolerance"] = tolerance
    write("u-value/one-layer.json", own)
    result = _check("--cases", folder)
    assert result.exit_code == 2
    assert "too wide to check anything" in result.stderr


def test_a_case_that_says_nothing_does_not_pass(folder: Path, own: dict[str, Any], write: Write) -> None:
    own["expect"]["values"] = [{"pointer": "/correction_w_m2k", "absent": True}]
    write("u-value/one-layer.json", own)
    result = _check("--cases", folder)
    assert result.exit_code == 2
    assert "says nothing: an empty answer would pass" in result.stderr


async def _echo(scope: dict[str, Any], receive: Any, send: Any) -> None:
    content, more = b"", True
    while more:
        message = await receive()
        content, more = content + message.get("body", b""), message.get("more_body", False)
    headers = [(b"content-type", b"application/json")]
    await send({"type": "http.response.start", "status": 200, "headers": headers})
    await send({"type": "http.response.body", "body": content})


def test_a_server_that_echoes_the_request_passes_no_case_at_all(serve: Serve) -> None:
    with serve(_echo) as url:
        result = _check("--url", url, "--concurrency", "4")
    assert result.exit_code == 1
    number = len(load(default_folder()))
    assert f"0 of {number} cases passed, {number} answered wrongly" in result.output


def test_a_dead_server_does_not_pass() -> None:
    with socket.socket() as unused:  # bound and never listening: a connection to it is refused
        unused.bind(("127.0.0.1", 0))
        result = _check("--url", f"http://127.0.0.1:{unused.getsockname()[1]}", "--question", "room-loss")
    assert result.exit_code == 2
    assert "No answer" in result.output
    assert "refused" in result.output


# Choosing.


def test_cases_are_chosen_by_flag_and_question() -> None:
    chosen = select(load(default_folder()), questions=["u-value"], flags=["layered", "air_layer"])
    result = _check("--flags", "layered, air_layer", "--question", "u-value")
    assert result.exit_code == 0
    assert f"{len(chosen)} of {len(chosen)} cases passed" in result.output


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--flags", "bridged_layr"], "no case has the flag 'bridged_layr'; nearest: 'bridged_layer'"),
        (["--flags", ""], "no case has the flag ''"),
        (["--question", "u-valu"], "nearest: 'u-value'"),
        (["--question", "room-loss", "--flags", "inverse"], "nothing to check"),
        (["--url", "localhost:80"], "begins with http"),
        (["--url", "http://host:port"], "is no address"),
        (["--command", ""], "names no program"),
        (["--url", "http://localhost", "--command", "x"], "one at a time"),
        (["--cases", "nowhere"], "does not exist"),
        (["--mapping", "nowhere"], "does not exist"),
        (["--concurrency", "0"], "is not in the range"),
        (["--timeout", "0"], "is not in the range"),
    ],
)
def test_wrong_use(options: list[str], told: str) -> None:
    result = _check(*options)
    assert result.exit_code == 2
    assert told in result.stderr


# Other implementations.


def test_a_program_with_a_mapping() -> None:
    program = f"{sys.executable} {ADAPTER / 'service.py'}"
    options = ["--command", program, "--mapping", str(ADAPTER / "mapping.json"), "--concurrency", "2"]
    result = _check(*options, "--question", "emitter-check", "--flags", "logarithmic_mean,water_flow")
    assert result.exit_code == 1
    assert "emitter-check/logarithmic-mean-for-a-wide-spread" in result.output
    assert "agreeing digits" in result.output


def test_a_spoilt_mapping_is_wrong_use(tmp_path: Path) -> None:
    (tmp_path / "mapping.json").write_text("{}", encoding="utf-8")
    result = _check("--mapping", tmp_path / "mapping.json")
    assert result.exit_code == 2
    assert "mapping.json: questions: Field required" in result.stderr


def test_a_program_that_is_not_there_is_no_answer() -> None:
    result = _check("--command", "/nowhere/at-all", "--fail-fast")
    assert result.exit_code == 2
    assert "the program cannot be started" in result.output
    assert "not reached" in result.output


# Reports.


def test_reports_are_written_for_a_pass_and_for_a_failure(
    tmp_path: Path, folder: Path, own: dict[str, Any], write: Write
) -> None:
    xml, data = tmp_path / "out.xml", tmp_path / "out.json"
    # Beside the cases they would be taken for cases; a report belongs elsewhere.
    cases = Path(shutil.copytree(folder, tmp_path / "cases", ignore=shutil.ignore_patterns("cases")))
    options: list[str | Path] = ["--cases", cases, "--junit", xml, "--json", data]
    assert _check(*options).exit_code == 0
    assert json.loads(data.read_text(encoding="utf-8"))["ok"] is True
    own["expect"]["values"][0]["printed"] = "0.40"
    (cases / "u-value/one-layer.json").write_text(json.dumps(own), encoding="utf-8")
    assert _check(*options).exit_code == 1
    assert json.loads(data.read_text(encoding="utf-8"))["exit_status"] == 1
    assert ElementTree.parse(xml).find("testsuite/testcase/failure") is not None


def test_a_report_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    result = _check("--question", "required-thickness", "--junit", tmp_path / "nowhere/out.xml")
    assert result.exit_code == 2
    assert "the report cannot be written" in result.stderr


def _run_on(stderr: int) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "warmstead.cli", "check", "--question", "room-loss"]
    environment = {name: value for name, value in os.environ.items() if name != "FORCE_COLOR"}
    environment |= {"TERM": "xterm", "COLUMNS": "100"}
    return subprocess.run(
        command, stdout=subprocess.PIPE, stderr=stderr, env=environment, check=True, timeout=30
    )


def test_the_progress_bar_is_for_a_terminal_alone() -> None:
    master, terminal = pty.openpty()
    try:
        shown = _run_on(terminal)
        os.close(terminal)
        drawn = b""
        try:
            while part := os.read(master, 65536):
                drawn += part
        except OSError:  # the end of a terminal
            pass
    finally:
        os.close(master)
    total = len(select(load(default_folder()), questions=["room-loss"]))
    assert f"/{total}".encode() in drawn
    assert b"\x1b[" not in shown.stdout
    piped = _run_on(subprocess.PIPE)
    assert piped.stderr == b""
    assert piped.stdout == shown.stdout
