"""Texts in cells: as they are where a cell keeps them, as JSON strings in quotation marks where it would not."""

from __future__ import annotations

import json
import re

MOST_EXACT = 1e15
"""Whole numbers below are exact in a cell."""
_KEPT = re.compile(r"""(?!["'=@])(?! )[^\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]*(?<! )""")
_ESCAPE_OF_THE_FORMAT = re.compile(r"_x[0-9A-Fa-f]{4}_|_xD|x005F_")
_UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff\ufffe\uffff]")
_RUN_OF_SPACES = "  "


def cell_text(text: str) -> str:
    """Return what to write for a text so that it can be read again.

    Spreadsheet programs drop control characters, fold spaces, take some signs at the start for a command, and their files
    have escapes of their own. Such texts, and the empty one, are written as JSON strings.
    """
    plain = (
        text != ""
        and text == text.strip()
        and _KEPT.fullmatch(text) is not None
        and _ESCAPE_OF_THE_FORMAT.search(text) is None
        and _RUN_OF_SPACES not in text
    )
    return text if plain else json.dumps(text)


def number_text(number: float) -> str:
    """Return the shortest text of a number that gives it again; equal numbers have one text."""
    whole = isinstance(number, int) or (number.is_integer() and abs(number) < MOST_EXACT)
    return str(int(number)) if whole else repr(number)


def printable(text: str) -> str:
    """Return a text for people without the characters that no file format holds."""
    return _UNPRINTABLE.sub(" ", text).strip()


def text_of(cell: str) -> str:
    """Return the text that a cell stands for."""
    if len(cell) >= 2 and cell[0] == cell[-1] == '"':
        try:
            text = json.loads(cell)
        except ValueError:
            return cell
        return text if isinstance(text, str) else cell
    return cell
