"""What a column's cells may hold: unit, choices, bounds, note, from the schema of the survey document."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, Literal, NamedTuple

from warmstead.exchange.workbook.layout import ANY, Column, FormSheet, ListSheet, Path
from warmstead.exchange.workbook.survey import SurveyDocument
from warmstead.exchange.workbook.texts import number_text

Schema = Mapping[str, Any]

PRINTED_UNITS = {
    "1": "",
    "%": "%",
    "m": "m",
    "mm": "mm",
    "m2": "m²",
    "mm2": "mm²",
    "m3": "m³",
    "Cel": "°C",
    "K": "K",
    "W": "W",
    "W/K": "W/K",
    "W/m2": "W/m²",
    "W/(m2.K)": "W/(m²·K)",
    "W/(m.K)": "W/(m·K)",
    "m2.K/W": "m²·K/W",
    "W.h/(m3.K)": "Wh/(m³·K)",
    "W.d/(m2.K.mm)": "W·d/(m²·K·mm)",
    "/h": "1/h",
    "/m2": "1/m²",
    "L/s": "l/s",
    "m3/(h.m2)": "m³/(h·m²)",
    "m2/m": "m²/m",
    "mm2/m": "mm²/m",
    "mm2/m2": "mm²/m²",
    "m/s": "m/s",
    "mm/d": "mm/day",
    "kW.h/d": "kWh/day",
    "h": "h",
}
"""Units as people write them, by UCUM."""


class Description(NamedTuple):
    """What the cells of a column hold."""

    kind: Literal["number", "text"]
    unit: str
    """As people write it; empty where there is none."""
    choices: tuple[str, ...]
    minimum: float | None
    maximum: float | None
    note: str
    required: bool
    """In every kind of row."""

    @property
    def between(self) -> tuple[str, str]:
        """The bounds of a number as people write them."""
        assert self.minimum is not None
        assert self.maximum is not None, "every number of the survey has bounds"
        return number_text(self.minimum), number_text(self.maximum)


@cache
def describe(sheet: ListSheet | FormSheet, column: Column) -> Description:
    """Return what a column of a sheet, or a line of a form, holds."""
    if column.belongs is not None:
        kind: Literal["number", "text"] = "number" if column.heading == "Layer" else "text"
        required = (
            sheet.title != "Elements"
        )  # there a row belongs to a room or a space, and only openings to an element
        return Description(kind, "", column.choices, None, None, column.belongs, required)
    rows = _rows(sheet)
    nodes = [node for row in rows for node in _below(row, column.path)]
    assert nodes, f"no member {column.path} for the sheet {sheet.title}"
    number = nodes[0].get("type") in ("number", "integer")
    offset = 1.0 if column.first_is_one else 0.0
    lows = [node["minimum"] + offset for node in nodes if "minimum" in node]
    highs = [node["maximum"] + offset for node in nodes if "maximum" in node]
    return Description(
        kind="number" if number else "text",
        unit=PRINTED_UNITS[nodes[0].get("x-unit", "1")] if number else "",
        choices=tuple(dict.fromkeys(value for node in nodes for value in _choices(node))),
        minimum=min(lows, default=None),
        maximum=max(highs, default=None),
        note=_note(sheet, column, nodes[0]),
        required=all(_requires(row, column.path) for row in rows),
    )


def heading(sheet: ListSheet | FormSheet, column: Column) -> str:
    """Return a column's heading with its unit."""
    unit = describe(sheet, column).unit
    return f"{column.heading}, {unit}" if unit else column.heading


def _note(sheet: ListSheet | FormSheet, column: Column, node: Schema) -> str:
    if column.first_is_one:
        return "Number of the layer within its construction; the innermost is 1."
    if column.path[-1] in ("kind", "floor", "method", "to"):
        return "One of the choices; which of the other cells to fill depends on it."
    columns = sheet.columns if isinstance(sheet, ListSheet) else sheet.lines
    named = {other.path[-1]: other.heading for other in columns if other.path}
    named |= {"constructions": "Constructions", "unheated_spaces": "Unheated spaces"}

    def as_on_the_sheet(found: re.Match[str]) -> str:
        return named.get(found[1], found[1])

    return re.sub(r"`([a-z0-9_.-]+)`", as_on_the_sheet, str(node.get("description", "")))


def _rows(sheet: ListSheet | FormSheet) -> list[Schema]:
    """Return the schemas of what may stand in a row, one for each variant."""
    if isinstance(sheet, FormSheet):
        return [_schema()]
    return [
        row
        for row in _below(_schema(), sheet.place)
        if sheet.kind is None or row["properties"]["kind"].get("const") == sheet.kind
    ]


def _requires(row: Schema, path: Path) -> bool:
    if path[0] not in row.get("required", ()):
        return False
    inner = list(_variants(row["properties"][path[0]]))
    return len(path) == 1 or all(_requires(variant, path[1:]) for variant in inner)


def _below(node: Schema, path: Path) -> Iterator[Schema]:
    """Go through the schemas at a path, one for each variant that has it."""
    for variant in _variants(node):
        if not path:
            yield variant
        elif path[0] == ANY:
            for inner in _entries(variant):
                yield from _below(inner, path[1:])
        elif path[0] in variant.get("properties", {}):
            yield from _below(variant["properties"][path[0]], path[1:])


def _variants(node: Schema) -> Iterator[Schema]:
    node = _resolved(node)
    if "oneOf" in node:
        for variant in node["oneOf"]:
            yield from _variants(variant)
    else:
        yield node


def _entries(node: Schema) -> list[Schema]:
    """Return the schemas of the items of a list or the entries of an object; of lists among those, of their items."""
    if "items" in node:
        return [node["items"]]
    if "properties" not in node:
        return list(node["patternProperties"].values())
    entries = [_resolved(entry) for entry in node["properties"].values()]
    return [entry.get("items", entry) for entry in entries]


def _resolved(node: Schema) -> Schema:
    while "$ref" in node:
        described = {name: value for name, value in node.items() if name != "$ref"}
        node = {**_schema()["$defs"][node["$ref"].rpartition("/")[2]], **described}
    return node


def _choices(node: Schema) -> list[str]:
    if "enum" in node:
        return [str(value) for value in node["enum"]]
    return [str(node["const"])] if "const" in node else []


@cache
def _schema() -> Schema:
    return SurveyDocument.model_json_schema()
