"""An answer in a form that a cell takes: one bare value, CSV of one row, flat XML."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Literal, NamedTuple
from xml.sax.saxutils import escape, quoteattr

from warmstead.exchange.cells.numbers import plain

Format = Literal["text", "json", "csv", "xml"]

LONGEST_ERROR = 119
"""Characters of an error shown in a cell."""
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


class Cell(NamedTuple):
    """One value with its name; no value where the answer does not have it."""

    name: str
    value: float | str | None
    unit: str = ""
    """UCUM; empty for texts."""


def bare(value: float | str) -> str:
    """Write one value: no unit, no end of line."""
    return value if isinstance(value, str) else plain(value)


def as_csv(cells: Sequence[Cell]) -> str:
    r"""Write a line of names and a line of values: CRLF, decimal points, texts guarded against being run as a formula."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(cell.name for cell in cells)
    writer.writerow(_guarded(cell.value) for cell in cells)
    return out.getvalue()


def as_xml(root: str, cells: Sequence[Cell]) -> str:
    """Write one element for each value there is, its unit as attribute: flat, without a namespace.

    Args:
        root: name of the element around them.
        cells: the values.
    """
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', f"<{root}>"]
    for cell in cells:
        if cell.value is not None:
            unit = f" unit={quoteattr(cell.unit)}" if cell.unit else ""
            lines.append(f"<{cell.name}{unit}>{escape(bare(cell.value))}</{cell.name}>")
    lines.append(f"</{root}>")
    return "\n".join(lines)


def error_in_cell(parameter: str, detail: str) -> str:
    """Write an error that can be read in a cell: under 120 characters, on one line."""
    text = " ".join(f"#ERR {parameter}: {detail}".split())
    return text if len(text) <= LONGEST_ERROR else text[: LONGEST_ERROR - 1].rstrip() + "…"


def _guarded(value: float | str | None) -> str:
    if value is None:
        return ""
    text = bare(value)
    return f"'{text}" if isinstance(value, str) and text.startswith(_FORMULA_STARTS) else text
