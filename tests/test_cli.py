"""The command, as a user runs it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from warmstead import cli
from warmstead.demo import requests
from warmstead.questions.registry import QUESTIONS

WALL = {"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": "invented"}}


def run(*arguments: str, given: str | None = None) -> Result:
    return CliRunner().invoke(cli.main, list(arguments), input=given)


def test_the_command_knows_the_questions_of_the_registry() -> None:
    assert list(QUESTIONS) == list(cli.QUESTIONS)


@pytest.mark.parametrize("question", cli.QUESTIONS)
@pytest.mark.parametrize("shape", ["json", "table"])
def test_each_example_is_answered_in_both_shapes(question: str, shape: str) -> None:
    example = run("example", question)
    assert json.loads(example.output) == requests()[question]
    answer = run("ask", question, "-", "--as", shape, "--workings", given=example.output)
    assert answer.exit_code == 0, answer.output
    if shape == "json":
        assert json.loads(answer.output)["workings"]
    else:
        assert "Workings" in answer.output
        assert "-0 " not in answer.output


def test_an_answer_is_that_of_the_python_function() -> None:
    answer = run("ask", "u-value", "-", given=json.dumps(WALL))
    assert json.loads(answer.output)["u_value_w_m2k"] == WALL["construction"]["u_value_w_m2k"]


def test_what_is_not_json_ends_with_status_1() -> None:
    answer = run("ask", "u-value", "-", given="{")
    assert answer.exit_code == 1
    assert "not JSON" in answer.stderr


@pytest.mark.parametrize("shape", ["json", "table"])
def test_a_refused_request_ends_with_status_1_and_its_pointers(shape: str) -> None:
    answer = run("ask", "u-value", "-", "--as", shape, given='{"constructions": {}}')
    assert answer.exit_code == 1
    assert answer.stdout == ""
    assert "/constructions" in answer.stderr
    assert "unknown_field" in answer.stderr


@pytest.mark.parametrize("shape", ["json", "table"])
def test_of_many_problems_the_others_are_counted(shape: str) -> None:
    fields = ",".join(f'"u{index}":1' for index in range(150))
    answer = run("ask", "u-value", "-", "--as", shape, given=f"{{{fields}}}")
    assert answer.exit_code == 1
    assert answer.stderr.rstrip().endswith("… and 51 more")


def test_a_missing_file_and_an_unknown_question_end_with_status_2(tmp_path: Path) -> None:
    assert run("ask", "u-value", str(tmp_path / "none.json")).exit_code == 2
    assert run("ask", "v-value", "-").exit_code == 2


def test_a_setting_that_cannot_be_used_ends_the_start_with_status_2() -> None:
    # In a process of its own: settings are read once, when their module is.
    ended = subprocess.run(
        [sys.executable, "-m", "warmstead.cli", "serve", "--port", "0"],
        env={**os.environ, "WARMSTEAD_REQUESTS_AT_ONCE": "many"},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert ended.returncode == 2
    assert "WARMSTEAD_REQUESTS_AT_ONCE" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_the_demo_runs_over_http_and_shows_the_decision() -> None:
    demo = run("demo")
    assert demo.exit_code == 0, demo.output
    for shown in (
        "POST /v1/house-loss: 200",
        "Where the heat goes",
        "smallest suitable",
        "undersized",
        "POST /v1/improvements: 200",
        "The house on one page",
        "Refrigerants can be flammable",
    ):
        assert shown in demo.output


def test_the_openapi_document_is_written(tmp_path: Path) -> None:
    file = tmp_path / "v1.json"
    assert run("openapi", "--output", str(file)).exit_code == 0
    assert json.loads(file.read_text(encoding="utf-8"))["openapi"].startswith("3.1")
    assert json.loads(run("openapi").output) == json.loads(file.read_text(encoding="utf-8"))
