"""The energy signature: degree-days, gains, calorific values, combined uncertainty."""

from __future__ import annotations

import math

import pytest

from warmstead.standards import energy_signature
from warmstead.standards.energy_signature import (
    Uncertainty,
    combined,
    degree_days_k,
    degree_days_of_mean_k,
    efficiency_on_gross,
    implied_gains_w,
)
from warmstead.standards.errors import NotPhysical


def test_degree_days_of_a_day() -> None:
    # Open University course text (seen): a day at 20 °C inside and 10 °C outside is 10 degree-days; a warmer one gives 0.
    assert degree_days_k(20.0, [10.0]) == 10.0
    assert degree_days_k(20.0, [25.0]) == 0.0
    # By hand: (10 + 0 + 5)/3.
    assert degree_days_k(20.0, [10.0, 25.0, 15.0]) == 5.0


@pytest.mark.parametrize(
    ("mean_c", "printed"),
    [
        # Open University course text (seen): 30 days, base 15.5 °C, k = 0.71.
        (10.0, 168.4),
        (5.0, 315.2),
        (15.5, 42.25),
    ],
)
def test_degree_days_of_a_month(mean_c: float, printed: float) -> None:
    assert 30.0 * degree_days_of_mean_k(15.5, mean_c) == pytest.approx(printed, abs=0.05)


def test_the_monthly_formula_is_smooth_where_both_temperatures_meet_and_ends_at_nothing() -> None:
    # The limit of x/(1 − exp(−k x)) at 0 is 1/k; next to it 1/k + x/2.
    assert degree_days_of_mean_k(15.0, 15.0) == pytest.approx(1.0 / 0.71, rel=1e-12)
    assert degree_days_of_mean_k(15.0, 15.0 - 1e-4) == pytest.approx(1.0 / 0.71 + 0.5e-4, abs=1e-8)
    assert degree_days_of_mean_k(-1000.0, 1000.0) == 0.0
    assert degree_days_of_mean_k(30.0, -30.0) == pytest.approx(60.0, abs=1e-12)


def test_gains_that_a_base_temperature_implies() -> None:
    # By hand: 200 W/K · (20 − 15.5) K.
    assert implied_gains_w(200.0, 20.0, 15.5) == 900.0


def test_efficiency_on_the_gross_calorific_value() -> None:
    # A trade page (seen): natural gas gross efficiency = net efficiency × 0.900.
    assert efficiency_on_gross(0.95, 0.9) == pytest.approx(0.855, abs=1e-12)


def test_uncertainties_join_in_quadrature() -> None:
    # By hand: 3 and 4 are 5; ν = 5⁴/(3⁴/8) = 61.728 where the other is known well.
    whole = combined([Uncertainty(3.0, 8.0), Uncertainty(4.0, math.inf)])
    assert whole.standard == pytest.approx(5.0, rel=1e-12)
    assert whole.degrees_of_freedom == pytest.approx(61.728, abs=0.0005)


def test_nothing_uncertain_is_exact_and_one_part_keeps_its_degrees_of_freedom() -> None:
    assert combined([]) == (0.0, math.inf)
    assert combined([Uncertainty(0.0, 3.0), Uncertainty(0.0, math.inf)]) == (0.0, math.inf)
    assert combined([Uncertainty(2.0, 7.0), Uncertainty(0.0, 1.0)]) == (2.0, 7.0)
    # No fourth power is lost in the smallest numbers.
    assert combined([Uncertainty(1e-200, 7.0)]) == (1e-200, 7.0)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(NotPhysical, match="at least one day"):
        degree_days_k(15.5, [])
    with pytest.raises(NotPhysical):
        implied_gains_w(-1.0, 20.0, 15.0)
    with pytest.raises(NotPhysical):
        efficiency_on_gross(0.0, 0.9)
    with pytest.raises(NotPhysical):
        efficiency_on_gross(0.9, 0.0)
    with pytest.raises(NotPhysical):
        combined([Uncertainty(-1.0, 3.0)])
    with pytest.raises(NotPhysical, match="degrees of freedom"):
        combined([Uncertainty(1.0, 0.0)])


def test_a_watt_for_a_day() -> None:
    # By hand: 1 W for 24 h is 24 Wh.
    a_watt = energy_signature.KWH_PER_DAY_OF_A_WATT
    assert a_watt == pytest.approx(24.0 / 1000.0, abs=1e-12)


def test_refusals_name_what_was_given() -> None:
    for call, field, clause in (
        (lambda: implied_gains_w(-0.5, 20.0, 15.0), "coefficient_w_k", "CIBSE TM41:2006"),
        (lambda: efficiency_on_gross(-0.5, 0.9), "efficiency_on_net", "definition"),
        (lambda: efficiency_on_gross(0.9, -0.5), "net_over_gross", "definition"),
        (lambda: combined([Uncertainty(-0.5, 3.0)]), "standard", "JCGM 100:2008, 5.1.2"),
        (lambda: combined([Uncertainty(0.5, -0.5)]), "degrees_of_freedom", "JCGM 100:2008, G.4.1"),
    ):
        with pytest.raises(NotPhysical) as caught:
            call()
        assert (caught.value.field, caught.value.clause) == (field, clause)


def test_few_and_many_degrees_of_freedom() -> None:
    # By hand: 3 and 4 are 5; ν = 5⁴/(3⁴/0.5 + 4⁴/0.8) = 625/482 where both are hardly known, infinite where both are well known.
    whole = combined([Uncertainty(3.0, 0.5), Uncertainty(4.0, 0.8)])
    assert whole == pytest.approx((5.0, 625.0 / 482.0), rel=1e-12)
    known = combined([Uncertainty(3.0, math.inf), Uncertainty(4.0, math.inf)])
    assert known[0] == pytest.approx(5.0, rel=1e-12)
    assert known[1] == math.inf
