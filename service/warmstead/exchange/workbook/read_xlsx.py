"""Cells of an .xlsx file, read by openpyxl from an archive that was looked at before."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from datetime import date, time, timedelta
from io import BytesIO
from typing import Any

from warmstead.exchange.workbook.archive import Archive, refused
from warmstead.exchange.workbook.bounds import (
    MAXIMUM_CELLS,
    MAXIMUM_COLUMNS,
    MAXIMUM_ROWS,
    MAXIMUM_SHEETS,
    too_many_rows,
)
from warmstead.exchange.workbook.grids import CellProblem, Grid, NotAValue, Unreadable, Value, address

_MERGED = re.compile(
    rb"<(?:\w+:)?mergeCell\s[^>]*?ref=[\"']([A-Z]{1,3})([0-9]{1,7})(?::[A-Z]{1,3}[0-9]{1,7})?[\"']"
)
_OTHER_FILE = re.compile(
    r"\[[^\]]*\]|\b(?:https?|ftp|file)://|\\\\|\b(?:WEBSERVICE|DDE|RTD|IMPORT\w+)\b|\|", re.IGNORECASE
)
_ERRORS = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A")


def read_xlsx(archive: Archive, wanted: frozenset[str]) -> list[Grid]:
    """Return the cells of the sheets that are wanted, and the others without theirs.

    Raises:
        Unreadable: the file cannot be read, or a sheet is too large.
    """
    problems: list[CellProblem] = []
    grids: list[Grid] = []
    left = MAXIMUM_CELLS
    formulas = _loaded(archive, data_only=False)
    for sheet in formulas.worksheets:
        if sheet.title not in wanted:
            grids.append(Grid(sheet.title, [], set()))
            continue
        grid, left = _grid(sheet, left)
        grids.append(grid)
        problems += _merged_cells(archive, sheet)
    if any(grid.calculated for grid in grids):
        _take_stored_values(archive, grids, problems)
    if problems:
        raise Unreadable(problems)
    return grids


def _loaded(archive: Archive, *, data_only: bool) -> Any:
    from openpyxl import load_workbook

    try:
        with warnings.catch_warnings():
            warnings.simplefilter(
                "ignore"
            )  # of extensions that it does not keep; nothing here is written again
            workbook = load_workbook(
                BytesIO(archive.content),
                read_only=True,
                data_only=data_only,
                keep_links=False,
                keep_vba=False,
            )
    except Exception:  # a damaged file fails in as many ways as there are places to damage
        raise refused("wrong_type", "this .xlsx file cannot be read; save it anew") from None
    if len(workbook.sheetnames) > MAXIMUM_SHEETS:
        raise refused("wrong_count", f"at most {MAXIMUM_SHEETS} sheets")
    return workbook


def _rows(sheet: Any) -> Iterator[Any]:
    """Go through the rows of a sheet, never past the bound: what a file says of its own size is not believed."""
    sheet.reset_dimensions()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            for number, row in enumerate(sheet.iter_rows(max_col=MAXIMUM_COLUMNS)):
                if number >= MAXIMUM_ROWS:
                    raise Unreadable([too_many_rows(sheet.title)])
                yield row
    except Unreadable:
        raise
    except Exception:
        raise refused("wrong_type", "this .xlsx file cannot be read; save it anew") from None


def _grid(sheet: Any, left: int) -> tuple[Grid, int]:
    rows: list[list[Value]] = []
    calculated: set[tuple[int, int]] = set()
    for number, row in enumerate(_rows(sheet)):
        values: list[Value] = []
        for index, cell in enumerate(row):
            value = cell.value
            if cell.data_type == "f":
                calculated.add((number, index))
                values.append(_formula(str(getattr(value, "text", value))))
            else:
                values.append(_value(value))
        while values and values[-1] is None:
            values.pop()
        left -= len(values)
        if left < 0:
            raise refused("wrong_count", f"at most {MAXIMUM_CELLS} cells in all sheets together")
        rows.append(values)
    while rows and not rows[-1]:
        rows.pop()
    return Grid(sheet.title, rows, calculated), left


def _formula(text: str) -> Value:
    """Return what is wrong with a formula; None where its stored value may be taken."""
    if _OTHER_FILE.search(text):
        return NotAValue(
            "not_allowed_here", "a formula that reaches beyond this workbook; enter the value itself"
        )
    return NotAValue(
        "missing_field",
        "a formula without a stored value; open the file in a spreadsheet program and save it",
    )


def _take_stored_values(archive: Archive, grids: list[Grid], problems: list[CellProblem]) -> None:
    """Put in place of each formula the value that the program stored when it last worked it out."""
    values = _loaded(archive, data_only=True)
    for grid in grids:
        if not grid.calculated:
            continue
        stored = list(_rows(values[grid.title]))
        for number, index in sorted(grid.calculated):
            held = grid.rows[number][index]
            if isinstance(held, NotAValue) and held.code == "missing_field":
                value = _value(stored[number][index].value) if number < len(stored) else None
                if value is not None:
                    grid.rows[number][index] = value


def _value(value: Any) -> Value:
    if isinstance(value, str):
        if value in _ERRORS:
            return NotAValue("wrong_type", "an error of a formula stands here; enter a value")
        return value or None
    if isinstance(value, date | time | timedelta):
        return NotAValue(
            "wrong_type", "a date or time stands here; format the cell as a number or text and enter it again"
        )
    if value is None or isinstance(value, bool | int | float):
        return value
    return NotAValue("wrong_type", "no text and no number")


def _merged_cells(archive: Archive, sheet: Any) -> list[CellProblem]:
    """Name merged cells: all but the first of them would read as empty."""
    part = archive.parts.get(str(getattr(sheet, "_worksheet_path", "")).lstrip("/"), b"")
    return [
        CellProblem(
            f"{address(sheet.title, 0, 0).rpartition('!')[0]}!{found[1].decode()}{found[2].decode()}",
            "",
            "not_allowed_here",
            "merged cells; split them and enter the value in each",
        )
        for found in _MERGED.finditer(part)
    ][:50]
