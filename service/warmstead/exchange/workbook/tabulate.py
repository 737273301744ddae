"""A survey document as rows of the workbook's sheets."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from warmstead.exchange.workbook import layout
from warmstead.exchange.workbook.layout import Column, FormSheet, ListSheet, Path
from warmstead.exchange.workbook.texts import cell_text

Json = dict[str, Any]
Cell = str | float | bool | None
Entry = tuple[Sequence[Cell], Json]
"""To whom a row belongs, and its object."""


def form_values(sheet: FormSheet, document: Json) -> list[Cell]:
    """Return the value of each line of a form."""
    return [_value(document, line) for line in sheet.lines]


def list_rows(sheet: ListSheet, document: Json) -> Iterator[list[Cell]]:
    """Go through the rows of a sheet."""
    for owners, item in _ENTRIES[sheet.title](document):
        left = iter(owners)
        yield [_shown(next(left)) if column.belongs else _value(item, column) for column in sheet.columns]


def empty_members(document: Json) -> list[str]:
    """List the JSON pointers of members that hold nothing, and that no row could therefore show."""
    return list(_empty(document, ""))


def _empty(value: Any, at: str) -> Iterator[str]:
    inner: Iterator[tuple[str, Any]] = iter(())
    if isinstance(value, Mapping):
        inner = ((str(name), member) for name, member in value.items())
    elif isinstance(value, list):
        inner = ((str(index), item) for index, item in enumerate(value))
    for name, member in inner:
        if isinstance(member, dict | list) and not member and name not in ALWAYS_THERE:
            yield f"{at}/{name}{'/' if isinstance(member, list) else ''}"
        else:
            yield from _empty(member, f"{at}/{name}")


ALWAYS_THERE = ("constructions", "elements", "rooms")
"""Lists that the model requires, read as empty where no row is theirs."""


def _value(item: Json, column: Column) -> Cell:
    value = _at(item, column.path)
    if column.first_is_one and isinstance(value, int | float):
        return value + 1
    return _shown(value)


def _shown(value: Any) -> Cell:
    if isinstance(value, str):
        return cell_text(value)
    return value if isinstance(value, int | float) else None


def _at(item: Any, path: Path) -> Any:
    for step in path:
        if not isinstance(item, Mapping) or step not in item:
            return None
        item = item[step]
    return item


def _constructions(document: Json) -> Iterator[Entry]:
    for name, construction in document["house"]["constructions"].items():
        own = {"kind": construction["kind"]}
        if construction["kind"] in ("layered", "declared", "typical"):
            own = construction
        yield (name,), own


def _of_kind(kind: str) -> Callable[[Json], Iterator[Entry]]:
    def entries(document: Json) -> Iterator[Entry]:
        for name, construction in document["house"]["constructions"].items():
            if construction["kind"] == kind:
                yield (name,), construction

    return entries


def _layers(document: Json) -> Iterator[Entry]:
    for name, construction in document["house"]["constructions"].items():
        for layer in construction.get("layers", ()):
            yield (name,), layer


def _layer_bridges(document: Json) -> Iterator[Entry]:
    for name, construction in document["house"]["constructions"].items():
        for number, layer in enumerate(construction.get("layers", ()), 1):
            for bridge in layer.get("bridges", ()):
                yield (name, number), bridge


def _corrections(document: Json) -> Iterator[Entry]:
    for name, construction in document["house"]["constructions"].items():
        for what, correction in construction.get("corrections", {}).items():
            for item in correction if isinstance(correction, list) else [correction]:
                yield (name, what), item


def _unheated_spaces(document: Json) -> Iterator[Entry]:
    for space in document["house"].get("unheated_spaces", ()):
        yield (), space


def _rooms(document: Json) -> Iterator[Entry]:
    for room in document["house"]["rooms"]:
        yield (), room


def _of_rooms(member: str) -> Callable[[Json], Iterator[Entry]]:
    def entries(document: Json) -> Iterator[Entry]:
        for room in document["house"]["rooms"]:
            for item in room.get(member, ()):
                yield (room["id"],), item

    return entries


def _elements(document: Json) -> Iterator[Entry]:
    for room in document["house"]["rooms"]:
        yield from _elements_of(room, (room["id"], None))
    for space in document["house"].get("unheated_spaces", ()):
        yield from _elements_of(space, (None, space["id"]))


def _elements_of(owner: Json, owners: tuple[Cell, Cell]) -> Iterator[Entry]:
    for element in owner["elements"]:
        yield (*owners, None), element
        for opening in element.get("openings", ()):
            yield (*owners, element["id"]), opening


def _junctions(document: Json) -> Iterator[Entry]:
    for junction in document["house"].get("thermal_bridges", {}).get("junctions", ()):
        yield (), junction


def _fan_convector_outputs(document: Json) -> Iterator[Entry]:
    for room in document["house"]["rooms"]:
        for emitter in room.get("emitters", ()):
            for point in emitter.get("outputs", ()):
                yield (room["id"], emitter["id"]), point


def _top(member: str) -> Callable[[Json], Iterator[Entry]]:
    def entries(document: Json) -> Iterator[Entry]:
        for item in document.get(member, ()):
            yield (), item

    return entries


def _performance(document: Json) -> Iterator[Entry]:
    for candidate in document.get("candidates", ()):
        for point in candidate["performance"]:
            yield (candidate["id"],), point


_ENTRIES: dict[str, Callable[[Json], Iterator[Entry]]] = {
    layout.CONSTRUCTIONS.title: _constructions,
    layout.WINDOWS.title: _of_kind("window"),
    layout.GROUND_FLOORS.title: _of_kind("ground_floor"),
    layout.LAYERS.title: _layers,
    layout.LAYER_BRIDGES.title: _layer_bridges,
    layout.CORRECTIONS.title: _corrections,
    layout.UNHEATED_SPACES.title: _unheated_spaces,
    layout.ROOMS.title: _rooms,
    layout.FLUES.title: _of_rooms("flues"),
    layout.ELEMENTS.title: _elements,
    layout.JUNCTIONS.title: _junctions,
    layout.EMITTERS.title: _of_rooms("emitters"),
    layout.FAN_CONVECTOR_OUTPUTS.title: _fan_convector_outputs,
    layout.CIRCUITS.title: _top("circuits"),
    layout.CANDIDATES.title: _top("candidates"),
    layout.PERFORMANCE.title: _performance,
}
