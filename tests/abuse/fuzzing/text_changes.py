"""Changes to flat tables and to queries that leave cells and parameters in their places."""

from __future__ import annotations

import re
from random import Random
from urllib.parse import quote

from fuzzing import stock
from warmstead.exchange.cells.questions import CELL_QUESTIONS
from warmstead.exchange.element_table.columns import COLUMNS, RESULT_NAMES

_CELLS = (
    b"",
    b"0",
    b"-1",
    b"1.5",
    b"1,5",
    b'"1,5"',
    b"1.234",
    b"1,234",
    b"1e308",
    b"1e999",
    b"9" * 400,
    b"NaN",
    b"-0",
    b"'=1",
    b"=cmd",
    b"'",
    b'"',
    b'""',
    b'"a""b"',
    b'"a\nb"',
    b"a/b~c",
    b"outside",
    b"ground",
    b"room",
    b"unheated_space",
    b"neighbour",
    b"x" * 300,
    b"\xff",
    b"\x00",
    "é".encode(),
    "\u2028".encode(),
    b" a ",
    b"junction",
)
_PARTS = re.compile(rb"[,;\t\n]")
_VALUES = (
    "",
    "0",
    "-1",
    "9.8",
    "9,8",
    "1,234",
    "1.2.3",
    "1e3",
    "1e999",
    "1e-999",
    "9" * 70,
    "NaN",
    "inf",
    "-0",
    "+1",
    "true",
    "a\tb",
    "\x00",
    "é",
    "'=1",
    "<a>&",
    "None",
    "1_000",
    "٣",
    "x" * 300,
    "GB:kitchen",
    "in_cell",
    "problem",
    "json",
    "csv",
    "xml",
    "text",
)
_RAW = ("%", "%zz", "%ff", "%00", "%C3%28", "+", "&&", "=", "&=1", "#", "%25", ";")
_ACCEPTS = ("", "*/*", "text/csv", "application/json;q=0", "a/b;q=nan,*/*;q=x", "text/*;q=1e9", ",;=", "é")


def changed_table(text: bytes, random: Random) -> bytes:
    """Return a flat table with one to three changes."""
    for _ in range(random.choice((1, 1, 2, 3))):
        text = _changed_table_once(text, random)
    return text


def _changed_table_once(text: bytes, random: Random) -> bytes:
    lines = text.split(b"\n")
    chosen = random.random()
    if chosen < 0.1:
        line = random.choice(lines)
        lines.insert(random.randrange(len(lines) + 1), line)
        return b"\n".join(lines * random.choice((1, 1, 1, 20)))
    if chosen < 0.17:
        del lines[random.randrange(len(lines))]
        return b"\n".join(lines)
    if chosen < 0.25:
        names = [column.name for column in COLUMNS] + list(RESULT_NAMES)
        return _replaced_cell(text, random.choice(names).encode(), random, within=len(lines[0]))
    if chosen < 0.3:
        return text.replace(
            random.choice((b",", b";", b".", b"\r\n")), random.choice((b",", b";", b"\t", b"\r", b"\n"))
        )
    if chosen < 0.45:
        cells = _PARTS.split(text)
        return _replaced_cell(text, random.choice(cells), random)
    return _replaced_cell(text, random.choice(_CELLS), random)


def _replaced_cell(text: bytes, by: bytes, random: Random, within: int | None = None) -> bytes:
    ends = [part.start() for part in _PARTS.finditer(text) if within is None or part.start() <= within]
    if not ends:
        return text + by
    place = random.randrange(len(ends))
    begins = ends[place - 1] + 1 if place else 0
    return text[:begins] + by + text[ends[place] :]


def changed_query(text: bytes, random: Random) -> bytes:
    """Return a request by GET with one to three changes of its parameters, its path or its Accept header."""
    target, _, accept = text.decode("utf-8", "replace").partition("\n")
    path, _, query = target.partition("?")
    for _ in range(random.choice((1, 1, 2, 3))):
        chosen = random.random()
        if chosen < 0.05:
            accept = random.choice(_ACCEPTS)
        elif chosen < 0.15:
            path = _changed_path(path, random)
        else:
            query = _changed_parameters(path, query, random)
    return f"{path}?{query}\n{accept}".encode("utf-8", "replace")


def _changed_path(path: str, random: Random) -> str:
    parts = path.split("/")
    parts[random.randrange(len(parts))] = random.choice(
        ("", "..", "tables", "materials", "room-defaults", "u-value", "%00", "%ff", "%2F", "é", "x" * 200)
    )
    return "/".join(parts) or "/"


def _changed_parameters(path: str, query: str, random: Random) -> str:
    parts = query.split("&") if query else []
    chosen = random.random()
    if parts and chosen < 0.1:
        del parts[random.randrange(len(parts))]
    elif parts and chosen < 0.15:
        parts.append(random.choice(parts))
    elif parts and chosen < 0.6:
        place = random.randrange(len(parts))
        name, _, value = parts[place].partition("=")
        parts[place] = f"{name}={_new_value(name, value, random)}"
    else:
        name = _new_name(path, random)
        parts.append(f"{name}={_new_value(name, '', random)}")
    return "&".join(parts)[:9000]


def _new_name(path: str, random: Random) -> str:
    cell = CELL_QUESTIONS.get(path.rpartition("/")[2])
    options = ["format", "errors", "value", "altitude_m", "content", "workings", "nonsense"]
    return random.choice(list(cell.parameters)) if cell and random.random() < 0.7 else random.choice(options)


def _new_value(name: str, value: str, random: Random) -> str:
    chosen = random.random()
    if chosen < 0.1:
        return value + random.choice(_RAW)
    if chosen < 0.4:
        return quote(random.choice(_VALUES))
    known = [
        *stock.bounds().get(name.removeprefix("layer_1_"), ()),
        *stock.choices().get(name, ()),
        *(v for v in stock.by_name().get(name, ()) if isinstance(v, str | int | float)),
    ]
    return quote(str(random.choice(known)).encode("utf-8", "replace")) if known else random.choice(_VALUES)
