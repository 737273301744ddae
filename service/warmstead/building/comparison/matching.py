"""What is the same in two surveys: rooms and rows by id, or as the request says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from warmstead.building.comparison.reading import Part, PartPair, Reading
from warmstead.building.findings import Findings
from warmstead.building.names import refuse_unknown
from warmstead.building.rooms import ResolvedRoom


class RoomPair(NamedTuple):
    """A room in both surveys, or in one of them."""

    name: str
    """Its name in the answer: the first survey's id, where it has it."""
    first: ResolvedRoom | None
    second: ResolvedRoom | None

    @property
    def any(self) -> ResolvedRoom:
        """The room in the first survey that has it."""
        room = self.first or self.second
        assert room is not None, "a pair has at least one room"
        return room

    @property
    def both(self) -> tuple[ResolvedRoom, ResolvedRoom]:
        """The room in both surveys, for pairs that have it in both."""
        assert self.first is not None, "asked of rooms in both surveys only"
        assert self.second is not None, "asked of rooms in both surveys only"
        return self.first, self.second


class Place(NamedTuple):
    """A row of a survey: its room and its id."""

    room: str
    element: str


class Matched(NamedTuple):
    """Rooms and rows of two surveys, matched."""

    rooms: list[RoomPair]
    pairs: list[PartPair]
    names: tuple[dict[str, str], dict[str, str]]
    """The name in the answer of each room, by its id in the first and in the second survey."""


def match(
    first: Reading,
    second: Reading,
    rooms: Sequence[tuple[str, str]],
    elements: Sequence[tuple[Place, Place]],
    findings: Findings,
) -> Matched:
    """Return what belongs together: by the maps of the request first, then by id.

    Args:
        first: one survey.
        second: the other.
        rooms: ids of rooms that are the same, the first survey's first.
        elements: places of rows that are the same; one row may be given several of the other survey.
        findings: where it is noted that a map leads nowhere, or contradicts itself.

    Raises:
        Refused: a map leads nowhere, or contradicts itself.
    """
    room_pairs = _rooms(first, second, rooms, findings)
    names = (
        {pair.first.id: pair.name for pair in room_pairs if pair.first is not None},
        {pair.second.id: pair.name for pair in room_pairs if pair.second is not None},
    )
    mapped = _mapped(first, second, elements, names, findings)
    findings.stop_if_refused()
    pairs: list[PartPair] = []
    for pair in room_pairs:
        pairs.extend(_parts(pair, first, second, mapped))
    return Matched(room_pairs, pairs, names)


def _rooms(
    first: Reading, second: Reading, rooms: Sequence[tuple[str, str]], findings: Findings
) -> list[RoomPair]:
    partner: dict[str, str] = {}
    taken: set[str] = set()
    for index, (one, other) in enumerate(rooms):
        known = len(findings.problems)
        for name, survey, side in ((one, first, "first"), (other, second, "second")):
            if name not in survey.rooms:
                refuse_unknown(findings, f"/rooms/{index}/{side}", "room", name, survey.rooms)
        if one in partner:
            findings.refuse("duplicate_id", f"/rooms/{index}/first", f"{one!r} is matched already")
        if other in taken:
            findings.refuse("duplicate_id", f"/rooms/{index}/second", f"{other!r} is matched already")
        if len(findings.problems) == known:
            partner[one] = other
            taken.add(other)
    for name in first.rooms:
        if name not in partner and name in second.rooms and name not in taken:
            partner[name] = name
            taken.add(name)
    pairs = [
        RoomPair(name, room, second.rooms[partner[name]] if name in partner else None)
        for name, room in first.rooms.items()
    ]
    used = {pair.name for pair in pairs}
    for name, room in second.rooms.items():
        if name not in taken:
            # A map may have given the first survey's room of that id to another one.
            label = name if name not in used else f"{name} (second)"
            pairs.append(RoomPair(label, None, room))
    return pairs


_Groups = dict[Place, int]


