"""Where the object of a row goes in the document: to what its other columns say that it belongs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from warmstead.building.findings import ProblemCode
from warmstead.exchange.workbook import layout
from warmstead.exchange.workbook.places import joined

Json = dict[str, Any]


class Misplaced(Exception):
    """A row belongs to nothing, or to what cannot have it."""

    def __init__(self, owner: int, code: ProblemCode, detail: str) -> None:
        super().__init__(detail)
        self.owner = owner
        """Which of the columns that say to whom a row belongs is wrong."""
        self.code = code
        self.detail = detail


class Holder(Protocol):
    """A document that is being put together."""

    document: Json

    def house(self) -> Json:
        """Return the house as far as it stands."""
        ...

    def named(self, kind: str, owner: int, *ids: str | None) -> tuple[str, Json]:
        """Return pointer and object of what has these ids, or say that nothing has."""
        ...

    def construction(self, name: str | None, owner: int = 0) -> tuple[str, Json]:
        """Return pointer and object of a construction."""
        ...

    def element(self, owner: str, name: str) -> tuple[str, Json] | None:
        """Return pointer and object of an element that stands above."""
        ...


Attached = tuple[str, Json]
Owners = list[str | None]


def _append(pointer: str, items: list[Any], item: Json) -> Attached:
    items.append(item)
    return f"{pointer}/{len(items) - 1}", item


def _attach_construction(to: Holder, owners: Owners, item: Json) -> Attached:
    constructions = to.house()["constructions"]
    if owners[0] in constructions:
        raise Misplaced(0, "duplicate_id", "a construction of this name stands above; names are unique")
    constructions[owners[0]] = item
    return joined("/house/constructions", str(owners[0])), item


def _attach_parts(kind: str) -> Callable[[Holder, Owners, Json], Attached]:
    def attach(to: Holder, owners: Owners, item: Json) -> Attached:
        pointer, construction = to.construction(owners[0])
        if construction.get("kind") != kind:
            raise Misplaced(
                0, "contradiction", f"this construction's kind on the sheet Constructions is not {kind}"
            )
        if len(construction) > 1:
            raise Misplaced(
                0, "duplicate_id", "the parts of this construction stand above, or on another sheet"
            )
        return pointer, construction

    return attach


def _attach_layer(to: Holder, owners: Owners, item: Json) -> Attached:
    pointer, construction = to.construction(owners[0])
    return _append(f"{pointer}/layers", construction.setdefault("layers", []), item)


def _attach_layer_bridge(to: Holder, owners: Owners, item: Json) -> Attached:
    pointer, construction = to.construction(owners[0])
    layers = construction.get("layers", [])
    number = str(owners[1])
    if not number.isdecimal() or not 1 <= int(number) <= len(layers):
        raise Misplaced(
            1, "not_found", f"a whole number from 1 to {len(layers)}: the layers of this construction"
        )
    index = int(number) - 1
    return _append(f"{pointer}/layers/{index}/bridges", layers[index].setdefault("bridges", []), item)


def _attach_correction(to: Holder, owners: Owners, item: Json) -> Attached:
    pointer, construction = to.construction(owners[0])
    what = str(owners[1])
    if what not in ("air_gaps", "fasteners", "inverted_roof"):
        raise Misplaced(1, "unknown_choice", "one of air_gaps, fasteners, inverted_roof")
    corrections = construction.setdefault("corrections", {})
    if what == "fasteners":
        return _append(f"{pointer}/corrections/fasteners", corrections.setdefault("fasteners", []), item)
    if what in corrections:
        raise Misplaced(
            1, "duplicate_id", "this correction stands above; only fasteners may have several rows"
        )
    corrections[what] = item
    return f"{pointer}/corrections/{what}", item


def _attach_space(to: Holder, owners: Owners, item: Json) -> Attached:
    item["elements"] = []
    return _append("/house/unheated_spaces", to.house().setdefault("unheated_spaces", []), item)


def _attach_room(to: Holder, owners: Owners, item: Json) -> Attached:
    item["elements"] = []
    return _append("/house/rooms", to.house()["rooms"], item)


def _attach_to_room(member: str) -> Callable[[Holder, Owners, Json], Attached]:
    def attach(to: Holder, owners: Owners, item: Json) -> Attached:
        pointer, room = to.named("room", 0, owners[0])
        return _append(f"{pointer}/{member}", room.setdefault(member, []), item)

    return attach


def _attach_element(to: Holder, owners: Owners, item: Json) -> Attached:
    room, space, opening_of = owners
    if (room is None) == (space is None):
        raise Misplaced(
            0, "incomplete", "give the room or the unheated space to which it belongs, one of the two"
        )
    if room is not None:
        pointer, owner = to.named("room", 0, room)
    else:
        pointer, owner = to.named("unheated space", 1, space)
    if opening_of is None:
        return _append(f"{pointer}/elements", owner["elements"], item)
    found = to.element(pointer, opening_of)
    if found is None:
        detail = "no element of this name above, in the same room; an opening stands below its element"
        raise Misplaced(2, "not_found", detail)
    at, element = found
    return _append(f"{at}/openings", element.setdefault("openings", []), item)


def _attach_junction(to: Holder, owners: Owners, item: Json) -> Attached:
    bridges = to.house().setdefault("thermal_bridges", {})
    return _append("/house/thermal_bridges/junctions", bridges.setdefault("junctions", []), item)


def _attach_output(to: Holder, owners: Owners, item: Json) -> Attached:
    to.named("room", 0, owners[0])
    pointer, emitter = to.named("emitter", 1, *owners)
    return _append(f"{pointer}/outputs", emitter.setdefault("outputs", []), item)


def _attach_top(member: str) -> Callable[[Holder, Owners, Json], Attached]:
    def attach(to: Holder, owners: Owners, item: Json) -> Attached:
        return _append(f"/{member}", to.document.setdefault(member, []), item)

    return attach


def _attach_performance(to: Holder, owners: Owners, item: Json) -> Attached:
    pointer, candidate = to.named("candidate", 0, owners[0])
    return _append(f"{pointer}/performance", candidate.setdefault("performance", []), item)


ATTACH: dict[str, Callable[[Holder, Owners, Json], Attached]] = {
    layout.CONSTRUCTIONS.title: _attach_construction,
    layout.WINDOWS.title: _attach_parts("window"),
    layout.GROUND_FLOORS.title: _attach_parts("ground_floor"),
    layout.LAYERS.title: _attach_layer,
    layout.LAYER_BRIDGES.title: _attach_layer_bridge,
    layout.CORRECTIONS.title: _attach_correction,
    layout.UNHEATED_SPACES.title: _attach_space,
    layout.ROOMS.title: _attach_room,
    layout.FLUES.title: _attach_to_room("flues"),
    layout.ELEMENTS.title: _attach_element,
    layout.JUNCTIONS.title: _attach_junction,
    layout.EMITTERS.title: _attach_to_room("emitters"),
    layout.FAN_CONVECTOR_OUTPUTS.title: _attach_output,
    layout.CIRCUITS.title: _attach_top("circuits"),
    layout.CANDIDATES.title: _attach_top("candidates"),
    layout.PERFORMANCE.title: _attach_performance,
}
"""By the title of the sheet: takes the document, to whom the row belongs and its object; gives pointer and object."""
