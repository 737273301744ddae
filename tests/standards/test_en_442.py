"""EN 442: the output of a radiator at any excess temperature."""

from __future__ import annotations

from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from warmstead.standards import en_442
from warmstead.standards.errors import NotPhysical

# A trade index table of correction factors for radiators of exponent 1.3 (mean difference K, factor to the
# output at 50 K); three decimals printed.
PRINTED_FACTORS = [
    (5, 0.050),
    (10, 0.123),
    (15, 0.209),
    (20, 0.304),
    (25, 0.406),
    (30, 0.515),
    (35, 0.629),
    (40, 0.748),
    (45, 0.872),
    (50, 1.000),
    (55, 1.132),
    (60, 1.267),
    (65, 1.406),
    (70, 1.549),
    (75, 1.694),
]

rooms = st.floats(5.0, 30.0)
excesses = st.floats(0.5, 70.0)
differences = st.floats(0.0, 40.0)


@pytest.mark.parametrize(("excess_k", "factor"), PRINTED_FACTORS)
def test_output_follows_the_printed_correction_factors(excess_k: float, factor: float) -> None:
    """Every factor of the trade's table, to its last printed digit."""
    assert en_442.output(1.0, 50.0, 1.3, excess_k) == pytest.approx(factor, abs=0.0005)


@pytest.mark.parametrize(("excess_k", "factor"), PRINTED_FACTORS)
def test_standard_output_needed_undoes_the_printed_factors(excess_k: float, factor: float) -> None:
    """1000 W wanted, divided by the printed factor, within the factor's rounding."""
    lowest, highest = 1000.0 / (factor + 0.0005), 1000.0 / (factor - 0.0005)
    assert lowest <= en_442.standard_output_needed(1000.0, excess_k, 1.3) <= highest


def test_standard_excess_other_than_50_kelvin() -> None:
    """A radiator rated at 60 K."""
    # By hand: 1000 · (30/60)^1 = 500, and 1000 · (30/60)^2 = 250.
    assert en_442.output(1000.0, 60.0, 1.0, 30.0) == pytest.approx(500.0)
    assert en_442.output(1000.0, 60.0, 2.0, 30.0) == pytest.approx(250.0)
    assert en_442.standard_output_needed(250.0, 30.0, 2.0, standard_excess_k=60.0) == pytest.approx(1000.0)


def test_no_excess_gives_no_output() -> None:
    """Water as warm as the room."""
    assert en_442.output(1200.0, 50.0, 1.3, 0.0) == 0.0


@pytest.mark.parametrize(
    ("flow_c", "return_c", "room_c", "excess_k"),
    [
        # EN 442-2, the standard test point (from memory): 75/65 °C and 20 °C are 50 K.
        (75.0, 65.0, 20.0, 50.0),
        # By hand: ends 35 and 25 K, ratio 0.714, not under 0.7: (55 + 45)/2 − 20 = 30.
        (55.0, 45.0, 20.0, 30.0),
        # By hand: ends 20 and 14 K, ratio exactly 0.7, still arithmetic: 17.
        (40.0, 34.0, 20.0, 17.0),
    ],
)
def test_arithmetic_mean_where_the_ends_are_near(
    flow_c: float, return_c: float, room_c: float, excess_k: float
) -> None:
    """A ratio of 0.7 or more."""
    excess = en_442.excess_temperature(flow_c, return_c, room_c)
    assert excess.mean == "arithmetic"
    assert excess.excess_k == pytest.approx(excess_k)


@pytest.mark.parametrize(
    ("flow_c", "return_c", "room_c", "excess_k"),
    [
        # By hand: 25/ln(35/10) = 25/1.25276 = 19.956.
        (55.0, 30.0, 20.0, 19.956),
        # By hand: 20/ln(30/10) = 20/1.09861 = 18.205.
        (50.0, 30.0, 20.0, 18.205),
    ],
)
def test_logarithmic_mean_where_the_water_cools_far(
    flow_c: float, return_c: float, room_c: float, excess_k: float
) -> None:
    """A ratio under 0.7."""
    excess = en_442.excess_temperature(flow_c, return_c, room_c)
    assert excess.mean == "logarithmic"
    assert excess.excess_k == pytest.approx(excess_k, abs=0.0005)
    assert excess.excess_k == en_442.logarithmic_excess(flow_c, return_c, room_c)


def test_arithmetic_mean_would_overstate_a_long_drop_by_17_percent() -> None:
    """The reason for the second mean, at 55/30/20."""
    right = en_442.output(1000.0, 50.0, 1.3, en_442.excess_temperature(55.0, 30.0, 20.0).excess_k)
    wrong = en_442.output(1000.0, 50.0, 1.3, (55.0 + 30.0) / 2.0 - 20.0)
    # By hand: (22.5/19.956)^1.3 = 1.169, a whole 17 %.
    assert wrong / right - 1.0 == pytest.approx(0.17, abs=0.005)


def test_jump_at_the_switch_is_one_percent() -> None:
    """The two means at a ratio of 0.7."""
    above = en_442.excess_temperature(40.0, 34.001, 20.0)
    below = en_442.excess_temperature(40.0, 33.999, 20.0)
    # By hand: 0.85/(0.3/ln(1/0.7)) = 0.85/0.84110 = 1.0106.
    assert above.excess_k / below.excess_k == pytest.approx(1.0106, abs=0.0005)


