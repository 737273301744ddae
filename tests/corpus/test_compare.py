"""The comparison of an answer with what a case expects."""

from __future__ import annotations

import json
from typing import Any

import pytest

from warmstead.corpus.case import Case
from warmstead.corpus.compare import Check, compare

JSON_HEADERS = {"content-type": "application/json"}
PROBLEM_HEADERS = {"content-type": "application/problem+json; charset=utf-8"}


def _case(data: dict[str, Any], expect: dict[str, Any]) -> Case:
    return Case.model_validate_json(json.dumps({**data, "expect": expect}))


def _checks(data: dict[str, Any], value: dict[str, Any], answer: Any) -> Check:
    case = _case(data, {"status": 200, "values": [value]})
    status, checked = compare(case, 200, JSON_HEADERS, json.dumps(answer).encode())
    assert status.passed
    return checked


@pytest.mark.parametrize(
    ("printed", "got", "passed"),
    [
        # Half a unit in the last printed place, limits included: 0.30 is 0.295 … 0.305.
        ("0.30", 0.295, True),
        ("0.30", 0.305, True),
        ("0.30", 0.2949, False),
        ("0.30", 0.3051, False),
        ("0.5", 0.4501, True),
        ("216", 216.5, True),
        ("216", 216.51, False),
        ("-4.0", -4.05, True),
        ("-4.0", 4.0, False),
        ("3.435", 3.4351, True),
        ("5", 5, True),
    ],
)
def test_printed_tolerance(case_data: dict[str, Any], printed: str, got: float, passed: bool) -> None:
    value = {"pointer": "/u", "printed": printed, "unit": "W/m2K", "tolerance": "printed"}
    assert _checks(case_data, value, {"u": got}).passed is passed


def test_a_failure_prints_expected_got_difference_and_tolerance(case_data: dict[str, Any]) -> None:
    value = {"pointer": "/u", "printed": "0.30", "unit": "W/m2K", "tolerance": "printed"}
    text = str(_checks(case_data, value, {"u": 0.32}))
    assert text == "/u: expected 0.30 W/m2K, got 0.32, difference 0.02, tolerance 0.005"


def test_absolute_tolerance(case_data: dict[str, Any]) -> None:
    tolerance = {"absolute": 0.9, "reason": "the source cuts digits off"}
    value = {"pointer": "/w", "printed": "216", "unit": "W", "tolerance": tolerance}
    assert _checks(case_data, value, {"w": 216.9}).passed
    assert not _checks(case_data, value, {"w": 216.91}).passed


def test_a_printed_number_in_another_unit(case_data: dict[str, Any]) -> None:
    # 1 Btu/h = 0.29307107 W: 518 ± 0.5 Btu/h is 151.66 … 151.96 W.
    value = {
        "pointer": "/w",
        "printed": "518",
        "unit": "Btu/h",
        "tolerance": "printed",
        "si_factor": 0.29307107,
    }
    assert _checks(case_data, value, {"w": 151.7}).passed
    assert not _checks(case_data, value, {"w": 151.6}).passed
    assert not _checks(case_data, value, {"w": 518}).passed


@pytest.mark.parametrize("got", [True, "0.30", None, [0.3]])
def test_what_is_not_a_number_fails(case_data: dict[str, Any], got: Any) -> None:
    value = {"pointer": "/u", "printed": "1.0", "unit": "1", "tolerance": "printed"}
    assert "not a number" in _checks(case_data, value, {"u": got}).got


def test_agreeing_digits(case_data: dict[str, Any]) -> None:
    value = {"pointer": "/u", "printed": "1000", "unit": "W", "tolerance": "printed"}
    # A relative difference of 0.0001 is four digits.
    assert _checks(case_data, value, {"u": 1000.1}).agreeing_digits == 4.0
    assert _checks(case_data, value, {"u": 1000}).agreeing_digits == 17.0


@pytest.mark.parametrize(
    ("equals", "got", "passed"),
    [
        ("0.30", "0.30", True),
        ("0.30", "0.3", False),
        (True, True, True),
        (True, 1, False),
        (True, False, False),
    ],
)
def test_equals(case_data: dict[str, Any], equals: Any, got: Any, passed: bool) -> None:
    assert _checks(case_data, {"pointer": "/v", "equals": equals}, {"v": got}).passed is passed


def test_a_misspelt_pointer_is_a_failure(case_data: dict[str, Any]) -> None:
    value = {"pointer": "/u_valeu", "printed": "0.30", "unit": "W/m2K", "tolerance": "printed"}
    check = _checks(case_data, value, {"u_value": 0.3})
    assert not check.passed
    assert check.got == "nothing at pointer: in the whole answer, no member 'u_valeu'; nearest: 'u_value'"


