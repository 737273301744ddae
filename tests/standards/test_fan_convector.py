"""A fan convector by its table of outputs."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmstead.standards import fan_convector
from warmstead.standards.errors import NotPhysical, OutOfScope

# An invented appliance: excess temperature K, output W.
POINTS = [(10.0, 400.0), (20.0, 1000.0), (30.0, 1700.0), (50.0, 3300.0)]


@pytest.mark.parametrize(
    ("excess_k", "output_w"),
    [
        # The table's own points.
        *POINTS,
        # By hand: half-way from 400 to 1000.
        (15.0, 700.0),
        # By hand: 1700 + 0.25 · 1600.
        (35.0, 2100.0),
    ],
)
def test_output_between_two_points(excess_k: float, output_w: float) -> None:
    """A straight line from point to point."""
    assert fan_convector.output(POINTS, excess_k) == pytest.approx(output_w)


@given(excess_k=st.floats(10.0, 50.0))
def test_output_agrees_with_an_independent_interpolation(excess_k: float) -> None:
    """A general-purpose library on the same points."""
    other = np.interp(excess_k, [point[0] for point in POINTS], [point[1] for point in POINTS])
    assert fan_convector.output(POINTS, excess_k) == pytest.approx(float(other))


@given(excess_k=st.floats(10.0, 50.0), rise_k=st.floats(0.0, 40.0))
def test_output_rises_where_the_table_rises(excess_k: float, rise_k: float) -> None:
    """Never less output from warmer water."""
    warmer = min(excess_k + rise_k, 50.0)
    assert fan_convector.output(POINTS, warmer) >= fan_convector.output(POINTS, excess_k)


@pytest.mark.parametrize("excess_k", [9.99, 50.01, -1.0, float("nan")])
def test_outside_the_table_is_refused_with_its_range(excess_k: float) -> None:
    """Nothing is known there."""
    with pytest.raises(OutOfScope, match=r"10\.0 to 50\.0 K") as refusal:
        fan_convector.output(POINTS, excess_k)
    assert refusal.value.field == "excess_k"
    assert refusal.value.limit == "10.0 to 50.0"


@pytest.mark.parametrize("points", [[], [(10.0, 400.0)]])
def test_one_point_is_no_table(points: list[tuple[float, float]]) -> None:
    """Two are needed for a line."""
    with pytest.raises(OutOfScope) as refusal:
        fan_convector.output(points, 10.0)
    assert refusal.value.field == "points"


@pytest.mark.parametrize(
    "points",
    [
        [(10.0, 400.0), (10.0, 500.0)],
        [(20.0, 400.0), (10.0, 300.0)],
        [(10.0, -400.0), (20.0, 500.0)],
    ],
)
def test_impossible_table_is_refused(points: list[tuple[float, float]]) -> None:
    """Points that do not ascend, or an output under zero."""
    with pytest.raises(NotPhysical) as refusal:
        fan_convector.output(points, 10.0)
    assert refusal.value.field == "points"
