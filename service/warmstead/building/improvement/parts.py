"""Measures taken apart: what each action does at each single place, with every reference looked up."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from warmstead.building.findings import Findings, ProblemCode
from warmstead.building.names import refuse_repeated, refuse_unknown
from warmstead.building.ventilation import DRAWING_FLUES
from warmstead.survey.house import (
    ByAirtightness,
    Element,
    House,
    Opening,
    Room,
    UnheatedSpaceDescription,
)
from warmstead.survey.measures import (
    AddLayers,
    ChangeAir,
    ChangeAirtightness,
    ChangeThermalBridges,
    Measure,
    ReplaceConstruction,
    Surface,
    SwapEmitter,
)

AIR_MEMBERS = ("air_changes", "supply_l_s", "extract_l_s", "heat_recovery_efficiency", "exposed_openings")
"""Members of a room's ventilation that a measure can change."""


class Place(NamedTuple):
    """Where a part of a measure acts: the smallest thing that can change by itself."""

    kind: str
    """`room_surface`, `space_surface`, `air`, `flues`, `emitter`, `airtightness` or `surcharge`."""
    owner: int = -1
    """Index of the room or unheated space; -1 for the whole house."""
    element: int = -1
    opening: int = -1
    """Index of the opening; -1 for the element itself."""
    member: str = ""
    """Member of the room's air, or id of the emitter."""


def owner_of(house: House, place: Place) -> Room | UnheatedSpaceDescription:
    """Return the room or unheated space that a place is in."""
    if place.kind == "space_surface":
        return (house.unheated_spaces or [])[place.owner]
    return house.rooms[place.owner]


def surface_of(house: House, place: Place) -> Element | Opening:
    """Return the element or opening at a place."""
    element = owner_of(house, place).elements[place.element]
    return element if place.opening < 0 else (element.openings or [])[place.opening]


class Part(NamedTuple):
    """What one action of one measure does at one place."""

    measure: int
    action: int
    place: Place
    replaces: bool
    """Whether it puts something in the place of what is there, so that only one such part can be at a place."""


def take_apart(house: House, measures: Sequence[Measure], findings: Findings, at: str) -> list[Part]:
    """Return the parts of all measures in their order, with a problem noted for each reference that leads nowhere.

    Args:
        house: the house as surveyed.
        measures: the measures.
        findings: where problems go.
        at: JSON pointer of the list of measures.
    """
    seeker = _Seeker(house, findings)
    parts: list[Part] = []
    for index, measure in enumerate(measures):
        replaced: set[Place] = set()
        for which, action in enumerate(measure.actions):
            pointer = f"{at}/{index}/actions/{which}"
            replaces = not isinstance(action, AddLayers)
            for place, place_at in seeker.places(action, pointer):
                if replaces and place in replaced:
                    findings.refuse(
                        "contradiction", place_at, "this measure changes the same thing a second time"
                    )
                if replaces:
                    replaced.add(place)
                parts.append(Part(index, which, place, replaces))
    return parts


