"""Cells as a spreadsheet file holds them, whatever its format."""

from __future__ import annotations

from typing import NamedTuple

from warmstead.building.findings import ProblemCode


class NotAValue(NamedTuple):
    """A cell in which no usable value stands."""

    code: ProblemCode
    detail: str


Value = str | int | float | bool | NotAValue | None


class Grid(NamedTuple):
    """The cells of a sheet, row by row from its first."""

    title: str
    rows: list[list[Value]]
    calculated: set[tuple[int, int]]
    """Row and column, from 0, of cells whose value a formula gave."""


class CellProblem(NamedTuple):
    """One reason to refuse a workbook, at a cell or a part of it."""

    cell: str
    """Such as `Rooms!E7`; the sheet alone, or empty, where no cell is meant."""
    pointer: str
    code: ProblemCode
    detail: str


class Unreadable(Exception):
    """A workbook is refused before its cells are taken for a survey."""

    def __init__(self, problems: list[CellProblem]) -> None:
        super().__init__("; ".join(f"{problem.cell}: {problem.detail}" for problem in problems))
        self.problems = problems


def column_letters(index: int) -> str:
    """Return the letters of a column counted from 0."""
    letters = ""
    index += 1
    while index:
        index, remainder = divmod(index - 1, 26)
        letters = chr(ord("A") + remainder) + letters
    return letters


def address(sheet: str, row: int, column: int) -> str:
    """Return the address of a cell; row and column are counted from 0."""
    name = f"'{sheet}'" if " " in sheet else sheet
    return f"{name}!{column_letters(column)}{row + 1}"