def _mapped(
    first: Reading,
    second: Reading,
    elements: Sequence[tuple[Place, Place]],
    names: tuple[dict[str, str], dict[str, str]],
    findings: Findings,
) -> tuple[_Groups, _Groups]:
    """Return a number for each row that the map names: rows of the same number belong together."""
    groups: tuple[_Groups, _Groups] = ({}, {})
    for index, places in enumerate(elements):
        known = True
        for place, survey, side in zip(places, (first, second), ("first", "second"), strict=True):
            at = f"/elements/{index}/{side}"
            if place.room not in survey.rooms:
                refuse_unknown(findings, f"{at}/room", "room", place.room, survey.rooms)
                known = False
            elif place.element not in survey.parts[place.room]:
                refuse_unknown(findings, f"{at}/element", "element", place.element, survey.parts[place.room])
                known = False
        if not known:
            continue
        one, other = places
        if names[0][one.room] != names[1][other.room]:
            detail = f"room {one.room!r} of the first survey is not matched with {other.room!r} of the second"
            findings.refuse("contradiction", f"/elements/{index}", detail)
            continue
        number = groups[0].get(one, groups[1].get(other, index))
        if groups[0].get(one, number) != groups[1].get(other, number):
            detail = "joins two groups of rows that both stand for something else already"
            findings.refuse("contradiction", f"/elements/{index}", detail)
        groups[0][one] = groups[1][other] = number
    _refuse_unlike(first, second, groups, elements, findings)
    return groups


def _refuse_unlike(
    first: Reading,
    second: Reading,
    groups: tuple[_Groups, _Groups],
    elements: Sequence[tuple[Place, Place]],
    findings: Findings,
) -> None:
    """Refuse to add up rows of one survey that face different sides, or that are no elements."""
    for side, survey in enumerate((first, second)):
        members: dict[int, Part] = {}
        told: set[int] = set()
        for place, number in groups[side].items():
            part = survey.parts[place.room][place.element]
            other = members.setdefault(number, part)
            alike = part.side == other.side and part.kind == other.kind and part.kind != "junction"
            if part is not other and not alike and number not in told:
                told.add(number)
                at = next(i for i, places in enumerate(elements) if places[side] == place)
                detail = "several rows can stand for one where all of them face the same side"
                findings.refuse("contradiction", f"/elements/{at}", detail)


def _parts(
    rooms: RoomPair, first: Reading, second: Reading, mapped: tuple[_Groups, _Groups]
) -> list[PartPair]:
    ones = first.parts[rooms.first.id] if rooms.first is not None else {}
    others = second.parts[rooms.second.id] if rooms.second is not None else {}
    grouped: tuple[dict[int, list[Part]], dict[int, list[Part]]] = ({}, {})
    for parts, numbers, groups in zip((ones, others), mapped, grouped, strict=True):
        for part in parts.values():
            number = numbers.get(Place(part.room, part.id))
            if number is not None:
                groups.setdefault(number, []).append(part)
    pairs = [
        PartPair(rooms.name, together(parts), together(grouped[1][number]))
        for number, parts in grouped[0].items()
    ]
    free = [
        {part.id: part for part in parts.values() if Place(part.room, part.id) not in numbers}
        for parts, numbers in zip((ones, others), mapped, strict=True)
    ]
    pairs.extend(PartPair(rooms.name, part, free[1].get(name)) for name, part in free[0].items())
    pairs.extend(PartPair(rooms.name, None, part) for name, part in free[1].items() if name not in free[0])
    return pairs


def together(parts: list[Part]) -> Part:
    """Return several rows as one: areas and openings added up, the U-value weighted by area."""
    if len(parts) == 1:
        return parts[0]
    one = parts[0]
    net = sum(part.net_m2 for part in parts)
    weighted = sum(part.net_m2 * part.u_value_w_m2k for part in parts)
    constructions = dict.fromkeys(part.construction for part in parts)
    return one._replace(
        id=" + ".join(part.id for part in parts),
        construction=" + ".join(constructions),
        gross_m2=sum(part.gross_m2 for part in parts),
        openings=tuple(opening for part in parts for opening in part.openings),
        u_value_w_m2k=weighted / net if net > 0.0 else one.u_value_w_m2k,
        heat_loss_w=sum(part.heat_loss_w for part in parts),
    )
