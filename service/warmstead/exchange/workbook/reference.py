"""Sheets to look things up in: what each column means, materials, typical constructions."""

from __future__ import annotations

from functools import cache

from warmstead.exchange.workbook.describe import describe, heading
from warmstead.exchange.workbook.layout import SHEETS, ListSheet
from warmstead.exchange.workbook.read_me import COLUMNS_TITLE, MATERIALS_TITLE, TYPICAL_TITLE
from warmstead.exchange.workbook.results import THREE, Cell, ResultColumn, ResultSheet
from warmstead.tables import table


@cache
def reference_sheets() -> tuple[ResultSheet, ...]:
    """Return the sheets to look things up in."""
    return (_columns(), _materials(), _typical())


def _columns() -> ResultSheet:
    rows: list[list[Cell]] = []
    for sheet in SHEETS:
        for column in sheet.columns if isinstance(sheet, ListSheet) else sheet.lines:
            described = describe(sheet, column)
            accepted = ", ".join(described.choices)
            if described.minimum is not None and described.maximum is not None:
                accepted = f"{described.between[0]} to {described.between[1]}"
            needed = "yes" if described.required else None
            rows.append([sheet.title, heading(sheet, column), needed, accepted or None, described.note])
    return ResultSheet(
        COLUMNS_TITLE,
        (
            ResultColumn("Sheet", 20),
            ResultColumn("Heading", 34),
            ResultColumn("Always needed", 9),
            ResultColumn("Accepted", 42),
            ResultColumn("Meaning", 80),
        ),
        rows,
        landscape=True,
    )


def _materials() -> ResultSheet:
    rows: list[list[Cell]] = [
        [str(row["id"]), str(row["name"]), float(row["conductivity_w_mk"]), str(row["source"])]
        for row in table("materials").rows
    ]
    return ResultSheet(
        MATERIALS_TITLE,
        (
            ResultColumn("Material", 38),
            ResultColumn("Name", 46),
            ResultColumn("Conductivity, W/(m·K)", 13, THREE),
            ResultColumn("Source", 70),
        ),
        rows,
        landscape=True,
    )


def _typical() -> ResultSheet:
    rows: list[list[Cell]] = []
    for row in table("typical-constructions").rows:
        u_value = row.get("u_value_w_m2k")
        age = " to ".join(str(row[name])[:4] for name in ("age_from", "age_to") if row.get(name) is not None)
        text = str(row["description"]) + (f", {age}" if age else "")
        rows.append([str(row["id"]), text, None if u_value is None else float(u_value), str(row["source"])])
    return ResultSheet(
        TYPICAL_TITLE,
        (
            ResultColumn("Table row", 46),
            ResultColumn("Description", 60),
            ResultColumn("U-value, W/(m²·K)", 12, THREE),
            ResultColumn("Source", 60),
        ),
        rows,
        landscape=True,
    )
