"""Rows of the workbook's sheets as a survey document, with the cell of every member."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from warmstead.building.findings import ProblemCode
from warmstead.building.names import MOST_GUESSES, nearest
from warmstead.exchange.workbook import layout
from warmstead.exchange.workbook.attach import ATTACH, Misplaced
from warmstead.exchange.workbook.describe import describe, heading
from warmstead.exchange.workbook.grids import CellProblem, Grid, NotAValue, Unreadable, Value, address
from warmstead.exchange.workbook.layout import Column, FormSheet, ListSheet
from warmstead.exchange.workbook.places import Places, joined
from warmstead.exchange.workbook.tabulate import ALWAYS_THERE
from warmstead.exchange.workbook.texts import MOST_EXACT, text_of

Json = dict[str, Any]
FORM_VALUE_COLUMN = 1
"""Lines of a form have their words in the first column and their value in the second."""
MOST_PROBLEMS = 2000
"""Reading stops there: whoever sends more has sent something else than a survey."""
REQUIRED_SHEETS = (layout.CONDITIONS.title, layout.CONSTRUCTIONS.title, layout.ROOMS.title)


class Assembled(NamedTuple):
    """A document put together, before the model has looked at it."""

    document: Json
    places: Places
    problems: list[CellProblem]
    calculated: list[tuple[str, str]]
    """Pointer and cell of values that a formula gave."""
    left_out: list[str]
    """Titles of sheets that are none of the workbook's."""


def assemble(grids: list[Grid], results: frozenset[str]) -> Assembled:
    """Put a document together from sheets.

    Args:
        grids: the sheets as read.
        results: titles of sheets that are ours but hold no survey.
    """
    return _Assembly(grids, results).done()


