"""Which measures meet where: the groups within which their effects on a load are no sum, and between which they are.

A load is a sum over places: each surface's heat, each room's air, and so on. What happens at one place depends only on
the measures that act there, so that a load with any set of measures is

    load without any + Σ over groups of the change by those of its measures that are in the set.

A group is all places at which exactly the same measures act. This is finer than sets of measures connected through
others: a measure that lines every wall of a house does not tie all of its measures into one group of 2ⁿ states.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from warmstead.building.improvement.parts import Part, Place
from warmstead.survey.house import ByAirtightness, House

MECHANICAL = ("supply_l_s", "extract_l_s", "heat_recovery_efficiency")
UNBALANCING = ("supply_l_s", "extract_l_s")
"""Members whose sums over the house decide how much outside air every room draws in for extract elsewhere."""

Pair = tuple[int, int]
"""Two measures, the earlier first."""


class Group(NamedTuple):
    """Measures that meet somewhere, with what they do there."""

    members: tuple[int, ...]
    parts: tuple[Part, ...]

    def parts_of(self, chosen: frozenset[int]) -> list[Part]:
        """Return what some measures do at the places of this group."""
        return [part for part in self.parts if part.measure in chosen]


def groups(house: House, parts: Sequence[Part]) -> list[Group]:
    """Return the groups in the order in which their first parts come.

    Args:
        house: the house as surveyed.
        parts: the parts of all measures.
    """
    coupled = _Coupling(house, parts)
    by_place: dict[Place, list[Part]] = {}
    for part in parts:
        by_place.setdefault(coupled.place(part.place), []).append(part)
    by_members: dict[tuple[int, ...], list[Part]] = {}
    for found in by_place.values():
        members = tuple(sorted({part.measure for part in found}))
        by_members.setdefault(members, []).extend(found)
    return [Group(members, tuple(found)) for members, found in by_members.items()]


def replacing_pairs(parts: Sequence[Part]) -> dict[Pair, Place]:
    """Return pairs of measures that put something in the same place, with the first such place.

    Flues are closed once, whoever closes them: two measures that do so can stand together.
    """
    by_place: dict[Place, list[int]] = {}
    for part in parts:
        if part.replaces and part.place.kind != "flues":
            by_place.setdefault(part.place, []).append(part.measure)
    pairs: dict[Pair, Place] = {}
    for place, measures in by_place.items():
        for one, other in combinations(sorted(set(measures)), 2):
            pairs.setdefault((one, other), place)
    return pairs


def subsets(members: Sequence[int], excluded: frozenset[Pair] | set[Pair]) -> Iterator[frozenset[int]]:
    """Yield every set of some measures in which no two exclude each other, the empty one first."""
    yield frozenset()
    for index, last in enumerate(members):
        allowed = [m for m in members[:index] if (m, last) not in excluded]
        for others in subsets(allowed, excluded):
            yield others | {last}


class _Coupling:
    """Names one place for all places that cannot be told apart by their effect on a load."""

    def __init__(self, house: House, parts: Sequence[Part]) -> None:
        self._house = house
        self._surcharge = any(part.place.kind == "surcharge" for part in parts)
        self._unbalancing = any(part.place.member in UNBALANCING for part in parts)
        self._airtightness = isinstance(house.ventilation, ByAirtightness)
        self._spaces = {space.id for space in house.unheated_spaces or ()}

    def place(self, place: Place) -> Place:
        """Return the place that stands for all that a place is tied to."""
        if place.kind == "space_surface":
            assert self._house.unheated_spaces is not None
            return self._space(self._house.unheated_spaces[place.owner].id)
        if place.kind == "room_surface":
            boundary = self._house.rooms[place.owner].elements[place.element].boundary
            if boundary.to == "unheated_space" and boundary.space in self._spaces:
                # The space's temperature ties all that bounds it together.
                return self._space(str(boundary.space))
        elif place.kind in ("air", "airtightness"):
            return self._air(place)
        elif place.kind == "emitter":
            return Place("emitter", place.owner)
        return place

    def _space(self, name: str) -> Place:
        # A surcharge on all of a space's sides changes its temperature as well.
        return Place("surcharge") if self._surcharge else Place("space", member=name)

    def _air(self, place: Place) -> Place:
        if self._airtightness:
            return Place("airtightness")  # the house takes the larger of two sums over all rooms
        if self._unbalancing and place.member in MECHANICAL:
            return Place("mechanical")
        if place.member in MECHANICAL:
            return place._replace(member="mechanical")
        return place
