"""Shares of the variance and the worth of knowing, where both have exact answers."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pytest

from warmstead.building.heat_pumps import Limits, ResolvedCandidate
from warmstead.building.uncertainty.monte_carlo import BIN_WIDTH, BINS, HALF_BINS, _Explained
from warmstead.building.uncertainty.worth import Choice, Standing, choice_now, standing, wrong_if_known
from warmstead.survey.heat_pumps import Candidate, HotWater, PerformancePoint

COUNT = 40_000
FOUR_STANDARD_ERRORS = 4 * 0.5 / math.sqrt(COUNT)


def normals(inputs: int) -> np.ndarray:
    return np.random.Generator(np.random.PCG64(11)).standard_normal((inputs, COUNT))


def shares(scaled: np.ndarray, loads: np.ndarray) -> list[float]:
    explained = _Explained(len(scaled))
    for start in range(0, COUNT, 3000):
        explained.add(scaled[:, start : start + 3000], loads[start : start + 3000])
    return explained.shares()


def test_shares_of_a_sum_are_those_of_its_variances() -> None:
    x = normals(4)
    # Exact: 9 + 4 + 1 + 0 = 14.
    found = shares(x, 7000.0 + 3.0 * x[0] - 2.0 * x[1] + x[2])
    assert found == pytest.approx([9 / 14, 4 / 14, 1 / 14, 0.0], abs=0.01)


def test_a_product_leaves_a_share_to_both_together() -> None:
    x = normals(2)
    # (10 + 3 a)(10 + 3 b): variances 900, 900 and 81, the last by neither alone.
    found = shares(x, (10 + 3 * x[0]) * (10 + 3 * x[1]))
    assert found == pytest.approx([900 / 1881, 900 / 1881], abs=0.01)
    assert 1 - sum(found) == pytest.approx(81 / 1881, abs=0.01)


def test_what_bends_is_explained_as_well() -> None:
    x = normals(1)
    # A load by the square of an input has no straight part at all, and yet all of it is explained.
    assert shares(x, x[0] ** 2) == pytest.approx([1.0], abs=1e-9)


def test_a_load_that_never_varies_has_no_shares() -> None:
    assert shares(normals(2), np.full(COUNT, 8000.0)) == [0.0, 0.0]


# --- The worth of knowing --------------------------------------------------------------------------


def binned(x: np.ndarray) -> np.ndarray:
    return np.clip(x / BIN_WIDTH + HALF_BINS, 0, BINS - 1).astype(np.uint8)


def standings(*suitable: np.ndarray) -> list[Standing]:
    return [Standing(one, 0.0, 0.0, 0.0) for one in suitable]


def test_knowing_what_decides_leaves_no_wrong_choice() -> None:
    x, other = normals(2)
    both = standings(x < 0.0, x >= 0.0)
    now = choice_now(both)
    assert now.wrong == pytest.approx(0.5, abs=FOUR_STANDARD_ERRORS)
    assert now.wrong_if_all_known == 0.0
    assert wrong_if_known(both, binned(x), now) == 0.0  # 0 is the edge of a bin
    # What has nothing to do with it is worth nothing, and chance is not taken for knowledge.
    assert wrong_if_known(both, binned(other), now) == pytest.approx(0.5, abs=2 * FOUR_STANDARD_ERRORS)


def test_knowing_a_part_is_worth_what_it_decides() -> None:
    # Load a + b, both standard normal; one unit for a load under 0, one above. Knowing a, one chooses by its sign and is wrong
    # where b outweighs it: P(sign(a + b) ≠ sign(a)) = 1/4 for equal spreads.
    a, b = normals(2)
    both = standings(a + b < 0.0, a + b >= 0.0)
    now = choice_now(both)
    assert wrong_if_known(both, binned(a), now) == pytest.approx(0.25, abs=2 * FOUR_STANDARD_ERRORS)


def test_a_choice_that_knowing_does_not_change_stays() -> None:
    a, b = normals(2)
    # The first unit is right in 97.7 % of all draws, whatever a says: nothing to gain.
    both = standings(b < 2.0, b >= 2.0)
    now = choice_now(both)
    assert now == Choice(0, now.wrong, 0.0)
    assert now.wrong == pytest.approx(1 - NormalDist().cdf(2.0), abs=0.005)
    assert wrong_if_known(both, binned(a), now) == now.wrong


def test_no_unit_suits_where_none_does() -> None:
    nothing = np.zeros(COUNT, dtype=bool)
    now = choice_now(standings(nothing, nothing))
    assert now == Choice(0, 1.0, 1.0)


# --- One candidate over all draws --------------------------------------------------------------------


def candidate(*corners: tuple[float, float]) -> ResolvedCandidate:
    points = [
        PerformancePoint(
            external_temperature_c=t, flow_temperature_c=45.0, capacity_w=w, coefficient_of_performance=3.0
        )
        for t, w in corners
    ]
    capacities = {(t, 45.0): w for t, w in corners}
    made = Candidate(id="unit", performance=points)
    return ResolvedCandidate(made, "/candidates/0", corners, corners, None, capacities)


def test_a_candidate_is_judged_draw_by_draw() -> None:
    loads = np.array([4900.0, 5000.0, 5001.0, 3846.0, 3847.0, 0.0, -10.0])
    # 5000 W between coverages of 1 and 1.3: loads of 5000/1.3 = 3846.15 to 5000 W; who needs no heat needs no unit.
    found = standing(candidate((-10.0, 5000.0), (10.0, 5000.0)), None, Limits(1.0, 1.3), loads, -3.0)
    assert found.suitable.tolist() == [True, True, False, False, True, False, False]
    assert found.undersized == pytest.approx(1 / 7)
    assert found.oversized == pytest.approx(3 / 7)
    assert found.outside_table == 0.0


def test_hot_water_takes_hours_of_every_draw() -> None:
    # By hand: 30 kWh at 5000 W take 6 of 24 hours, so that 5000 W carry a load of 5000 · 18/24 = 3750 W.
    water = HotWater(energy_kwh_per_day=30.0, storage_temperature_c=45.0)
    unit = candidate((-10.0, 5000.0), (10.0, 5000.0))
    found = standing(unit, water, Limits(1.0, 1.3), np.array([3749.0, 3751.0]), np.array([-3.0, -3.0]))
    assert found.suitable.tolist() == [True, False]
    assert found.undersized == 0.5


def test_hot_water_that_takes_the_day_leaves_a_unit_too_small() -> None:
    water = HotWater(energy_kwh_per_day=120.0, storage_temperature_c=45.0)
    unit = candidate((-10.0, 5000.0), (10.0, 5000.0))
    found = standing(unit, water, Limits(1.0, 1.3), np.array([10.0]), -3.0)
    assert found.undersized == 1.0


def test_draws_outside_the_table_count_for_nothing() -> None:
    # Capacity 5000 + 100 · T within −10 to 10 °C; at −5 °C it is 4500 W.
    unit = candidate((-10.0, 4000.0), (10.0, 6000.0))
    outside = np.array([-11.0, -10.0, -5.0, -5.0])
    found = standing(unit, None, Limits(1.0, 1.3), np.array([3000.0, 4000.0, 4499.0, 4501.0]), outside)
    assert found.outside_table == 0.25
    assert found.suitable.tolist() == [False, True, True, False]
    assert found.within == pytest.approx(2 / 3)
    assert found.undersized == pytest.approx(1 / 3)
