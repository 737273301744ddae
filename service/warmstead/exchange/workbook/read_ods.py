"""Cells of an .ods file, read from its one content part, which was looked at before.

No library: those seen unfold repeated rows and cells before anybody can count them, and a sheet may declare a million of each.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from warmstead.exchange.workbook.archive import Archive, refused
from warmstead.exchange.workbook.bounds import (
    MAXIMUM_CELLS,
    MAXIMUM_COLUMNS,
    MAXIMUM_ROWS,
    MAXIMUM_SHEETS,
    too_many_rows,
)
from warmstead.exchange.workbook.grids import CellProblem, Grid, NotAValue, Unreadable, Value, address

_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_EVENTS = f"{_OFFICE}event-listeners"
_OTHER_FILE = re.compile(r"'?(?:https?|ftp|file):|\b(?:WEBSERVICE|DDE|IMPORT\w+)\b", re.IGNORECASE)
_MOST_SPACES = 200


def read_ods(archive: Archive, wanted: frozenset[str]) -> list[Grid]:
    """Return the cells of the sheets that are wanted, and the others without theirs.

    Raises:
        Unreadable: the file cannot be read, or a sheet is too large.
    """
    root = ElementTree.fromstring(archive.parts["content.xml"])
    if root.find(f".//{_EVENTS}") is not None or root.find(f"{_OFFICE}scripts/{_OFFICE}script") is not None:
        raise refused("not_allowed_here", "the workbook contains macros; save it without them")
    if root.find(f".//{_TABLE}table-source") is not None or root.find(f".//{_TABLE}dde-link") is not None:
        raise refused("not_allowed_here", "the workbook contains links to other files; save it without them")
    body = root.find(f"{_OFFICE}body/{_OFFICE}spreadsheet")
    if body is None:
        raise refused("wrong_type", "this .ods file holds no spreadsheet")
    tables = body.findall(f"{_TABLE}table")
    if len(tables) > MAXIMUM_SHEETS:
        raise refused("wrong_count", f"at most {MAXIMUM_SHEETS} sheets")
    grids: list[Grid] = []
    problems: list[CellProblem] = []
    left = MAXIMUM_CELLS
    for table in tables:
        title = table.get(f"{_TABLE}name", "")
        if title not in wanted:
            grids.append(Grid(title, [], set()))
            continue
        try:
            grid = _grid(title, table, problems, left)
        except RecursionError:
            raise refused("wrong_type", f"the sheet {title} is nested too deeply; save it anew") from None
        left -= sum(len(row) for row in grid.rows)
        grids.append(grid)
    if problems:
        raise Unreadable(problems)
    return grids


def _grid(title: str, table: ElementTree.Element, problems: list[CellProblem], left: int) -> Grid:
    rows: list[list[Value]] = []
    calculated: set[tuple[int, int]] = set()
    blank = 0
    for row, times in _repeated(table, "table-row", "number-rows-repeated"):
        values, formulas = _row(title, len(rows) + blank, row, problems)
        if not values:
            blank += times  # counted, not made: the rest of a sheet is one blank row a million times
            continue
        if len(rows) + blank + times > MAXIMUM_ROWS:
            raise Unreadable([too_many_rows(title)])
        rows += [[] for _ in range(blank)]
        blank = 0
        for _ in range(times):
            calculated |= {(len(rows), index) for index in formulas}
            rows.append(list(values))
            left -= len(values)
        if left < 0:
            raise refused("wrong_count", f"at most {MAXIMUM_CELLS} cells in all sheets together")
    return Grid(title, rows, calculated)


def _repeated(parent: ElementTree.Element, tag: str, count: str) -> Iterator[tuple[ElementTree.Element, int]]:
    """Go through rows or cells, those in groups and headers too, with how often each stands."""
    for child in parent:
        if child.tag == f"{_TABLE}{tag}" or child.tag == f"{_TABLE}covered-{tag}":
            times = child.get(f"{_TABLE}{count}", "1")
            yield child, int(times) if times.isdecimal() and len(times) < 8 else MAXIMUM_ROWS + 1
        elif child.tag in (f"{_TABLE}table-header-rows", f"{_TABLE}table-rows", f"{_TABLE}table-row-group"):
            yield from _repeated(child, tag, count)


def _row(
    title: str, number: int, row: ElementTree.Element, problems: list[CellProblem]
) -> tuple[list[Value], list[int]]:
    values: list[Value] = []
    formulas: list[int] = []
    for cell, times in _repeated(row, "table-cell", "number-columns-repeated"):
        if len(values) >= MAXIMUM_COLUMNS:
            break
        value = _value(cell)
        if cell.get(f"{_TABLE}formula") is not None:
            formulas.append(len(values))
            value = _calculated(cell, value)
        spans = (
            cell.get(f"{_TABLE}{name}", "1") for name in ("number-columns-spanned", "number-rows-spanned")
        )
        if any(span != "1" for span in spans) and len(problems) < 50:
            where = address(title, number, len(values))
            problems.append(
                CellProblem(
                    where, "", "not_allowed_here", "merged cells; split them and enter the value in each"
                )
            )
        values += [value] * min(times, MAXIMUM_COLUMNS - len(values))
    while values and values[-1] is None:
        values.pop()
    return values, [index for index in formulas if index < len(values)]


def _calculated(cell: ElementTree.Element, value: Value) -> Value:
    if _OTHER_FILE.search(cell.get(f"{_TABLE}formula", "")):
        return NotAValue(
            "not_allowed_here", "a formula that reaches beyond this workbook; enter the value itself"
        )
    if value is None:
        detail = "a formula without a stored value; open the file in a spreadsheet program and save it"
        return NotAValue("missing_field", detail)
    if isinstance(value, str) and value.startswith(("#", "Err:")):
        return NotAValue("wrong_type", "an error of a formula stands here; enter a value")
    return value


def _value(cell: ElementTree.Element) -> Value:
    kind = cell.get(f"{_OFFICE}value-type")
    if kind in ("float", "percentage", "currency"):
        try:
            return float(cell.get(f"{_OFFICE}value", ""))
        except ValueError:
            return NotAValue("not_a_number", "no number")
    if kind == "boolean":
        return cell.get(f"{_OFFICE}boolean-value") == "true"
    if kind in ("date", "time"):
        return NotAValue(
            "wrong_type", "a date or time stands here; format the cell as a number or text and enter it again"
        )
    if kind == "string":
        given = cell.get(f"{_OFFICE}string-value")
        return given or "\n".join(_text(paragraph) for paragraph in cell.findall(f"{_TEXT}p")) or None
    return None


def _text(node: ElementTree.Element) -> str:
    parts = [node.text or ""]
    for child in node:
        if child.tag == f"{_TEXT}s":
            count = child.get(f"{_TEXT}c", "1")
            parts.append(" " * (min(int(count), _MOST_SPACES) if count.isdecimal() and len(count) < 8 else 1))
        elif child.tag == f"{_TEXT}tab":
            parts.append("\t")
        elif child.tag == f"{_TEXT}line-break":
            parts.append("\n")
        else:
            parts.append(_text(child))
        parts.append(child.tail or "")
    return "".join(parts)