@pytest.mark.parametrize(
    ("pointer", "passed"), [("/rooms/0/coverage", True), ("/rooms/0/id", False), ("/rooms/1/coverage", False)]
)
def test_absent_needs_the_object_that_would_hold_it(
    case_data: dict[str, Any], pointer: str, passed: bool
) -> None:
    answer = {"rooms": [{"id": "hall"}]}
    assert _checks(case_data, {"pointer": pointer, "absent": True}, answer).passed is passed


def test_a_wrong_status_ends_the_comparison_and_tells_what_the_service_said(
    case_data: dict[str, Any],
) -> None:
    case = Case.model_validate_json(json.dumps(case_data))
    told = {"errors": [{"pointer": "/construction", "code": "x", "detail": "not known"}]}
    (check,) = compare(case, 422, PROBLEM_HEADERS, json.dumps(told).encode())
    assert not check.passed
    assert str(check) == "status: expected 200, got 422 (/construction: not known)"


@pytest.mark.parametrize(
    "content",
    [b"<html>", b"\xff", b'{"u_value_w_m2k": NaN}', b"[" * 100_000],
    ids=["html", "ff", "nan", "deep"],
)
def test_an_answer_that_is_not_json_fails(case_data: dict[str, Any], content: bytes) -> None:
    case = Case.model_validate_json(json.dumps(case_data))
    checks = compare(case, 200, JSON_HEADERS, content)
    assert [check.place for check in checks if not check.passed] == ["body"]


def test_what_a_terminal_would_obey_is_shown_as_it_is_written(case_data: dict[str, Any]) -> None:
    answer = {"u_value_w_m2k": 0.3, "stated": "\x7f\x9b2J\ud800"}
    case = Case.model_validate_json(json.dumps(case_data))
    checks = compare(case, 200, JSON_HEADERS, json.dumps(answer).encode())
    assert [check.got for check in checks if check.place == "/stated"] == ['"\\x7f\\x9b2J\\ud800"']


@pytest.mark.parametrize(
    ("wanted", "passed"),
    [("default.reheat", True), ("default.*", True), ("default.re", False), ("caution.*", False)],
)
def test_warnings(case_data: dict[str, Any], wanted: str, passed: bool) -> None:
    case = _case(case_data, {"status": 200, "warnings": [wanted]})
    answer = {"warnings": [{"code": "default.reheat", "pointer": "/house", "detail": "none given"}]}
    assert compare(case, 200, JSON_HEADERS, json.dumps(answer).encode())[-1].passed is passed


@pytest.mark.parametrize("answer", [{}, [], {"warnings": "none"}, {"warnings": []}])
def test_missing_warnings_fail(case_data: dict[str, Any], answer: Any) -> None:
    case = _case(case_data, {"status": 200, "warnings": ["default.*"]})
    assert not compare(case, 200, JSON_HEADERS, json.dumps(answer).encode())[-1].passed


ONE = {"pointer": "/house/rooms/0", "code": "structure.missing", "detail": "…"}
OTHER = {"pointer": "/house/rooms/01", "code": "structure.missing", "detail": "…"}


@pytest.mark.parametrize(
    ("wanted", "given", "passed"),
    [
        ([{"pointer": "/house/rooms/0"}], [ONE], True),
        ([{"pointer": "/house/rooms/0", "code": "structure.missing"}], [ONE], True),
        ([{"pointer": "/house/rooms/0", "code": "structure.unknown"}], [ONE], False),
        ([{"pointer": "/house/rooms"}], [ONE], False),
        ([{"within": "/house/rooms"}], [ONE], True),
        ([{"within": "/house/rooms/0"}], [ONE], True),
        ([{"within": "/house/rooms/0"}], [OTHER], False),
        ([{"pointer": "/house/rooms/0"}], [ONE, OTHER], False),
        ([{"pointer": "/house/rooms/0"}, {"pointer": "/house/rooms/01"}], [ONE, OTHER], True),
        ([{"pointer": "/house/rooms/0"}, {"pointer": "/house/rooms/01"}], [ONE], False),
        ([{"pointer": "/house/rooms/0"}], [], False),
    ],
)
def test_errors_are_met_each_and_no_other(
    case_data: dict[str, Any], wanted: list[dict[str, str]], given: list[dict[str, str]], passed: bool
) -> None:
    case = _case(case_data, {"status": 422, "errors": wanted})
    checks = compare(case, 422, PROBLEM_HEADERS, json.dumps({"errors": given}).encode())
    assert all(check.passed for check in checks) is passed


def test_a_refusal_is_a_problem_document(case_data: dict[str, Any]) -> None:
    case = _case(case_data, {"status": 400})
    passed = compare(case, 400, PROBLEM_HEADERS, b'{"title": "not JSON"}')
    failed = compare(case, 400, JSON_HEADERS, b'{"title": "not JSON"}')
    assert all(check.passed for check in passed)
    assert [check.place for check in failed if not check.passed] == ["content-type"]