class _Seeker:
    """Looks up what actions refer to."""

    def __init__(self, house: House, findings: Findings) -> None:
        self._house = house
        self._findings = findings
        self._rooms = {room.id: index for index, room in enumerate(house.rooms)}
        spaces = house.unheated_spaces or []
        self._spaces = {space.id: index for index, space in enumerate(spaces)}
        self._surfaces: dict[Place, dict[str, tuple[int, int]]] = {}

    def places(self, action: object, at: str) -> Iterator[tuple[Place, str]]:
        """Yield each place of an action with the pointer of what names it."""
        if isinstance(action, AddLayers | ReplaceConstruction):
            yield from self._surface_places(action.surfaces, at)
        elif isinstance(action, ChangeAir):
            yield from self._air_places(action, at)
        elif isinstance(action, ChangeAirtightness):
            yield from self._airtightness(at)
        elif isinstance(action, ChangeThermalBridges):
            yield from self._surcharge(at)
        elif isinstance(action, SwapEmitter):
            yield from self._emitter(action, at)

    def _surface_places(self, surfaces: Sequence[Surface], at: str) -> Iterator[tuple[Place, str]]:
        seen: set[Place] = set()
        for index, surface in enumerate(surfaces):
            pointer = f"{at}/surfaces/{index}"
            place = self._surface(surface, pointer)
            if place is None:
                continue
            if place in seen:
                self._findings.refuse("duplicate_id", pointer, f"{surface.element!r} is named already")
                continue
            seen.add(place)
            yield place, pointer

    def _surface(self, surface: Surface, at: str) -> Place | None:
        if (surface.room is None) == (surface.space is None):
            code: ProblemCode = "incomplete" if surface.room is None else "ambiguous"
            self._findings.refuse(code, f"{at}/room", "give exactly one of room and space")
            return None
        if surface.room is not None:
            owner = self._look_up(surface.room, self._rooms, "room", f"{at}/room")
            kind, owners = "room_surface", self._house.rooms
            return (
                self._within(Place(kind, owner), owners[owner].elements, surface, at) if owner >= 0 else None
            )
        assert surface.space is not None
        owner = self._look_up(surface.space, self._spaces, "unheated space", f"{at}/space")
        spaces = self._house.unheated_spaces or []
        return (
            self._within(Place("space_surface", owner), spaces[owner].elements, surface, at)
            if owner >= 0
            else None
        )

    def _within(self, owner: Place, elements: Sequence[Element], surface: Surface, at: str) -> Place | None:
        known = self._surfaces.get(owner)
        if known is None:
            known = self._surfaces[owner] = dict(_ids(elements))
        found = known.get(surface.element)
        if found is None:
            refuse_unknown(self._findings, f"{at}/element", "element or opening", surface.element, known)
            return None
        return owner._replace(element=found[0], opening=found[1])

    def _look_up(self, name: str, known: dict[str, int], what: str, at: str) -> int:
        index = known.get(name, -1)
        if index < 0:
            refuse_unknown(self._findings, at, what, name, known)
        return index

    def _air_places(self, action: ChangeAir, at: str) -> Iterator[tuple[Place, str]]:
        members = [member for member in AIR_MEMBERS if getattr(action, member) is not None]
        if not members and not action.close_flues:
            self._findings.refuse("incomplete", at, "say what changes: a member of the air, or close_flues")
        refuse_repeated(
            self._findings, ((f"{at}/rooms/{index}", room) for index, room in enumerate(action.rooms))
        )
        for index, name in enumerate(action.rooms):
            pointer = f"{at}/rooms/{index}"
            owner = self._look_up(name, self._rooms, "room", pointer)
            if owner < 0 or name in action.rooms[:index]:
                continue
            for member in members:
                yield Place("air", owner, member=member), pointer
            if action.close_flues:
                flues = self._house.rooms[owner].flues or ()
                if any(flue.kind in DRAWING_FLUES for flue in flues):
                    yield Place("flues", owner), pointer
                else:
                    self._findings.refuse(
                        "not_found", pointer, f"no chimney or flue draws air from {name!r}: none to close"
                    )

    def _airtightness(self, at: str) -> Iterator[tuple[Place, str]]:
        if isinstance(self._house.ventilation, ByAirtightness):
            yield Place("airtightness"), at
        else:
            self._findings.refuse(
                "not_allowed_here",
                at,
                "the house's ventilation does not go by airtightness: change the rooms' air_changes",
            )

    def _surcharge(self, at: str) -> Iterator[tuple[Place, str]]:
        bridges = self._house.thermal_bridges
        if bridges is not None and bridges.junctions is not None:
            self._findings.refuse(
                "not_allowed_here",
                at,
                "the house has its thermal bridges junction by junction, not as a surcharge",
            )
        else:
            yield Place("surcharge"), at

    def _emitter(self, action: SwapEmitter, at: str) -> Iterator[tuple[Place, str]]:
        owner = self._look_up(action.room, self._rooms, "room", f"{at}/room")
        if owner < 0:
            return
        known = [emitter.id for emitter in self._house.rooms[owner].emitters or ()]
        if action.emitter not in known:
            refuse_unknown(self._findings, f"{at}/emitter", "emitter", action.emitter, known)
            return
        if action.replacement.id != action.emitter and action.replacement.id in known:
            detail = f"{action.replacement.id!r} is another emitter of this room; ids are unique here"
            self._findings.refuse("duplicate_id", f"{at}/replacement/id", detail)
        yield Place("emitter", owner, member=action.emitter), at


def _ids(elements: Iterable[Element]) -> Iterator[tuple[str, tuple[int, int]]]:
    for index, element in enumerate(elements):
        yield element.id, (index, -1)
        for which, opening in enumerate(element.openings or ()):
            yield opening.id, (index, which)
