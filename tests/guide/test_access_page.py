"""The page on who may call, and the one on what is told: the commands are run, and what they list is complete."""

from __future__ import annotations

import os
import re
import shlex
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest

from warmstead.api import guide
from warmstead.api.observing import metrics
from warmstead.api.settings import Settings, variable
from warmstead.cli.access import OPTIONS
from warmstead.cli.serve import serve

ACCESS, OBSERVING = guide.markdown("access"), guide.markdown("observing")
BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


class Terminal:
    """Runs what the page shows, in a folder of its own, on another port."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as found:
            found.bind(("127.0.0.1", 0))
            self._port = str(found.getsockname()[1])
        self._folder = folder
        self._serving: list[subprocess.Popen[bytes]] = []

    def run(self, commands: str) -> str:
        """Run commands and return their output; one that serves goes on until the end."""
        commands = commands.replace("8080", self._port)
        command = f'warmstead() {{ {shlex.quote(sys.executable)} -m warmstead.cli "$@"; }}\nset -eu -o pipefail\n{commands}'
        if commands.rstrip().endswith("&"):
            arguments = shlex.split(commands.rstrip().removesuffix("&"))[1:]
            self._serving.append(
                subprocess.Popen(
                    [sys.executable, "-m", "warmstead.cli", *arguments], cwd=self._folder, env=environment()
                )
            )
            self._wait()
            return ""
        done = subprocess.run(
            ["bash", "-c", command],
            cwd=self._folder,
            env=environment(),
            capture_output=True,
            text=True,
            timeout=120,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def _wait(self) -> None:
        deadline = time.monotonic() + 60
        while True:
            try:
                httpx.get(f"http://127.0.0.1:{self._port}/healthz", timeout=30)
                return
            except httpx.HTTPError:
                assert time.monotonic() < deadline
                time.sleep(0.1)

    def close(self) -> None:
        """End what serves."""
        for process in self._serving:
            process.send_signal(signal.SIGTERM)
            process.wait(30)


def environment() -> dict[str, str]:
    return {name: value for name, value in os.environ.items() if not name.startswith("WARMSTEAD_")}


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    made = Terminal(tmp_path)
    yield made
    made.close()


def test_the_commands_give_what_is_shown(terminal: Terminal) -> None:
    given, compared = "", 0
    for kind, block in BLOCK.findall(ACCESS):
        if kind == "sh":
            given = terminal.run(block)
        else:
            assert kind == "output"
            assert given == block
            compared += 1
    assert compared == 4


def test_the_page_names_every_setting_and_option_about_access() -> None:
    named = set(re.findall(r"WARMSTEAD_[A-Z_]+", ACCESS + OBSERVING))
    options = {
        option(lambda: None).__click_params__[0].name  # type: ignore[attr-defined]  # where click keeps them
        for option in OPTIONS
    }
    assert {variable(name) for name in options} <= named
    assert named <= {variable(name) for name in Settings.model_fields} | {"WARMSTEAD_KEY"}
    offered = {given for parameter in serve.params for given in parameter.opts}
    assert set(re.findall(r"`(--[a-z-]+)", ACCESS + OBSERVING)) <= offered


def test_the_page_lists_every_figure_and_its_labels() -> None:
    shown = {
        name: re.findall(r"`(\w+)`", labels)
        for name, labels in re.findall(r"^\| `(warmstead_\w+)` \| (.*?) ?\|", OBSERVING, re.MULTILINE)
    }
    real = {
        family.name + ("_total" if family.type == "counter" else ""): list(collector._labelnames)
        for collector in (metrics._requests, metrics._seconds, metrics._at_hand, metrics._refused)
        for family in collector.describe()
    } | {
        family.name + ("_total" if family.type == "counter" else ""): list(collector._labelnames)
        for collector in (metrics._by_key, metrics._long_work, metrics._info)
        for family in collector.describe()
    }
    assert shown == real
    names = {
        name for name in vars(metrics) if name.startswith("_") and hasattr(vars(metrics)[name], "_labelnames")
    }
    assert len(names) == len(real)