@pytest.mark.parametrize("loss_per_area", [0.01, 0.3, 1.0, 3.0])
def test_logarithmic_mean_is_the_mean_along_a_cooling_radiator(loss_per_area: float) -> None:
    """Water that loses heat in proportion to its excess, integrated numerically along the radiator."""
    flow_c, room_c = 60.0, 20.0
    # Unknowns along the share of area passed: the water's temperature, and the sum of its excess so far.
    along = solve_ivp(
        lambda _, state: [-loss_per_area * (state[0] - room_c), state[0] - room_c],
        (0.0, 1.0),
        [flow_c, 0.0],
        rtol=1e-10,
        atol=1e-10,
    )
    return_c, mean_excess_k = along.y[0][-1], along.y[1][-1]
    assert en_442.logarithmic_excess(flow_c, float(return_c), room_c) == pytest.approx(
        mean_excess_k, rel=1e-7
    )


def test_equal_ends_give_their_difference() -> None:
    """No cooling at all."""
    assert en_442.logarithmic_excess(45.0, 45.0, 20.0) == 25.0
    assert en_442.excess_temperature(45.0, 45.0, 20.0) == (25.0, "arithmetic")


@given(room_c=rooms, excess_k=excesses, difference_k=st.one_of(differences, st.floats(0.0, 1e-6)))
def test_logarithmic_mean_keeps_its_digits(room_c: float, excess_k: float, difference_k: float) -> None:
    """Against the definition in decimal arithmetic of 50 digits, however near the ends are."""
    return_c = room_c + excess_k
    flow_c = return_c + difference_k
    greater, smaller = Decimal(flow_c - room_c), Decimal(return_c - room_c)
    with localcontext() as context:
        context.prec = 50
        exact = smaller if greater == smaller else (greater - smaller) / (greater / smaller).ln()
    assert en_442.logarithmic_excess(flow_c, return_c, room_c) == pytest.approx(float(exact), rel=1e-12)


@given(room_c=rooms, excess_k=excesses, difference_k=differences, rise_k=st.floats(0.01, 20.0))
def test_output_rises_with_the_flow_temperature(
    room_c: float, excess_k: float, difference_k: float, rise_k: float
) -> None:
    """At the same flow–return difference; the switch of means jumps upwards."""

    def output_w(return_c: float) -> float:
        excess = en_442.excess_temperature(return_c + difference_k, return_c, room_c)
        return en_442.output(1000.0, 50.0, 1.3, excess.excess_k)

    return_c = room_c + excess_k
    assert output_w(return_c + rise_k) > output_w(return_c)


@given(room_c=rooms, excess_k=excesses, difference_k=differences)
def test_excess_lies_between_its_ends(room_c: float, excess_k: float, difference_k: float) -> None:
    """And the logarithmic mean never passes the arithmetic one."""
    return_c = room_c + excess_k
    flow_c = return_c + difference_k
    rounding = 1e-9
    logarithmic = en_442.logarithmic_excess(flow_c, return_c, room_c)
    assert return_c - room_c - rounding <= logarithmic <= (flow_c + return_c) / 2.0 - room_c + rounding


@given(output_w=st.floats(1.0, 5000.0), excess_k=excesses, exponent=st.floats(1.0, 1.6))
def test_standard_output_needed_is_the_inverse(output_w: float, excess_k: float, exponent: float) -> None:
    """The radiator asked for gives what was required."""
    needed_w = en_442.standard_output_needed(output_w, excess_k, exponent)
    assert en_442.output(needed_w, 50.0, exponent, excess_k) == pytest.approx(output_w, rel=1e-9)


@pytest.mark.parametrize(
    ("flow_c", "return_c", "room_c"), [(40.0, 41.0, 20.0), (40.0, 20.0, 20.0), (18.0, 17.0, 20.0)]
)
def test_impossible_water_is_refused(flow_c: float, return_c: float, room_c: float) -> None:
    """A return over the flow, or not over the room."""
    for mean in (en_442.excess_temperature, en_442.logarithmic_excess):
        with pytest.raises(NotPhysical) as refusal:
            mean(flow_c, return_c, room_c)
        assert refusal.value.field == "return_c"


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ((-1.0, 50.0, 1.3, 30.0), "standard_output_w"),
        ((1000.0, 0.0, 1.3, 30.0), "standard_excess_k"),
        ((1000.0, 50.0, 0.0, 30.0), "exponent"),
        ((1000.0, 50.0, 1.3, -1.0), "excess_k"),
        ((1000.0, 50.0, 1.3, float("nan")), "excess_k"),
    ],
)
def test_impossible_radiator_is_refused(arguments: tuple[float, float, float, float], field: str) -> None:
    """Each bound of `output`."""
    with pytest.raises(NotPhysical) as refusal:
        en_442.output(*arguments)
    assert refusal.value.field == field


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ((-1.0, 30.0, 1.3, 50.0), "required_w"),
        ((1000.0, 0.0, 1.3, 50.0), "excess_k"),
        ((1000.0, 30.0, -1.3, 50.0), "exponent"),
        ((1000.0, 30.0, 1.3, 0.0), "standard_excess_k"),
    ],
)
def test_impossible_need_is_refused(arguments: tuple[float, float, float, float], field: str) -> None:
    """Each bound of `standard_output_needed`."""
    with pytest.raises(NotPhysical) as refusal:
        en_442.standard_output_needed(*arguments)
    assert refusal.value.field == field
