"""Heated floors once more: EN 1264's equations on its printed tables, read by general interpolators.

`en_1264`: the characteristic of types A and B, and their limits. The tables are data and are shared with the module; what is
done with them is written anew here, in logarithms and arrays: `RegularGridInterpolator` instead of the module's own reading,
polynomials and sums instead of its products. How true the method itself is to heat conduction is checked in `tests/standards`.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from warmstead.standards import en_1264
from warmstead.standards.errors import OutOfScope

# Equations of EN 1264-2 from memory, as in ISO 11855-2 annex A: α 10.8, s_u,0 0.045 m, λ_u,0 1 W/(mK); B_0 6.7 (pipes in the
# screed) and 6.5 (others); reference pipe 2 mm of 0.35 W/(mK).
SURFACE = 1.0 / 10.8


class Again(NamedTuple):
    """Gradient, and the limit at a permitted surface excess, W/(m²K) and W/m²."""

    gradient: float
    limit: float


def read(axes: tuple[Any, ...], table: Any, *at: float) -> float:
    return float(
        RegularGridInterpolator([np.asarray(axis) for axis in axes], np.asarray(table))([list(at)])[0]
    )


def wall(diameter: float, thickness: float, conductivity: float) -> float:
    """1/(2 λ_R) · ln(d_a/d_i)."""
    return math.log(diameter / (diameter - 2.0 * thickness)) / (2.0 * conductivity)


def with_pipe(
    b_0: float, product: float, spacing: float, diameter: float, pipe: tuple[float, float]
) -> float:
    """B · Π for another pipe: 1/B = 1/B_0 + 1.1/π · Π · T · (wall − reference wall)."""
    added = 1.1 / math.pi * product * spacing * (wall(diameter, *pipe) - wall(diameter, 0.002, 0.35))
    return product / (1.0 / b_0 + added)


def crossing(gradient: float, b_g: float, n_g: float, excess: float) -> float:
    """φ_G where K_H · Δ = f · B_G · (Δ/f)^n_G, in logarithms, with f = (Δθ_F,max/9)^1.1."""
    f = math.exp(1.1 * math.log(excess / 9.0))
    logarithm = (math.log(b_g) - n_g * math.log(gradient)) / (1.0 - n_g)
    return f * math.exp(logarithm)


def basic(excess: float) -> float:
    return 8.92 * math.exp(1.1 * math.log(excess))


def type_a_again(
    spacing: float,
    covering: float,
    screed: float,
    conductivity: float,
    diameter: float,
    pipe: tuple[float, float],
    excess: float,
) -> Again:
    at = min(spacing, 0.375)
    spreading = min(screed, 0.100 if at <= 0.200 else at / 2.0)
    rows, columns = en_1264._SPACING_A_M, en_1264._COVERING_M2K_W
    factors = [
        (SURFACE + 0.045) / (SURFACE + 0.045 / conductivity + covering),
        float(np.interp(covering, columns, en_1264._A_T_TYPE_A)),
        read((rows, columns), en_1264._A_U_TYPE_A, at, covering),
        read((rows, columns), en_1264._A_D_TYPE_A, at, covering),
    ]
    exponents = [1.0, 1.0 - at / 0.075, 100.0 * (0.045 - spreading), 250.0 * (diameter - 0.020)]
    product = math.exp(float(np.dot(exponents, np.log(factors))))
    conducting = with_pipe(6.7, product, at, diameter, pipe)
    gradient = 1.0 / (1.0 / conducting + (screed - spreading) / conductivity)

    weight = screed / conductivity
    if weight <= 0.0792:
        b_g = read((rows, en_1264._SCREED_WEIGHT_M2K_W), en_1264._B_G_TYPE_A, at, weight)
        n_g = read((en_1264._SPACING_N_G_M, en_1264._SCREED_WEIGHT_M2K_W), en_1264._N_G_TYPE_A, at, weight)
    else:
        b_g = float(np.interp(screed / at, en_1264._SCREED_TO_SPACING, en_1264._B_G_THICK_SCREED))
        n_g = float(np.interp(screed / at, en_1264._SCREED_TO_SPACING, en_1264._N_G_THICK_SCREED))
    limit = crossing(gradient, b_g, n_g, excess)
    if spacing > 0.375:
        # φ_G = φ_G,0.375 · 0.375/T · f_G, with f_G leading to the basic curve where the screed is thick.
        limit *= 0.375 / spacing
        if screed / spacing > 0.173:
            limit = basic(excess) - (basic(excess) - limit) * math.exp(
                -20.0 * (screed / spacing - 0.173) ** 2
            )
    return Again(gradient * at / spacing, min(limit, basic(excess)))


spacings = st.floats(0.05, 0.55)
coverings = st.floats(0.0, 0.15)
screeds = st.floats(0.015, 0.16)
conductivities = st.floats(0.6, 2.0)
diameters = st.floats(0.010, 0.025)
pipes = st.tuples(st.floats(0.001, 0.003), st.sampled_from([0.22, 0.35, 0.41, 390.0]))
excesses = st.floats(3.0, 15.0)


@settings(max_examples=40)
# A thin and a thick screed over pipes wider apart than the tables go, and a thick one within them.
@example(0.50, 0.05, 0.045, 1.2, 0.016, (0.002, 0.35), 9.0)
@example(0.50, 0.02, 0.12, 1.6, 0.020, (0.0025, 0.41), 12.0)
@example(0.15, 0.08, 0.15, 1.0, 0.018, (0.001, 390.0), 5.0)
@given(spacings, coverings, screeds, conductivities, diameters, pipes, excesses)
def test_type_a_by_general_interpolation(
    spacing: float,
    covering: float,
    screed: float,
    conductivity: float,
    diameter: float,
    pipe: tuple[float, float],
    excess: float,
) -> None:
    # Equations: φ = B · a_B · a_T^m_T · a_U^m_U · a_D^m_D · ΔθH; s_u*; 0.375/T; B of a pipe; limit curve and f_G.
    try:
        floor = en_1264.type_a(
            pipe_spacing_m=spacing,
            covering_resistance_m2k_w=covering,
            screed_thickness_m=screed,
            screed_conductivity_w_mk=conductivity,
            pipe_outside_diameter_m=diameter,
            pipe_wall_thickness_m=pipe[0],
            pipe_conductivity_w_mk=pipe[1],
        )
    except OutOfScope:
        # No limit curve: s_u/λ_E over 0.0792 with s_u/T under 0.173, or s_u/λ_E under 0.01.
        weight = screed / conductivity
        assert weight < 0.0101 or (weight > 0.0791 and screed / min(spacing, 0.375) < 0.174)
        assume(False)
    again = type_a_again(spacing, covering, screed, conductivity, diameter, pipe, excess)
    assert floor.gradient_w_m2k == pytest.approx(again.gradient, rel=1e-9)
    assert en_1264.limit_heat_flux(floor, excess) == pytest.approx(again.limit, rel=1e-9)


def device_factor(k_wl: float, spacing: float, diameter: float) -> float:
    """a_WL of a device as wide as the spacing: by tables to K_WL 1, beyond that towards an endless one."""
    thin = [(en_1264._SPACING_B_M, en_1264._DIAMETER_B_M), en_1264._A_WL_THIN]
    if k_wl <= 0.4:
        return read((en_1264._DEVICE_VALUE_THIN, *thin[0]), thin[1], k_wl, spacing, diameter)
    if k_wl <= 0.5:
        first = read(thin[0], en_1264._A_WL_THIN[-1], spacing, diameter)
        last = read((en_1264._SPACING_B_M, en_1264._DEVICE_VALUE_THICK), en_1264._A_WL_THICK, spacing, 0.5)
        return float(np.interp(k_wl, (0.4, 0.5), (first, last)))
    if k_wl <= 1.0:
        return read((en_1264._SPACING_B_M, en_1264._DEVICE_VALUE_THICK), en_1264._A_WL_THICK, spacing, k_wl)
    # a_WL = a_∞ − (a_∞ − a_0) · ((a_∞ − 1)/(a_∞ − a_0))^K_WL.
    endless = float(np.interp(spacing, en_1264._SPACING_B_M, en_1264._A_WL_ENDLESS))
    span = endless - read(thin[0], en_1264._A_WL_THIN[0], spacing, diameter)
    return endless - span * math.exp(k_wl * math.log((endless - 1.0) / span)) if endless > 1.0 else 1.0


def type_b_again(
    spacing: float,
    covering: float,
    screed: float,
    conductivity: float,
    diameter: float,
    sheet: float,
    width: float,
    pipe: tuple[float, float],
    excess: float,
) -> Again:
    weight = screed / conductivity
    b_u = float(np.interp(spacing, en_1264._SPACING_B_U_M, en_1264._B_U))
    k_wl = (sheet + b_u * screed * conductivity) / 0.125
    a_t = float(np.interp(weight, en_1264._SCREED_WEIGHT_B_M2K_W, en_1264._A_T_TYPE_B))
    a_u = (SURFACE + 0.045) / (SURFACE + weight)
    a_k = float(np.interp(spacing, en_1264._SPACING_B_M, en_1264._A_K))
    bare = math.exp((1.0 - spacing / 0.075) * math.log(a_t)) * a_u * a_k
    full, none = device_factor(k_wl, spacing, diameter), device_factor(0.0, spacing, diameter)
    # 1 − 3.2 x + 3.4 x² − 1.2 x³ of the way from the full device to none, x = L/T.
    share = float(np.polynomial.Polynomial([1.0, -3.2, 3.4, -1.2])(width / spacing))
    own = full + share * (none - full)

    def gradient(factor: float) -> float:
        product = bare * factor
        product /= 1.0 + 6.5 * product * covering * (1.0 + 0.44 * math.sqrt(spacing))
        return with_pipe(6.5, product, spacing, diameter, pipe)

    axes = (en_1264._DEVICE_VALUE_LIMIT, en_1264._SPACING_B_M)
    b_g, n_g = (read(axes, table, k_wl, spacing) for table in (en_1264._B_G_TYPE_B, en_1264._N_G_TYPE_B))
    limit = own / full * crossing(gradient(full), b_g, n_g, excess)
    return Again(gradient(own), min(limit, basic(excess)))


@settings(max_examples=40)
@example(0.15, 0.05, 0.03, 1.0, 0.016, 0.02, 0.5, (0.002, 0.35), 9.0)
@example(0.20, 0.10, 0.03, 1.0, 0.018, 0.04, 0.8, (0.002, 0.35), 9.0)
@example(0.20, 0.10, 0.03, 0.8, 0.018, 0.15, 1.0, (0.0025, 0.41), 12.0)
@given(
    st.floats(0.05, 0.40),
    coverings,
    st.floats(0.02, 0.07),
    st.floats(0.5, 1.6),
    st.floats(0.014, 0.022),
    st.floats(0.012, 0.18),
    st.floats(0.0, 1.0),
    st.tuples(st.floats(0.001, 0.003), st.sampled_from([0.22, 0.35, 0.41])),
    excesses,
)
def test_type_b_by_general_interpolation(
    spacing: float,
    covering: float,
    screed: float,
    conductivity: float,
    diameter: float,
    sheet: float,
    share: float,
    pipe: tuple[float, float],
    excess: float,
) -> None:
    # Equations: φ = B · a_B · a_T^m_T · a_U · a_WL · a_K · ΔθH; K_WL; a_WL between its tables, beyond them, and for
    # devices narrower than the spacing; limit curve.
    try:
        floor = en_1264.type_b(
            pipe_spacing_m=spacing,
            covering_resistance_m2k_w=covering,
            screed_thickness_m=screed,
            screed_conductivity_w_mk=conductivity,
            pipe_outside_diameter_m=diameter,
            conducting_device_thickness_m=sheet / 200.0,
            conducting_device_conductivity_w_mk=200.0,
            conducting_device_width_m=share * spacing,
            pipe_wall_thickness_m=pipe[0],
            pipe_conductivity_w_mk=pipe[1],
        )
    except OutOfScope:
        # K_WL outside 0.1 to 1.5, or s_u/λ_E outside 0.01 to 0.18.
        b_u = float(np.interp(spacing, en_1264._SPACING_B_U_M, en_1264._B_U))
        k_wl = (sheet + b_u * screed * conductivity) / 0.125
        assert not (0.1001 <= k_wl <= 1.4999 and 0.0101 <= screed / conductivity <= 0.1799)
        assume(False)
    again = type_b_again(
        spacing, covering, screed, conductivity, diameter, sheet, share * spacing, pipe, excess
    )
    assert floor.gradient_w_m2k == pytest.approx(again.gradient, rel=1e-9)
    assert en_1264.limit_heat_flux(floor, excess) == pytest.approx(again.limit, rel=1e-9)
