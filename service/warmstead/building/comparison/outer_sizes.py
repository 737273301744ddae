"""A survey measured to the outer faces, or rooms to the middle of walls, without saying so: nearly every size is larger."""

from __future__ import annotations

from collections.abc import Iterator
from math import exp, log
from typing import NamedTuple

from warmstead.building.comparison.bundles import Bundle, Free, Surveys, listed, main_cause, parts_of
from warmstead.building.comparison.room_rows import FEW, RoomRows, Rooms

LEAST, MOST = log(1.005), log(1.6)
"""How much larger a size is when measured otherwise, as logarithms: less may be anything, more is another mistake."""
FEWEST_SIZES = 3
"""So many sizes of a room have to be larger."""
SHARE_OF_ROOMS = 0.6
"""In this share of the rooms at least, every size that differs has to be larger."""


class _Grown(NamedTuple):
    numbers: list[int]
    ratios: list[float]
    """Logarithms of the second size over the first."""


def outer_sizes(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield the sizes of a survey that looks measured otherwise, where it does not say so."""
    if not surveys.same_dimensions or len(rooms) < FEW:
        return
    grown = {name: _grown(free, rows) for name, rows in rooms.items()}
    for sign in (1.0, -1.0):
        fitting = {
            name: one
            for name, one in grown.items()
            if len(one.ratios) >= FEWEST_SIZES and all(LEAST <= sign * ratio <= MOST for ratio in one.ratios)
        }
        if len(fitting) < max(FEW, SHARE_OF_ROOMS * len(rooms)):
            continue
        ratios = [abs(ratio) for one in fitting.values() for ratio in one.ratios]
        larger = sign > 0.0
        low, high = ((exp(ratio) - 1.0) * 100.0 for ratio in (min(ratios), max(ratios)))
        names = surveys.second_name, surveys.first_name
        big, small = names if larger else names[::-1]
        labels = listed((surveys.label(name) for name in fitting), 4)
        says = (
            f"{big} has the sizes of {len(fitting)} rooms ({labels}) {low:.0f} to {high:.0f} % larger than {small}, as "
            "if it had measured walls and floors to their outer faces"
        )
        pieces = free.take(number for one in fitting.values() for number in one.numbers)
        if pieces:
            yield Bundle(main_cause(pieces), "dimension_basis", pieces, says)


def _grown(free: Free, rows: RoomRows) -> _Grown:
    """Return the sizes of a room that differ and are told of by no sentence yet."""
    name = rows.room.name
    one, other = rows.room.both
    sizes = [
        (free.of_room(name, ["volume"]), one.volume_m3, other.volume_m3),
        (free.of_room(name, ["floor_area"]), one.floor_area_m2, other.floor_area_m2),
    ]
    for row in rows.both:
        parts = parts_of(row)
        if parts[0].kind == parts[1].kind == "element":
            sizes.append((free.of_pair(row, ["area"]), parts[0].gross_m2, parts[1].gross_m2))
    told = [(numbers, first, second) for numbers, first, second in sizes if numbers and first > 0.0 < second]
    return _Grown(
        [number for numbers, _, _ in told for number in numbers],
        [log(second / first) for _, first, second in told],
    )
