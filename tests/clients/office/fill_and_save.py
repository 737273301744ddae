"""Opens a workbook in LibreOffice without a window, enters what it is told into cells, recalculates, and saves it under another name.

Run by the Python that has LibreOffice's module `uno`:
    python3 fill_and_save.py WORKBOOK PROFILE SAVED ENTRIES
PROFILE is an empty folder for the program's settings; ENTRIES is JSON, the text typed into each cell: {"Rooms.E2": "=2*3.8"}.
Writes as JSON what every cell with a formula then holds.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
from recalculate import property_of, started

FILTERS = {".xlsx": "Calc MS Excel 2007 XML", ".ods": "calc8"}
FORMULAS = 16
"""com.sun.star.sheet.CellFlags.FORMULA"""


def held(document: object) -> dict[str, float]:
    """Return the numbers of all cells with a formula."""
    found = {}
    for sheet in document.Sheets:
        for area in sheet.queryContentCells(FORMULAS).RangeAddresses:
            for row in range(area.StartRow, area.EndRow + 1):
                for column in range(area.StartColumn, area.EndColumn + 1):
                    cell = sheet.getCellByPosition(column, row)
                    found[f"{sheet.Name}.{chr(ord('A') + column)}{row + 1}"] = cell.Value
    return found


def main() -> None:
    path, profile, saved, entries = (Path(argument) for argument in sys.argv[1:])
    (profile / "user").mkdir(parents=True)
    process, desktop = started(profile)
    try:
        hidden = property_of("Hidden", True)
        document = desktop.loadComponentFromURL(path.as_uri(), "_blank", 0, (hidden,))
        for cell, text in json.loads(entries.read_text(encoding="utf-8")).items():
            sheet, _, address = cell.rpartition(".")
            document.Sheets.getByName(sheet).getCellRangeByName(address).setFormula(text)
        document.calculateAll()
        print(json.dumps(held(document)))
        document.storeToURL(saved.as_uri(), (property_of("FilterName", FILTERS[saved.suffix]),))
        document.close(True)
        desktop.terminate()
    finally:
        process.wait(timeout=60)


main()
