"""How large a workbook may be, whatever its format."""

from __future__ import annotations

from warmstead.exchange.workbook.grids import CellProblem

MAXIMUM_SHEETS = 60
MAXIMUM_ROWS = 20_001
"""Of one sheet, the headings included."""
MAXIMUM_COLUMNS = 64
"""Columns to the right of these are not read."""
MAXIMUM_CELLS = 400_000
"""Of all sheets together; about 25,000 elements."""


ROWS_AND_CELLS = (
    f"at most {MAXIMUM_ROWS - 1} rows below the headings of a sheet and {MAXIMUM_CELLS} cells in all; "
    "delete the rows below the last filled one"
)


def too_many_rows(sheet: str) -> CellProblem:
    """Say that a sheet has too many rows."""
    return CellProblem(sheet, "", "wrong_count", f"too many rows; {ROWS_AND_CELLS}")
