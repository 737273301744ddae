"""The frontier of cost against load: every set of measures than which none is both cheaper and better.

Measures that neither meet nor exclude each other fall into families. Within one all sets are gone through; then families
are put together one by one, and only what is not dominated is kept: nothing that is dominated within a family can be part
of an undominated whole. Where a family or the frontier itself is too large for that, the solver walks along the frontier.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from warmstead.building.improvement.choice import AGREEMENT, Choices, Chooser, Chosen, States

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LARGEST_FAMILY = 14
"""Measures of one family whose sets are all gone through: 2¹⁴."""
STEP = 1e-6
"""The share of the load by which the solver's next set has to be lower: well over the tolerance of its bounds."""
MOST_PAIRS = 500_000
"""Sets that are looked at while two families are put together."""


class Frontier(NamedTuple):
    """Sets by rising cost and falling load, and whether they are all."""

    sets: list[Chosen]
    complete: bool


class _Sets(NamedTuple):
    """Sets of measures as bits, with what they cost and change; none of them dominated by another."""

    cost: NDArray[np.float64]
    load: NDArray[np.float64]
    bits: NDArray[np.uint64]


def frontier(choices: Choices, chooser: Chooser, most: int) -> Frontier:
    """Return the frontier from the cheapest set on.

    Args:
        choices: what there is to choose from.
        chooser: asks the solver about them.
        most: number of sets after which to stop.
    """
    sets = _by_families(choices)
    if sets is None:
        return _by_solver(choices, chooser, most)
    found: list[Chosen] = []
    last_cost = last_load = float("inf")
    for cost, load, bits in zip(sets.cost.tolist(), sets.load.tolist(), sets.bits.tolist(), strict=True):
        if found and load > last_load - AGREEMENT * choices.scales[0]:
            continue  # lower by rounding only
        if found and cost <= last_cost * (1.0 + AGREEMENT):
            found.pop()  # dearer by rounding only
        found.append(frozenset(m for m in range(len(choices.costs)) if bits >> m & 1))
        last_cost, last_load = cost, load
        if len(found) > most:
            return Frontier(found[:most], complete=False)
    return Frontier(found, complete=True)


def _by_solver(choices: Choices, chooser: Chooser, most: int) -> Frontier:
    found: list[Chosen] = []
    under: float | None = None
    proved = True
    while len(found) <= most:
        answer = chooser.cheapest_under(under)
        proved = proved and answer.proved
        if answer.chosen is None:
            return Frontier(found, complete=proved)
        quantities = choices.quantities(answer.chosen)
        assert quantities is not None, "the solver keeps to what can stand together"
        found.append(answer.chosen)
        under = quantities[0] - STEP * choices.scales[0]
    return Frontier(found[:most], complete=False)


def families(choices: Choices) -> list[list[int]]:
    """Return the measures in families that do not act on each other, each in order."""
    family = list(range(len(choices.costs)))
    ties = [group.members for group in choices.groups]
    ties += sorted(choices.excluded)
    for tied in ties:
        first = min(family[member] for member in tied)
        merged = {family[member] for member in tied}
        family = [first if name in merged else name for name in family]
    return [[m for m, name in enumerate(family) if name == first] for first in sorted(set(family))]


def _by_families(choices: Choices) -> _Sets | None:
    import numpy as np

    whole = _Sets(np.zeros(1), np.zeros(1), np.zeros(1, dtype=np.uint64))
    for members in families(choices):
        if len(members) > LARGEST_FAMILY:
            return None
        part = _undominated(_family(choices, members))
        if len(whole.cost) * len(part.cost) > MOST_PAIRS:
            return None
        whole = _undominated(
            _Sets(
                np.add.outer(whole.cost, part.cost).ravel(),
                np.add.outer(whole.load, part.load).ravel(),
                np.bitwise_or.outer(whole.bits, part.bits).ravel(),
            )
        )
    return whole


def _family(choices: Choices, members: Sequence[int]) -> _Sets:
    """Return every set of a family's measures that can stand together."""
    import numpy as np

    place = {member: index for index, member in enumerate(members)}
    local = np.arange(1 << len(members), dtype=np.int64)
    cost, load = np.zeros(len(local)), np.zeros(len(local))
    bits = np.zeros(len(local), dtype=np.uint64)
    possible = np.ones(len(local), dtype=bool)
    for member, index in place.items():
        taken = local >> index & 1
        cost += choices.costs[member] * taken
        bits |= (taken << member).astype(np.uint64)
    for group in choices.groups:
        if group.members[0] in place:
            state = sum((local >> place[m] & 1) << i for i, m in enumerate(group.members))
            effects, known = _table(group)
            load += effects[state]
            possible &= known[state]
    for one, other in choices.excluded:
        if one in place:
            possible &= (local >> place[one] & local >> place[other] & 1) == 0
    return _Sets(cost[possible], load[possible], bits[possible])


def _table(group: States) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """Return a group's changes of the load by its members as bits, and which of them can stand together."""
    import numpy as np

    effects, known = np.zeros(1 << len(group.members)), np.zeros(1 << len(group.members), dtype=bool)
    for state, changes in group.effects.items():
        index = sum(1 << i for i, member in enumerate(group.members) if member in state)
        effects[index], known[index] = changes[0], True
    return effects, known


def _undominated(sets: _Sets) -> _Sets:
    """Keep sets that have less load than every cheaper one; of equals the one of fewest measures, then the earliest."""
    import numpy as np

    count = np.bitwise_count(sets.bits)
    order = np.lexsort((sets.bits, count, sets.load, sets.cost))
    load = sets.load[order]
    before = np.minimum.accumulate(np.concatenate(([np.inf], load[:-1])))
    kept = order[load < before]
    return _Sets(sets.cost[kept], sets.load[kept], sets.bits[kept])
