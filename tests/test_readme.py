"""The README's tour is run, and what it shows is what comes out.

`UPDATE_README=1 pytest tests/test_readme.py` writes today's output into the README instead; look at the difference before
committing it.
"""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

README = Path(__file__).parents[1] / "README.md"
BLOCK = re.compile(r"^```(console|python)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SERVER = "http://localhost:8080"
SERVE_COMMAND = "warmstead serve --port 8080 &"


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [sys.executable, "-m", "warmstead.cli", "serve", "--port", str(port)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        url = f"http://127.0.0.1:{port}"
        for _ in range(200):
            try:
                httpx.get(f"{url}/healthz")
                break
            except httpx.TransportError:
                time.sleep(0.05)
        else:
            server.kill()
            pytest.fail("the service did not start")
        yield url
        server.terminate()


def commands(block: str) -> list[str]:
    """Split a console block into commands, here documents kept whole; their outputs are dropped."""
    found: list[str] = []
    ends_with: str | None = None
    for line in block.splitlines():
        if ends_with is not None:
            found[-1] += f"\n{line}"
            if line == ends_with:
                ends_with = None
        elif line.startswith("$ "):
            found.append(line.removeprefix("$ "))
            here_document = re.search(r"<<'(\w+)'", line)
            ends_with = here_document.group(1) if here_document else None
    return found


def run(command: str, folder: Path, address: str) -> str:
    if command == SERVE_COMMAND:
        return ""
    own = f'warmstead() {{ {sys.executable} -m warmstead.cli "$@"; }}\n'
    result = subprocess.run(
        ["bash", "-c", own + command.replace(SERVER, address)],
        cwd=folder,
        env={**os.environ, "COLUMNS": "118", "NO_COLOR": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=120,
        check=False,
    )
    return "\n".join(line.rstrip() for line in result.stdout.splitlines())


def console(block: str, folder: Path, address: str) -> str:
    """Return the block as it comes out today."""
    parts = []
    for command in commands(block):
        output = run(command, folder, address)
        parts.append(f"$ {command}" + (f"\n{output}" if output else ""))
    return "\n".join(parts) + "\n"


def python(block: str) -> str:
    """Return the block with what it prints written as comments after it."""
    code = "\n".join(line for line in block.splitlines() if not line.startswith("# → "))
    result = subprocess.run(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, timeout=60, check=True
    )
    return code + "\n" + "".join(f"# → {line}\n" for line in result.stdout.splitlines())


def test_the_tour_shows_what_comes_out(tmp_path: Path, address: str) -> None:
    text = README.read_text(encoding="utf-8")

    def today(match: re.Match[str]) -> str:
        kind, block = match.groups()
        body = console(block, tmp_path, address) if kind == "console" else python(block)
        return f"```{kind}\n{body}```"

    tour = BLOCK.sub(today, text)
    if os.environ.get("UPDATE_README"):
        README.write_text(tour, encoding="utf-8")
        text = tour
    assert len(BLOCK.findall(text)) >= 8
    assert tour == text
