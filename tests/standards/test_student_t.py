"""Student's t: printed tables, and what is left when nothing is uncertain."""

from __future__ import annotations

import math

import pytest

from warmstead.standards.student_t import probability_below, quantile


@pytest.mark.parametrize(
    ("freedom", "probability", "printed"),
    [
        # Tables of Student's t as textbooks print them, two-sided (from memory).
        (1.0, 0.95, 12.706),
        (2.0, 0.95, 4.303),
        (5.0, 0.90, 2.015),
        (30.0, 0.99, 2.750),
        (math.inf, 0.90, 1.645),
    ],
)
def test_printed_quantiles(freedom: float, probability: float, printed: float) -> None:
    assert quantile(freedom, probability) == pytest.approx(printed, abs=0.0005)


def test_probability_of_a_single_degree_of_freedom_is_an_angle() -> None:
    # Closed: with one degree of freedom it is Cauchy's distribution, 1/2 + arctan(x)/π: 0.75 at 1.
    assert probability_below(2.0, 2.0, 1.0) == pytest.approx(0.75, abs=1e-12)
    assert probability_below(-0.25, 0.5, 1.0) == pytest.approx(0.5 - math.atan(0.5) / math.pi, abs=1e-12)


def test_what_is_certain_is_above_or_below() -> None:
    # No uncertainty: a difference that is small is as certain as a great one.
    assert probability_below(0.5, 0.0, 5.0) == 1.0
    assert probability_below(-0.5, 0.0, 5.0) == 0.0
    assert probability_below(0.0, 0.0, 5.0) == 0.5
