"""Rounding: numbers of one survey that are those of the other, rounded to one step over the whole house."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from warmstead.building.comparison.bundles import Bundle, Free, Surveys, listed, sizes
from warmstead.building.comparison.units import STEPS, changes, is_rounding, is_rounding_to

FEWEST_ROUNDED = 3
"""So many different numbers have to be rounded before rounding is named: a single one may be anything."""
MOST = 0.8
"""The step to which people round is the coarsest that explains this share of the numbers that look rounded."""

Size = tuple[str, float, float]


class Rounding:
    """To which steps sizes are rounded over the whole house, if at all."""

    def __init__(self, surveys: Surveys) -> None:
        found: set[Size] = set()
        for pair in surveys.matched.pairs:
            if pair.first is not None and pair.second is not None:
                found.update(sizes(pair))
        for room in surveys.both:
            found.update(changes(room.both[0].room, room.both[1].room))
        by_unit: dict[str, set[tuple[float, float]]] = {}
        for member, one, other in found:
            by_unit.setdefault(_unit(member), set()).add((one, other))
        self._of_all = _step(set().union(*by_unit.values()))
        self._steps = {unit: _step(numbers) or self._of_all for unit, numbers in by_unit.items()}

    def explains(self, found: Iterable[Size]) -> bool:
        """Tell whether sizes differ, and all of them by this rounding."""
        all_of_them = list(found)
        return bool(all_of_them) and all(self._explains(*size) for size in all_of_them)

    def _explains(self, member: str, one: float, other: float) -> bool:
        step = self._steps.get(_unit(member), self._of_all)
        return step is not None and is_rounding(one, other, step)


def _unit(member: str) -> str:
    return member.rpartition("_")[2]


def _step(numbers: set[tuple[float, float]]) -> float | None:
    """Return the step to which numbers are rounded; None where too few are."""
    rounded = [pair for pair in numbers if is_rounding(*pair)]
    if len(rounded) < FEWEST_ROUNDED:
        return None
    return next(
        (step for step in STEPS if sum(is_rounding_to(step, *p) for p in rounded) >= MOST * len(rounded)),
        STEPS[-1],
    )


def rounded(surveys: Surveys, free: Free, rounding: Rounding) -> Iterator[Bundle]:
    """Yield what comes of rounding, over the whole house, for sizes and for U-values apart."""
    if surveys.same_dimensions:
        yield from _sizes(surveys, free, rounding)
    yield from _u_values(surveys, free)


def _sizes(surveys: Surveys, free: Free, rounding: Rounding) -> Iterator[Bundle]:
    numbers: list[int] = []
    named: list[str] = []
    for pair in surveys.matched.pairs:
        if pair.first is not None and pair.second is not None and rounding.explains(sizes(pair)):
            numbers += free.of_pair(pair, ["area", "opening_area"])
            named.append(surveys.label(pair.room))
    for room in surveys.both:
        if rounding.explains(changes(room.both[0].room, room.both[1].room)):
            numbers += free.of_room(room.name, ["volume", "floor_area"])
            named.append(surveys.label(room.name))
    # An opening that is rounded leaves another part of its wall.
    walls = [pair for pair in surveys.matched.pairs if pair.first is not None and pair.first.openings]
    if numbers:
        numbers += [n for pair in walls for n in free.of_pair(pair, ["opening_area"])]
        says = f"{surveys.second_name} and {surveys.first_name} have sizes in {listed(named)} rounded differently"
        yield Bundle("area", "rounding", free.take(numbers), says)


def _u_values(surveys: Surveys, free: Free) -> Iterator[Bundle]:
    both = [
        (pair, (pair.first.u_value_w_m2k, pair.second.u_value_w_m2k))
        for pair in surveys.matched.pairs
        if pair.first is not None and pair.second is not None
    ]
    step = _step({values for _, values in both})
    numbers = [
        number
        for pair, values in both
        if step is not None and is_rounding(*values, step)
        for number in free.of_pair(pair, ["u_value"])
    ]
    if numbers:
        pieces = free.take(numbers)
        names = listed(piece.pair.any.construction for piece in pieces if piece.pair is not None)
        says = (
            f"{surveys.second_name} and {surveys.first_name} have the U-values of {names} rounded differently"
        )
        yield Bundle("u_value", "rounding", pieces, says)