class _Assembly:
    def __init__(self, grids: list[Grid], results: frozenset[str]) -> None:
        self._grids = {grid.title: grid for grid in grids}
        self._results = results
        self.document: Json = {
            "house": {"conditions": {}, "constructions": {}, "rooms": []},
        }
        self.problems: list[CellProblem] = []
        self._places = Places()
        self._calculated: list[tuple[str, str]] = []
        self._by_name: dict[tuple[str, ...], tuple[str, Json]] = {}
        """Pointer and object by what it is and its ids."""
        self._elements: dict[tuple[str, str], tuple[str, Json]] = {}
        """Pointer and element by its room or space and its id."""
        self._guesses_left = MOST_GUESSES

    def guess(self, name: str, known: Iterable[str]) -> str:
        """Return the nearest known name, for the first few that are unknown: comparing names costs more than all else."""
        self._guesses_left -= 1
        return f"; {nearest(name[:64], known)}" if self._guesses_left >= 0 else ""

    def done(self) -> Assembled:
        """Read all sheets."""
        left_out = self._strangers()
        for form in layout.FORMS:
            if form.title in self._grids:
                self._read_form(form, self._grids[form.title])
        for sheet in layout.LISTS:
            if sheet.title in self._grids:
                self._read_list(sheet, self._grids[sheet.title])
        if layout.EMPTY_MEMBERS in self._grids:
            self._restore_empty(self._grids[layout.EMPTY_MEMBERS])
        return Assembled(self.document, self._places, self.problems, self._calculated, left_out)

    def _strangers(self) -> list[str]:
        known = [sheet.title for sheet in layout.SHEETS]
        for title in REQUIRED_SHEETS:
            if title not in self._grids:
                self._refuse("", "", "missing_field", f"the sheet {title} is missing")
        left_out = []
        for title in self._grids:
            if title in known or title in self._results or title == layout.EMPTY_MEMBERS:
                continue
            meant = next((name for name in known if _folded(name) == _folded(title)), None)
            if meant is not None:
                self._refuse(title[:31], "", "unknown_field", f"name this sheet exactly {meant}")
            else:
                left_out.append(title)
        return left_out

    def _refuse(self, cell: str, pointer: str, code: ProblemCode, detail: str) -> None:
        self.problems.append(CellProblem(cell, pointer, code, detail))
        if len(self.problems) >= MOST_PROBLEMS:
            raise Unreadable(self.problems)

    # --- Forms ------------------------------------------------------------------------------------

    def _read_form(self, form: FormSheet, grid: Grid) -> None:
        lines = {_folded(heading(form, line)): line for line in form.lines}
        sections = {_folded(section.title) for section in form.sections}
        seen: set[str] = set()
        for number, row in enumerate(grid.rows):
            words = row[0] if row and isinstance(row[0], str) else ""
            value = row[FORM_VALUE_COLUMN] if len(row) > FORM_VALUE_COLUMN else None
            line = lines.get(_folded(words))
            where = address(form.title, number, FORM_VALUE_COLUMN)
            if line is None:
                if value is not None and number > 0 and _folded(words) not in sections:
                    known = self.guess(words, [heading(form, line) for line in form.lines])
                    self._refuse(where, "", "unknown_field", f"no such line on this sheet{known}")
                continue
            if _folded(words) in seen:
                self._refuse(where, "", "duplicate_id", "this line stands twice on the sheet")
                continue
            seen.add(_folded(words))
            self._places.line(form, line, where)
            if value is not None:
                self._put(
                    form,
                    line,
                    self.document,
                    "",
                    value,
                    where,
                    (number, FORM_VALUE_COLUMN) in grid.calculated,
                )

    # --- Lists ------------------------------------------------------------------------------------

    def _read_list(self, sheet: ListSheet, grid: Grid) -> None:
        header = self._header(sheet, grid)
        if header is None:
            return
        self._places.columns(sheet, header)
        for number, row in enumerate(grid.rows[1:], 1):
            cells = {
                column: row[index]
                for column, index in header.items()
                if index < len(row) and row[index] is not None
            }
            if cells:
                self._read_row(sheet, grid, header, number, cells)

    def _header(self, sheet: ListSheet, grid: Grid) -> dict[Column, int] | None:
        wanted = {_folded(heading(sheet, column)): column for column in sheet.columns}
        found: dict[Column, int] = {}
        first = grid.rows[0] if grid.rows else []
        for index, words in enumerate(first):
            where = address(sheet.title, 0, index)
            column = wanted.get(_folded(words)) if isinstance(words, str) else None
            if column is None:
                if any(index < len(row) and row[index] is not None for row in grid.rows):
                    known = self.guess(str(words), [heading(sheet, column) for column in sheet.columns])
                    self._refuse(where, "", "unknown_field", f"no such heading on this sheet{known}")
            elif column in found:
                self._refuse(where, "", "duplicate_id", "this heading stands twice on the sheet")
            else:
                found[column] = index
        missing = [column for column in sheet.columns if column not in found and column.belongs is not None]
        if missing and len(grid.rows) > 1:
            for column in missing:
                self._refuse(
                    sheet.title,
                    "",
                    "missing_field",
                    f"the heading {heading(sheet, column)} is missing in the first row",
                )
            return None
        return found

    def _read_row(
        self, sheet: ListSheet, grid: Grid, header: dict[Column, int], number: int, cells: dict[Column, Value]
    ) -> None:
        belonging = [column for column in sheet.columns if column.belongs is not None]
        owners = [self._owner(sheet, column, cells.get(column), number, header) for column in belonging]
        if any(isinstance(owner, NotAValue) for owner in owners):
            return
        item: Json = {}
        try:
            pointer, item = ATTACH[sheet.title](
                self, [o for o in owners if not isinstance(o, NotAValue)], item
            )
        except Misplaced as error:
            where = address(sheet.title, number, header[belonging[error.owner]])
            self._refuse(where, "", error.code, error.detail)
            return
        self._places.row(pointer, sheet, number)
        for column, value in cells.items():
            if column.belongs is None:
                index = header[column]
                where = address(sheet.title, number, index)
                self._put(sheet, column, item, pointer, value, where, (number, index) in grid.calculated)
        self._remember(sheet, pointer, item, owners)

    def _owner(
        self, sheet: ListSheet, column: Column, value: Value, number: int, header: dict[Column, int]
    ) -> str | NotAValue | None:
        """Return to whom a row belongs, or what is wrong with the cell that should say so."""
        where = address(sheet.title, number, header[column])
        if isinstance(value, NotAValue):
            self._refuse(where, "", value.code, value.detail)
            return value
        if value is None:
            if describe(sheet, column).required:
                detail = f"missing; {column.belongs}"
                self._refuse(where, "", "missing_field", detail)
                return NotAValue("missing_field", detail)
            return None
        return str(_name(value))

    def _remember(self, sheet: ListSheet, pointer: str, item: Json, owners: list[Any]) -> None:
        if sheet is layout.ELEMENTS and isinstance(item.get("id"), str) and owners[2] is None:
            owner = pointer.rpartition("/elements/")[0]
            self._elements.setdefault((owner, item["id"]), (pointer, item))
        key = _NAMED.get(sheet.title)
        if key is not None and isinstance(item.get("id"), str):
            within = [str(owner) for owner in owners if owner is not None]
            self._by_name.setdefault((key, *within, item["id"]), (pointer, item))

    # --- Values -----------------------------------------------------------------------------------

    def _put(
        self,
        sheet: ListSheet | FormSheet,
        column: Column,
        item: Json,
        at: str,
        value: Value,
        where: str,
        calculated: bool,
    ) -> None:
        pointer = joined(at, *column.path)
        described = describe(sheet, column)
        taken: Any = value
        if isinstance(value, NotAValue):
            self._refuse(where, pointer, value.code, value.detail)
            taken = 0.0  # never used: the refusal is noted, and what the model says of this place is left out
        elif described.kind == "text":
            taken = text_of(value) if isinstance(value, str) else _name(value)
        elif isinstance(value, str):
            self._refuse(where, pointer, "not_a_number", _wanted(described, value))
        elif column.first_is_one and isinstance(value, int | float) and not isinstance(value, bool):
            taken = value - 1
        if isinstance(taken, float) and taken.is_integer() and abs(taken) < MOST_EXACT:
            taken = int(taken)  # what a cell holds has no decimal point of its own
        inner = item
        for step in column.path[:-1]:
            inner = inner.setdefault(step, {})
        inner[column.path[-1]] = taken
        if calculated and not isinstance(value, NotAValue):
            self._calculated.append((pointer, where))

    def _restore_empty(self, grid: Grid) -> None:
        for row in grid.rows[1:]:
            pointer = row[0] if row and isinstance(row[0], str) else ""
            steps = pointer.split("/")[1:]
            holder: Any = self.document
            is_list = bool(steps) and steps[-1] == ""
            steps = steps[:-1] if is_list else steps
            for step in steps[:-1]:
                if step == "thermal_bridges" and isinstance(holder, dict):
                    holder.setdefault(step, {})
                holder = _inner(holder, step)
            if steps and isinstance(holder, dict) and steps[-1] not in holder and steps[-1] in _MAY_BE_EMPTY:
                holder[steps[-1]] = [] if is_list else {}

    # --- Where rows go ----------------------------------------------------------------------------

    def named(self, kind: str, owner: int, *ids: str | None) -> tuple[str, Json]:
        """Return what has these ids, or say that nothing has."""
        found = self._by_name.get((kind, *(str(name) for name in ids)))
        if found is None:
            known = (key[-1] for key in self._by_name if key[:-1] == (kind, *ids[:-1]))
            raise Misplaced(owner, "not_found", f"no {kind} of this name{self.guess(str(ids[-1]), known)}")
        return found

    def element(self, owner: str, name: str) -> tuple[str, Json] | None:
        """Return an element that stands above, by its room or space and its id."""
        return self._elements.get((owner, name))

    def house(self) -> Json:
        """Return the house as far as it stands."""
        house: Json = self.document["house"]
        return house

    def construction(self, name: str | None, owner: int = 0) -> tuple[str, Json]:
        """Return a construction by its id."""
        constructions = self.house()["constructions"]
        if name not in constructions:
            guess = self.guess(str(name), map(str, constructions))
            detail = f"no construction of this name on the sheet Constructions{guess}"
            raise Misplaced(owner, "not_found", detail)
        return joined("/house/constructions", str(name)), constructions[name]


