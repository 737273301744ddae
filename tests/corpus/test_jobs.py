"""The jobs of the README for users' own builds are run as they stand there, against the real server."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
import yaml

import warmstead
from warmstead.api.app import app
from warmstead.corpus import default_folder, load

Serve = Callable[[Any], AbstractContextManager[str]]
Run = Callable[[str, str], subprocess.CompletedProcess[str]]
README = (default_folder() / "README.md").read_text(encoding="utf-8")
CASES = load(default_folder())


def _job(name: str) -> str:
    found = re.search(rf"<!-- job: {name} -->\n```\w+\n(.*?)```", README, re.DOTALL)
    assert found, f"the README has no job {name}"
    return found.group(1)


def _step_of_the_workflow() -> str:
    (job,) = yaml.safe_load(_job("workflow"))["jobs"].values()
    (step,) = (step for step in job["steps"] if step.get("name") == "Check the service")
    return str(step["run"])


JOBS = {"shell": ("sh", _job("shell")), "workflow": ("bash -e", _step_of_the_workflow())}


async def _hot_glass(scope: dict[str, Any], receive: Any, send: Any) -> None:
    """The service with one number off by two parts in a hundred: every U-value it gives."""

    async def spoilt(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [pair for pair in message["headers"] if pair[0] != b"content-length"]
        elif message.get("body"):
            answer = json.loads(message["body"])
            if "u_value_w_m2k" in answer:
                answer["u_value_w_m2k"] *= 1.02
            message["body"] = json.dumps(answer).encode()
        await send(message)

    await app(scope, receive, spoilt)  # type: ignore[arg-type]  # narrower than any message


@pytest.fixture
def run(tmp_path: Path) -> Run:
    """Give a function that runs a job in an empty folder, with the command on the path."""
    command = tmp_path / "bin/warmstead"
    command.parent.mkdir()
    package = Path(warmstead.__file__).parents[1]
    command.write_text(
        f'#!/bin/sh\nPYTHONPATH="{package}" exec "{sys.executable}" -m warmstead.cli "$@"\n', encoding="utf-8"
    )
    command.chmod(0o755)
    place = tmp_path / "build"
    place.mkdir()

    def run(job: str, url: str) -> subprocess.CompletedProcess[str]:
        shell, script = JOBS[job]
        environment = {**os.environ, "PATH": f"{command.parent}:{os.environ['PATH']}", "SERVICE_URL": url}
        environment |= {"no_proxy": "127.0.0.1", "NO_PROXY": "127.0.0.1"}
        return subprocess.run(
            [*shell.split(), "-c", script],
            cwd=place,
            env=environment,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )

    return run


def _reports(tmp_path: Path) -> tuple[dict[str, Any], ElementTree.Element]:
    place = tmp_path / "build"
    data = json.loads((place / "reference-cases.json").read_text(encoding="utf-8"))
    return data, ElementTree.parse(place / "reference-cases.xml").getroot()


@pytest.mark.parametrize("job", JOBS)
def test_a_right_service_passes(job: str, run: Run, serve: Serve, tmp_path: Path) -> None:
    with serve(app) as url:
        done = run(job, url)
    assert done.returncode == 0, done.stdout + done.stderr
    assert f"{len(CASES)} of {len(CASES)} cases passed" in done.stdout
    data, xml = _reports(tmp_path)
    assert data["ok"] is True
    assert sum(int(suite.get("tests", 0)) for suite in xml) == len(CASES)


@pytest.mark.parametrize("job", JOBS)
def test_a_wrong_service_fails_and_the_case_is_named(
    job: str, run: Run, serve: Serve, tmp_path: Path
) -> None:
    with serve(_hot_glass) as url:
        done = run(job, url)
    assert done.returncode == 1, done.stdout + done.stderr
    assert ("WRONG ANSWERS" in done.stderr) is (job == "shell")
    assert "u-value/one-layer-horizontal" in done.stdout
    data, xml = _reports(tmp_path)
    failed = {result["id"] for result in data["results"] if result["outcome"] == "failed"}
    assert "one-layer-horizontal" in failed
    assert "radiator-factor-at-30-k" not in failed
    named = {str(one.get("name")) for one in xml.iter("testcase") if one.find("failure") is not None}
    assert named == failed


def test_the_shell_job_tells_no_answer_from_a_wrong_one(run: Run) -> None:
    with socket.socket() as unused:  # bound and never listening: a connection to it is refused
        unused.bind(("127.0.0.1", 0))
        done = run("shell", f"http://127.0.0.1:{unused.getsockname()[1]}")
    assert done.returncode == 2
    assert "NO VERDICT" in done.stderr
    assert "No answer" in done.stdout


def test_the_shell_job_needs_an_address(run: Run) -> None:
    done = run("shell", "")
    assert done.returncode != 0
    assert "is the address of the service" in done.stderr


def test_the_example_of_a_mapping_in_the_readme_is_a_mapping(tmp_path: Path) -> None:
    from warmstead.corpus import load_mapping

    found = re.search(r'```json\n(\{\n  "schema_version".*?)```', README, re.DOTALL)
    assert found
    (tmp_path / "mapping.json").write_text(found.group(1), encoding="utf-8")
    assert load_mapping(tmp_path / "mapping.json", CASES).questions["u-value"].path == "/wall"
