"""A heat pump's table and load line, against general-purpose interpolation and root finding, and a day by the minute.

`performance_table`: bilinear interpolation, the full grid. `en_14825`: load line, bivalent temperature, cycling limit, and the
daily balance with hot water: t = Q/Φ, Φ_req = Φ · 24/(24 − t), and the reduction that makes a unit suffice.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import brentq

from warmstead.standards import en_14825, performance_table

OUTSIDE_C = np.array([-15.0, -7.0, 2.0, 7.0, 12.0])
FLOW_C = np.array([35.0, 45.0, 55.0])
values = st.lists(st.floats(500.0, 15_000.0), min_size=15, max_size=15).map(
    lambda some: np.array(some).reshape(5, 3)
)
lines = st.builds(
    en_14825.LoadLine,
    st.floats(1000.0, 15_000.0),
    st.floats(-15.0, 0.0),
    st.floats(14.0, 21.0),
)


def table_of(grid: np.ndarray[Any, Any]) -> dict[tuple[float, float], float]:
    return {
        (float(t), float(f)): float(grid[i, j]) for i, t in enumerate(OUTSIDE_C) for j, f in enumerate(FLOW_C)
    }


@given(values, st.floats(-15.0, 12.0), st.floats(35.0, 55.0))
def test_table_is_read_as_a_general_interpolator_reads_it(
    grid: np.ndarray[Any, Any], external_c: float, flow_c: float
) -> None:
    # Equation: bilinear interpolation, first along the flow temperature, then along the outside temperature.
    other = RegularGridInterpolator((OUTSIDE_C, FLOW_C), grid, method="linear")([[external_c, flow_c]])[0]
    curve = performance_table.curve_at_flow(table_of(grid), flow_c)
    assert performance_table.value_on(curve, external_c) == pytest.approx(float(other))
    assert [t for t, _ in curve] == OUTSIDE_C.tolist()


@given(st.sets(st.tuples(st.sampled_from(OUTSIDE_C.tolist()), st.sampled_from(FLOW_C.tolist())), min_size=1))
def test_holes_of_a_table_by_an_array(nodes: set[tuple[float, float]]) -> None:
    # The full grid over the temperatures that occur at all.
    there = np.zeros((OUTSIDE_C.size, FLOW_C.size), dtype=bool)
    for t, f in nodes:
        there[np.searchsorted(OUTSIDE_C, t), np.searchsorted(FLOW_C, f)] = True
    lacking = ~there & there.any(axis=1, keepdims=True) & there.any(axis=0, keepdims=True)
    expected = [(float(OUTSIDE_C[i]), float(FLOW_C[j])) for i, j in np.argwhere(lacking)]
    assert list(performance_table.holes(list(nodes), most=len(nodes) ** 2).first) == expected


@given(lines, st.floats(-30.0, 40.0))
def test_load_line_is_the_line_through_its_two_ends(line: en_14825.LoadLine, external_c: float) -> None:
    # Equation: load(T) = design load · (base − T)/(base − external).
    ends = [line.external_temperature_c, line.base_temperature_c]
    straight = np.polynomial.Polynomial.fit(ends, [line.design_heat_load_w, 0.0], deg=1)
    assert line.at(external_c) == pytest.approx(float(straight(external_c)), abs=1e-6)


@given(st.lists(st.floats(500.0, 15_000.0), min_size=5, max_size=5), lines)
def test_bivalent_temperature_and_cycling_limit_by_root_finding(
    capacities: list[float], line: en_14825.LoadLine
) -> None:
    # Equation: the warmest T with capacity(T) = load(T), each piece of the capacity searched for its root.
    curve = tuple(zip(OUTSIDE_C.tolist(), capacities, strict=True))

    def excess(external_c: float) -> float:
        return float(np.interp(external_c, OUTSIDE_C, capacities)) - line.at(external_c)

    at_corners = [excess(t) for t in OUTSIDE_C]
    # A curve that only touches the load at a corner has a root of no sign change there.
    assume(all(abs(one) > 1e-6 for one in at_corners))
    roots = [
        brentq(excess, colder, warmer, xtol=1e-12)
        for colder, warmer in pairwise(OUTSIDE_C)
        if excess(colder) * excess(warmer) < 0.0
    ]
    for found in (en_14825.bivalent_temperature(curve, line), en_14825.cycling_limit(curve, line)):
        if at_corners[-1] < 0.0:
            assert found == (None, "below")
        elif not roots:
            assert found == (None, "above")
        else:
            assert found.side == "crosses"
            assert found.temperature_c == pytest.approx(max(roots), abs=1e-6)


MINUTES = 24 * 60


def day(load_w: float, capacity_w: float, hot_water_kwh: float) -> tuple[float, int]:
    """Run a day by the minute, hot water first: heat that reached the rooms in kWh, and minutes spent on hot water."""
    store_kwh, rooms_kwh, on_hot_water = 0.0, 0.0, 0
    per_minute_kwh = capacity_w / 60.0 / 1000.0
    for _ in range(MINUTES):
        if store_kwh < hot_water_kwh - 1e-9:
            store_kwh += per_minute_kwh
            on_hot_water += 1
        else:
            rooms_kwh += per_minute_kwh
    return min(rooms_kwh, load_w * 24.0 / 1000.0), on_hot_water


# Hours of hot water that are whole minutes, so that the simulation is exact: 10 kWh at 5 kW are 120 of them.
@pytest.mark.parametrize(
    ("energy_kwh", "capacity_w"),
    [(10.0, 5000.0), (6.0, 4000.0), (8.0, 12_000.0), (30.0, 4000.0), (0.0, 7000.0)],
)
def test_day_with_hot_water_by_the_minute(energy_kwh: float, capacity_w: float) -> None:
    # Equations: t = Q/Φ, and Φ_req = Φ · 24/(24 − t).
    _, minutes = day(1e9, capacity_w, energy_kwh)
    hours = en_14825.hot_water_hours(energy_kwh, capacity_w)
    assert hours == pytest.approx(minutes / 60.0)
    # A load that needs just this capacity is the greatest that the day's other hours can serve.
    reached_kwh, _ = day(1e9, capacity_w, energy_kwh)
    greatest_w = reached_kwh * 1000.0 / 24.0
    assert en_14825.required_capacity(greatest_w, hours) == pytest.approx(capacity_w)
    lacking_kwh, _ = day(1.05 * greatest_w, capacity_w, energy_kwh)
    assert lacking_kwh < 1.05 * greatest_w * 24.0 / 1000.0


@pytest.mark.parametrize("coverage", [0.8, 1.0, 1.15])
@pytest.mark.parametrize(
    ("load_w", "capacity_w", "hours"), [(9000.0, 6000.0, 3.0), (7000.0, 6500.0, 0.0), (12_000.0, 8000.0, 6.5)]
)
def test_reduction_needed_by_root_finding(
    load_w: float, capacity_w: float, hours: float, coverage: float
) -> None:
    # Equation: load − capacity/coverage · (24 − t)/24, as the load at which capacity over requirement is just
    # the coverage that is asked for.
    def over(left_w: float) -> float:
        return capacity_w / (left_w * 24.0 / (24.0 - hours)) - coverage

    left_w = brentq(over, 1.0, 1e6, xtol=1e-9)
    expected = max(0.0, load_w - left_w)
    assert en_14825.reduction_needed(load_w, capacity_w, coverage, hours) == pytest.approx(expected, abs=1e-5)