def _inner(holder: Any, step: str) -> Any:
    if isinstance(holder, list):
        return holder[int(step)] if step.isdecimal() and int(step) < len(holder) else None
    return holder.get(step) if isinstance(holder, dict) else None


def _name(value: Any) -> Any:
    """Return an id or a text that a program took for a number: `1` is meant as a name."""
    if isinstance(value, str):
        return text_of(value)
    if isinstance(value, bool):
        return value
    return str(int(value)) if float(value).is_integer() and abs(value) < MOST_EXACT else value


def _wanted(described: Any, given: str) -> str:
    unit = f" {described.unit}" if described.unit else ""
    hint = (
        "; this cell holds text, here with a comma: enter it as a number"
        if "," in given
        else "; this cell holds text"
    )
    return f"a number from {described.between[0]} to {described.between[1]}{unit}{hint}"


def _folded(words: Any) -> str:
    return " ".join(str(words).split()).casefold()


_NAMED = {
    layout.UNHEATED_SPACES.title: "unheated space",
    layout.ROOMS.title: "room",
    layout.EMITTERS.title: "emitter",
    layout.CANDIDATES.title: "candidate",
}
"""Sheets whose rows others belong to, and what they are called."""
_MAY_BE_EMPTY = frozenset(
    (
        "circuits",
        "corrections",
        "emitters",
        "flues",
        "junctions",
        "openings",
        "thermal_bridges",
        "thresholds",
        "unheated_spaces",
        "ventilation",
        "candidates",
    )
)
"""Members that are the same to every question whether they are empty or absent, or that mean something when empty."""

__all__ = ["ALWAYS_THERE", "Assembled", "assemble"]
