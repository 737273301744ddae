"""Patterns of rooms that only one survey has: two rooms surveyed as one, an unheated space surveyed as a room."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from warmstead.building.comparison.bundles import Bundle, Free, Surveys, number, parts_of, room_label
from warmstead.building.comparison.matching import RoomPair
from warmstead.building.comparison.reading import PartPair
from warmstead.building.comparison.room_rows import SAME_SIZE, RoomRows, Rooms, near


def merged_rooms(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield rooms of one survey whose floor another room has taken over in the other."""
    for alone in surveys.alone.values():
        has = 0 if alone.second is None else 1
        grown = [rows for rows in rooms.values() if _took_over(rows.room, alone, has)]
        if len(grown) == 1:
            yield from _one_room(surveys, free, grown[0], alone, has)


def _took_over(keeps: RoomPair, gone: RoomPair, has: int) -> bool:
    floors = [room.floor_area_m2 for room in keeps.both]
    return near(floors[1 - has] - floors[has], gone.any.floor_area_m2, SAME_SIZE)


def _one_room(surveys: Surveys, free: Free, keeps: RoomRows, gone: RoomPair, has: int) -> Iterator[Bundle]:
    name = keeps.room.name
    longer = [row for row in keeps.both if _is_longer(row, has)]
    numbers = chain(
        free.beside(gone.name),
        free.of_room(name, ["volume", "floor_area"]),
        *(free.of_pair(row, ["only_in_one"]) for row in (*keeps.both, *keeps.every_alone())),
        *(free.of_pair(row, ["area", "opening_area"]) for row in longer),
    )
    pieces = free.take(numbers)
    apart = keeps.room.both[has], gone.any
    together = keeps.room.both[1 - has]
    if pieces:
        says = (
            f"{surveys.name(1 - has)} has {keeps.label} and {room_label(gone)} as one room "
            f"({number(together.floor_area_m2)} m²), {surveys.name(has)} as two ("
            f"{' and '.join(number(room.floor_area_m2) for room in apart)} m²)"
        )
        yield Bundle("only_in_one", "merged_rooms", pieces, says)


def _is_longer(row: PartPair, has: int) -> bool:
    parts = parts_of(row)
    return parts[1 - has].gross_m2 > parts[has].gross_m2


def spaces_as_rooms(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield unheated spaces of one survey that are a heated room in the other."""
    facing: dict[str, list[PartPair]] = {}
    for rows in rooms.values():
        for row in rows.both:
            one, other = (part.side for part in parts_of(row))
            for survey, side, against in ((0, one, other), (1, other, one)):
                if side.reference == "room" and against.kind == "unheated_space":
                    name = surveys.matched.names[survey][side.target]
                    if name in surveys.alone:
                        facing.setdefault(name, []).append(row)
    for name, pairs in facing.items():
        room = surveys.alone[name]
        has = 0 if room.second is None else 1
        numbers = chain(
            *(free.of_pair(row, ["other_side", "u_value"]) for row in pairs),
            free.beside(name),
        )
        pieces = free.take(numbers)
        space = _space(surveys, pairs, 1 - has)
        says = (
            f"{surveys.name(has)} has {room_label(room)} as a heated room at {number(room.any.temperature_c)} °C, "
            f"{surveys.name(1 - has)} as an unheated space{space}"
        )
        if pieces:
            yield Bundle("only_in_one", "space_as_room", pieces, says)


def _space(surveys: Surveys, pairs: list[PartPair], survey: int) -> str:
    """Return how cold the space is, where a balance says so."""
    sides = [parts_of(row)[survey].side for row in pairs]
    known = {side.reference_c for side in sides if side.reference == "space"}
    return f" ({round(known.pop(), 1):g} °C on the design day)".replace("-", "−") if len(known) == 1 else ""
