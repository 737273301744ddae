"""Opens a document in LibreOffice without a window, recalculates it, and writes what its cells hold as JSON.

Run by the Python that has LibreOffice's module `uno`:
    python3 recalculate.py DOCUMENT PROFILE LOCALE
PROFILE is an empty folder for the program's settings; LOCALE is one of `en-GB`, `de-DE` and so on. Formulas that fetch are only
updated in a document that lies in a trusted folder, and only if links are always updated: the profile says both.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.table.CellContentType import FORMULA

SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
           xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
  <item oor:path="/org.openoffice.Office.Calc/Content/Update"><prop oor:name="Link"><value>0</value></prop></item>
  <item oor:path="/org.openoffice.Office.Common/Security/Scripting">
    <prop oor:name="SecureURL"><value><it>{folder}</it></value></prop></item>
  <item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale"><value>{locale}</value></prop></item>
</oor:items>
"""
FULL_UPDATE = 3
SECONDS_TO_START = 60


def property_of(name: str, value: object) -> PropertyValue:
    made = PropertyValue()
    made.Name, made.Value = name, value
    return made


def started(profile: Path) -> tuple[subprocess.Popen[bytes], object]:
    """Start the program and return it with its desktop."""
    pipe = f"warmstead{os.getpid()}"
    command = [
        "soffice",
        f"-env:UserInstallation={profile.as_uri()}",
        "--headless",
        "--norestore",
        "--nologo",
    ]
    process = subprocess.Popen(
        [*command, f"--accept=pipe,name={pipe};urp;"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    here = uno.getComponentContext()
    resolver = here.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", here)
    until = time.monotonic() + SECONDS_TO_START
    while time.monotonic() < until:
        try:
            there = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except NoConnectException:
            time.sleep(0.2)
        else:
            return process, there.ServiceManager.createInstanceWithContext(
                "com.sun.star.frame.Desktop", there
            )
    process.kill()
    sys.exit("the program did not start")


def cells_of(document: object) -> dict[str, dict[str, object]]:
    """Return what stands in each cell with a formula: its error, its number, its text as shown."""
    sheet = document.Sheets.getByIndex(0)
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    found = {}
    for row in range(cursor.RangeAddress.EndRow + 1):
        for column in range(cursor.RangeAddress.EndColumn + 1):
            cell = sheet.getCellByPosition(column, row)
            if cell.Type == FORMULA:
                name = f"{chr(ord('A') + column)}{row + 1}"
                found[name] = {"error": cell.getError(), "number": cell.Value, "text": cell.String}
    return found


def main() -> None:
    path, profile, locale = Path(sys.argv[1]), Path(sys.argv[2]), sys.argv[3]
    (profile / "user").mkdir(parents=True)
    settings = SETTINGS.format(folder=path.parent.as_uri(), locale=locale)
    (profile / "user" / "registrymodifications.xcu").write_text(settings, encoding="utf-8")
    process, desktop = started(profile)
    try:
        update = uno.Any("short", FULL_UPDATE)
        wanted = (property_of("Hidden", True), property_of("UpdateDocMode", update))
        document = desktop.loadComponentFromURL(path.as_uri(), "_blank", 0, wanted)
        document.calculateAll()
        json.dump(cells_of(document), sys.stdout, ensure_ascii=False)
        document.close(True)
        desktop.terminate()
        process.wait(timeout=30)
    finally:
        process.kill()


if __name__ == "__main__":
    main()
