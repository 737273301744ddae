"""The constants of air in the equations, against two libraries of fluid and moist-air properties.

`en_12831`: H = c · n · V with c of 0.33 or 0.34 Wh/(m³K). `iso_13370`: 1450 ε v f_w/B′ of a ventilated void. `iso_6946`:
0.025 W/(mK) of still air, 1.25 and 1.95 W/(m²K) of air that moves, and 4 σ T³ between two surfaces.
"""

from __future__ import annotations

import psychrolib
import pytest
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy import constants

from warmstead.standards import en_12831, iso_6946, iso_13370

ATMOSPHERE_PA = 101_325.0
SECONDS_PER_HOUR = 3600.0

psychrolib.SetUnitSystem(psychrolib.SI)


def heat_of_an_air_change_w(room_c: float, external_c: float, m3_h: float, relative_humidity: float) -> float:
    """What it takes to warm outside air to a room's temperature, by the enthalpies of moist air (ASHRAE formulas)."""
    humidity = psychrolib.GetHumRatioFromRelHum(external_c, relative_humidity, ATMOSPHERE_PA)
    per_kg = psychrolib.GetMoistAirEnthalpy(room_c, humidity) - psychrolib.GetMoistAirEnthalpy(
        external_c, humidity
    )
    # A room's volume is of air at the room's temperature.
    kg_per_m3 = 1.0 / psychrolib.GetMoistAirVolume(room_c, humidity, ATMOSPHERE_PA)
    return float(m3_h * kg_per_m3 * per_kg / SECONDS_PER_HOUR)


@pytest.mark.parametrize(("room_c", "external_c"), [(21.0, -3.0), (18.0, -5.4), (24.0, 0.0), (20.0, 10.0)])
@pytest.mark.parametrize("relative_humidity", [0.5, 0.95])
@pytest.mark.parametrize("capacity", [0.33, 0.333, 0.34])
def test_air_changes_take_what_moist_air_takes(
    room_c: float, external_c: float, relative_humidity: float, capacity: float
) -> None:
    # Equation: H = c · n · V. The constants in use lie within 3 % of the enthalpies of moist air at sea level,
    # which for the air of a room and these temperatures come to 0.332 to 0.339 Wh/(m³K).
    coefficient = en_12831.air_change_coefficient(
        air_heat_capacity_wh_m3k=capacity, air_changes=1.5, volume_m3=40.0
    )
    enthalpy_w = heat_of_an_air_change_w(room_c, external_c, 60.0, relative_humidity)
    assert coefficient * (room_c - external_c) == pytest.approx(enthalpy_w, rel=0.03)


def test_litres_a_second_carry_the_same_heat_as_air_changes() -> None:
    # Equation: 3.6 · c · supply, with a tenth of the supply's heat recovered.
    coefficient = en_12831.air_change_coefficient(
        air_heat_capacity_wh_m3k=0.333,
        air_changes=0.0,
        volume_m3=40.0,
        supply_l_s=20.0,
        heat_recovery_efficiency=0.9,
        unbalanced_extract_l_s=5.0,
    )
    # 20 l/s of which a tenth is missing, and 5 l/s straight from outside: 7 l/s are 25.2 m³/h.
    assert coefficient * 24.0 == pytest.approx(heat_of_an_air_change_w(21.0, -3.0, 25.2, 0.8), rel=0.015)


@pytest.mark.parametrize("relative_humidity", [0.0, 0.5, 1.0])
def test_two_libraries_agree_on_moist_air(relative_humidity: float) -> None:
    # Volume of moist air for each kg of dry air: two formulations that know nothing of each other.
    ours = psychrolib.GetMoistAirVolume(
        20.0, psychrolib.GetHumRatioFromRelHum(20.0, relative_humidity, ATMOSPHERE_PA), ATMOSPHERE_PA
    )
    theirs = HAPropsSI("Vda", "T", 293.15, "P", ATMOSPHERE_PA, "R", relative_humidity)
    assert ours == pytest.approx(theirs, rel=0.001)


def test_wind_through_a_void_carries_what_air_carries() -> None:
    # Equation: 1450 ε v f_w/B′. Per metre of perimeter 0.59 ε v f_w m³/s pass the void (ISO 13370, annex on
    # ventilation, from memory), and 2/B′ metres of perimeter belong to a square metre.
    air = PropsSI("D", "T", 283.15, "P", ATMOSPHERE_PA, "Air") * PropsSI(
        "C", "T", 283.15, "P", ATMOSPHERE_PA, "Air"
    )
    assert 2.0 * 0.59 * air == pytest.approx(iso_13370.VENTILATION_W_S_M3K, rel=0.025)
    still, windy = (
        iso_13370.suspended_floor(
            area_m2=60.0,
            exposed_perimeter_m=32.0,
            wall_thickness_m=0.3,
            soil_conductivity_w_mk=1.5,
            floor_resistance_m2k_w=0.2,
            height_above_ground_m=0.3,
            ventilation_opening_m2_per_m=0.0015,
            wind_speed_m_s=wind,
            wind_shielding_factor=0.05,
            underfloor_wall_u_value_w_m2k=1.7,
        )
        for wind in (0.0, 4.0)
    )
    # The whole floor's air: 0.59 · 0.0015 · 4 · 0.05 · 32 m³/s, over 60 m².
    carried = 0.59 * 0.0015 * 4.0 * 0.05 * 32.0 * air / 60.0
    assert windy.sides_u_value_w_m2k - still.sides_u_value_w_m2k == pytest.approx(carried, rel=0.025)


