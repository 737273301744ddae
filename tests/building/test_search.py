"""The search for the place from which on something is reached."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmstead.building.search import first_reached

WIDTH = 1e-7
HIGHEST = 80.0
STEPS_OF_BISECTION = math.ceil(math.log2(HIGHEST / WIDTH))


def search(excess: Callable[[float], float]) -> tuple[float, int]:
    """Return what is found between 0 and 80, and how often the excess was asked for."""
    asked = 0

    def counted(x: float) -> float:
        nonlocal asked
        asked += 1
        return excess(x)

    found = first_reached(counted, 0.0, HIGHEST, excess(0.0), excess(HIGHEST), WIDTH)
    return found, asked


@given(
    st.floats(0.5, 79.5),
    st.floats(0.2, 5.0),
    st.floats(0.0, 10.0),
    st.floats(0.0, 10.0),
    st.floats(1e-3, 1e3),
)
def test_the_answer_lies_on_the_reached_side_whatever_the_shape(
    root: float, power: float, below: float, above: float, scale: float
) -> None:
    def excess(x: float) -> float:
        rise = scale * abs(x - root) ** power
        return rise + above if x >= root else -rise - below - 1e-12

    found, asked = search(excess)
    assert 0.0 <= found - root <= WIDTH * (1.0 + 1e-6)
    # a jump can spoil every second step, which then halves nothing
    assert asked <= 2 * STEPS_OF_BISECTION + 2


@pytest.mark.parametrize(
    ("excess", "root"),
    [
        (lambda x: x - 33.3, 33.3),
        (lambda x: (x / 50.0) ** 1.3 - 0.6, 50.0 * 0.6 ** (1.0 / 1.3)),  # a radiator's output
        (lambda x: x / (1.0 + x) - 0.9, 9.0),  # insulation beside a bridge
    ],
)
def test_smooth_excess_takes_half_the_steps_of_bisection_at_most(
    excess: Callable[[float], float], root: float
) -> None:
    found, asked = search(excess)
    assert found == pytest.approx(root, abs=1.01 * WIDTH)
    assert asked <= STEPS_OF_BISECTION // 2


def test_an_excess_unknown_at_the_missed_end_may_be_any_number_below_zero() -> None:
    for missed_by in (-1e-3, -1.0, -1e6):
        found = first_reached(lambda x: x - 20.0, 0.0, HIGHEST, missed_by, 60.0, WIDTH)
        assert found == pytest.approx(20.0, abs=1.01 * WIDTH)


def test_a_width_below_the_spacing_of_numbers_ends_all_the_same() -> None:
    found = first_reached(lambda x: x - 5000.5, 5000.0, 5001.0, -0.5, 0.5, 1e-15)
    assert found == 5000.5
