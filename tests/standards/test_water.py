"""The water that carries the heat."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from warmstead.standards import water
from warmstead.standards.errors import NotPhysical

ATMOSPHERE_PA = 101_325.0


def property_of_water(symbol: str, temperature_c: float) -> float:
    """From an independent library of fluid properties (IAPWS-95)."""
    return float(PropsSI(symbol, "T", 273.15 + temperature_c, "P", ATMOSPHERE_PA, "Water"))


def test_density_is_that_of_water_at_40_degrees() -> None:
    """To the digits of the constant."""
    # Independent library, IAPWS-95 at 40 °C and 101 325 Pa.
    assert pytest.approx(property_of_water("D", 40.0), abs=0.05) == water.DENSITY_KG_M3


def test_specific_heat_is_that_of_water_at_40_degrees() -> None:
    """To the digits of the constant."""
    # Independent library, IAPWS-95 at 40 °C and 101 325 Pa.
    assert pytest.approx(property_of_water("C", 40.0), abs=0.5) == water.SPECIFIC_HEAT_J_KGK


@pytest.mark.parametrize("temperature_c", [20.0, 30.0, 50.0, 60.0])
def test_one_pair_of_constants_serves_low_temperature_circuits(temperature_c: float) -> None:
    """Heat per litre and kelvin within 1 % from 20 to 60 °C, as the module says."""
    per_m3 = property_of_water("D", temperature_c) * property_of_water("C", temperature_c)
    assert pytest.approx(per_m3, rel=0.01) == water.DENSITY_KG_M3 * water.SPECIFIC_HEAT_J_KGK


def test_flow_of_8_kilowatts_at_5_kelvin() -> None:
    """A whole small house."""
    # By hand: 8000/(4179 · 5) = 0.383 kg/s; /0.9922 kg/l = 0.386 l/s.
    assert water.flow_l_s(8000.0, 5.0) == pytest.approx(0.386, abs=0.0005)
    assert water.flow_l_s(8000.0, 5.0) * water.DENSITY_KG_M3 / 1000.0 == pytest.approx(0.383, abs=0.0005)


def test_no_heat_needs_no_flow() -> None:
    """Nothing to carry."""
    assert water.flow_l_s(0.0, 5.0) == 0.0


@given(heat_w=st.floats(1.0, 50_000.0), difference_k=st.floats(0.5, 40.0))
def test_half_the_difference_needs_twice_the_flow(heat_w: float, difference_k: float) -> None:
    """The balance is a plain product."""
    assert water.flow_l_s(heat_w, difference_k / 2.0) == pytest.approx(
        2.0 * water.flow_l_s(heat_w, difference_k)
    )


@pytest.mark.parametrize("difference_k", [0.0, -5.0, float("nan")])
def test_water_that_does_not_cool_is_refused(difference_k: float) -> None:
    """No flow would be enough."""
    with pytest.raises(NotPhysical) as refusal:
        water.flow_l_s(1000.0, difference_k)
    assert refusal.value.field == "difference_k"


def test_negative_heat_is_refused() -> None:
    """An emitter does not cool its room."""
    with pytest.raises(NotPhysical) as refusal:
        water.flow_l_s(-1.0, 5.0)
    assert refusal.value.field == "heat_w"
