"""Heights: a storey, or a room, that one survey has higher than the other, in its walls and its air."""

from __future__ import annotations

from collections.abc import Iterator
from math import log
from typing import NamedTuple

from warmstead.building.comparison.bundles import (
    Bundle,
    Free,
    Pattern,
    Surveys,
    figures,
    listed,
    main_cause,
    parts_of,
)
from warmstead.building.comparison.matching import RoomPair
from warmstead.building.comparison.reading import PartPair
from warmstead.building.comparison.room_rows import SAME, SAME_SIZE, RoomRows, Rooms, near
from warmstead.building.comparison.rounding import Rounding
from warmstead.building.comparison.units import slip
from warmstead.survey.house import Element

FEWEST_WALLS = 2
"""So many walls of a room have to agree on another height where its air does not tell."""
CLOSE = 0.2
"""Of a wall known by its area, the area follows the height if it grows as that does, within this share of the growth."""

Heights = tuple[float, float]


class _Found(NamedTuple):
    """What in one room follows from another height."""

    walls: list[int]
    air: list[int]


def heights(surveys: Surveys, free: Free, rooms: Rooms, rounding: Rounding) -> Iterator[Bundle]:
    """Yield heights that differ, the same two heights of several rooms together."""
    groups: dict[Heights, dict[str, _Found]] = {}
    for name, rows in rooms.items():
        for pair in _candidates(rows):
            if rounding.explains([("height_m", *pair)]):
                continue
            found = _follows(free, rows, pair)
            if found is not None:
                groups.setdefault((round(pair[0], 2), round(pair[1], 2)), {})[name] = found
    for pair, by_name in groups.items():
        numbers = [number for found in by_name.values() for number in (*found.walls, *found.air)]
        says, pattern = _says(surveys, by_name, pair)
        pieces = free.take(numbers)
        if pieces:
            yield Bundle(main_cause(pieces), pattern, pieces, says)


def _candidates(rows: RoomRows) -> list[Heights]:
    """Return pairs of heights in which a room may differ: that of its air, and those sent for its walls."""
    found = [_of_air(rows.room)]
    found += sorted({pair for row in rows.both if (pair := _of_wall(row)) is not None})
    return [pair for pair in dict.fromkeys(found) if pair is not None]


def _of_air(room: RoomPair) -> Heights | None:
    one, other = room.both
    if not near(one.floor_area_m2, other.floor_area_m2, SAME_SIZE):
        return None
    pair = one.volume_m3 / one.floor_area_m2, other.volume_m3 / other.floor_area_m2
    sent = one.room.height_m, other.room.height_m
    exact = (sent[0] or pair[0], sent[1] or pair[1])
    return None if near(*exact, SAME) else exact


def _of_wall(row: PartPair) -> Heights | None:
    one, other = (part.survey for part in parts_of(row))
    if not (isinstance(one, Element) and isinstance(other, Element)):
        return None
    if one.height_m is None or other.height_m is None or one.height_m == other.height_m:
        return None
    if not near(one.length_m or 0.0, other.length_m or 0.0, SAME_SIZE):
        return None
    return one.height_m, other.height_m


def _follows(free: Free, rows: RoomRows, pair: Heights) -> _Found | None:
    """Return the pieces that follow from a room's two heights; None where they are too few to say so."""
    own = _of_air(rows.room) == pair
    air = free.of_room(rows.room.name, ["volume"]) if own else []
    walls = [row for row in rows.both if _of_wall(row) == pair or (own and _grows(row, pair))]
    if not air and len(walls) < FEWEST_WALLS:
        return None
    return _Found([number for row in walls for number in free.of_pair(row, ["area"])], air)


def _grows(row: PartPair, pair: Heights) -> bool:
    """Tell whether a wall's area, where either survey gives just that, grows as the height does."""
    parts = parts_of(row)
    sent = [part.survey for part in parts]
    if not all(isinstance(one, Element) for one in sent):
        return False
    if all(one.height_m is not None for one in sent if isinstance(one, Element)):
        return False
    one, other = (part.gross_m2 for part in parts)
    if one <= 0.0 or other <= 0.0:
        return False
    growth = log(pair[1] / pair[0])
    return abs(log(other / one) - growth) <= CLOSE * abs(growth)


def _says(surveys: Surveys, by_name: dict[str, _Found], pair: Heights) -> tuple[str, Pattern]:
    names = listed((surveys.label(name) for name in by_name), 4)
    where = names if len(by_name) == 1 else f"{len(by_name)} rooms ({names})"
    walls = any(found.walls for found in by_name.values())
    air = any(found.air for found in by_name.values())
    of = "walls and air" if walls and air else "the walls only" if walls else "the air only"
    one, other = figures(*pair)
    says = f"{surveys.second_name} has a height of {other} m in {where}, {of}, {surveys.first_name} {one} m"
    found = slip(*pair)
    return (says, "height") if found is None else (f"{says} ({found.guess}?)", "mixed_units")
