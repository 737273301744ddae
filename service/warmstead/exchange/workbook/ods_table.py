"""A sheet of an .ods file as the format writes it.

As text and not as the library's objects: those cost a second for a thousand cells, and more with each.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from warmstead.exchange.workbook.texts import number_text


def cell(
    value: Any,
    style: str,
    *,
    validation: str | None = None,
    note: str | None = None,
    formula: str | None = None,
) -> str:
    """Return a cell.

    Args:
        value: number, text, or None.
        style: name of its style.
        validation: name of what it may hold.
        note: a note to read at it.
        formula: what works its value out.
    """
    attributes = f'table:style-name="{style}"'
    if validation is not None:
        attributes += f' table:content-validation-name="{validation}"'
    if formula is not None:
        attributes += f" table:formula={quoteattr(formula)}"
    inside = f"<office:annotation>{_paragraphs(note)}</office:annotation>" if note is not None else ""
    if isinstance(value, int | float):
        attributes += f' office:value-type="float" office:value="{number_text(value)}"'
        inside += f"<text:p>{value:g}</text:p>"
    elif value is not None:
        attributes += ' office:value-type="string"'
        inside += f"<text:p>{escape(value)}</text:p>"
    return (
        f"<table:table-cell {attributes}>{inside}</table:table-cell>"
        if inside
        else f"<table:table-cell {attributes}/>"
    )


def _paragraphs(text: str) -> str:
    return "".join(f"<text:p>{escape(line)}</text:p>" for line in text.split("\n"))


class OdsTable:
    """One sheet, row by row."""

    def __init__(self, title: str, widths: Sequence[int]) -> None:
        columns = "".join(f'<table:table-column table:style-name="w{width}"/>' for width in widths)
        self._parts = [
            f'<table:table table:name={quoteattr(title)} table:style-name="sheet" table:protected="true">{columns}'
        ]

    def put(self, cells: Iterable[str], style: str = "row", *, times: int = 1) -> None:
        """Add a row, so many times; in the style `head` it is printed again on each page."""
        repeated = f' table:number-rows-repeated="{times}"' if times > 1 else ""
        inside = "".join(cells) or "<table:table-cell/>"
        row = f'<table:table-row table:style-name="{style}"{repeated}>{inside}</table:table-row>'
        self._parts.append(
            f"<table:table-header-rows>{row}</table:table-header-rows>" if style == "head" else row
        )

    def xml(self) -> str:
        """Return the whole sheet."""
        return "".join((*self._parts, "</table:table>"))
