"""One value of a table, by row and column.

A row is named by its id. In a table without ids it is named by its first columns, as many as tell all rows apart, with
colons between them: `horizontal:25` of the air layers, `GB:kitchen` of the room defaults.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.exchange.cells.answers import Cell
from warmstead.exchange.cells.numbers import plain
from warmstead.exchange.cells.query import guess
from warmstead.survey.document import described_later
from warmstead.tables import TABLES_VERSION, Row, Table, table, table_names


@described_later
class TableValue(TypedDict):
    """One value of a table, with where it comes from."""

    table: Annotated[str, Field(description="Name of the table.")]
    row: Annotated[str, Field(description="Name of the row: its id, or its first columns.")]
    column: Annotated[str, Field(description="Name of the column.")]
    number: NotRequired[
        Annotated[
            float,
            Field(
                description="The value, in a column of numbers.",
                json_schema_extra={"x-unit": "as `unit` says"},
            ),
        ]
    ]
    text: NotRequired[Annotated[str, Field(description="The value, in a column of texts.")]]
    unit: NotRequired[Annotated[str, Field(description="Unit of the number in UCUM.")]]
    source: Annotated[str, Field(description="Publication that the row names.")]
    locator: Annotated[str, Field(description="Place in the publication, and how it was read.")]
    provenance: Annotated[str, Field(description="How the row is known.")]
    tables_version: Annotated[str, Field(description="Fingerprint of the content of all tables.")]


class NotThere(LookupError):
    """A table, row, column or value that there is not; says which part of the address, and what there is."""

    def __init__(self, part: str, detail: str) -> None:
        super().__init__(detail)
        self.part = part
        self.detail = detail


def look_up(name: str, row: str, column: str) -> TableValue:
    """Return one value of a table.

    Args:
        name: of the table.
        row: its id, or its first columns with colons between them.
        column: name of the column.

    Raises:
        NotThere: no such table, row or column, or the row leaves the column empty.
    """
    if name not in table_names():
        raise NotThere("table", f"no such table; {guess(name, table_names())}")
    here = table(name)
    found = _rows(name).get(row)
    if found is None:
        raise NotThere("row", f"no such row in {name}; {guess(row, _rows(name))}")
    columns = {c.name: c for c in here.columns}
    if column not in columns:
        raise NotThere("column", f"no such column in {name}; {guess(column, columns)}")
    if column not in found:
        raise NotThere("column", f"this row of {name} leaves {column} empty")
    value = found[column]
    answer: TableValue = {
        "table": name,
        "row": row,
        "column": column,
        "source": str(found["source"]),
        "locator": str(found["locator"]),
        "provenance": str(found["provenance"]),
        "tables_version": TABLES_VERSION,
    }
    if isinstance(value, str):
        answer["text"] = value
    else:
        answer["number"] = value
        # Where parameters stand one below the other, each row names its own unit.
        answer["unit"] = str(found["unit"]) if "unit" in found else columns[column].unit
    return answer


def row_names(name: str) -> tuple[str, ...]:
    """Return the names of a table's rows, in its order."""
    return tuple(_rows(name))


def value_of(found: TableValue) -> float | str:
    """Return the value itself."""
    return found["number"] if "number" in found else found["text"]


def cells_of(found: TableValue) -> list[Cell]:
    """Return a value under its column's name, and where it comes from."""
    cells = [Cell(found["column"], value_of(found), found.get("unit", ""))]
    return cells + [
        Cell(name, text)
        for name, text in (
            ("source", found["source"]),
            ("locator", found["locator"]),
            ("provenance", found["provenance"]),
        )
        if name != found["column"]
    ]


@cache
def _rows(name: str) -> Mapping[str, Row]:
    here = table(name)
    if "id" in (column.name for column in here.columns):
        return {str(row["id"]): row for row in here.rows}
    named = next(
        named
        for count in range(1, len(here.columns) + 1)
        if len(named := {_key(here, row, count): row for row in here.rows}) == len(here.rows)
    )
    return named


def _key(here: Table, row: Row, count: int) -> str:
    return ":".join(_written(row.get(column.name, "")) for column in here.columns[:count])


def _written(value: str | float) -> str:
    return value if isinstance(value, str) else plain(value)
