"""The first sheet of the workbook: how to fill it, in the fewest words."""

from __future__ import annotations

from warmstead.exchange.workbook.layout import SHEETS

TITLE = "Read me"
COLUMNS_TITLE = "Columns"
MATERIALS_TITLE = "Materials"
TYPICAL_TITLE = "Typical constructions"
REFERENCE_TITLES = (TITLE, COLUMNS_TITLE, MATERIALS_TITLE, TYPICAL_TITLE)
"""Sheets that explain; they are written anew each time and never read."""

HEADING = "Survey of a house"
PARAGRAPHS = (
    (
        "Fill",
        "Conditions, then Constructions with their Layers, Windows or Ground floors, then Rooms and Elements.",
    ),
    (
        "Dark headings",
        "must be filled in every row. The others depend on the kind of the row, or have a default.",
    ),
    (
        "Units",
        "stand in the headings. Enter numbers alone, without a unit, with the decimal sign of your program.",
    ),
    (
        "Names",
        "are your own short ids of letters, digits, points, dashes and underscores. Other sheets refer to them.",
    ),
    (
        "Elements",
        "are gross areas, or length and height. Each opening is a row of its own, below its element, which it names.",
    ),
    (
        "Between rooms",
        "an element is entered once, in either of the two rooms; it counts in both.",
    ),
    (
        "Emitters",
        "are judged where both water temperatures are given, candidates where the flow temperature is.",
    ),
    ("Empty cells", "mean: not given. Where a default is taken instead, the sheet Warnings says so."),
    (
        "Rows",
        "left empty are skipped. Rows may be inserted, deleted, sorted and copied; leave the headings as they are.",
    ),
    (
        "Formulas",
        "in your cells are taken by the value that your program last stored. They come back as that value.",
    ),
    (
        "Then",
        "send the file to the service (POST /v1/workbook). It comes back with your values as they were and with the results.",
    ),
    (
        "Other sheets",
        "of your own are not read and do not come back. Sheets with results are made anew each time.",
    ),
    ("Notes", "on each heading say what it means; the sheet Columns lists them all."),
)
CAUTION = "Results are numbers for the design day, not advice. Where they touch safety, local codes and licensed practice decide."
SHEET_LINES = tuple((sheet.title, sheet.purpose) for sheet in SHEETS)
"""What stands on which sheet."""
LINES = (*PARAGRAPHS, ("", ""), ("Sheet", "What it holds"), *SHEET_LINES, ("", ""), ("", CAUTION))
"""All lines below the heading."""
