"""EN 14825: a heat pump against the load line of a building."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmstead.standards.en_14825 import (
    Crossing,
    LoadLine,
    bivalent_temperature,
    cycling_limit,
    hot_water_hours,
    reduction_needed,
    required_capacity,
)
from warmstead.standards.errors import NotPhysical
from warmstead.standards.performance_table import Curve, value_on

LINE = LoadLine(design_heat_load_w=5400.0, external_temperature_c=-7.0, base_temperature_c=20.0)
"""0.2 kW/K, from 20 °C downwards."""


# --- The load line ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("external_c", "load_w"),
    [
        # By definition at the ends; by hand 0.2 kW/K times 20 − T between and beyond them.
        (-7.0, 5400.0),
        (20.0, 0.0),
        (2.0, 3600.0),
        (-12.0, 6400.0),
        (25.0, -1000.0),
    ],
)
def test_load_line_by_hand(external_c: float, load_w: float) -> None:
    assert LINE.at(external_c) == pytest.approx(load_w)


def test_part_load_ratios_of_the_average_climate() -> None:
    # EN 14825, average climate, part-load conditions A to D at −7, 2, 7 and 12 °C (from memory, and recorded
    # so in the project's list of evidence): 88, 54, 35 and 15 % of the load at −10 °C; none at 16 °C.
    line = LoadLine(100.0, -10.0, 16.0)
    for external_c, percent in ((-7.0, 88.0), (2.0, 54.0), (7.0, 35.0), (12.0, 15.0)):
        assert line.at(external_c) == pytest.approx(percent, abs=0.5)


def test_bin_example_of_the_danish_note() -> None:
    # Danish Energy Agency, note on EN 14825 (as recorded in the project's list of evidence, there marked as
    # read): 10 kW are 6.2 kW at 0 °C.
    assert LoadLine(10_000.0, -10.0, 16.0).at(0.0) == pytest.approx(6200.0, abs=50.0)


# --- Crossings -------------------------------------------------------------------------------------


def straight(at_minus_2_w: float, per_k_w: float, *temperatures: float) -> Curve:
    """A capacity on a straight line, with corners at some temperatures."""
    return tuple((t, at_minus_2_w + per_k_w * (t + 2.0)) for t in temperatures)


@pytest.mark.parametrize(
    "corners", [(-15.0, 12.0), (-15.0, -7.0, 2.0, 7.0, 12.0), (-4.0, 12.0), (-15.0, -4.0, 12.0)]
)
def test_balance_of_a_straight_capacity(corners: tuple[float, ...]) -> None:
    # Derived in the project's list of evidence: 0.2 kW/K from 20 °C, capacity 5 + 0.1 (T + 2) kW: −4.0 °C,
    # 4.8 kW. By hand: 5.2 + 0.1 T = 4 − 0.2 T.
    capacity = straight(5000.0, 100.0, *corners)
    crossing = bivalent_temperature(capacity, LINE)
    assert crossing.side == "crosses"
    assert crossing.temperature_c == pytest.approx(-4.0)
    assert crossing.temperature_c is not None
    assert value_on(capacity, crossing.temperature_c) == pytest.approx(4800.0)


def test_crossing_between_two_corners_by_hand() -> None:
    # By hand: excess −1400 W at −7 °C (4000 against 5400), +1900 W at 2 °C (5500 against 3600):
    # −7 + 9 · 1400/3300 = −3.1818.
    crossing = bivalent_temperature(((-7.0, 4000.0), (2.0, 5500.0), (7.0, 7000.0)), LINE)
    assert crossing.temperature_c == pytest.approx(-3.18182, abs=5e-6)


def test_the_warmest_crossing_counts() -> None:
    # By hand: excess +200 at −10 (6200 against 6000), −600 at −5, +400 at 0, +2000 at 10. The warmest one is
    # between −5 and 0: −5 + 5 · 600/1000 = −2.
    dip = ((-10.0, 6200.0), (-5.0, 4400.0), (0.0, 4400.0), (10.0, 4000.0))
    assert bivalent_temperature(dip, LINE).temperature_c == pytest.approx(-2.0)


def test_capacity_always_above_the_load_has_no_crossing() -> None:
    assert bivalent_temperature(straight(20_000.0, 100.0, -15.0, 2.0, 12.0), LINE) == Crossing(None, "above")


def test_capacity_always_below_the_load_has_no_crossing() -> None:
    assert bivalent_temperature(straight(1000.0, 10.0, -15.0, 2.0, 12.0), LINE) == Crossing(None, "below")


def test_crossing_at_an_end_of_the_table() -> None:
    # By hand: 1600 W at 12 °C, 5400 W at −7 °C: the load itself.
    assert bivalent_temperature(((2.0, 3000.0), (12.0, 1600.0)), LINE) == Crossing(12.0, "crosses")
    assert bivalent_temperature(((-7.0, 5400.0), (12.0, 9000.0)), LINE) == Crossing(-7.0, "crosses")
    # Half a watt more at the coldest row, and the load is always carried.
    assert bivalent_temperature(((-7.0, 5400.5), (12.0, 9000.0)), LINE) == Crossing(None, "above")
    # And at a corner in between: 3600 W at 2 °C.
    assert bivalent_temperature(
        ((-7.0, 3000.0), (2.0, 3600.0), (12.0, 9000.0)), LINE
    ).temperature_c == pytest.approx(2.0)


def test_table_of_one_row() -> None:
    # By hand: the load at −5 °C is 5000 W.
    assert bivalent_temperature(((-5.0, 5000.0),), LINE) == Crossing(-5.0, "crosses")
    assert bivalent_temperature(((-5.0, 5001.0),), LINE) == Crossing(None, "above")
    assert bivalent_temperature(((-5.0, 4999.0),), LINE) == Crossing(None, "below")


def test_cycling_begins_where_the_lowest_capacity_meets_the_load() -> None:
    # By hand: 2 kW throughout; the load is 2 kW at 10 °C.
    assert cycling_limit(((-7.0, 2000.0), (15.0, 2000.0)), LINE).temperature_c == pytest.approx(10.0)
    # A unit that goes down to nothing never cycles within its table, one that stays above the load always.
    assert cycling_limit(((-7.0, 500.0), (15.0, 900.0)), LINE) == Crossing(None, "below")
    assert cycling_limit(((-7.0, 6000.0), (15.0, 8000.0)), LINE) == Crossing(None, "above")


corner_values = st.lists(st.floats(500.0, 12_000.0), min_size=1, max_size=6)


@given(corner_values)
def test_a_crossing_is_on_both_lines_and_none_is_warmer(values: list[float]) -> None:
    curve = tuple((-15.0 + 5.0 * index, value) for index, value in enumerate(values))
    crossing = bivalent_temperature(curve, LINE)
    excess = {t: value - LINE.at(t) for t, value in curve}
    if crossing.temperature_c is None:
        assert (
            all(k > 0.0 for k in excess.values()) if crossing.side == "above" else excess[curve[-1][0]] < 0.0
        )
        return
    at_w = value_on(curve, min(max(crossing.temperature_c, curve[0][0]), curve[-1][0]))
    assert at_w == pytest.approx(LINE.at(crossing.temperature_c), abs=1e-6)
    assert all(k >= -1e-6 for t, k in excess.items() if t > crossing.temperature_c)


@given(corner_values, st.floats(1.0, 3000.0))
def test_more_capacity_never_raises_the_bivalent_temperature(values: list[float], more_w: float) -> None:
    curve = tuple((-15.0 + 5.0 * index, value) for index, value in enumerate(values))
    larger = tuple((t, value + more_w) for t, value in curve)
    before, after = bivalent_temperature(curve, LINE), bivalent_temperature(larger, LINE)
    if before.temperature_c is not None and after.temperature_c is not None:
        assert after.temperature_c <= before.temperature_c + 1e-9
    assert not (before.side == "above" and after.side != "above")


# --- Hot water -------------------------------------------------------------------------------------


def test_hours_of_hot_water_by_hand() -> None:
    # By hand: 10 kWh at 5 kW are 2 h.
    assert hot_water_hours(10.0, 5000.0) == pytest.approx(2.0)
    assert hot_water_hours(0.0, 5000.0) == 0.0


def test_twenty_litres_to_boiling() -> None:
    # A course on heat (as recorded in the project's list of evidence, there marked as read): 20 l from 20 to
    # 100 °C take 1.867 kWh. By hand at 2 kW: 0.9335 h.
    assert hot_water_hours(1.867, 2000.0) == pytest.approx(0.9335)


def test_a_day_is_too_short() -> None:
    # By hand: 5 kW give 120 kWh a day.
    assert hot_water_hours(119.0, 5000.0) == pytest.approx(23.8)
    for energy_kwh in (120.0, 121.0):
        with pytest.raises(NotPhysical) as refusal:
            hot_water_hours(energy_kwh, 5000.0)
        assert refusal.value.field == "energy_kwh_per_day"
        assert refusal.value.limit == "less than 120 kWh a day"
        assert refusal.value.value == energy_kwh


def test_required_capacity_by_hand() -> None:
    # By hand: 6000 · 24/20 = 7200 W.
    assert required_capacity(6000.0, 4.0) == pytest.approx(7200.0)
    assert required_capacity(6000.0, 0.0) == 6000.0


def test_reduction_needed_by_hand() -> None:
    # By hand: 8000 − 6000/1.0 · 20/24 = 3000 W; with a coverage of 0.8: 8000 − 7500 · 20/24 = 1750 W.
    assert reduction_needed(8000.0, 6000.0, 1.0, 4.0) == pytest.approx(3000.0)
    assert reduction_needed(8000.0, 6000.0, 0.8, 4.0) == pytest.approx(1750.0)
    # By hand, without hot water: 8000 − 6000/1.2 = 3000 W. Enough already: nothing.
    assert reduction_needed(8000.0, 6000.0, 1.2, 0.0) == pytest.approx(3000.0)
    assert reduction_needed(5000.0, 6000.0, 1.2, 0.0) == pytest.approx(0.0)
    assert reduction_needed(4000.0, 6000.0, 1.0, 0.0) == 0.0


@given(st.floats(100.0, 20_000.0), st.floats(100.0, 20_000.0), st.floats(0.5, 1.5), st.floats(0.0, 23.0))
def test_the_reduction_makes_the_unit_just_cover(
    load_w: float, capacity_w: float, coverage: float, hours: float
) -> None:
    left_w = load_w - reduction_needed(load_w, capacity_w, coverage, hours)
    assert left_w <= load_w
    # What is left needs at most this capacity, and just this where anything had to go.
    needed_w = required_capacity(left_w, hours) * coverage
    assert needed_w <= capacity_w * (1.0 + 1e-9)
    if left_w < load_w * (1.0 - 1e-9):
        assert needed_w == pytest.approx(capacity_w)
