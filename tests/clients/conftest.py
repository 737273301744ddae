"""Real programs that ask the service: the service itself as a process, and what each program needs.

A program that is not on this machine skips its tests with the reason. `WARMSTEAD_REQUIRE_CLIENTS=1` makes that a failure
instead, and lets npm fetch what the lock file names.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import sysconfig
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple, NoReturn

import httpx
import pytest

from warmstead.demo import requests as demo_requests

REQUIRED = os.environ.get("WARMSTEAD_REQUIRE_CLIENTS") == "1"
NODE_PROJECT = Path(__file__).parent / "node"
ROOT = Path(__file__).parents[2]
OFFICE_PYTHON = "/usr/bin/python3"
"""Debian's own Python: its package python3-uno serves no other."""

FIGURES = pytest.StashKey[list[str]]()


def program_absent(what: str) -> NoReturn:
    """Say what this machine lacks: skipped here, failed where every client is required."""
    if REQUIRED:
        pytest.fail(f"{what}, and WARMSTEAD_REQUIRE_CLIENTS is 1")
    pytest.skip(what)


class Figures:
    """What a run found out in numbers, printed at its end."""

    def __init__(self, lines: list[str]) -> None:
        self._lines = lines

    def note(self, line: str) -> None:
        """Keep one line for the end of the run."""
        self._lines.append(line)


def pytest_configure(config: pytest.Config) -> None:
    config.stash[FIGURES] = []


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    for line in config.stash.get(FIGURES, []):
        terminalreporter.write_line(f"clients: {line}")


@pytest.fixture(scope="session")
def figures(pytestconfig: pytest.Config) -> Figures:
    return Figures(pytestconfig.stash.setdefault(FIGURES, []))


@pytest.fixture(scope="session")
def absent() -> Callable[[str], NoReturn]:
    """How a test says that a program it needs is not there."""
    return program_absent


@pytest.fixture(scope="session")
def schema_file() -> Path:
    """The committed OpenAPI document: what a stranger would generate a client from."""
    return ROOT / "openapi" / "v1.json"


@pytest.fixture(scope="session")
def service() -> Iterator[str]:
    """Serve as the command does, in a process of its own; gives the address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "warmstead.cli", "serve", "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        address = f"http://127.0.0.1:{port}"
        try:
            _await(address, process)
            yield address
        finally:
            process.terminate()


@pytest.fixture
def programs(tmp_path: Path) -> dict[str, str]:
    """An environment in which `warmstead` and the tools beside this Python are found, as after installing them."""
    folder = tmp_path / "bin"
    folder.mkdir()
    command = folder / "warmstead"
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m warmstead.cli "$@"\n', encoding="utf-8")
    command.chmod(0o755)
    path = os.pathsep.join([str(folder), sysconfig.get_path("scripts"), os.environ["PATH"]])
    return {**os.environ, "PATH": path}


def _await(address: str, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + 30
    while time.monotonic() < until and process.poll() is None:
        try:
            httpx.get(f"{address}/healthz")
            return
        except httpx.TransportError:
            time.sleep(0.05)
    pytest.fail("the service did not start")


@pytest.fixture(scope="session")
def demo() -> dict[str, dict[str, Any]]:
    """One complete request to each question."""
    made: dict[str, dict[str, Any]] = demo_requests()
    return made


@pytest.fixture(scope="session")
def answers(service: str, demo: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """The service's JSON answer to each of them, for the clients to be compared with."""
    found = {}
    with httpx.Client(base_url=service, timeout=120) as client:
        for question, request in demo.items():
            response = client.post(f"/v1/{question}", json=request)
            assert response.status_code == 200, (question, response.text)
            found[question] = response.json()
    return found


class NodeProject(NamedTuple):
    """The npm project beside these tests, its packages installed."""

    folder: Path

    def run(
        self, program: str, *arguments: str | Path, check: bool = True
    ) -> subprocess.CompletedProcess[str]:
        """Run one of its programs in its folder."""
        command = [str(self.folder / "node_modules" / ".bin" / program), *map(str, arguments)]
        return self._run(command, check)

    def node(self, script: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
        """Run a script."""
        return self._run(["node", str(script), *arguments], check=True)

    def _run(self, command: list[str], check: bool) -> subprocess.CompletedProcess[str]:
        result = subprocess.run(
            command,
            cwd=self.folder,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            timeout=300,
            check=False,
        )
        if check and result.returncode != 0:
            pytest.fail(f"{command[0]} ended with {result.returncode}:\n{result.stdout}")
        return result


@pytest.fixture(scope="session")
def node_project() -> NodeProject:
    if shutil.which("node") is None or shutil.which("npm") is None:
        program_absent("node and npm are not on this machine")
    if not (NODE_PROJECT / "node_modules" / ".package-lock.json").is_file():
        if not REQUIRED:
            program_absent("run npm ci in tests/clients/node first")
        subprocess.run(["npm", "ci", "--silent"], cwd=NODE_PROJECT, check=True, timeout=600)
    return NodeProject(NODE_PROJECT)


@pytest.fixture(scope="session")
def office_python() -> str:
    """The Python that can speak to the spreadsheet program (Debian: libreoffice-calc, python3-uno)."""
    if shutil.which("soffice") is None:
        program_absent("LibreOffice is not on this machine")
    if not Path(OFFICE_PYTHON).is_file():
        program_absent(f"there is no {OFFICE_PYTHON}")
    probe = subprocess.run([OFFICE_PYTHON, "-c", "import uno"], capture_output=True, timeout=60, check=False)
    if probe.returncode != 0:
        program_absent("python3-uno is not on this machine")
    return OFFICE_PYTHON
