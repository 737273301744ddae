"""What a sheet of the survey workbook is made of."""

from __future__ import annotations

from typing import NamedTuple

Path = tuple[str, ...]
"""Members from a row's object to one value."""
ANY = "*"
"""Any item of a list, any entry of an object, in a place within the survey document."""


class Column(NamedTuple):
    """A column of a list sheet, or a line of a form sheet."""

    heading: str
    """In words, without unit; unique on its sheet."""
    path: Path
    """The member of the row's object; empty where the value says to whom the row belongs."""
    width: int = 12
    refers_to: str | None = None
    """Title of the sheet whose first column holds what may be named here."""
    first_is_one: bool = False
    """A place in a list, counted from 0 in JSON and from 1 by people."""
    belongs: str | None = None
    """For a value that says to whom the row belongs: what to enter."""
    choices: tuple[str, ...] = ()
    """Choices of such a value."""


class ListSheet(NamedTuple):
    """A sheet with one object in each row."""

    title: str
    place: Path
    """Where its objects are in the survey document."""
    purpose: str
    columns: tuple[Column, ...]
    landscape: bool = False
    kind: str | None = None
    """Where its rows are of one kind of that place only: which."""


class Section(NamedTuple):
    """A part of a form sheet under a title of its own."""

    title: str
    lines: tuple[Column, ...]


class FormSheet(NamedTuple):
    """A sheet with one value in each line."""

    title: str
    purpose: str
    sections: tuple[Section, ...]

    @property
    def lines(self) -> tuple[Column, ...]:
        """All lines, from top to bottom."""
        return tuple(line for section in self.sections for line in section.lines)


def member(heading: str, path: str, width: int = 12, *, refers_to: str | None = None) -> Column:
    """Return the column of a member, given as a dotted path."""
    return Column(heading, tuple(path.split(".")), width, refers_to)


def index(heading: str, path: str) -> Column:
    """Return the column of a place in a list."""
    return Column(heading, (path,), 10, first_is_one=True)


def belongs(
    heading: str, refers_to: str | None, note: str, width: int = 18, choices: tuple[str, ...] = ()
) -> Column:
    """Return a column that says to whom a row belongs."""
    return Column(heading, (), width, refers_to, belongs=note, choices=choices)
