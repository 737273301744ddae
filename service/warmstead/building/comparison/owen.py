"""The symmetric split of a difference among the factors that make it: Shapley's value, with unions Owen's.

A game is a worth for every set of factors that is taken from the second survey, the others being the first's. Each
factor gets the mean of what it adds over all orders in which the factors may be changed one by one; with unions,
over the orders in which the members of a union stand together. The shares add up to worth(all) − worth(none), a
factor that changes nothing gets nothing, and exchanging the surveys changes the signs only.

References, both cited from memory: L. S. Shapley, A value for n-person games, Contributions to the Theory of Games
II, Annals of Mathematics Studies 28, Princeton 1953, pp. 307-317; G. Owen, Values of games with a priori unions,
Lecture Notes in Economics and Mathematical Systems 141, Springer 1977, pp. 76-88.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache
from itertools import accumulate
from typing import NamedTuple


class _Step(NamedTuple):
    """What one factor adds to those changed before it, and the probability of meeting just these."""

    before: int
    after: int
    weight: float


class _Plan(NamedTuple):
    """All that has to be asked for a game of some unions."""

    asked: tuple[int, ...]
    steps: tuple[tuple[_Step, ...], ...]
    """For each factor."""


def shares(sizes: tuple[int, ...], worth: Callable[[int], float]) -> list[float]:
    """Return what each factor of a game is worth (Owen 1977).

    Args:
        sizes: number of members of each union, 1 or more each; factors are numbered through the unions in order.
        worth: of a set of factors, given as bits; asked once for each set that matters.

    The cost is bounded by 2^n questions for n factors.
    """
    plan = _plan(sizes)
    worths = dict(zip(plan.asked, map(worth, plan.asked), strict=True))
    return [
        math.fsum([weight * (worths[after] - worths[before]) for before, after, weight in steps])
        for steps in plan.steps
    ]


@cache
def _plan(sizes: tuple[int, ...]) -> _Plan:
    """Return for each factor all that may have been changed before it, with its probability."""
    starts = [0, *accumulate(sizes)]
    unions = [((1 << size) - 1) << start for size, start in zip(sizes, starts, strict=False)]
    steps = []
    for own, size in enumerate(sizes):
        others = unions[:own] + unions[own + 1 :]
        for member in range(size):
            bit = 1 << starts[own] + member
            fellows = [1 << starts[own] + place for place in range(size) if place != member]
            steps.append(
                tuple(
                    _Step(outer | inner, outer | inner | bit, outer_weight * inner_weight)
                    for outer, outer_weight in _sets(others)
                    for inner, inner_weight in _sets(fellows)
                )
            )
    asked = sorted({members for each in steps for step in each for members in step[:2]})
    return _Plan(tuple(asked), tuple(steps))


def _sets(parts: list[int]) -> Iterator[tuple[int, float]]:
    """Yield every union of some parts with the probability that just these come before one more in a random order."""
    count = len(parts)
    for chosen in range(1 << count):
        members = sum(part for place, part in enumerate(parts) if chosen >> place & 1)
        size = chosen.bit_count()
        orders = math.factorial(size) * math.factorial(count - size)
        yield members, orders / math.factorial(count + 1)
