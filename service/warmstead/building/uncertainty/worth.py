"""Candidates against draws of the load: how likely each suffices, and what knowing an input would be worth for the choice.

A choice is wrong if the chosen unit turns out too small or too large. Now one would choose the unit that is suitable in most
draws. Once an input is known, one chooses for its value: the draws are binned by the input, the best unit of each bin is
found in one half of its draws and tried in the other half, so that chance is not taken for knowledge.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from warmstead.building.balance import BoolArray, FloatArray, Value
from warmstead.building.heat_pumps import ROUNDING, Limits, ResolvedCandidate
from warmstead.building.uncertainty.monte_carlo import BINS
from warmstead.standards.en_14825 import HOURS_PER_DAY
from warmstead.standards.performance_table import Curve, curve_at_flow
from warmstead.survey.heat_pumps import HotWater


class Standing(NamedTuple):
    """A candidate over all draws."""

    suitable: BoolArray
    undersized: float
    oversized: float
    """Shares of the draws within the candidate's table."""
    outside_table: float
    """Share of all draws whose outside temperature the table does not cover."""

    @property
    def within(self) -> float:
        """Share of the draws within the table that it suits."""
        inside = 1.0 - self.outside_table
        return float(self.suitable.mean()) / inside if inside > 0.0 else 0.0


def standing(
    resolved: ResolvedCandidate,
    hot_water: HotWater | None,
    limits: Limits,
    load_w: FloatArray,
    external_c: Value,
) -> Standing:
    """Return how a candidate does over all draws.

    Args:
        resolved: the candidate at the flow temperature in question.
        hot_water: what the same unit makes besides.
        limits: coverages that count as suitable.
        load_w: the house's load in each draw.
        external_c: outside temperature of each draw.
    """
    capacity, covered = _on(resolved.capacity_w, external_c, load_w)
    free = np.full(load_w.shape, HOURS_PER_DAY)
    if hot_water is not None:
        curve = curve_at_flow(resolved.capacities, hot_water.storage_temperature_c)
        for_water, _ = _on(curve, external_c, load_w)
        free = HOURS_PER_DAY - hot_water.energy_kwh_per_day * 1000.0 / for_water
    # Coverage = capacity/(load · 24/(24 − t)), compared without dividing: a load may be 0, the hours may all be gone.
    offered = capacity * free
    asked = load_w * HOURS_PER_DAY
    too_small = (offered < limits.minimum_coverage * (1.0 - ROUNDING) * asked) | (free <= 0.0)
    too_large = ~too_small & (offered > limits.maximum_coverage * (1.0 + ROUNDING) * asked)
    inside = float(covered.mean())
    return Standing(
        covered & ~too_small & ~too_large,
        float((covered & too_small).mean()) / inside if inside else 0.0,
        float((covered & too_large).mean()) / inside if inside else 0.0,
        1.0 - inside,
    )


def _on(curve: Curve, external_c: Value, like: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Return a curve's values, and where it covers the outside temperature: nothing outside counts."""
    temperatures = np.broadcast_to(np.asarray(external_c, dtype=np.float64), like.shape)
    corners, values = zip(*curve, strict=True)
    covered = (temperatures >= corners[0]) & (temperatures <= corners[-1])
    return np.interp(temperatures, corners, values), covered


class Choice(NamedTuple):
    """The choice as things stand."""

    best: int
    """Place of the unit that is suitable in most draws, the first of them on a tie."""
    wrong: float
    wrong_if_all_known: float
    """Draws that no unit suits."""


def choice_now(standings: Sequence[Standing]) -> Choice:
    """Return the best choice as things stand."""
    shares = [float(one.suitable.mean()) for one in standings]
    best = max(range(len(shares)), key=lambda place: shares[place])
    some = np.logical_or.reduce([one.suitable for one in standings])
    return Choice(best, 1.0 - shares[best], 1.0 - float(some.mean()))


def wrong_if_known(standings: Sequence[Standing], bins: NDArray[np.uint8], now: Choice) -> float:
    """Return how likely the choice is wrong once an input is known; never more than now, since nobody has to heed it.

    Args:
        standings: of all candidates.
        bins: in which bin the input was drawn.
        now: the choice as things stand.
    """
    count = bins.size
    cells = bins.astype(np.intp) * 2 + (np.arange(count) & 1)
    hits = np.array([np.bincount(cells[one.suitable], minlength=2 * BINS) for one in standings])
    halves = hits.reshape(len(standings), BINS, 2)
    right = 0
    for chosen_in, tried_in in ((0, 1), (1, 0)):
        counts = halves[:, :, chosen_in]
        best = counts.argmax(axis=0)
        # Where the best of today does as well, it stays the choice.
        best = np.where(counts[now.best] >= counts.max(axis=0), now.best, best)
        right += int(halves[best, np.arange(BINS), tried_in].sum())
    return min(now.wrong, 1.0 - right / count)
