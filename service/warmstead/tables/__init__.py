"""Cited data, and the one loader for it.

Each table is a CSV file beside this module; `catalogue.json` says what its columns mean, in which unit and
within which range. Each row names its source, the place in the source, and how it is known (`provenance`):

    published_table  someone here read it in a public copy of the source
    from_memory      remembered, and no copy was seen
    common_practice  what the trade does, without a publication behind it
    derived          worked out here; the locator says from what

Nothing is read until a table is asked for.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Literal, NamedTuple

__all__ = ["TABLES_VERSION", "Column", "Row", "Table", "csv_text", "table", "table_names"]

TABLES_VERSION: str  # worked out when first asked for, by __getattr__ below

Row = Mapping[str, str | float]

_CATALOGUE = "catalogue.json"
_FORMULA_STARTS = ("=", "+", "-", "@")


class Column(NamedTuple):
    """A column: its unit in UCUM ("" for text, "1" for a ratio), its range, whether a cell may be empty."""

    name: str
    kind: Literal["text", "number"]
    unit: str
    description: str
    minimum: float | None
    maximum: float | None
    optional: bool = False
    values: tuple[str, ...] = ()  # the closed list of a text column, where it has one


@dataclass(frozen=True)
class Table:
    """A table with its columns; a row has no key for a cell that the file leaves empty."""

    name: str
    title: str
    description: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    _index: Mapping[str, Row] | None = field(default=None, repr=False, compare=False)

    def by_id(self, id: str) -> Row | None:
        """Return the row of that id, None where there is none.

        Raises:
            LookupError: the table has no `id` column.
        """
        if self._index is None:
            raise LookupError(f"table {self.name!r} has no id column")
        return self._index.get(id)


def table_names() -> tuple[str, ...]:
    """Return the names of all tables, in the catalogue's order."""
    return tuple(_catalogue())


@cache
def table(name: str) -> Table:
    """Return a table.

    Args:
        name: its name in URLs, such as `air-layers`.

    Raises:
        KeyError: no table has that name.
        ValueError: the file contradicts the catalogue (header, number, empty cell of a required column).
    """
    entry = _catalogue()[name]
    columns = tuple(_column(column) for column in entry["columns"])
    header, *lines = _cells(name)
    if header != [column.name for column in columns]:
        raise ValueError(f"{name}.csv has the columns {header}, not those of the catalogue")
    rows = tuple(_row(name, columns, line) for line in lines)
    index = {str(row["id"]): row for row in rows} if "id" in header else None
    return Table(name, entry["title"], entry["description"], columns, rows, index)


@cache
def csv_text(name: str) -> str:
    r"""Return a table as CSV to hand out: CRLF line ends, numbers with the digits of the source.

    A text cell that begins with `=`, `+`, `-` or `@` gets a leading apostrophe: a spreadsheet would run it.

    Args:
        name: its name in URLs, such as `air-layers`.

    Raises:
        KeyError: no table has that name.
    """
    columns = table(name).columns
    header, *lines = _cells(name)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    for line in lines:
        writer.writerow(_guarded(column, cell) for column, cell in zip(columns, line, strict=True))
    return out.getvalue()


def __getattr__(name: str) -> str:
    if name != "TABLES_VERSION":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    files = {f"{table_name}.csv": _read(f"{table_name}.csv") for table_name in table_names()}
    version = _version(files | {_CATALOGUE: _read(_CATALOGUE)})
    globals()["TABLES_VERSION"] = version
    return version


def _version(files: Mapping[str, bytes]) -> str:
    digest = hashlib.sha256()
    for name in sorted(files):
        digest.update(f"{name}:{len(files[name])}:".encode())
        digest.update(files[name])
    return digest.hexdigest()[:12]


@cache
def _catalogue() -> dict[str, Any]:
    catalogue: dict[str, Any] = json.loads(_read(_CATALOGUE))
    return catalogue


def _read(file: str) -> bytes:
    from importlib.resources import files  # slow to import, and nobody needs it before the first table

    return files(__name__).joinpath(file).read_bytes()


def _cells(name: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(_read(f"{name}.csv").decode("utf-8"), newline="")))


def _column(entry: Mapping[str, Any]) -> Column:
    number = entry["kind"] == "number"
    return Column(
        name=entry["name"],
        kind=entry["kind"],
        unit=entry["unit"],
        description=entry["description"],
        minimum=float(entry["minimum"]) if number else None,
        maximum=float(entry["maximum"]) if number else None,
        optional=entry.get("optional", False),
        values=tuple(entry.get("values", ())),
    )


def _row(name: str, columns: tuple[Column, ...], line: list[str]) -> Row:
    row: dict[str, str | float] = {}
    for column, cell in zip(columns, line, strict=True):
        if cell:
            row[column.name] = float(cell) if column.kind == "number" else cell
        elif not column.optional:
            raise ValueError(f"{name}.csv leaves {column.name} empty in the row {line}")
    return row


def _guarded(column: Column, cell: str) -> str:
    return f"'{cell}" if column.kind == "text" and cell.startswith(_FORMULA_STARTS) else cell
