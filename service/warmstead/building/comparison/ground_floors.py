"""Ground floors of another kind: a suspended floor taken for a slab, with the rule by which it loses to the ground."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from warmstead.building.comparison.bundles import Bundle, Free, Surveys, listed, main_cause, number, parts_of
from warmstead.building.comparison.causes import Cause
from warmstead.building.comparison.phrases import elements
from warmstead.building.comparison.reading import Part, PartPair
from warmstead.building.comparison.room_rows import Rooms
from warmstead.survey.constructions import (
    BasementFloor,
    BasementWall,
    Construction,
    Declared,
    SlabOnGround,
    SuspendedFloor,
    Typical,
)

_KINDS: dict[type, str] = {
    SlabOnGround: "a slab on ground",
    SuspendedFloor: "a suspended floor",
    BasementFloor: "the floor of a heated basement",
    BasementWall: "a wall of a heated basement",
    Declared: "a construction of declared U-value",
    Typical: "a typical construction",
}
_RULES = {
    "outside": "losing by the outside temperature",
    "annual_mean": "losing by the annual mean temperature",
}


def ground_floor_kinds(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield floors on ground of another kind, all of the house that are exchanged for one another together."""
    groups: dict[tuple[str, str], list[PartPair]] = {}
    for rows in rooms.values():
        for pair in rows.both:
            kinds = _kinds(surveys, pair)
            if kinds is not None:
                groups.setdefault(kinds, []).append(pair)
    causes: list[Cause] = ["u_value", "ground_rule"] if _one_rule(surveys) else ["u_value"]
    for kinds, pairs in groups.items():
        pieces = free.take(chain.from_iterable(free.of_pair(pair, causes) for pair in pairs))
        says = (
            f"{surveys.second_name} has {elements(surveys, pairs)} as {kinds[1]} ({_loses(pairs, 1)}), "
            f"{surveys.first_name} as {kinds[0]} ({_loses(pairs, 0)})"
        )
        if pieces:
            yield Bundle(main_cause(pieces), "ground_floor_kind", pieces, says)


def _kinds(surveys: Surveys, pair: PartPair) -> tuple[str, str] | None:
    """Return which kinds of floor a row is, where it is on ground in both surveys and the kinds differ."""
    parts = parts_of(pair)
    if any(part.side.kind != "ground" for part in parts):
        return None
    made = [surveys.reading(survey).construction(part.construction) for survey, part in enumerate(parts)]
    kinds = [None if one is None else _KINDS.get(type(one)) for one in made]
    if kinds[0] is None or kinds[1] is None or kinds[0] == kinds[1]:
        return None
    # A U-value declared of the same floor is no other kind of floor, unless it is reckoned otherwise for it.
    if not all(_computed(one) for one in made) and parts[0].side.reference == parts[1].side.reference:
        return None
    return kinds[0], kinds[1]


def _computed(made: Construction | None) -> bool:
    return isinstance(made, SlabOnGround | SuspendedFloor | BasementFloor | BasementWall)


def _one_rule(surveys: Surveys) -> bool:
    """Tell whether both surveys have the same rule for the ground, so that only the kind of floor makes a difference."""
    rules = [
        (c.ground_rule or "annual_mean", c.ground_water or "deeper_than_1_m")
        for c in (survey.house.house.conditions for survey in (surveys.first, surveys.second))
    ]
    return rules[0] == rules[1]


def _loses(pairs: list[PartPair], survey: int) -> str:
    parts: list[Part] = [parts_of(pair)[survey] for pair in pairs]
    u_values = listed(number(part.u_value_w_m2k) for part in parts)
    rules = listed(_RULES[part.side.reference] for part in parts)
    return f"{u_values} W/(m²·K), {rules}"
