"""Lines of a text that arrives in pieces (NDJSON), without ever holding more than one line that is not yet whole."""

from __future__ import annotations

from typing import NamedTuple


class Line(NamedTuple):
    """One line that is not blank."""

    number: int
    """Its place in the whole text, from 1; blank lines count."""
    text: bytes | None
    """Without its end; None for one that is longer than is taken."""


class LineReader:
    """Cuts pieces of a text into lines.

    Blank lines are passed over. A line that is too long is dropped while it arrives, so that it takes no memory.
    """

    def __init__(self, longest: int) -> None:
        """Args: longest: bytes that a line may have, its end left out."""
        self._longest = longest
        self.number = 0
        """Lines that have ended so far."""
        self._begun = bytearray()
        self._too_long = False

    @property
    def held(self) -> int:
        """Bytes of the line that is not yet whole."""
        return len(self._begun)

    def feed(self, piece: bytes) -> list[Line]:
        """Return the lines that end within a piece."""
        *ended, rest = piece.split(b"\n")
        lines: list[Line] = []
        for part in ended:
            self._take(part)
            lines += self._end_line()
        self._take(rest)
        return lines

    def end(self) -> list[Line]:
        """Return the last line, where the text does not end with a line's end."""
        return self._end_line() if self._begun or self._too_long else []

    def _take(self, part: bytes) -> None:
        if self._too_long:
            return
        if len(self._begun) + len(part) <= self._longest + 1:  # one more for the first half of CRLF
            self._begun += part
        else:
            self._begun.clear()
            self._too_long = True

    def _end_line(self) -> list[Line]:
        self.number += 1
        text = bytes(self._begun.removesuffix(b"\r"))
        too_long = self._too_long or len(text) > self._longest
        self._begun.clear()
        self._too_long = False
        if too_long:
            return [Line(self.number, None)]
        return [Line(self.number, text)] if text and not text.isspace() else []
