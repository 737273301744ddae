"""EN 12831: the design heat load of rooms and buildings.

No worked room of the standard itself could be seen. Expected values are therefore figures printed in public guidance, sums
by hand from the standard's rules (from memory), and what must hold for any house.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmstead.standards.en_12831 import (
    M3_H_PER_L_S,
    Coupling,
    RoomAir,
    air_change_coefficient,
    air_changes_from_permeability,
    building_ventilation,
    ground_difference,
    infiltration,
    reduced_difference,
    room_air,
    unheated_temperature,
)
from warmstead.standards.errors import NotPhysical

flows = st.one_of(st.just(0.0), st.floats(0.01, 300.0))
differences = st.floats(0.5, 45.0)
temperatures = st.floats(-25.0, 30.0)
couplings = st.tuples(st.floats(0.01, 500.0), temperatures).map(lambda values: Coupling(*values))


# --- Boundaries ------------------------------------------------------------------------------------


def test_floor_on_ground_of_the_project_s_example() -> None:
    # By hand from EN 12831:2003 (rule from memory): area 50 m², equivalent U 0.25 W/(m²K), fg1 1.45, G_W 1,
    # inside 20 °C, mean of the year 10 °C, outside −3 °C: fg2 = 10/23; 1.45 · 10/23 · 50 · 0.25 = 7.88 W/K.
    assert 50.0 * 0.25 * ground_difference(20.0, 10.0, 1.45, 1.0) / 23.0 == pytest.approx(7.88, abs=0.005)


def test_ground_difference_by_hand() -> None:
    # By hand: 1.45 · 1.15 · (21 − 9.5) = 1.6675 · 11.5.
    assert ground_difference(21.0, 9.5, 1.45, 1.15) == pytest.approx(19.17625)
    # A room as cold as the mean of the year loses nothing to it, a colder one gains.
    assert ground_difference(9.5, 9.5, 1.45, 1.0) == 0.0
    assert ground_difference(8.5, 9.5, 1.45, 1.0) == pytest.approx(-1.45)


@pytest.mark.parametrize(
    ("reduction_factor", "difference_k"),
    [
        # EN 12831:2003, table of b (from memory): one outside wall 0.4, with a door 0.6, roof space 0.9; by
        # hand times 21 − (−3) = 24 K. b 0 and 1 by definition: as warm as the room, as cold as outside.
        (0.0, 0.0),
        (0.4, 9.6),
        (0.6, 14.4),
        (0.9, 21.6),
        (1.0, 24.0),
    ],
)
def test_reduced_difference_by_factor(reduction_factor: float, difference_k: float) -> None:
    assert reduced_difference(21.0, -3.0, reduction_factor) == pytest.approx(difference_k)


def test_unheated_garage_by_hand() -> None:
    # By hand: 25 W/K to a room at 20 °C, 100 W/K to −5 °C: (500 − 500)/125 = 0 °C.
    assert unheated_temperature([Coupling(25.0, 20.0), Coupling(100.0, -5.0)]) == pytest.approx(
        0.0, abs=1e-12
    )
    # By hand: 30 · 21 + 20 · 18 + 50 · −3 = 840, over 100 W/K.
    sides = [Coupling(30.0, 21.0), Coupling(20.0, 18.0), Coupling(50.0, -3.0)]
    assert unheated_temperature(sides) == pytest.approx(8.4)


def test_factor_and_balance_say_the_same() -> None:
    # EN 12831:2003, 7.1.2 (from memory): b = (θi − θu)/(θi − θe), with θu of the balance.
    room_c, external_c = 20.0, -5.0
    unheated_c = unheated_temperature([Coupling(40.0, room_c), Coupling(60.0, external_c)])
    b = (room_c - unheated_c) / (room_c - external_c)
    # By hand: b = 60/(40 + 60), and b · 25 K = 15 K.
    assert b == pytest.approx(0.6)
    assert (
        reduced_difference(room_c, external_c, b) == pytest.approx(room_c - unheated_c) == pytest.approx(15.0)
    )


@given(st.lists(couplings, min_size=1, max_size=6))
def test_unheated_space_lies_between_its_neighbours(sides: list[Coupling]) -> None:
    around = [side.temperature_c for side in sides]
    assert min(around) - 1e-9 <= unheated_temperature(sides) <= max(around) + 1e-9


@given(st.lists(couplings, min_size=1, max_size=6))
def test_unheated_space_gains_what_it_loses(sides: list[Coupling]) -> None:
    own_c = unheated_temperature(iter(sides))
    balance_w = sum(coefficient * (temperature - own_c) for coefficient, temperature in sides)
    assert balance_w == pytest.approx(0.0, abs=1e-9 * sum(coefficient for coefficient, _ in sides) * 60.0)


@pytest.mark.parametrize("sides", [[], [Coupling(0.0, 20.0)], [Coupling(0.0, 20.0), Coupling(0.0, -3.0)]])
def test_space_tied_to_nothing_has_no_temperature(sides: list[Coupling]) -> None:
    with pytest.raises(NotPhysical) as refusal:
        unheated_temperature(sides)
    assert refusal.value.field == "coefficient_w_k"
    assert refusal.value.value == 0.0
    assert "EN 12831" in refusal.value.clause


def test_linear_bridges_may_take_off_a_little() -> None:
    # By hand: 10 W/K to 20 °C, 5 to −3 °C, −2 to −10 °C (bridges counted on external dimensions): (200 − 15 +
    # 20)/13 = 15.769.
    sides = [Coupling(10.0, 20.0), Coupling(5.0, -3.0), Coupling(-2.0, -10.0)]
    assert unheated_temperature(sides) == pytest.approx(15.76923, abs=5e-6)
    # And as much as leaves the space as warm as all around it.
    assert unheated_temperature([Coupling(10.0, 20.0), Coupling(-5.0, 20.0)]) == pytest.approx(20.0)


@pytest.mark.parametrize(
    "sides",
    [
        # By hand: (300 − 95)/10 = 20.5 °C, half a kelvin above the warmest side; 19.5 °C, half a kelvin below the
        # coldest; and sides of no conductance, which hold nothing.
        [Coupling(15.0, 20.0), Coupling(-5.0, 19.0)],
        [Coupling(15.0, 20.0), Coupling(-5.0, 21.0)],
        [Coupling(10.0, 20.0), Coupling(0.0, 60.0), Coupling(-9.0, 18.0)],
        [Coupling(10.0, 20.0), Coupling(0.0, -60.0), Coupling(-9.0, 22.0)],
    ],
)
def test_space_warmer_or_colder_than_all_around_it_cannot_be(sides: list[Coupling]) -> None:
    with pytest.raises(NotPhysical) as refusal:
        unheated_temperature(sides)
    assert refusal.value.field == "coefficient_w_k"
    assert refusal.value.limit == "20 to 20 °C"


# --- Air by air changes ----------------------------------------------------------------------------


def coefficient(
    air_changes: float = 1.5,
    volume: float = 30.0,
    capacity: float = 0.33,
    supply: float = 0.0,
    recovery: float = 0.0,
    drawn: float = 0.0,
) -> float:
    """H of a room, W/K."""
    return air_change_coefficient(
        air_heat_capacity_wh_m3k=capacity,
        air_changes=air_changes,
        volume_m3=volume,
        supply_l_s=supply,
        heat_recovery_efficiency=recovery,
        unbalanced_extract_l_s=drawn,
    )


def test_room_of_a_home_owner_s_guide() -> None:
    # Heat loss calculations, in a home-owner's guide to central heating (read): a room of 3.3 × 3 × 2.3 m
    # with two air changes, factor 0.33: 15.03 W/K.
    assert coefficient(2.0, 3.3 * 3.0 * 2.3) == pytest.approx(15.03, abs=0.005)


def test_supply_with_heat_recovery_by_hand() -> None:
    # By hand: 0.34 · (0.5 · 40 + 3.6 · (0.2 · 12 + 7)) = 0.34 · (20 + 33.84) = 18.3056.
    value = coefficient(0.5, 40.0, capacity=0.34, supply=12.0, recovery=0.8, drawn=7.0)
    assert value == pytest.approx(18.3056)
    # By hand: 1 l/s is 3.6 m³/h; 0.33 · 3.6 · 10 = 11.88.
    assert coefficient(0.0, 40.0, supply=10.0) == pytest.approx(11.88)
    assert coefficient(0.0, 40.0, drawn=10.0) == pytest.approx(11.88)
    assert coefficient(0.0, 40.0, supply=10.0, recovery=1.0) == 0.0


def test_room_without_mechanical_air_needs_no_word_of_it() -> None:
    bare = air_change_coefficient(air_heat_capacity_wh_m3k=0.33, air_changes=1.5, volume_m3=30.0)
    # By hand: 0.33 · 1.5 · 30.
    assert bare == pytest.approx(14.85)
    # And supply of which nobody says that heat is recovered comes as cold as outside: 0.33 · (45 + 3.6 · 10).
    supplied = air_change_coefficient(
        air_heat_capacity_wh_m3k=0.33, air_changes=1.5, volume_m3=30.0, supply_l_s=10.0
    )
    assert supplied == pytest.approx(26.73)


@given(flows, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_more_heat_recovery_never_loses_more(supply: float, recovery: float, other: float) -> None:
    less, more = sorted((recovery, other))
    assert coefficient(supply=supply, recovery=more) <= coefficient(supply=supply, recovery=less)


@given(st.floats(0.0, 5.0), st.floats(1.0, 200.0), flows)
def test_air_of_a_room_adds_up(air_changes: float, volume: float, supply: float) -> None:
    together = coefficient(air_changes, volume, supply=supply, drawn=3.0)
    apart = (
        coefficient(air_changes, volume)
        + coefficient(0.0, volume, supply=supply)
        + coefficient(0.0, volume, drawn=3.0)
    )
    assert together == pytest.approx(apart)


# --- Air by airtightness ---------------------------------------------------------------------------


def test_air_changes_from_permeability_by_hand() -> None:
    # By hand: 8 m³/(h·m²) · 230 m²/250 m³ = 7.36 per hour.
    assert air_changes_from_permeability(8.0, 230.0, 250.0) == pytest.approx(7.36)


@pytest.mark.parametrize(
    ("shielding_coefficient", "height_factor", "m3_h"),
    [
        # By hand, 50 m³ and 6 per hour: 2 · 50 · 6 = 600, times e (from memory: 0.01 to 0.05) and ε (from
        # memory: 1.0 to 10 m, 1.2 to 30 m).
        (0.01, 1.0, 6.0),
        (0.02, 1.0, 12.0),
        (0.05, 1.0, 30.0),
        (0.05, 1.2, 36.0),
        (0.0, 1.0, 0.0),
    ],
)
def test_infiltration_by_hand(shielding_coefficient: float, height_factor: float, m3_h: float) -> None:
    assert infiltration(50.0, 6.0, shielding_coefficient, height_factor) == pytest.approx(m3_h)


def test_room_takes_the_larger_of_infiltration_and_hygienic_minimum() -> None:
    assert room_air(12.0, 25.0, 0.0, 0.0).thermal_m3_h == 25.0
    assert room_air(36.0, 25.0, 0.0, 0.0).thermal_m3_h == 36.0
    # A ventilation system adds to infiltration, and the minimum stays beneath both as a volume.
    assert room_air(12.0, 25.0, 40.0, 0.0).thermal_m3_h == 52.0
    assert room_air(12.0, 25.0, 5.0, 0.0).thermal_m3_h == 25.0
    # What heat recovery makes good is no loss: 52 − 30, and 25 − 4.
    assert room_air(12.0, 25.0, 40.0, 30.0).thermal_m3_h == 22.0
    assert room_air(12.0, 25.0, 5.0, 4.0).thermal_m3_h == 21.0


def test_room_air_keeps_what_it_was_made_of() -> None:
    assert room_air(12.0, 25.0, 40.0, 30.0) == RoomAir(12.0, 25.0, 40.0, 30.0, 22.0)


# Three rooms of a house at −3 °C: flows of infiltration, hygiene and machine in m³/h, and the difference in K.
HOUSE = (((30.0, 20.0, 20.0), 24.0), ((6.0, 10.0, 10.0), 21.0), ((16.0, 12.0, 0.0), 25.0))


def house(share_of_mechanical: float, share_recovered: float = 0.0) -> list[tuple[RoomAir, float]]:
    """The rooms above with their air by the rule."""
    return [
        (room_air(i, h, share_of_mechanical * m, share_recovered * m), difference)
        for (i, h, m), difference in HOUSE
    ]


def test_building_counts_half_the_infiltration_by_hand() -> None:
    # By hand: half of 30 · 24 + 6 · 21 + 16 · 25 = 623 m³K/h, against hygiene 480 + 210 + 300 = 990, which
    # governs: 0.34 · 990 = 336.6 W.
    assert building_ventilation(house(0.0), 0.34) == pytest.approx(336.6)
    # By hand, three times as leaky: half of 3738 m³K/h is 1869, which governs: 0.34 · 1869 = 635.46 W.
    leaky = [(air._replace(infiltration_m3_h=3.0 * air.infiltration_m3_h), k) for air, k in house(0.0)]
    assert building_ventilation(leaky, 0.34) == pytest.approx(635.46)
    # By hand, with a system: 623 and 20 · 24 + 10 · 21 = 690: 0.34 · 1313 = 446.42 W; half of it recovered:
    # 0.34 · (1313 − 345) = 329.12 W; half the machine is 968 and under the minimum: 336.6 W.
    assert building_ventilation(house(1.0), 0.34) == pytest.approx(446.42)
    assert building_ventilation(house(1.0, 0.5), 0.34) == pytest.approx(329.12)
    assert building_ventilation(house(0.5), 0.34) == pytest.approx(336.6)


def test_building_without_rooms_loses_nothing() -> None:
    assert building_ventilation([], 0.34) == 0.0
    assert building_ventilation(iter([]), 0.34) == 0.0


rooms_of_a_house = st.lists(st.tuples(flows, flows, flows, differences), min_size=1, max_size=6)


@given(rooms_of_a_house)
def test_building_never_needs_more_air_than_its_rooms(rooms: list[tuple[float, float, float, float]]) -> None:
    flows_of_rooms = [(room_air(i, h, m, 0.0), k) for i, h, m, k in rooms]
    of_the_rooms_w = 0.34 * sum(air.thermal_m3_h * k for air, k in flows_of_rooms)
    of_the_house_w = building_ventilation(flows_of_rooms, 0.34)
    assert of_the_house_w <= of_the_rooms_w * (1.0 + 1e-12)
    # And never less than a third: the larger of two is at most their sum, and the sums are at most twice and
    # once what the house counts.
    assert of_the_rooms_w / 3.0 * (1.0 - 1e-12) <= of_the_house_w


@given(rooms_of_a_house)
def test_one_air_constant_for_another_is_a_plain_ratio(
    rooms: list[tuple[float, float, float, float]],
) -> None:
    flows_of_rooms = [(room_air(i, h, m, 0.5 * m), k) for i, h, m, k in rooms]
    ratio = building_ventilation(flows_of_rooms, 0.33) * 0.34
    assert ratio == pytest.approx(building_ventilation(flows_of_rooms, 0.34) * 0.33)


def test_litres_a_second_in_cubic_metres_an_hour() -> None:
    # By definition: 3600 s/h over 1000 l/m³.
    assert M3_H_PER_L_S == 3600.0 / 1000.0
