"""Spreadsheet libraries are loaded when a workbook is written or read, not when the service starts."""

from __future__ import annotations

import subprocess
import sys


def test_serving_imports_no_spreadsheet_library() -> None:
    libraries = ("openpyxl", "xlsxwriter", "odfdo", "lxml")
    code = f"import sys, warmstead.api.app; print([m for m in {libraries} if m in sys.modules])"
    printed = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert printed.strip() == "[]"