def test_a_thin_air_layer_conducts_as_still_air() -> None:
    # Equation: h_a = 0.025/d. Dry air at 10 °C, to the digits of the constant.
    conductivity = PropsSI("L", "T", 283.15, "P", ATMOSPHERE_PA, "Air")
    assert iso_6946.emissive_air_layer(0.005, "horizontal", 0.9).convective_w_m2k == pytest.approx(
        conductivity / 0.005, abs=0.0005 / 0.005
    )


@pytest.mark.parametrize("mean_c", [-10.0, 0.0, 10.0, 20.0])
@pytest.mark.parametrize(("one", "other"), [(0.9, 0.9), (0.05, 0.9), (0.2, 0.5)])
def test_radiation_between_two_surfaces(mean_c: float, one: float, other: float) -> None:
    # Equation: h_r = 4 σ T³/(1/ε1 + 1/ε2 − 1), the tangent of the law of Stefan and Boltzmann, here between
    # surfaces 5 K apart, with today's constant of nature.
    warm, cold = (constants.zero_Celsius + mean_c + half for half in (2.5, -2.5))
    exchanged = constants.Stefan_Boltzmann * (warm**4 - cold**4) / (1.0 / one + 1.0 / other - 1.0)
    layer = iso_6946.emissive_air_layer(0.05, "upwards", one, other, mean_c)
    assert layer.radiative_w_m2k == pytest.approx(exchanged / 5.0, rel=0.0005)
    assert 1.0 / layer.resistance_m2k_w == pytest.approx(layer.convective_w_m2k + exchanged / 5.0, rel=0.0005)


def rayleigh(thickness_m: float, difference_k: float) -> float:
    """g β ΔT d³/(ν α) of dry air at 10 °C, from its properties."""
    state = ("T", 283.15, "P", ATMOSPHERE_PA, "Air")
    density, viscosity = PropsSI("D", *state), PropsSI("V", *state)
    diffusivity = PropsSI("L", *state) / (density * PropsSI("C", *state))
    expansion = PropsSI("ISOBARIC_EXPANSION_COEFFICIENT", *state)
    buoyancy = constants.g * expansion * difference_k * thickness_m**3
    return float(buoyancy / (viscosity / density * diffusivity))


@pytest.mark.parametrize("thickness_m", [0.03, 0.05, 0.1])
def test_moving_air_in_an_upright_layer(thickness_m: float) -> None:
    # Equation: h_a = 1.25 for horizontal heat flow, 5 K across. Correlation for tall upright cavities, Nu = 0.0605
    # Ra^(1/3) (ElSherbiny, Raithby and Hollands 1982, from memory): 3 % more.
    conductivity = PropsSI("L", "T", 283.15, "P", ATMOSPHERE_PA, "Air")
    convection = 0.0605 * rayleigh(thickness_m, 5.0) ** (1.0 / 3.0) * conductivity / thickness_m
    layer = iso_6946.emissive_air_layer(thickness_m, "horizontal", 0.9)
    assert layer.convective_w_m2k == pytest.approx(convection, rel=0.04)


@pytest.mark.parametrize("thickness_m", [0.03, 0.05, 0.1])
def test_moving_air_under_a_cold_lid(thickness_m: float) -> None:
    # Equation: h_a = 1.95 for heat flow upwards. Correlation for layers heated from below, Nu = 1 + 1.44 (1 −
    # 1708/Ra) + (Ra/5830)^(1/3) − 1 (Hollands et al. 1976, from memory): it falls from 2.25 at 30 mm to 1.53
    # at 100 mm, where the standard has one number for all.
    conductivity = PropsSI("L", "T", 283.15, "P", ATMOSPHERE_PA, "Air")
    ra = rayleigh(thickness_m, 5.0)
    convection = (1.44 * (1.0 - 1708.0 / ra) + (ra / 5830.0) ** (1.0 / 3.0)) * conductivity / thickness_m
    layer = iso_6946.emissive_air_layer(thickness_m, "upwards", 0.9)
    assert layer.convective_w_m2k == pytest.approx(convection, rel=0.28)
