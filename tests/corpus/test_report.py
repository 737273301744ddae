"""What came of a run, for people, for a build server and for a program."""

from __future__ import annotations

import json
from typing import Any
from xml.etree import ElementTree

import pytest
from rich.console import Console

from warmstead.corpus import Report, Result
from warmstead.corpus.case import Case
from warmstead.corpus.compare import Check
from warmstead.corpus.junit import junit
from warmstead.corpus.report import Outcome
from warmstead.corpus.terminal import render

SAME = Check("status", "200", "200", passed=True)
OFF = Check(
    "/u_value_w_m2k",
    "0.30 W/m2K",
    "0.32",
    passed=False,
    difference="0.02",
    tolerance="0.005",
    agreeing_digits=1.2,
)
MISSPELT = Check(
    "/stated", '"0.30"', "nothing at pointer: in the whole answer, no member 'stated'", passed=False
)
REFUSED = Check("service", "an answer", "none: connection refused", passed=False)


@pytest.fixture
def report(case_data: dict[str, Any]) -> Report:
    """Give a report with each outcome."""

    def result(name: str, outcome: Outcome, *checks: Check, reason: str | None = None) -> Result:
        case = Case.model_validate_json(json.dumps({**case_data, "id": name}))
        return Result(case, outcome, checks, 0.25, reason)

    return Report(
        (
            result("right", "passed", SAME),
            result("wrong", "failed", SAME, OFF, MISSPELT),
            *(result(f"dead-{number}", "no_answer", REFUSED) for number in range(7)),
            result("known", "left_out", SAME, OFF, reason="it has no studs"),
            result("foreign", "not_asked", reason="the mapping has no path for the question u-value"),
        )
    )


def _text(report: Report, width: int = 200) -> str:
    console = Console(width=width, force_terminal=False)
    with console.capture() as captured:
        console.print(render(report))
    return captured.get()


def test_the_table_counts_by_question_and_provenance(report: Report) -> None:
    text = _text(report)
    assert "published example" in text
    assert "1 / 11" in text


def test_a_wrong_value_is_shown_with_all_that_matters(report: Report) -> None:
    lines = _text(report).splitlines()
    start = next(number for number, line in enumerate(lines) if line.startswith("u-value/wrong"))
    assert "A made-up case for the tests of the runner [published_example, made-up]" in lines[start]
    assert lines[start + 1].strip() == str(MISSPELT)
    assert lines[start + 2].split() == [
        "where",
        "expected",
        "got",
        "difference",
        "tolerance",
        "agreeing",
        "digits",
    ]
    assert lines[start + 3].split() == ["/u_value_w_m2k", "0.30", "W/m2K", "0.32", "0.02", "0.005", "1.2"]


def test_a_pointer_with_brackets_is_shown_as_it_is(case_data: dict[str, Any]) -> None:
    check = Check("/[bold]x[/bold]", "1 W", "[red]", passed=False, difference="2", tolerance="0.5")
    text = _text(Report((Result(Case.model_validate_json(json.dumps(case_data)), "failed", (check,)),)))
    assert "/[bold]x[/bold]" in text
    assert "[red]" in text


def test_one_reason_is_told_once(report: Report) -> None:
    text = _text(report)
    assert text.count("connection refused") == 1
    assert "No answer (7): connection refused" in text
    assert "u-value/dead-4 and 2 more" in text
    assert "Left out (1): it has no studs" in text
    assert "Not asked (1): the mapping has no path for the question u-value" in text


def test_the_last_line_leaves_nothing_out(report: Report) -> None:
    assert _text(report).splitlines()[-1] == (
        "1 of 11 cases passed, 1 answered wrongly, 7 got no answer, 1 left out by the mapping, 1 not asked"
    )


def test_a_narrow_terminal_shows_every_digit(report: Report) -> None:
    text = _text(report, width=60)
    for part in ("0.30", "0.32", "0.02", "0.005", "1.2"):
        assert part in text


@pytest.mark.parametrize(
    ("outcomes", "status"),
    [
        (["passed"], 0),
        (["passed", "left_out", "not_asked"], 0),
        (["passed", "failed"], 1),
        (["passed", "failed", "no_answer"], 2),
        (["passed", "no_answer"], 2),
        # Nothing was found right: no verdict.
        ([], 2),
        (["not_asked"], 2),
        (["left_out"], 2),
    ],
)
def test_exit_status(case_data: dict[str, Any], outcomes: list[Outcome], status: int) -> None:
    case = Case.model_validate_json(json.dumps(case_data))
    report = Report(tuple(Result(case, outcome) for outcome in outcomes))
    assert report.exit_status == status
    assert report.ok is (status == 0)


def test_junit_tells_wrong_from_no_answer_and_from_skipped(report: Report) -> None:
    root = ElementTree.fromstring(junit(report))
    suite = root.find("testsuite")
    assert suite is not None
    assert {name: suite.get(name) for name in ("tests", "failures", "errors", "skipped", "time")} == {
        "tests": "11",
        "failures": "1",
        "errors": "7",
        "skipped": "2",
        "time": "2.750",
    }
    outcomes = {str(one.get("name")): [child.tag for child in one] for one in suite.iter("testcase")}
    assert outcomes["right"] == []
    assert outcomes["wrong"] == ["failure"]
    assert outcomes["dead-0"] == ["error"]
    assert outcomes["known"] == outcomes["foreign"] == ["skipped"]
    failure = suite.find("testcase/failure")
    assert failure is not None
    assert failure.get("message") == str(OFF)
    assert str(MISSPELT) in str(failure.text)


def test_junit_is_xml_whatever_the_service_says(case_data: dict[str, Any]) -> None:
    check = Check("status", "200", "500 (/x: \x1b[31m\x00 \ud800 <&>)", passed=False)
    case = Case.model_validate_json(json.dumps(case_data))
    text = junit(Report((Result(case, "failed", (check,)),)))
    ElementTree.fromstring(text.encode())
    assert "\x1b" not in text


def test_json_holds_each_check(report: Report) -> None:
    data = json.loads(report.json())
    assert (data["schema_version"], data["ok"], data["exit_status"]) == (1, False, 2)
    assert data["summary"].startswith("1 of 11")
    assert data["counts"] == {"u-value": {"published_example": {"passed": 1, "all": 11}}}
    by_id = {result["id"]: result for result in data["results"]}
    assert by_id["right"]["source"] == "made-up"
    assert by_id["known"]["reason"] == "it has no studs"
    assert by_id["wrong"]["checks"][1] == {
        "place": "/u_value_w_m2k",
        "expected": "0.30 W/m2K",
        "got": "0.32",
        "passed": False,
        "difference": "0.02",
        "tolerance": "0.005",
        "agreeing_digits": 1.2,
    }
