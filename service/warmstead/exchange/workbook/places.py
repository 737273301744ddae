"""Which cell holds a member of the document, or should hold it: the way back from JSON pointers."""

from __future__ import annotations

from warmstead.exchange.workbook.grids import address
from warmstead.exchange.workbook.layout import ANY, LISTS, Column, FormSheet, ListSheet, Path


def joined(at: str, *tokens: str) -> str:
    """Return the JSON pointer of a member (RFC 6901)."""
    return "".join((at, *(f"/{token.replace('~', '~0').replace('/', '~1')}" for token in tokens)))


def _tokens(pointer: str) -> list[str]:
    return [token.replace("~1", "/").replace("~0", "~") for token in pointer.split("/")[1:]]


class Places:
    """Cells by JSON pointer."""

    def __init__(self) -> None:
        self._rows: dict[str, list[tuple[ListSheet, int]]] = {}
        self._columns: dict[str, dict[Path, int]] = {}
        self._first: dict[str, int] = {}
        self._lines: dict[Path, str] = {}

    def line(self, form: FormSheet, line: Column, where: str) -> None:
        """Note the cell of a form's line."""
        self._lines[line.path] = where

    def columns(self, sheet: ListSheet, header: dict[Column, int]) -> None:
        """Note where the columns of a list stand."""
        self._columns[sheet.title] = {column.path: index for column, index in header.items() if column.path}
        self._first[sheet.title] = min(header.values(), default=0)

    def row(self, pointer: str, sheet: ListSheet, number: int) -> None:
        """Note the row of an object; its parts may stand on several sheets."""
        self._rows.setdefault(pointer, []).append((sheet, number))

    def cell(self, pointer: str) -> str:
        """Return the cell in which a member stands or should stand, else the row, else the sheet."""
        tokens = _tokens(pointer)
        for length in range(len(tokens), 0, -1):
            rows = self._rows.get(joined("", *tokens[:length]))
            if rows:
                return self._within(rows, tuple(tokens[length:]))
        return self._line(tuple(tokens)) or self._sheet(tokens)

    def _within(self, rows: list[tuple[ListSheet, int]], path: Path) -> str:
        for sheet, number in rows:
            for known, column in self._columns[sheet.title].items():
                if path and known[: len(path)] == path[: len(known)]:
                    return address(sheet.title, number, column)
        sheet, number = rows[-1]
        return address(sheet.title, number, self._first[sheet.title])

    def _line(self, path: Path) -> str | None:
        for known, where in self._lines.items():
            if path and known[: len(path)] == path[: len(known)]:
                return where
        return None

    @staticmethod
    def _sheet(tokens: list[str]) -> str:
        """Return the sheet of a list, for a pointer to the list itself."""
        best = ""
        for sheet in LISTS:
            place = [step for step in sheet.place if step != ANY]
            if tokens and [token for token in tokens if not token.isdecimal()][: len(place)] == place:
                best = best or sheet.title
        return best
