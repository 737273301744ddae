"""A flat table read as a house, with every error at its line and column."""

from __future__ import annotations

import csv
from typing import Any, NamedTuple

from warmstead.building.findings import Problem, ProblemCode, Refused
from warmstead.building.names import MOST_GUESSES, nearest
from warmstead.exchange.documents import read_mapping
from warmstead.exchange.element_table import dialect as dialects
from warmstead.exchange.element_table.columns import BY_NAME, COLUMNS, RESULT_NAMES, TableColumn
from warmstead.exchange.element_table.dialect import Dialect, Line
from warmstead.questions.house_loss import HouseLossRequest

Json = dict[str, Any]
MAXIMUM_ROWS = 20_000
MOST_PROBLEMS = 2000
"""Reading stops there: whoever sends more has sent something else than a table."""
SOURCE = "given in the table"


class TableProblem(NamedTuple):
    """One reason to refuse a table."""

    line: int
    """From 1; 0 where no line is meant."""
    column: str
    pointer: str
    code: ProblemCode
    detail: str


class TableRefused(Exception):
    """A table is refused, for every reason that could be found at once."""

    def __init__(self, problems: list[TableProblem]) -> None:
        super().__init__("; ".join(f"line {p.line}, {p.column}: {p.detail}" for p in problems))
        self.problems = problems


class TableRead(NamedTuple):
    """A table as a house."""

    request: HouseLossRequest
    house: Json
    lines: dict[str, int]
    """Line by pointer of rooms, elements, openings and constructions."""
    dialect: Dialect


def read_table(content: bytes, house: Json) -> TableRead:
    """Read a flat table.

    Args:
        content: UTF-8, with or without a byte order mark.
        house: the house's members beside rooms and constructions.

    Raises:
        TableRefused: every reason is in it.
    """
    table = _Table(content)
    table.read()
    constructions = {name: _of_one_kind(members) for name, members in table.constructions.items()}
    document = {**house, "constructions": constructions, "rooms": list(table.rooms.values())}
    told = {(problem.line, problem.column) for problem in table.problems}
    request = None
    try:
        request = read_mapping(HouseLossRequest, {"house": document})
    except Refused as error:
        # A cell that was refused is missing in the document; the model need not say so again.
        table.problems += [p for p in at_lines(error.problems, table.lines) if (p.line, p.column) not in told]
    if table.problems or request is None:
        raise TableRefused(table.problems)
    return TableRead(request, document, table.lines, table.dialect)


def at_lines(problems: list[Problem], lines: dict[str, int]) -> list[TableProblem]:
    """Return problems of a house at the lines and columns of the table that it came from."""
    return [TableProblem(*place(p.pointer, lines), p.pointer, p.code, p.detail) for p in problems]


def place(pointer: str, lines: dict[str, int]) -> tuple[int, str]:
    """Return line and column of a member of the house."""
    at = pointer
    while at and at not in lines:
        at = at.rpartition("/")[0]
    path = tuple(pointer[len(at) :].split("/")[1:])
    return lines.get(at, 0), _heading(at, path)


def _heading(at: str, path: tuple[str, ...]) -> str:
    of = (
        "construction"
        if at.startswith("/house/constructions/")
        else "element"
        if "/elements/" in at
        else "room"
    )
    for column in COLUMNS:
        if column.of == of and path and column.path[: len(path)] == path[: len(column.path)]:
            return column.name
    return "" if not at else {"construction": "construction", "element": "element", "room": "room"}[of]


