"""Emitters the other way round: what is needed, by root finding on what is given.

`en_442`: Φs = Φ · (ΔTs/ΔT)^n as the root of the characteristic equation, the logarithmic mean by the heat exchanger that has
it, and either mean along a radiator that cools by its own characteristic. `en_1264`: the surface excess of a heat flux, and the
limit as the crossing of two lines. `fan_convector`: by a spline. `water`: the flow by the water's own enthalpy.
"""

from __future__ import annotations

import math

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.interpolate import make_interp_spline
from scipy.optimize import brentq

from warmstead.standards import en_442, en_1264, fan_convector, water


@given(st.floats(50.0, 5000.0), st.floats(5.0, 60.0), st.floats(1.1, 1.5), st.floats(30.0, 70.0))
def test_standard_output_needed_by_root_finding(
    required_w: float, excess_k: float, exponent: float, standard_k: float
) -> None:
    # Equation: Φ = Φs · (ΔT/ΔTs)^n, solved for Φs.
    root = brentq(
        lambda w: w * math.exp(exponent * math.log(excess_k / standard_k)) - required_w, 0.0, 1e6, xtol=1e-9
    )
    assert en_442.standard_output_needed(required_w, excess_k, exponent, standard_k) == pytest.approx(
        root, rel=1e-6
    )


@given(st.floats(30.0, 70.0), st.floats(0.2, 25.0), st.floats(1.0, 9.0))
def test_logarithmic_mean_by_a_heat_exchanger(flow_c: float, transfer_units: float, room_c: float) -> None:
    # Equation: ΔT = (flow − return)/ln((flow − room)/(return − room)). An exchanger that gives to a room of one
    # temperature cools its water by 1 − exp(−NTU) of the excess; its heat over its conductance is the mean excess.
    units = transfer_units / 10.0
    return_c = room_c + (flow_c - room_c) * math.exp(-units)
    mean_k = (flow_c - return_c) / units
    assert en_442.logarithmic_excess(flow_c, return_c, room_c) == pytest.approx(mean_k, rel=1e-9)


@pytest.mark.parametrize("exponent", [1.2, 1.3, 1.4])
@pytest.mark.parametrize("ratio", [0.25, 0.4, 0.55, 0.69, 0.7, 0.8, 0.95])
def test_mean_that_is_taken_along_a_radiator(exponent: float, ratio: float) -> None:
    # Equation: logarithmic under a ratio of 0.7, arithmetic from there on. Water gives off heat as its excess to the
    # power of n; the excess that gives the radiator's mean output is up to 3.3 % under the logarithmic mean (at a
    # ratio of a quarter), up to 1.3 % under the arithmetic one (at the switch).
    flow_k = 40.0

    def cooled_k(loss: float) -> tuple[float, float]:
        along = solve_ivp(
            lambda _, state: [-loss * state[0] ** exponent, state[0] ** exponent],
            (0.0, 1.0),
            [flow_k, 0.0],
            rtol=1e-9,
            atol=1e-9,
        )
        return along.y[0][-1], along.y[1][-1]

    loss = brentq(lambda one: cooled_k(one)[0] - ratio * flow_k, 1e-6, 5.0, xtol=1e-12)
    true_k = cooled_k(loss)[1] ** (1.0 / exponent)
    ours = en_442.excess_temperature(20.0 + flow_k, 20.0 + ratio * flow_k, 20.0)
    assert ours.mean == ("logarithmic" if ratio < 0.7 else "arithmetic")
    assert ours.excess_k == pytest.approx(true_k, rel=0.013 if ratio >= 0.7 else 0.033)


@pytest.mark.parametrize(("flow_c", "return_c"), [(35.0, 30.0), (45.0, 38.0), (55.0, 45.0), (70.0, 50.0)])
def test_water_flow_by_its_enthalpy(flow_c: float, return_c: float) -> None:
    # Equation: Φ/(ρ · c · Δθ), with one ρ and one c for all; here with the enthalpies of water at both ends and the
    # density at the return, where a pump stands. Within 1.5 %.
    state = ("P", 101_325.0, "Water")
    drop = PropsSI("H", "T", 273.15 + flow_c, *state) - PropsSI("H", "T", 273.15 + return_c, *state)
    litres = 1000.0 * 8000.0 / drop / PropsSI("D", "T", 273.15 + return_c, *state)
    assert water.flow_l_s(8000.0, flow_c - return_c) == pytest.approx(litres, rel=0.015)


def test_water_flow_by_the_water_at_40_degrees() -> None:
    # Equation: Φ/(ρ · c · Δθ), with ρ and c of IAPWS-95 at 40 °C: to the digits that the constants are given with.
    state = ("T", 313.15, "P", 101_325.0, "Water")
    per_litre = PropsSI("D", *state) * PropsSI("C", *state) / 1000.0
    assert water.flow_l_s(8000.0, 5.0) == pytest.approx(
        8000.0 / per_litre / 5.0, rel=0.05 / 992.2 + 0.5 / 4179.0
    )


@given(st.floats(0.5, 200.0))
def test_surface_excess_by_root_finding(heat_flux_w_m2: float) -> None:
    # Equation: φ = 8.92 · Δθ^1.1, solved for Δθ.
    root = brentq(lambda k: 8.92 * math.exp(1.1 * math.log(k)) - heat_flux_w_m2, 1e-9, 100.0, xtol=1e-12)
    assert en_1264.surface_excess(heat_flux_w_m2) == pytest.approx(root)
    assert en_1264.basic_heat_flux(root) == pytest.approx(heat_flux_w_m2)


@pytest.mark.parametrize("spacing_m", [0.10, 0.20, 0.30, 0.375])
@pytest.mark.parametrize("surface_excess_k", [4.0, 9.0, 15.0])
def test_limit_by_the_crossing_of_two_lines(spacing_m: float, surface_excess_k: float) -> None:
    # Equations: φ = K_H · ΔθH and φ_G = f · B_G · (ΔθH/f)^n_G, f = (Δθ_F,max/9)^1.1; where they cross is the limit.
    floor = en_1264.type_a(
        pipe_spacing_m=spacing_m,
        covering_resistance_m2k_w=0.05,
        screed_thickness_m=0.045,
        screed_conductivity_w_mk=1.2,
        pipe_outside_diameter_m=0.016,
    )
    f = (surface_excess_k / 9.0) ** 1.1

    def apart(excess_k: float) -> float:
        limit = f * floor.limit_coefficient * (excess_k / f) ** floor.limit_exponent
        return float(limit - en_1264.heat_flux(floor, excess_k))

    crossing_k = brentq(apart, 1e-6, 500.0, xtol=1e-11)
    expected = min(en_1264.heat_flux(floor, crossing_k), en_1264.basic_heat_flux(surface_excess_k))
    assert en_1264.limit_heat_flux(floor, surface_excess_k) == pytest.approx(expected)


@given(st.floats(12.0, 48.0))
def test_fan_convector_by_a_spline_of_first_degree(excess_k: float) -> None:
    # Linear interpolation in a table of outputs.
    points = [(12.0, 500.0), (22.0, 1150.0), (33.0, 1990.0), (48.0, 3300.0)]
    excesses, outputs = (list(column) for column in zip(*points, strict=True))
    spline = make_interp_spline(excesses, outputs, k=1)
    assert fan_convector.output(points, excess_k) == pytest.approx(float(spline(excess_k)))
