"""Hold an answer against what a case expects: one check for each expectation."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from warmstead.corpus.case import (
    AbsentExpectation,
    Case,
    EqualExpectation,
    ErrorExpectation,
    NumberExpectation,
    ValueExpectation,
)
from warmstead.corpus.files import refuse_constant
from warmstead.corpus.pointer import NothingThereError, find

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

_PROBLEM_TYPE = "application/problem+json"


@dataclass(frozen=True)
class Check:
    """One expectation and what came of it, in texts for people."""

    place: str
    expected: str
    got: str
    passed: bool
    difference: str | None = None
    tolerance: str | None = None
    agreeing_digits: float | None = None

    def __post_init__(self) -> None:
        """Show what a terminal or XML could not hold, such as an escape, as it is written in code."""
        for name in ("place", "expected", "got"):
            object.__setattr__(self, name, _printable(getattr(self, name)))

    def __str__(self) -> str:
        """Say what was expected, what came, and how far apart they are."""
        text = f"{self.place}: expected {self.expected}, got {self.got}"
        if self.difference is not None:
            text += f", difference {self.difference}, tolerance {self.tolerance}"
        return text


def compare(case: Case, status: int, headers: Mapping[str, str], content: bytes) -> tuple[Check, ...]:
    """Return the checks of one answer; nothing further after a wrong status or what is not JSON."""
    wanted = case.expect
    if status != wanted.status:
        return (Check("status", str(wanted.status), f"{status}{_told(content)}", passed=False),)
    checks = [Check("status", str(wanted.status), str(status), passed=True)]
    if status >= 400:
        media_type = headers.get("content-type", "(none)").partition(";")[0].strip()
        checks.append(Check("content-type", _PROBLEM_TYPE, media_type, passed=media_type == _PROBLEM_TYPE))
    try:
        answer = json.loads(content, parse_constant=refuse_constant)
    except (ValueError, RecursionError) as error:
        checks.append(Check("body", "JSON", f"what is not JSON: {error}", passed=False))
        return tuple(checks)
    checks.extend(_check_value(answer, value) for value in wanted.values)
    if wanted.warnings:
        checks.extend(_check_warnings(answer, wanted.warnings))
    if wanted.errors:
        checks.extend(_check_errors(answer, wanted.errors))
    return tuple(checks)


def _check_value(answer: Any, wanted: ValueExpectation) -> Check:
    if isinstance(wanted, AbsentExpectation):
        return _check_absent(answer, wanted)
    try:
        got = find(answer, wanted.pointer)
    except NothingThereError as nothing:
        return Check(wanted.pointer, _show_wanted(wanted), str(nothing), passed=False)
    if isinstance(wanted, NumberExpectation):
        return _check_number(got, wanted)
    same = type(got) is type(wanted.equals) and got == wanted.equals
    return Check(wanted.pointer, _show_wanted(wanted), _show(got), passed=same)


def _check_absent(answer: Any, wanted: AbsentExpectation) -> Check:
    try:
        got = find(answer, wanted.pointer)
    except NothingThereError as nothing:
        # A pointer that goes astray on its way proves nothing about its last member.
        return Check(wanted.pointer, "no such member", str(nothing), passed=nothing.holder_found)
    return Check(wanted.pointer, "no such member", _show(got), passed=False)


def _check_number(got: Any, wanted: NumberExpectation) -> Check:
    factor = Decimal(1) if wanted.si_factor is None else Decimal(repr(wanted.si_factor))
    expected = Decimal(wanted.printed) * factor
    shown = _show_wanted(wanted) + ("" if wanted.si_factor is None else f" (= {expected:g})")
    if isinstance(got, bool) or not isinstance(got, int | float):
        return Check(wanted.pointer, shown, f"{_show(got)}, which is not a number", passed=False)
    tolerance = wanted.widest_difference * factor
    difference = abs(Decimal(repr(got)) - expected)
    return Check(
        wanted.pointer,
        shown,
        repr(got),
        passed=difference <= tolerance,
        difference=f"{difference:.6g}",
        tolerance=f"{tolerance:g}",
        agreeing_digits=_agreeing_digits(difference, expected),
    )


def _agreeing_digits(difference: Decimal, expected: Decimal) -> float | None:
    if not expected:
        return None
    return 17.0 if not difference else round(-math.log10(difference / abs(expected)), 1)


def _check_warnings(answer: Any, wanted: tuple[str, ...]) -> Iterator[Check]:
    listed = answer.get("warnings") if isinstance(answer, dict) else None
    given = [one.get("code") for one in listed if isinstance(one, dict)] if isinstance(listed, list) else []
    shown = ", ".join(map(str, given)) or "no warnings"
    for code in wanted:
        family = code.removesuffix("*")
        fits = (str(one).startswith(family) if code.endswith("*") else one == code for one in given)
        yield Check("warnings", code, shown, passed=any(fits))


def _check_errors(answer: Any, wanted: tuple[ErrorExpectation, ...]) -> Iterator[Check]:
    listed = answer.get("errors") if isinstance(answer, dict) else None
    given = [one for one in listed if isinstance(one, dict)] if isinstance(listed, list) else []
    for expected in wanted:
        place = expected.pointer or f"{expected.within} or deeper"
        shown = place if expected.code is None else f"{place} ({expected.code})"
        passed = any(_fits(one, expected) for one in given)
        yield Check("errors", shown, _show_errors(given), passed=passed)
    strangers = [one for one in given if not any(_fits(one, expected) for expected in wanted)]
    yield Check("errors", "no other error", _show_errors(strangers), passed=not strangers)


def _fits(given: dict[str, Any], expected: ErrorExpectation) -> bool:
    pointer = given.get("pointer")
    if not isinstance(pointer, str) or (expected.code is not None and given.get("code") != expected.code):
        return False
    if expected.within is not None:
        return pointer == expected.within or pointer.startswith(f"{expected.within}/")
    return pointer == expected.pointer


def _show_wanted(wanted: NumberExpectation | EqualExpectation) -> str:
    if isinstance(wanted, EqualExpectation):
        return _show(wanted.equals)
    return f"{wanted.printed} {wanted.unit}"


def _show_errors(errors: list[dict[str, Any]]) -> str:
    return "; ".join(f"{one.get('pointer')} ({one.get('code')})" for one in errors) or "none"


def _show(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 200 else text[:200] + " …"


def _told(content: bytes) -> str:
    """Give what the service says of an answer nobody expected, so that the reader need not ask again."""
    try:
        problem = json.loads(content)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(problem, dict) or not isinstance(problem.get("errors"), list):
        return ""
    errors = (one for one in problem["errors"] if isinstance(one, dict))
    told = [f"{one.get('pointer')}: {one.get('detail')}" for one in errors]
    return f" ({'; '.join(told[:5])})" if told else ""


def _printable(text: str) -> str:
    return "".join(one if one.isprintable() else repr(one)[1:-1] for one in text)
