"""What may belong together in two surveys whose ids do not fit: by name and size, for a person to look at, never taken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeVar

from warmstead.building.comparison.matching import Matched, RoomPair
from warmstead.building.comparison.reading import Part
from warmstead.building.rooms import ResolvedRoom

LEAST_LIKENESS = 0.45
"""Under this nothing is suggested."""
MOST_COMPARED = 40_000
"""Comparisons that one request is worth; beyond them nothing more is suggested."""

Item = TypeVar("Item")


class Suggestion(NamedTuple):
    """Two things that may be one."""

    first: str
    second: str
    likeness: float


class Suggestions(NamedTuple):
    """Rooms, and rows by the room of each survey."""

    rooms: list[Suggestion]
    elements: list[tuple[tuple[str, str], tuple[str, str], float]]


def suggest(
    matched: Matched, parts: tuple[dict[str, dict[str, Part]], dict[str, dict[str, Part]]]
) -> Suggestions:
    """Return what may belong together.

    Args:
        matched: what is matched already.
        parts: all rows of each survey, by room and id.
    """
    budget = MOST_COMPARED
    ones = [pair.first for pair in matched.rooms if pair.second is None and pair.first is not None]
    others = [pair.second for pair in matched.rooms if pair.first is None and pair.second is not None]
    rooms = (
        _best(ones, others, _alike_rooms, lambda room: room.id) if len(ones) * len(others) <= budget else []
    )
    budget -= len(ones) * len(others)
    found: list[tuple[tuple[str, str], tuple[str, str], float]] = []
    together = [*_paired(matched.rooms), *((one.first, one.second) for one in rooms)]
    matched_first = {(p.first.room, i) for p in matched.pairs if p.first and p.second for i in _ids(p.first)}
    matched_second = {
        (p.second.room, i) for p in matched.pairs if p.first and p.second for i in _ids(p.second)
    }
    for first, second in together:
        free = [part for part in parts[0][first].values() if (first, part.id) not in matched_first]
        left = [part for part in parts[1][second].values() if (second, part.id) not in matched_second]
        budget -= len(free) * len(left)
        if budget < 0:
            break
        found.extend(
            ((first, one.first), (second, one.second), one.likeness)
            for one in _best(free, left, _alike_parts, lambda part: part.id)
        )
    return Suggestions(rooms, found)


def _ids(part: Part) -> list[str]:
    return part.id.split(" + ")


def _paired(rooms: Sequence[RoomPair]) -> list[tuple[str, str]]:
    return [(pair.first.id, pair.second.id) for pair in rooms if pair.first and pair.second]


def _best(
    ones: Sequence[Item],
    others: Sequence[Item],
    alike: Callable[[Item, Item], float],
    name: Callable[[Item], str],
) -> list[Suggestion]:
    """Return pairs, the likest first, each item once."""
    scored = [
        (-likeness, name(one), name(other))
        for one in ones
        for other in others
        if (likeness := alike(one, other)) >= LEAST_LIKENESS
    ]
    # Ties are settled the same way whichever survey comes first.
    scored.sort(key=lambda pair: (pair[0], *sorted(pair[1:])))
    used: tuple[set[str], set[str]] = (set(), set())
    best = []
    for negative, one_name, other_name in scored:
        if one_name not in used[0] and other_name not in used[1]:
            used[0].add(one_name)
            used[1].add(other_name)
            best.append(Suggestion(one_name, other_name, -negative))
    return best


def _alike_rooms(one: ResolvedRoom, other: ResolvedRoom) -> float:
    """Return the mean of how like names and floor areas are, with the use where both say it."""
    names = max(
        _alike_names(one.id, other.id), _alike_names(one.room.name or one.id, other.room.name or other.id)
    )
    use = one.use == other.use and one.use != "unspecified"
    return 0.4 * names + 0.4 * _ratio(one.floor_area_m2, other.floor_area_m2) + (0.2 if use else 0.0)


def _alike_parts(one: Part, other: Part) -> float:
    """Return how like two rows are; 0 where they face different sides or are of different kinds."""
    if one.kind != other.kind or one.side.kind != other.side.kind:
        return 0.0
    size = _ratio(one.gross_m2, other.gross_m2) if one.gross_m2 or other.gross_m2 else 1.0
    u_value = _ratio(one.u_value_w_m2k, other.u_value_w_m2k)
    return 0.3 * _alike_names(one.id, other.id) + 0.5 * size + 0.2 * u_value


def _ratio(one: float, other: float) -> float:
    """Return 1 for two equal sizes, falling to 0 where one is twice the other."""
    larger = max(one, other)
    return max(0.0, 1.0 - 2.0 * (1.0 - min(one, other) / larger)) if larger > 0.0 else 1.0


def _alike_names(one: str, other: str) -> float:
    """Return the share of letter pairs that two names have in common (Dice's coefficient)."""
    pairs = [_letter_pairs(name) for name in (one, other)]
    total = len(pairs[0]) + len(pairs[1])
    return 2.0 * len(pairs[0] & pairs[1]) / total if total else float(one == other)


def _letter_pairs(name: str) -> set[str]:
    letters = "".join(letter for letter in name.lower() if letter.isalnum())
    return {letters[place : place + 2] for place in range(len(letters) - 1)}
