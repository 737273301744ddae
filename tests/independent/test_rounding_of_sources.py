"""Published examples print rounded numbers: how far from the printed result may the unrounded equation lie?

Errors are carried by the `uncertainties` library through expressions written here from the sources, never through the code
under test: the code's result must lie within what the rounding of the printed inputs allows, and must react to each input as
the expression's derivatives say.
"""

from __future__ import annotations

import math

import pytest
from uncertainties import ufloat
from uncertainties.core import AffineScalarFunc, Variable
from uncertainties.umath import log

from warmstead.standards import en_442, iso_6946, iso_10077_1, iso_13370


def printed(text: str) -> Variable:
    """A printed number, somewhere within half a unit of its last place: the deviation of an even spread."""
    half = 0.5 * 10.0 ** -len(text.partition(".")[2])
    return ufloat(float(text), half / math.sqrt(3.0))


# Scottish building standards guidance, annex 6.B, worked example 6.B.2 (read in a transcription): resistances as printed,
# outside 0.04, brick 0.132, cavity 0.18, sheathing 0.069, wool 3.500 and timber 1.167 at 0.15, board 0.060, inside 0.13.
OUTSIDE, BRICK, CAVITY, SHEATHING, WOOL, TIMBER, BOARD, INSIDE = (
    printed(text) for text in ("0.04", "0.132", "0.18", "0.069", "3.500", "1.167", "0.060", "0.13")
)


def timber_frame(wool: float, timber: float) -> iso_6946.TotalResistance:
    layers = [
        iso_6946.Layer(BOARD.nominal_value),
        iso_6946.Layer(wool, (iso_6946.Bridge(0.15, timber),)),
        iso_6946.Layer(SHEATHING.nominal_value),
        iso_6946.Layer(CAVITY.nominal_value),
        iso_6946.Layer(BRICK.nominal_value),
    ]
    return iso_6946.total_resistance(layers, INSIDE.nominal_value, OUTSIDE.nominal_value)


def timber_frame_limits() -> tuple[AffineScalarFunc, AffineScalarFunc]:
    """Upper and lower limit, written out as the source does it."""
    rest = OUTSIDE + BRICK + CAVITY + SHEATHING + BOARD + INSIDE
    upper = 1.0 / (0.85 / (rest + WOOL) + 0.15 / (rest + TIMBER))
    lower = rest + 1.0 / (0.85 / WOOL + 0.15 / TIMBER)
    return upper, lower


def test_bridged_wall_within_the_rounding_of_its_source() -> None:
    # Equation: R′, R″ and their mean (ISO 6946, 6.7.2).
    upper, lower = timber_frame_limits()
    ours = timber_frame(WOOL.nominal_value, TIMBER.nominal_value)
    for value, expected, text in ((ours.upper_m2k_w, upper, "3.435"), (ours.lower_m2k_w, lower, "3.304")):
        assert value == pytest.approx(expected.nominal_value, rel=1e-12)
        # Both the inputs and the result are rounded; together they leave this much, at twice the deviation.
        allowed = 2.0 * math.hypot(expected.std_dev, printed(text).std_dev)
        assert abs(value - float(text)) <= allowed
    # The inputs' rounding moves the U-value by less than a unit of its second decimal.
    assert (2.0 / (upper + lower)).std_dev < 0.001


def test_bridged_wall_reacts_as_the_derivatives_say() -> None:
    # Equation: the same, by its slope: ∂R_T/∂R of the wool and of the timber.
    upper, lower = timber_frame_limits()
    total = (upper + lower) / 2.0
    step = 1e-6
    for variable, shifted in (
        (WOOL, [timber_frame(3.5 + sign * step, 1.167) for sign in (1.0, -1.0)]),
        (TIMBER, [timber_frame(3.5, 1.167 + sign * step) for sign in (1.0, -1.0)]),
    ):
        slope = (shifted[0].total_m2k_w - shifted[1].total_m2k_w) / (2.0 * step)
        assert slope == pytest.approx(total.derivatives[variable], rel=1e-6)


def test_window_within_the_rounding_of_its_source() -> None:
    # Equation: U_w = (Σ A U + Σ l Ψ)/Σ A. Published window by its parts (as recorded in the project's list of
    # evidence, there marked as read): 1.34 W/(m²K).
    glass, frame, glass_u, frame_u = (printed(text) for text in ("1.2", "0.3", "1.1", "1.5"))
    length, psi = 6.0, printed("0.04")
    expected = (glass * glass_u + frame * frame_u + length * psi) / (glass + frame)
    ours = iso_10077_1.window(
        [iso_10077_1.Part(1.2, 1.1), iso_10077_1.Part(0.3, 1.5)], [iso_10077_1.Edge(6.0, 0.04)]
    )
    assert ours.u_value_w_m2k == pytest.approx(expected.nominal_value, rel=1e-12)
    assert abs(ours.u_value_w_m2k - 1.34) <= 2.0 * math.hypot(expected.std_dev, printed("1.34").std_dev)


@pytest.mark.parametrize(
    ("excess_k", "factor"), [(5.0, "0.050"), (20.0, "0.304"), (30.0, "0.515"), (75.0, "1.694")]
)
def test_exponent_that_the_printed_factors_allow(excess_k: float, factor: str) -> None:
    # Equation: Φ = Φs · (ΔT/50)^n. The trade's table of factors prints three decimals: the exponent that it was
    # made with, solved back from each factor, must be the 1.3 that reproduces it.
    exponent = printed(factor) ** 1.0
    solved_n = math.log(exponent.nominal_value) / math.log(excess_k / 50.0)
    deviation = exponent.std_dev / exponent.nominal_value / abs(math.log(excess_k / 50.0))
    assert abs(solved_n - 1.3) <= 2.0 * deviation
    assert en_442.output(1.0, 50.0, solved_n, excess_k) == pytest.approx(float(factor), rel=1e-12)


def test_slab_reacts_as_the_derivatives_say() -> None:
    # Equation: U0 = 2λ/(π B′ + d_t) · ln(π B′/d_t + 1), d_t = w + λ (R_si + R_f + R_se), by its slope in λ and R_f.
    soil, resistance = ufloat(1.5, 0.1), ufloat(1.0, 0.05)
    dimension = 50.0 / 10.0
    thickness = 0.3 + soil * (0.17 + resistance + 0.04)
    expected = 2.0 * soil / (math.pi * dimension + thickness) * log(math.pi * dimension / thickness + 1.0)

    def slab(soil_w_mk: float, floor_m2k_w: float) -> float:
        return iso_13370.slab_on_ground(
            area_m2=50.0,
            exposed_perimeter_m=20.0,
            wall_thickness_m=0.3,
            soil_conductivity_w_mk=soil_w_mk,
            floor_resistance_m2k_w=floor_m2k_w,
        ).u_value_w_m2k

    assert slab(1.5, 1.0) == pytest.approx(expected.nominal_value, rel=1e-12)
    step = 1e-6
    by_soil = (slab(1.5 + step, 1.0) - slab(1.5 - step, 1.0)) / (2.0 * step)
    by_resistance = (slab(1.5, 1.0 + step) - slab(1.5, 1.0 - step)) / (2.0 * step)
    assert by_soil == pytest.approx(expected.derivatives[soil], rel=1e-5)
    assert by_resistance == pytest.approx(expected.derivatives[resistance], rel=1e-5)
