"""A query string taken apart, strictly: nothing twice, nothing empty, nothing that cannot be decoded."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple
from urllib.parse import unquote_to_bytes

from warmstead.building.findings import ProblemCode
from warmstead.building.names import nearest

LONGEST_QUERY = 8192
"""Bytes of a query; spreadsheet programs end at 2,048 characters of the whole address."""
LONGEST_NAME = 64
MOST_PROBLEMS = 50
"""Problems that one query is told; a hundred misspelt names need not all be guessed at."""
_HEXADECIMAL = frozenset(b"0123456789abcdefABCDEF")


class ParameterProblem(NamedTuple):
    """One reason to refuse a query."""

    parameter: str
    code: ProblemCode
    detail: str


class ParametersRefused(Exception):
    """A query is refused, for every reason that could be found at once."""

    def __init__(self, problems: list[ParameterProblem]) -> None:
        super().__init__("; ".join(f"{p.parameter}: {p.detail}" for p in problems))
        self.problems = problems[:MOST_PROBLEMS]


class Query(NamedTuple):
    """What a query gives, and what is wrong with the rest of it."""

    given: dict[str, str]
    problems: list[ParameterProblem]


def guess(name: str, known: Iterable[str]) -> str:
    """Return a sentence that names the nearest known name, without quotes: a cell has little room.

    A name longer than any of ours is not worth comparing.
    """
    names = list(known)
    if len(name) > LONGEST_NAME:
        return f"known: {', '.join(names[:12])}{', …' if len(names) > 12 else ''}"
    return nearest(name, names).replace("'", "")


def split(query: bytes) -> Query:
    """Take a query apart.

    Args:
        query: as it stands in the address, at most `LONGEST_QUERY` bytes.
    """
    given: dict[str, str] = {}
    problems: list[ParameterProblem] = []
    for part in query.split(b"&"):
        if not part:
            continue  # "?" alone, or one "&" too many, as formulas write them
        raw_name, equals, raw_value = part.partition(b"=")
        name, value = _decoded(raw_name), _decoded(raw_value)
        if name is None or not name:
            problems.append(
                ParameterProblem(_shown(raw_name), "invalid_text", "no name in UTF-8 with %-escapes")
            )
        elif name in given:
            problems.append(
                ParameterProblem(name[:LONGEST_NAME], "duplicate_id", "given twice; give it once")
            )
        elif value is None:
            given[name] = ""
            problems.append(
                ParameterProblem(
                    name[:LONGEST_NAME], "invalid_text", "not UTF-8 with %-escapes; encode it as an address"
                )
            )
        elif not equals or not value.strip(" "):
            given[name] = ""
            problems.append(
                ParameterProblem(
                    name[:LONGEST_NAME], "invalid_text", "empty: give a value, or leave the parameter out"
                )
            )
        else:
            given[name] = value
    return Query(given, problems)


def _decoded(raw: bytes) -> str | None:
    """Return a part of a query as text, None where it cannot be decoded."""
    if b"%" in raw:
        for piece in raw.split(b"%")[1:]:
            if len(piece) < 2 or not _HEXADECIMAL.issuperset(piece[:2]):
                return None
    try:
        text = unquote_to_bytes(raw.replace(b"+", b" ")).decode("utf-8")
    except UnicodeDecodeError:
        return None
    return None if "\x00" in text else text


def _shown(raw: bytes) -> str:
    return raw[:LONGEST_NAME].decode("ascii", "replace")
