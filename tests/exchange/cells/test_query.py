"""A query string taken apart."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmstead.exchange.cells.query import MOST_PROBLEMS, ParameterProblem, ParametersRefused, split


def told(query: bytes) -> list[tuple[str, str]]:
    return [(problem.parameter, problem.code) for problem in split(query).problems]


def test_names_and_texts_are_decoded() -> None:
    query = split(b"place=Newcastle+upon%20Tyne&altitude_m=12%2C5&%61rea=%C3%BC")
    assert query.given == {"place": "Newcastle upon Tyne", "altitude_m": "12,5", "area": "ü"}
    assert query.problems == []


@pytest.mark.parametrize("query", [b"", b"&", b"&&a=1&", b"a=1&&"])
def test_an_ampersand_too_many_is_nothing(query: bytes) -> None:
    assert split(query).problems == []


@pytest.mark.parametrize(
    ("query", "problems"),
    [
        (b"a=1&a=1", [("a", "duplicate_id")]),
        (b"a=1&a=2&a=3", [("a", "duplicate_id"), ("a", "duplicate_id")]),
        (b"a=", [("a", "invalid_text")]),
        (b"a", [("a", "invalid_text")]),
        (b"a=+", [("a", "invalid_text")]),
        (b"a=%", [("a", "invalid_text")]),
        (b"a=%4", [("a", "invalid_text")]),
        (b"a=%zz", [("a", "invalid_text")]),
        (b"a=%FF", [("a", "invalid_text")]),
        (b"a=%00", [("a", "invalid_text")]),
        (b"=1", [("", "invalid_text")]),
        (b"%FF=1", [("%FF", "invalid_text")]),
    ],
)
def test_what_is_wrong_is_told_at_its_name(query: bytes, problems: list[tuple[str, str]]) -> None:
    assert told(query) == problems


@given(st.binary(max_size=300))
def test_no_bytes_break_it(query: bytes) -> None:
    taken = split(query)
    assert all(name and "\x00" not in name for name in taken.given)
    assert all(len(problem.parameter) <= 64 for problem in taken.problems)


def test_a_refusal_tells_of_no_more_than_can_be_read() -> None:
    problems = [ParameterProblem(str(number), "unknown_field", "") for number in range(500)]
    assert len(ParametersRefused(problems).problems) == MOST_PROBLEMS
