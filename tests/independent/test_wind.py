"""Why a building needs less air than its rooms together: the flow through leaks, with the wind from each side in turn.

`en_12831`: of a room 2 V n50 e ε or the hygienic minimum, whichever is larger; of the building half the sum of the rooms'
infiltration, or the hygienic minimum; with a ventilation system the mechanical air besides.
"""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from warmstead.standards import en_12831

EXPONENT = 0.65
"""Of the flow through leaks by the pressure across them (common practice)."""


def inflow_m3_h(leaks: dict[str, float], pressures_pa: dict[str, float]) -> dict[str, float]:
    """Return the air that enters through each side's leaks, for the inside pressure at which as much leaves.

    Args:
        leaks: by side, m³/h at 1 Pa.
        pressures_pa: of the wind on each side.
    """

    def flow(side: str, inside_pa: float) -> float:
        across = pressures_pa[side] - inside_pa
        return math.copysign(leaks[side] * abs(across) ** EXPONENT, across)

    low, high = min(pressures_pa.values()), max(pressures_pa.values())
    inside_pa = brentq(lambda pressure: sum(flow(side, pressure) for side in leaks), low, high, xtol=1e-13)
    return {side: max(0.0, flow(side, inside_pa)) for side in leaks}


@pytest.mark.parametrize("wind_pa", [2.0, 4.0, 10.0])
def test_only_the_windward_rooms_take_in_air(wind_pa: float) -> None:
    # Equation: Σ over the building = 0.5 · Σ V_inf. Two rooms alike on opposite sides, doors open between them.
    leaks = {"north": 20.0, "south": 20.0}
    by_wind = {
        windward: inflow_m3_h(leaks, {side: wind_pa if side == windward else 0.0 for side in leaks})
        for windward in leaks
    }
    # Each room's own worst case, and the most that enters the whole building at once.
    of_rooms = [by_wind[side][side] for side in leaks]
    of_building = max(sum(inflow.values()) for inflow in by_wind.values())
    assert of_rooms[0] == pytest.approx(of_rooms[1])
    flows = [(en_12831.room_air(worst, 0.0, 0.0, 0.0), 24.0) for worst in of_rooms]
    ours_w = en_12831.building_ventilation(flows, 0.34)
    assert ours_w == pytest.approx(0.34 * of_building * 24.0)
    # And as a room's design flow is twice what its own leaks would pass of the building's at their mean.
    assert sum(of_rooms) == pytest.approx(2.0 * of_building)


@pytest.mark.parametrize("wind_pa", [2.0, 10.0])
def test_a_house_of_four_sides_takes_in_less_than_its_rooms(wind_pa: float) -> None:
    # Equation: the same, which is an upper bound where leaks differ and two sides face neither to nor from the wind.
    leaks = {"north": 12.0, "east": 20.0, "south": 25.0, "west": 16.0}
    by_wind = {
        windward: inflow_m3_h(leaks, {side: wind_pa if side == windward else 0.0 for side in leaks})
        for windward in leaks
    }
    of_rooms = [by_wind[side][side] for side in leaks]
    of_building = max(sum(inflow.values()) for inflow in by_wind.values())
    flows = [(en_12831.room_air(worst, 0.0, 0.0, 0.0), 21.0) for worst in of_rooms]
    ours_w = en_12831.building_ventilation(flows, 0.34)
    assert 0.34 * of_building * 21.0 <= ours_w <= 0.34 * sum(of_rooms) * 21.0


def test_twice_for_the_side_that_takes_all() -> None:
    # Equation: V_inf = 2 · V · n50 · e · ε. Of a house whose every side leaks alike, the rooms on the windward
    # side (half the volume) take in all its air: twice the building's mean for each m³ of theirs. The shielding
    # coefficient is then the building's own mean infiltration over n50.
    volume, leaks = 250.0, {"north": 20.0, "south": 20.0}
    entering = sum(inflow_m3_h(leaks, {"north": 4.0, "south": 0.0}).values())
    # At 50 Pa all leaks lead inwards.
    air_changes_at_50pa = sum(leaks.values()) * 50.0**EXPONENT / volume
    mean_share = entering / volume / air_changes_at_50pa
    room_volume = volume / 2.0
    assert en_12831.infiltration(room_volume, air_changes_at_50pa, mean_share, 1.0) == pytest.approx(entering)
    # The coefficients of the standard for ordinary shelter (from memory: 0.02 to 0.05) are of this size.
    assert 0.02 <= mean_share <= 0.08


def test_permeability_is_the_same_air_by_the_area() -> None:
    # Equation: n50 = q50 · A/V. A blower holds 50 Pa; its flow spread over the envelope, and over the volume.
    area, volume = 230.0, 250.0
    leaks = {f"side {index}": 6.0 for index in range(5)}
    flow = sum(conductance * 50.0**EXPONENT for conductance in leaks.values())
    hours_for_one_volume = brentq(lambda hours: flow * hours - volume, 0.0, 1e3, xtol=1e-13)
    ours = en_12831.air_changes_from_permeability(flow / area, area, volume)
    assert ours == pytest.approx(1.0 / hours_for_one_volume)


def test_mechanical_air_enters_whatever_the_wind() -> None:
    # Equation: with a system 0.5 · Σ V_inf + Σ V_mech. Two rooms as above, of which one has 30 m³/h blown in and
    # the other as much drawn out: the balance of pressures does not change, and the supply comes on top.
    inflow = inflow_m3_h({"north": 20.0, "south": 20.0}, {"north": 4.0, "south": 0.0})
    worst = inflow["north"]
    rooms = [(30.0, worst), (0.0, worst)]
    flows = [(en_12831.room_air(infiltration, 0.0, supply, 0.0), 23.0) for supply, infiltration in rooms]
    assert [air.thermal_m3_h for air, _ in flows] == pytest.approx([worst + 30.0, worst])
    ours_w = en_12831.building_ventilation(flows, 0.34)
    assert ours_w == pytest.approx(0.34 * 23.0 * (sum(inflow.values()) + 30.0))
