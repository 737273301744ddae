"""An implementation without a server: answers, and every way not to answer."""

from __future__ import annotations

import json
import shlex
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import warmstead.corpus.program as program_module
from warmstead.corpus import CorpusError, Result, run
from warmstead.corpus.case import Case
from warmstead.corpus.reach import reach_program

Ask = Callable[..., Result]


@pytest.fixture
def ask(tmp_path: Path, case_data: dict[str, Any]) -> Ask:
    """Give a function that puts the made-up case to a program, given as its Python source."""

    def ask(source: str, *, timeout: float = 10.0, case: dict[str, Any] = case_data) -> Result:
        script = tmp_path / "program.py"
        script.write_text(f"import json, os, subprocess, sys, time\n{source}\n", encoding="utf-8")
        return _put(f"{shlex.quote(sys.executable)} -S {shlex.quote(str(script))}", timeout, case)

    return ask


def _put(command: str, timeout: float, case: dict[str, Any]) -> Result:
    with reach_program(command, timeout) as client:
        return run([Case.model_validate_json(json.dumps(case))], client).results[0]


RIGHT = 'print(json.dumps({"status": 200, "body": {"u_value_w_m2k": 0.3, "stated": "0.30"}}))'


def test_a_program_that_is_right(ask: Ask) -> None:
    assert ask(RIGHT).outcome == "passed"


def test_the_request_is_on_standard_input(ask: Ask, tmp_path: Path) -> None:
    ask(f'open({str(tmp_path / "asked")!r}, "w").write(sys.stdin.read())\n{RIGHT}')
    assert json.loads((tmp_path / "asked").read_text(encoding="utf-8")) == {
        "method": "POST",
        "path": "/v1/u-value",
        "body": {"construction": {"u_value_w_m2k": 0.3}},
    }


def test_characters_that_are_not_clean_json_come_as_a_text(
    ask: Ask, tmp_path: Path, case_data: dict[str, Any]
) -> None:
    case_data["request"] = {"method": "POST", "path": "/v1/u-value", "raw_body": '{"u": 1e999}'}
    case_data["expect"] = {"status": 400}
    answer = 'print(json.dumps({"status": 400, "content_type": "application/problem+json", "body": {}}))'
    source = f'open({str(tmp_path / "asked")!r}, "w").write(sys.stdin.read())\n{answer}'
    assert ask(source, case=case_data).outcome == "passed"
    assert json.loads((tmp_path / "asked").read_text(encoding="utf-8")) == {
        "method": "POST",
        "path": "/v1/u-value",
        "raw_body": '{"u": 1e999}',
    }


def test_a_wrong_value_is_a_failure(ask: Ask) -> None:
    result = ask(RIGHT.replace("0.3,", "0.4,"))
    assert result.outcome == "failed"
    assert "got 0.4, difference 0.1" in str(result.failures[0])


def test_a_large_question_and_many_words_on_standard_error_do_not_block(
    ask: Ask, case_data: dict[str, Any]
) -> None:
    case_data["request"]["body"]["padding"] = "x" * 300_000
    source = f'sys.stderr.write("word\\n" * 100_000)\nassert len(sys.stdin.read()) > 300_000\n{RIGHT}'
    assert ask(source, case=case_data).outcome == "passed"


@pytest.mark.parametrize(
    ("source", "told"),
    [
        (
            'print("first", file=sys.stderr); print("then", file=sys.stderr); sys.exit(3)',
            "none: the program ended with exit status 3; last line on standard error: then",
        ),
        (f"{RIGHT}\nsys.exit(1)", "none: the program ended with exit status 1; nothing on standard error"),
        ("os.abort()", "none: the program was ended by signal 6"),
        ("raise RuntimeError('a fault')", "last line on standard error: RuntimeError: a fault"),
        ("pass", "exit status 0, but its output is no answer: not JSON"),
        ('print("hello"); print("hm", file=sys.stderr)', "last line on standard error: hm"),
        ("sys.stdout.buffer.write(bytes([255, 0]))", "its output is no answer: not JSON"),
        (f"{RIGHT}\n{RIGHT}", "its output is no answer: not JSON"),
        ('print("[]")', "its output is no answer: the whole: Input should be"),
        ("print(json.dumps({'body': {}}))", "its output is no answer: status: Field required"),
        (
            "print(json.dumps({'status': '200', 'body': {}}))",
            "its output is no answer: status: Input should be",
        ),
        (
            "print(json.dumps({'status': 200, 'body': {}, 'u': 1}))",
            "its output is no answer: u: Extra inputs",
        ),
        ('print(\'{"status": 200, "body": NaN}\')', "NaN is not a number in JSON"),
        # What came in goes out: an echo of the envelope is not even an answer.
        ("print(sys.stdin.read())", "its output is no answer: status: Field required"),
    ],
)
def test_a_program_that_gives_no_answer(ask: Ask, source: str, told: str) -> None:
    result = ask(source)
    assert result.outcome == "no_answer"
    assert told in result.failures[0].got


def test_a_program_that_is_not_there(case_data: dict[str, Any], tmp_path: Path) -> None:
    result = _put(str(tmp_path / "nothing"), 5, case_data)
    assert result.outcome == "no_answer"
    assert "the program cannot be started: [Errno 2]" in result.failures[0].got


def test_a_file_that_is_no_program(case_data: dict[str, Any], tmp_path: Path) -> None:
    (tmp_path / "text").write_text("not a program", encoding="utf-8")
    assert "the program cannot be started" in _put(str(tmp_path / "text"), 5, case_data).failures[0].got


@pytest.mark.parametrize("command", ["", "  ", "'open"])
def test_a_command_without_a_program_is_refused(command: str) -> None:
    with pytest.raises(CorpusError):
        reach_program(command, 5)


def test_a_program_that_hangs_is_killed_with_what_it_started(ask: Ask, tmp_path: Path) -> None:
    beat = tmp_path / "beat"
    child = f"import time\nwhile True: open({str(beat)!r}, 'a').write('.'); time.sleep(0.01)"
    source = (
        f"subprocess.Popen([sys.executable, '-S', '-c', {child!r}])\n"
        f"while not os.path.exists({str(beat)!r}): time.sleep(0.01)\n"
        "print('thinking', file=sys.stderr, flush=True); time.sleep(60)"
    )
    started = time.monotonic()
    result = ask(source, timeout=2.0)
    assert time.monotonic() - started < 10
    assert result.outcome == "no_answer"
    assert result.failures[0].got == (
        "none within the time limit: the program was killed after 2 s; last line on standard error: thinking"
    )
    beats = beat.stat().st_size
    assert beats
    time.sleep(0.1)
    assert beat.stat().st_size == beats


def test_what_outlives_the_program_is_ended_and_the_answer_counts(
    ask: Ask, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(program_module, "_SECONDS_TO_END", 0.1)
    source = f"subprocess.Popen([sys.executable, '-S', '-c', 'import time; time.sleep(60)'])\n{RIGHT}"
    assert ask(source).outcome == "passed"


def test_a_program_that_floods_is_killed(ask: Ask, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(program_module, "LARGEST_ANSWER", 100_000)
    result = ask("while True: print('y' * 1000)")
    assert result.outcome == "no_answer"
    assert "killed after 100000 bytes of output" in result.failures[0].got
