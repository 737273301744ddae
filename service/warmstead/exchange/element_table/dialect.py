"""Text of a table in the ways that programs write it: which sign parts cells, which one parts decimals, and the guards."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from io import StringIO
from typing import NamedTuple

BYTE_ORDER_MARK = "\ufeff"
_GUARDED = re.compile(r"^'?[=+\-@\t\r]")
_GUARD = re.compile(r"^'(?='?[=+\-@\t\r])")
POINT = re.compile(r"[+-]?[0-9]*\.[0-9]+(?:[eE][+-]?[0-9]+)?")
WHOLE = re.compile(r"[+-]?[0-9]+(?:[eE][+-]?[0-9]+)?")
COMMA = re.compile(r"[+-]?[0-9]*,[0-9]+")
THOUSANDS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")
"""Could be 1234 as well as 1.234."""


class Dialect(NamedTuple):
    """How a table is written."""

    delimiter: str
    decimal: str
    mark: bool
    """Whether the text begins with a byte order mark."""


PLAIN = Dialect(",", ".", mark=False)


class Line(NamedTuple):
    """A record and the line of the text on which it begins, from 1."""

    number: int
    cells: list[str]


def delimiter_of(header: str) -> str:
    """Return the sign that parts the cells of a header line: no heading has any of them in its name."""
    return max((",", ";", "\t"), key=lambda sign: (header.count(sign), sign == ","))


def lines_of(text: str, delimiter: str) -> Iterable[Line]:
    """Go through the records of a text (RFC 4180).

    Raises:
        csv.Error: a quotation mark is out of place.
    """
    begins = 1
    reader = csv.reader(StringIO(text, newline=""), delimiter=delimiter, strict=True)
    for cells in reader:
        yield Line(begins, cells)
        begins = reader.line_num + 1


def decimal_of(numbers: Iterable[str], delimiter: str) -> str | None:
    """Return the decimal sign that numbers use; None where they use both."""
    if delimiter == ",":
        return "."
    comma = point = False
    for number in numbers:
        comma = comma or (COMMA.fullmatch(number) is not None and THOUSANDS.fullmatch(number) is None)
        point = point or POINT.fullmatch(number) is not None
    if comma and point:
        return None
    return "," if comma else "."


def unguarded(text: str) -> str:
    """Return a text without the apostrophe that keeps a spreadsheet program from running it."""
    return _GUARD.sub("", text)


def written(rows: Iterable[Sequence[str | float | None]], dialect: Dialect) -> bytes:
    """Return rows as CSV: CRLF, quoted where needed, texts that a program could run guarded."""
    out = StringIO(newline="")
    writer = csv.writer(out, delimiter=dialect.delimiter, lineterminator="\r\n")
    for row in rows:
        writer.writerow([_cell(value, dialect.decimal) for value in row])
    return ((BYTE_ORDER_MARK if dialect.mark else "") + out.getvalue()).encode()


def _cell(value: str | float | None, decimal: str) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if _GUARDED.match(value) else value
    return repr(value).replace(".", decimal)