class _Table:
    def __init__(self, content: bytes) -> None:
        self.problems: list[TableProblem] = []
        self.rooms: dict[str, Json] = {}
        self.constructions: dict[str, Json] = {}
        self.lines: dict[str, int] = {}
        self._elements: dict[tuple[str, str], tuple[str, Json]] = {}
        self._room_pointers: dict[str, str] = {}
        self._guesses_left = MOST_GUESSES
        text = self._decoded(content)
        mark = text.startswith(dialects.BYTE_ORDER_MARK)
        self._text = text.removeprefix(dialects.BYTE_ORDER_MARK)
        delimiter = dialects.delimiter_of(self._text.partition("\n")[0])
        self.dialect = Dialect(delimiter, ".", mark)

    def _decoded(self, content: bytes) -> str:
        try:
            return content.decode("utf-8")
        except UnicodeDecodeError as error:
            line = content[: error.start].count(b"\n") + 1
            raise TableRefused(
                [TableProblem(line, "", "", "invalid_text", "not UTF-8; save the table as UTF-8")]
            ) from None

    def _refuse(self, line: int, column: str, code: ProblemCode, detail: str, pointer: str = "") -> None:
        self.problems.append(TableProblem(line, column, pointer, code, detail))
        if len(self.problems) >= MOST_PROBLEMS:
            raise TableRefused(self.problems)

    def read(self) -> None:
        """Read all rows."""
        lines = self._records()
        header = self._header(lines[0]) if lines else {}
        if "room" not in header.values():
            self._refuse(
                1, "room", "missing_field", f"the first line names the columns: {', '.join(BY_NAME)}"
            )
            raise TableRefused(self.problems)
        rows = [line for line in lines[1:] if any(cell.strip() for cell in line.cells)]
        decimal = dialects.decimal_of(
            (
                cell.strip()
                for line in rows
                for index, cell in enumerate(line.cells)
                if index in header and header[index] in BY_NAME and BY_NAME[header[index]].number
            ),
            self.dialect.delimiter,
        )
        self.dialect = self.dialect._replace(decimal=decimal or ".")
        for line in rows:
            self._row(line, header, decimal)

    def _records(self) -> list[Line]:
        records: list[Line] = []
        try:
            for record in dialects.lines_of(self._text, self.dialect.delimiter):
                if len(records) > MAXIMUM_ROWS:
                    self._refuse(record.number, "", "wrong_count", f"at most {MAXIMUM_ROWS} rows")
                    return records
                records.append(record)
        except csv.Error:
            number = records[-1].number + 1 if records else 1
            self._refuse(
                number,
                "",
                "invalid_text",
                "quotation marks: a cell within them ends with one, and doubles those in it",
            )
        return records

    def _header(self, line: Line) -> dict[int, str]:
        header: dict[int, str] = {}
        for index, cell in enumerate(line.cells):
            name = cell.strip().casefold()
            if name in header.values():
                self._refuse(line.number, name, "duplicate_id", "this column stands twice")
            elif name in BY_NAME or name in RESULT_NAMES:
                header[index] = name
            elif name:
                detail = f"no such column; {self._nearest(name, BY_NAME)}"
                self._refuse(line.number, f"{index + 1}", "unknown_field", detail)
        return header

    def _nearest(self, name: str, known: Any) -> str:
        self._guesses_left -= 1
        return nearest(name[:64], known) if self._guesses_left >= 0 else "see the names above"

    def _row(self, line: Line, header: dict[int, str], decimal: str | None) -> None:
        given: dict[str, str] = {}
        for index, cell in enumerate(line.cells):
            value = cell.strip()
            if value and index not in header:
                self._refuse(
                    line.number, "", "unknown_field", "a cell beyond the columns named in the first line"
                )
            elif value:
                given[header[index]] = value
        if given.get("kind") == "junction" or given.get("declared_in"):
            return
        name = dialects.unguarded(given.get("room", ""))
        if not name:
            self._refuse(line.number, "room", "missing_field", "missing; the id of the room")
            return
        pointer, room = self._room(name, line.number)
        values = {c: self._value(c, given[c.name], decimal, line.number) for c in COLUMNS if c.name in given}
        self._put_room(room, pointer, values, line.number)
        if "element" in given:
            self._element(name, pointer, room, given, values, line.number)
        else:
            for column in values:
                if column.of in ("element", "construction") or column.name == "opening_of":
                    self._refuse(
                        line.number, "element", "missing_field", f"missing; {column.name} needs an element"
                    )
                    break

    def _value(self, column: TableColumn, given: str, decimal: str | None, line: int) -> Any:
        if not column.number:
            return dialects.unguarded(given)
        if dialects.WHOLE.fullmatch(given) or (dialects.POINT.fullmatch(given) and decimal == "."):
            return float(given)
        if dialects.COMMA.fullmatch(given) and decimal == ",":
            return float(given.replace(",", "."))
        pointless = dialects.COMMA.fullmatch(given) or dialects.POINT.fullmatch(given)
        detail = "must be a number without unit or thousands sign, such as 2.4"
        if pointless and decimal is None:
            detail = "decimal commas and decimal points in one table: use one of them throughout"
        elif pointless:
            detail = (
                "ambiguous: a decimal comma or a thousands sign? Write 1.234 or 1234, or part the cells by ;"
            )
        self._refuse(line, column.name, "ambiguous" if pointless else "not_a_number", detail)
        return None

    def _room(self, name: str, line: int) -> tuple[str, Json]:
        if name not in self.rooms:
            self.lines[f"/house/rooms/{len(self.rooms)}"] = line
            self.rooms[name] = {"id": name, "elements": []}
            self._room_pointers[name] = f"/house/rooms/{len(self.rooms) - 1}"
        return self._room_pointers[name], self.rooms[name]

    def _put_room(self, room: Json, pointer: str, values: dict[TableColumn, Any], line: int) -> None:
        for column, value in values.items():
            if column.of == "room" and value is not None and not _put(room, column.path, value):
                detail = "another value than in a row above; a room's members are the same in all its rows, or given once"
                self._refuse(line, column.name, "contradiction", detail)

    def _element(
        self,
        room_name: str,
        at: str,
        room: Json,
        given: dict[str, str],
        values: dict[TableColumn, Any],
        line: int,
    ) -> None:
        element: Json = {}
        for column, value in values.items():
            if column.of == "element" and value is not None:
                _put(element, column.path, value)
        element["construction"] = self._construction(element.get("construction"), values, line)
        owner = dialects.unguarded(given.get("opening_of", ""))
        if not owner:
            room["elements"].append(element)
            pointer = f"{at}/elements/{len(room['elements']) - 1}"
            self._elements.setdefault((room_name, element["id"]), (pointer, element))
        elif (room_name, owner) in self._elements:
            pointer, wall = self._elements[room_name, owner]
            wall.setdefault("openings", []).append(element)
            pointer += f"/openings/{len(wall['openings']) - 1}"
        else:
            self._refuse(
                line, "opening_of", "not_found", "no element of this id in a row above, in the same room"
            )
            return
        self.lines[pointer] = line

    def _construction(self, name: str | None, values: dict[TableColumn, Any], line: int) -> str:
        """Return the id of a row's construction; it is made of the first row that says what it is."""
        members = {
            column.path[0]: value
            for column, value in values.items()
            if column.of == "construction" and value is not None
        }
        if name is None:
            name = f"u-value-{members['u_value_w_m2k']:g}" if "u_value_w_m2k" in members else f"line-{line}"
            name = name.replace("+", "")
        pointer = f"/house/constructions/{name.replace('~', '~0').replace('/', '~1')}"
        there = self.constructions.setdefault(name, {})
        self.lines.setdefault(pointer, line)
        if any(there.get(member, value) != value for member, value in members.items()):
            self._refuse(
                line,
                "u_value_w_m2k",
                "contradiction",
                "another value than in a row above for this construction",
            )
            return name
        if members and not there:
            self.lines[pointer] = line
        there.update(members)
        return name


def _of_one_kind(members: Json) -> Json:
    """Return the construction that its rows describe; the model says what is missing."""
    if "row" in members:
        return {**members, "kind": "typical"}
    return {"source": SOURCE, **members, "kind": "declared"}


def _put(holder: Json, path: tuple[str, ...], value: Any) -> bool:
    """Put a value where none is; False where another one is."""
    for step in path[:-1]:
        holder = holder.setdefault(step, {})
    return bool(holder.setdefault(path[-1], value) == value)
