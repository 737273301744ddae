"""EN 1264: the heat output of a heated floor.

No worked example of the standard could be seen. Expected values are therefore of four kinds: figures
printed in public guidance, sums by hand from the tables' printed entries, the tables' agreement with each
other, and an independent numerical solution of the heat conduction in the floor itself.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from warmstead.standards import en_1264, water
from warmstead.standards.errors import NotPhysical, OutOfScope

SURFACE_RESISTANCE = 1.0 / 10.8


def floor_a(
    spacing: float = 0.15,
    covering: float = 0.10,
    screed: float = 0.045,
    conductivity: float = 1.2,
    diameter: float = 0.016,
    wall: float = 0.002,
    pipe_conductivity: float = 0.35,
) -> en_1264.Characteristic:
    """A floor of type A, an ordinary one unless said otherwise."""
    return en_1264.type_a(
        pipe_spacing_m=spacing,
        covering_resistance_m2k_w=covering,
        screed_thickness_m=screed,
        screed_conductivity_w_mk=conductivity,
        pipe_outside_diameter_m=diameter,
        pipe_wall_thickness_m=wall,
        pipe_conductivity_w_mk=pipe_conductivity,
    )


def floor_b(
    spacing: float = 0.15,
    covering: float = 0.10,
    screed: float = 0.045,
    conductivity: float = 1.2,
    diameter: float = 0.016,
    device: float = 0.0005,
    device_conductivity: float = 200.0,
    device_width: float | None = None,
) -> en_1264.Characteristic:
    """A floor of type B; the devices touch each other unless said otherwise."""
    return en_1264.type_b(
        pipe_spacing_m=spacing,
        covering_resistance_m2k_w=covering,
        screed_thickness_m=screed,
        screed_conductivity_w_mk=conductivity,
        pipe_outside_diameter_m=diameter,
        conducting_device_thickness_m=device,
        conducting_device_conductivity_w_mk=device_conductivity,
        conducting_device_width_m=spacing if device_width is None else device_width,
    )


# --- Figures printed in public guidance ---


@pytest.mark.parametrize(
    ("surface_excess_k", "heat_flux_w_m2"),
    [
        # Trade guidance on EN 1264, printed as whole numbers: 29 °C in a room of 20 °C.
        (9.0, 100.0),
        # The same guidance: 35 °C at the edge of a room of 20 °C.
        (15.0, 175.0),
    ],
)
def test_basic_characteristic_gives_the_printed_limits(
    surface_excess_k: float, heat_flux_w_m2: float
) -> None:
    """The heat of any floor at its permitted temperatures."""
    assert en_1264.basic_heat_flux(surface_excess_k) == pytest.approx(heat_flux_w_m2, abs=0.5)


@pytest.mark.parametrize(
    ("zone", "room_c", "surface_c"),
    [
        # Trade guidance on EN 1264: 29 °C where people stay, 35 °C in peripheral strips, 33 °C in a bathroom
        # of 24 °C.
        ("occupied", 20.0, 29.0),
        ("peripheral", 20.0, 35.0),
        ("bathroom", 24.0, 33.0),
    ],
)
def test_permitted_surface_temperatures(zone: en_1264.Zone, room_c: float, surface_c: float) -> None:
    """By zone."""
    assert en_1264.maximum_surface_temperature_c(zone, room_c) == surface_c


def test_wide_spacing_lowers_the_limit() -> None:
    """The limit curve, not the basic curve, governs pipes 300 mm apart."""
    # Trade guidance on EN 1264: about 85 W/m² at 300 mm, not 100; here with the covering EN 1264 designs
    # living rooms for (0.10 m²K/W) and an ordinary screed. "About" read as the nearest 5.
    assert en_1264.limit_heat_flux(floor_a(spacing=0.30), 9.0) == pytest.approx(85.0, abs=2.5)


# --- Sums by hand from the printed entries ---


def test_type_a_at_entries_of_the_tables() -> None:
    """Reference screed and pipe: only a_B and a_T are left."""
    characteristic = floor_a(conductivity=1.0, diameter=0.020)
    # Equation for a_B: (1/10.8 + 0.045)/(1/10.8 + 0.045 + 0.10) = 0.137593/0.237593.
    assert characteristic.covering_factor == pytest.approx(0.57911, abs=5e-6)
    # Table A.1 at 0.10; m_T = 1 − 0.15/0.075.
    assert (characteristic.spacing_factor, characteristic.spacing_exponent) == pytest.approx((1.156, -1.0))
    assert (characteristic.screed_exponent, characteristic.diameter_exponent) == (0.0, 0.0)
    # 6.7 · 0.57911/1.156.
    assert characteristic.gradient_w_m2k == pytest.approx(3.35643, abs=5e-5)


def test_type_a_with_every_factor() -> None:
    """T 0.30, no covering, 65 mm of λ 1.2, 16 mm pipe."""
    characteristic = floor_a(spacing=0.30, covering=0.0, screed=0.065)
    # Tables A.1 to A.3 at (0.30, 0): 1.23, 1.0395, 1.053; exponents 1 − 0.30/0.075, 100 · (0.045 − 0.065),
    # 250 · (0.016 − 0.020).
    assert characteristic.spacing_factor == 1.23
    assert characteristic.screed_factor == 1.0395
    assert characteristic.diameter_factor == 1.053
    exponents = (
        characteristic.spacing_exponent,
        characteristic.screed_exponent,
        characteristic.diameter_exponent,
    )
    assert exponents == pytest.approx((-3.0, -2.0, -1.0))
    # a_B = 0.137593/(0.092593 + 0.0375) = 1.057654; 6.7 · 1.057654/1.23³/1.0395²/1.053
    # = 7.086282/(1.860867 · 1.080560 · 1.053) = 3.34676.
    assert characteristic.gradient_w_m2k == pytest.approx(3.34676, abs=5e-5)


def test_factors_between_entries_are_interpolated_in_both_directions() -> None:
    """The middle of four entries is their mean."""
    characteristic = floor_a(spacing=0.175, covering=0.075)
    # Table A.1: (1.188 + 1.156)/2. Tables A.2 and A.3: the four around (0.175, 0.075).
    assert characteristic.spacing_factor == pytest.approx(1.172)
    assert characteristic.screed_factor == pytest.approx((1.046 + 1.035 + 1.041 + 1.0315) / 4.0)
    assert characteristic.diameter_factor == pytest.approx((1.034 + 1.029 + 1.040 + 1.035) / 4.0)


def test_spacing_over_the_tables_thins_the_output() -> None:
    """The flux of 0.375 m times 0.375/T."""
    assert floor_a(spacing=0.50).gradient_w_m2k == pytest.approx(
        floor_a(spacing=0.375).gradient_w_m2k * 0.375 / 0.50
    )


@pytest.mark.parametrize(
    ("spacing", "spreading_m"), [(0.10, 0.100), (0.20, 0.100), (0.30, 0.150), (0.50, 0.1875)]
)
def test_screed_over_the_spreading_thickness_only_resists(spacing: float, spreading_m: float) -> None:
    """Past s_u*, 60 mm more of λ 1.2 are 0.05 m²K/W more (at the spacing of the tables)."""
    thick = floor_a(spacing=spacing, screed=spreading_m + 0.060)
    at_limit = floor_a(spacing=spacing, screed=spreading_m)
    # Equation for m_U, 100 · (0.045 − s_u), stays at s_u*.
    assert thick.screed_exponent == pytest.approx(100.0 * (0.045 - spreading_m))
    added = 1.0 / thick.limit_gradient_w_m2k - 1.0 / at_limit.limit_gradient_w_m2k
    assert added == pytest.approx(0.06 / 1.2)


@pytest.mark.parametrize(("wall", "conductivity"), [(0.002, 0.22), (0.001, 390.0), (0.0025, 0.41)])
def test_another_pipe_adds_its_wall_to_the_resistance(wall: float, conductivity: float) -> None:
    """A tube wall resists T · ln(d_a/d_i)/(2πλ); the standard counts its difference 1.1 times."""
    added = 1.0 / floor_a(wall=wall, pipe_conductivity=conductivity).gradient_w_m2k
    added -= 1.0 / floor_a().gradient_w_m2k
    resistance = math.log(0.016 / (0.016 - 2.0 * wall)) / (2.0 * math.pi * conductivity)
    reference = math.log(0.016 / 0.012) / (2.0 * math.pi * 0.35)
    assert added == pytest.approx(1.1 * 0.15 * (resistance - reference))


def test_heat_flux_is_gradient_times_excess() -> None:
    """A straight line through nothing."""
    characteristic = floor_a(conductivity=1.0, diameter=0.020)
    # By hand: 3.35643 · 15.
    assert en_1264.heat_flux(characteristic, 15.0) == pytest.approx(50.346, abs=5e-3)
    assert en_1264.heat_flux(characteristic, 0.0) == 0.0


def test_limit_of_type_a_at_an_entry_of_the_tables() -> None:
    """T 0.30 and s_u/λ_E 0.0375."""
    characteristic = floor_a(spacing=0.30)
    # Tables A.4 and A.6 at (0.30, 0.0375).
    assert (characteristic.limit_coefficient, characteristic.limit_exponent) == pytest.approx((36.4, 0.245))
    # The two lines cross where K_H · Δ = 36.4 · Δ^0.245.
    crossing = (36.4 / characteristic.gradient_w_m2k) ** (1.0 / 0.755)
    limit = en_1264.limit_heat_flux(characteristic, 9.0)
    assert limit == pytest.approx(en_1264.heat_flux(characteristic, crossing))
    assert limit == pytest.approx(36.4 * crossing**0.245)


def test_limit_of_a_thin_floor_over_wide_pipes() -> None:
    """T 0.50 and s_u/T 0.09, under 0.173: f_G is 1, the limit thins as the output does."""
    wide = en_1264.limit_heat_flux(floor_a(spacing=0.50), 9.0)
    assert wide == pytest.approx(en_1264.limit_heat_flux(floor_a(spacing=0.375), 9.0) * 0.75)


def test_limit_of_a_thick_floor_over_wide_pipes() -> None:
    """T 0.50 and s_u/T 0.19: f_G leads the thinned limit towards the basic curve."""
    at_table = en_1264.limit_heat_flux(floor_a(spacing=0.375, screed=0.095, covering=0.0), 9.0)
    thinned = at_table * 0.75
    # Equation for f_G, with the basic curve at 9 K: 8.92 · 9^1.1 = 100.007.
    expected = 100.007 - (100.007 - thinned) * math.exp(-20.0 * (0.19 - 0.173) ** 2)
    wide = en_1264.limit_heat_flux(floor_a(spacing=0.50, screed=0.095, covering=0.0), 9.0)
    assert wide == pytest.approx(expected, rel=1e-5)
    assert wide > thinned


def test_type_b_at_entries_of_the_tables() -> None:
    """T 0.15, s_u/λ_E 0.05, and a device that makes K_WL 1."""
    # b_u 0.7 (table A.10), so s_WL · λ_WL = 0.125 − 0.7 · 0.05 · 1.0 = 0.09.
    bare = floor_b(covering=0.0, screed=0.05, conductivity=1.0, device=0.0009, device_conductivity=100.0)
    assert bare.device_value == pytest.approx(1.0)
    # Tables A.9 (0.05), A.16 (K_WL 1) and A.17 (0.15).
    assert (bare.spacing_factor, bare.device_factor, bare.contact_factor) == pytest.approx((1.091, 1.0, 0.95))
    # a_U = 0.137593/(0.092593 + 0.05) = 0.964935; 6.5/1.091 · 0.964935 · 0.95 = 5.46147.
    assert bare.gradient_w_m2k == pytest.approx(5.46147, abs=5e-5)
    covered = floor_b(covering=0.10, screed=0.05, conductivity=1.0, device=0.0009, device_conductivity=100.0)
    # a_B = 1/(1 + 5.46147 · 0.10 · (1 + 0.44 · √0.15)) = 1/1.639215.
    assert covered.covering_factor == pytest.approx(0.610048, abs=5e-6)
    assert covered.gradient_w_m2k == pytest.approx(5.46147 / 1.639215, abs=5e-5)
    # Tables A.18 and A.19 at (K_WL 1, T 0.15).
    assert (covered.limit_coefficient, covered.limit_exponent) == pytest.approx((89.0, 0.024))


@pytest.mark.parametrize(
    ("device", "device_factor"),
    [
        # K_WL 0.25, half-way between tables A.13 and A.14 at (0.20, 0.016): (0.688 + 0.8)/2.
        (0.03125, 0.744),
        # K_WL 0.45, half-way between tables A.15 and A.16: (0.86 + 0.894)/2.
        (0.05625, 0.877),
        # K_WL 0.65, half-way in table A.16: (0.921 + 0.943)/2.
        (0.08125, 0.932),
        # K_WL 1.2, between 1 and endless: 1.06 − 0.703 · (0.06/0.703)^1.2 = 1.06 − 0.03668.
        (0.15, 1.02332),
    ],
)
def test_device_factor_between_entries(device: float, device_factor: float) -> None:
    """`device` is s_WL · λ_WL; a screed of nearly no conductance beside it leaves K_WL to the device."""
    characteristic = en_1264.type_b(
        pipe_spacing_m=0.20,
        covering_resistance_m2k_w=0.0,
        screed_thickness_m=1e-9,
        screed_conductivity_w_mk=1e-8,
        pipe_outside_diameter_m=0.016,
        conducting_device_thickness_m=device,
        conducting_device_conductivity_w_mk=1.0,
        conducting_device_width_m=0.20,
    )
    assert characteristic.device_factor == pytest.approx(device_factor, abs=5e-6)


@pytest.mark.parametrize(
    ("spacing", "contact_factor", "screed_share"),
    [
        # Tables A.17 (a_K) and A.10 (b_u), entry by entry.
        (0.05, 1.0, 1.0),
        (0.10, 0.98, 1.0),
        (0.15, 0.95, 0.7),
        (0.20, 0.92, 0.5),
        (0.225, 0.90, 0.43),
        (0.30, 0.82, 0.25),
        (0.375, 0.72, 0.1),
        (0.45, 0.60, 0.0),
    ],
)
def test_contact_and_spreading_screed_of_type_b(
    spacing: float, contact_factor: float, screed_share: float
) -> None:
    """By spacing: K_WL = (s_WL · λ_WL + b_u · s_u · λ_E)/0.125, here (0.06 + b_u · 0.054)/0.125."""
    characteristic = floor_b(spacing=spacing, device=0.0006, device_conductivity=100.0)
    assert characteristic.contact_factor == contact_factor
    assert characteristic.device_value == pytest.approx((0.06 + screed_share * 0.054) / 0.125)


@pytest.mark.parametrize(
    ("screed_weight", "spacing_factor"),
    [
        # Table A.9 (a_T), entry by entry.
        (0.01, 1.103),
        (0.02, 1.100),
        (0.03, 1.097),
        (0.04, 1.094),
        (0.05, 1.091),
        (0.06, 1.088),
        (0.08, 1.082),
        (0.10, 1.075),
        (0.15, 1.064),
        (0.18, 1.059),
    ],
)
def test_spacing_factor_of_type_b(screed_weight: float, spacing_factor: float) -> None:
    """By s_u/λ_E."""
    characteristic = floor_b(spacing=0.30, screed=screed_weight * 0.5, conductivity=0.5)
    assert characteristic.spacing_factor == pytest.approx(spacing_factor)


def test_device_of_half_the_spacing() -> None:
    """Its factor lies between the full device's and none's."""
    full, half, none = (floor_b(spacing=0.20, device_width=0.20 * width) for width in (1.0, 0.5, 0.0))
    # Equation for L < T at 0.5: 1 − 1.6 + 0.85 − 0.15 = 0.1 of the way from full to none.
    assert half.device_factor == pytest.approx(0.9 * full.device_factor + 0.1 * none.device_factor)
    # Table A.11 (K_WL 0) at (0.20, 0.016).
    assert none.device_factor == pytest.approx(0.357)
    # The limit falls as the device factor does.
    ratio = en_1264.limit_heat_flux(half, 9.0) / en_1264.limit_heat_flux(full, 9.0)
    assert ratio == pytest.approx(half.device_factor / full.device_factor)


@pytest.mark.parametrize(("covering", "screed"), [(0.0, 0.02), (0.0, 0.045), (0.10, 0.045), (0.15, 0.065)])
def test_type_d_is_a_row_of_resistances(covering: float, screed: float) -> None:
    """Water all over leaves nothing but layers in a row."""
    characteristic = en_1264.type_d(
        covering_resistance_m2k_w=covering, screed_thickness_m=screed, screed_conductivity_w_mk=1.2
    )
    without_covering = 1.0 / characteristic.gradient_w_m2k - covering
    # 6.5 · 1.06 · (1/10.8 + 0.045) = 0.948 of the ideal plane.
    assert without_covering == pytest.approx((SURFACE_RESISTANCE + screed / 1.2) / 0.948, rel=1e-3)
    assert en_1264.limit_heat_flux(characteristic, 9.0) == pytest.approx(100.0, abs=0.5)


def test_resistance_up_is_a_row_of_layers() -> None:
    """Surface, covering, screed."""
    resistance = en_1264.resistance_up(
        covering_resistance_m2k_w=0.10, screed_thickness_m=0.045, screed_conductivity_w_mk=1.2
    )
    # By hand: 0.09259 + 0.10 + 0.0375.
    assert resistance == pytest.approx(0.23009, abs=5e-6)


def test_downward_heat_flux_by_hand() -> None:
    """Over a cellar."""
    flux = en_1264.downward_heat_flux(
        upward_heat_flux_w_m2=50.0,
        resistance_up_m2k_w=0.2301,
        resistance_down_m2k_w=2.5,
        room_c=20.0,
        below_c=10.0,
    )
    # By hand: (0.2301 · 50 + 20 − 10)/2.5 = 21.505/2.5.
    assert flux == pytest.approx(8.602)


def test_downward_heat_flux_between_rooms_alike() -> None:
    """Up and down share the heat as their resistances."""
    flux = en_1264.downward_heat_flux(
        upward_heat_flux_w_m2=60.0,
        resistance_up_m2k_w=0.25,
        resistance_down_m2k_w=1.25,
        room_c=20.0,
        below_c=20.0,
    )
    # By hand: 60 · 0.25/1.25.
    assert flux == pytest.approx(12.0)


def test_water_of_a_circuit_carries_both_heats() -> None:
    """Part 3 writes the flow as A·φ/(σ·c) · (1 + R_o/R_u + (θ_i − θ_u)/(φ·R_u)) (from memory)."""
    area_m2, drop_k, up, upwards, downwards = 12.0, 6.0, 55.0, 0.23, 1.8
    down = en_1264.downward_heat_flux(
        upward_heat_flux_w_m2=up,
        resistance_up_m2k_w=upwards,
        resistance_down_m2k_w=downwards,
        room_c=21.0,
        below_c=8.0,
    )
    bracket = 1.0 + upwards / downwards + (21.0 - 8.0) / (up * downwards)
    mass_flow = area_m2 * up / (drop_k * 4179.0) * bracket
    assert water.flow_l_s(area_m2 * (up + down), drop_k) == pytest.approx(mass_flow / 0.9922)


# --- The tables agree with each other ---


@pytest.mark.parametrize("spacing", [0.15, 0.20, 0.225, 0.30, 0.375])
def test_limit_tables_meet_where_one_hands_over_to_the_other(spacing: float) -> None:
    """The one by s_u/λ_E to 0.0792, the other by s_u/T from there: they meet for a screed of λ 1.2."""
    conductivity = en_1264.LIMIT_REFERENCE_SCREED_CONDUCTIVITY_W_MK
    last = floor_a(spacing=spacing, screed=0.0792 * conductivity, conductivity=conductivity)
    first = floor_a(spacing=spacing, screed=0.0792001 * conductivity, conductivity=conductivity)
    # Half a unit of the last printed digit in either table, and the straight line between their entries.
    assert last.limit_coefficient == pytest.approx(first.limit_coefficient, abs=0.3)
    assert last.limit_exponent == pytest.approx(first.limit_exponent, abs=0.002)


def test_limit_rises_with_the_screed_and_falls_with_the_spacing() -> None:
    """A misprinted entry would break the order (B_G up, n_G down, as the screed grows)."""
    screeds = [0.012 + 0.001 * step for step in range(84)]
    for spacing in (0.05, 0.075, 0.10, 0.15, 0.20, 0.225, 0.30, 0.375):
        floors = [floor_a(spacing=spacing, screed=screed) for screed in screeds]
        coefficients = [floor.limit_coefficient for floor in floors]
        exponents = [floor.limit_exponent for floor in floors]
        assert coefficients == sorted(coefficients)
        assert exponents == sorted(exponents, reverse=True)
    for screed in screeds:
        floors = [floor_a(spacing=spacing / 200.0, screed=screed) for spacing in range(10, 76)]
        coefficients = [floor.limit_coefficient for floor in floors]
        assert coefficients == sorted(coefficients, reverse=True)


TABLES_IN_ORDER = [
    # Name, along the rows, along the columns: up or down, and the range of a factor of its kind.
    ("_A_U_TYPE_A", "down", "down", 1.0, 1.1),
    ("_A_D_TYPE_A", "up", "down", 1.0, 1.1),
    ("_B_G_TYPE_A", "down", "up", 0.0, 100.0),
    ("_N_G_TYPE_A", "up", "down", 0.0, 0.5),
    ("_A_WL_THICK", "down", "up", 0.0, 1.0),
    ("_B_G_TYPE_B", "up", "down", 0.0, 100.0),
    ("_N_G_TYPE_B", "down", "up", 0.0, 1.0),
]


@pytest.mark.parametrize(("name", "rows", "columns", "lowest", "highest"), TABLES_IN_ORDER)
def test_table_is_in_order(name: str, rows: str, columns: str, lowest: float, highest: float) -> None:
    """Each factor goes one way along each axis, in its physical range: a slip of a digit would stand out."""
    table = np.array(getattr(en_1264, name))
    for axis, direction in ((0, rows), (1, columns)):
        steps = np.diff(table, axis=axis)
        assert np.all(steps >= 0.0) if direction == "up" else np.all(steps <= 0.0)
    assert table.min() >= lowest
    assert table.max() <= highest


def test_device_factors_are_in_order() -> None:
    """More sheet and a wider pipe spread more heat, a wider spacing less; but for one printed row."""
    tables = np.array(en_1264._A_WL_THIN)
    assert np.all(np.diff(tables, axis=0) > 0.0)
    assert np.all(np.diff(tables, axis=1) <= 0.0)
    falling = np.argwhere(np.diff(tables, axis=2) < 0.0)
    # Table A.15 (K_WL 0.4) at T 0.075 prints 0.965, 0.964, 0.963, 0.962, 0.960.
    assert {tuple(place[:2]) for place in falling.tolist()} == {(4, 1)}
    # From diameter to diameter the steps are alike: no entry sticks out of its row.
    assert np.abs(np.diff(tables, n=2, axis=2)).max() < 0.025
    assert tables.min() >= 0.25
    assert tables.max() <= 1.0


def test_thick_screed_has_the_basic_curve_for_its_limit() -> None:
    """Past s_u/T 0.75 the surface is as warm everywhere."""
    characteristic = floor_a(spacing=0.20, screed=0.16)
    assert (characteristic.limit_coefficient, characteristic.limit_exponent) == (100.0, 0.0)
    assert en_1264.limit_heat_flux(characteristic, 9.0) == pytest.approx(100.0)


def test_provenance_names_what_was_not_seen() -> None:
    """Only the limit of type D is remembered."""
    remembered = [table for table, origin in en_1264.PROVENANCE.items() if origin == "from_memory"]
    assert remembered == ["type_d.limit"]


# --- Heat conduction in the floor, solved numerically ---


class Conduction(NamedTuple):
    """What the numerical floor gives, per kelvin of excess; and its limit at 9 K."""

    gradient_w_m2k: float
    limit_w_m2: float


def conduction(
    *,
    spacing: float,
    covering: float,
    screed: float,
    conductivity: float,
    diameter: float,
    device: float | None = None,
    cell: float = 0.0025,
) -> Conduction:
    """Half a spacing of floor in square cells: nothing lost downwards, water at 1 K, room at 0 K.

    Type A: the pipe lies at the bottom of the screed. Type B (`device`, s_WL · λ_WL): a sheet under the
    screed, at the pipe's temperature over its diameter, in perfect contact. The reference pipe's wall lies
    between water and floor.
    """
    columns = round(spacing / 2.0 / cell)
    rows = round((screed + (diameter if device is None else 0.0)) / cell)
    pipe = columns * rows + (0 if device is None else columns)
    nodes = np.arange(columns * rows).reshape(columns, rows)
    across = (np.arange(columns) + 0.5) * cell
    links: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    if device is None:
        x, y = np.meshgrid(across, (np.arange(rows) + 0.5) * cell, indexing="ij")
        nodes = np.where(x**2 + (y - diameter / 2.0) ** 2 < (diameter / 2.0) ** 2, pipe, nodes)
    else:
        sheet = np.where(across < diameter / 2.0, pipe, columns * rows + np.arange(columns))
        links.append((sheet, nodes[:, 0], np.full(columns, 2.0 * conductivity)))
        links.append((sheet[:-1], sheet[1:], np.full(columns - 1, device / cell)))
    for first, second in ((nodes[:-1], nodes[1:]), (nodes[:, :-1], nodes[:, 1:])):
        # The pipe's surface lies half a cell from its neighbours.
        at_pipe = (first == pipe) | (second == pipe)
        links.append((first, second, np.where(at_pipe, 2.0 * conductivity, conductivity)))
    start, end, conductance = (np.concatenate([link[part].ravel() for link in links]) for part in range(3))
    apart = start != end
    start, end, conductance = start[apart], end[apart], conductance[apart]

    diagonal = np.zeros(pipe + 1)
    np.add.at(diagonal, start, conductance)
    np.add.at(diagonal, end, conductance)
    to_room = cell / (cell / 2.0 / conductivity + covering + SURFACE_RESISTANCE)
    np.add.at(diagonal, nodes[:, -1], to_room)
    wall = 0.5 / (math.log(diameter / (diameter - 0.004)) / (2.0 * math.pi * 0.35))
    diagonal[pipe] += wall
    diagonal[diagonal == 0.0] = 1.0  # cells that the pipe took
    every = np.arange(pipe + 1)
    matrix = coo_matrix(
        (
            np.concatenate([-conductance, -conductance, diagonal]),
            (np.concatenate([start, end, every]), np.concatenate([end, start, every])),
        )
    ).tocsc()
    source = np.zeros(pipe + 1)
    source[pipe] = wall
    temperatures = spsolve(matrix, source)
    flux = to_room / cell * temperatures[nodes[:, -1]]
    return Conduction(float(flux.mean()), float(100.0 * flux.mean() / flux.max()))


def test_numerical_floor_is_right_where_the_answer_is_known() -> None:
    """Pipes side by side, an endless sheet: both are a plane of water."""
    plane = conduction(spacing=0.02, covering=0.1, screed=0.05, conductivity=1.0, diameter=0.02, device=1e6)
    # By hand: the pipe wall of half a spacing, then the layers in a row; a spacing of one diameter is all
    # pipe.
    wall = 0.02 * math.log(0.02 / 0.016) / (2.0 * math.pi * 0.35)
    assert plane.gradient_w_m2k == pytest.approx(
        1.0 / (wall + 0.05 / 1.0 + 0.1 + SURFACE_RESISTANCE), rel=1e-6
    )


@pytest.mark.parametrize("spacing", [0.05, 0.10, 0.15, 0.20, 0.30, 0.375])
@pytest.mark.parametrize("covering", [0.0, 0.05, 0.10, 0.15])
def test_type_a_agrees_with_conduction_in_the_floor(spacing: float, covering: float) -> None:
    """Ordinary screeds and pipes: the fit of the standard keeps within 7 % of the solution."""
    for screed, diameter in ((0.045, 0.016), (0.045, 0.020), (0.065, 0.016)):
        solved = conduction(
            spacing=spacing, covering=covering, screed=screed, conductivity=1.2, diameter=diameter
        )
        characteristic = floor_a(spacing=spacing, covering=covering, screed=screed, diameter=diameter)
        assert characteristic.gradient_w_m2k == pytest.approx(solved.gradient_w_m2k, rel=0.07)


@pytest.mark.parametrize("spacing", [0.10, 0.15, 0.20, 0.30])
@pytest.mark.parametrize("covering", [0.0, 0.10])
def test_thick_screed_agrees_with_conduction_in_the_floor(spacing: float, covering: float) -> None:
    """Over the spreading thickness."""
    solved = conduction(spacing=spacing, covering=covering, screed=0.20, conductivity=1.0, diameter=0.016)
    characteristic = floor_a(spacing=spacing, covering=covering, screed=0.20, conductivity=1.0)
    assert characteristic.gradient_w_m2k == pytest.approx(solved.gradient_w_m2k, rel=0.04)


@pytest.mark.parametrize("spacing", [0.10, 0.15, 0.20, 0.30])
@pytest.mark.parametrize("covering", [0.0, 0.10])
def test_limit_of_type_a_agrees_with_conduction_in_the_floor(spacing: float, covering: float) -> None:
    """The mean flux when the floor's warmest point gives 100 W/m²: within 12 % (45 mm of λ 1.2)."""
    solved = conduction(spacing=spacing, covering=covering, screed=0.045, conductivity=1.2, diameter=0.016)
    characteristic = floor_a(spacing=spacing, covering=covering)
    assert en_1264.limit_heat_flux(characteristic, 9.0) == pytest.approx(solved.limit_w_m2, rel=0.12)


def test_limit_of_type_a_is_too_high_for_a_screed_that_conducts_badly() -> None:
    """A weakness of the standard's tables, for which the module tells callers to warn."""
    solved = conduction(spacing=0.30, covering=0.10, screed=0.045, conductivity=0.6, diameter=0.016)
    characteristic = floor_a(spacing=0.30, conductivity=0.6)
    assert solved.limit_w_m2 == pytest.approx(70.0, abs=2.5)
    assert en_1264.limit_heat_flux(characteristic, 9.0) > 1.3 * solved.limit_w_m2


@pytest.mark.parametrize("spacing", [0.10, 0.15, 0.20])
@pytest.mark.parametrize("device_conductivity", [50.0, 200.0])
@pytest.mark.parametrize("screed", [0.020, 0.045])
def test_type_b_agrees_with_conduction_in_the_floor(
    spacing: float, device_conductivity: float, screed: float
) -> None:
    """Bare within 5 %, covered up to 10 % lower: the solution has perfect contact, the fit its a_K."""
    for covering, lowest, highest in ((0.0, 0.95, 1.05), (0.10, 0.90, 1.0)):
        solved = conduction(
            spacing=spacing,
            covering=covering,
            screed=screed,
            conductivity=1.2,
            diameter=0.016,
            device=0.0005 * device_conductivity,
        )
        characteristic = floor_b(
            spacing=spacing, covering=covering, screed=screed, device_conductivity=device_conductivity
        )
        assert lowest <= characteristic.gradient_w_m2k / solved.gradient_w_m2k <= highest


# --- Properties ---

spacings = st.floats(0.05, 0.60)
coverings = st.floats(0.0, 0.15)
# Within s_u/λ_E ≤ 0.0792, where the limit curve has no gap.
screeds = st.floats(0.030, 0.065)
conductivities = st.floats(0.85, 2.0)
diameters = st.floats(0.012, 0.020)


@given(spacing=spacings, wider=spacings, covering=coverings, screed=screeds, conductivity=conductivities)
def test_wider_spacing_never_raises_the_output(
    spacing: float, wider: float, covering: float, screed: float, conductivity: float
) -> None:
    """Less pipe, less heat."""
    narrow, wide = sorted((spacing, wider))
    gradients = [floor_a(each, covering, screed, conductivity).gradient_w_m2k for each in (narrow, wide)]
    assert gradients[1] <= gradients[0] * (1.0 + 1e-12)


@given(covering=coverings, thicker=coverings, spacing=spacings, screed=screeds, conductivity=conductivities)
def test_thicker_covering_never_raises_the_output(
    covering: float, thicker: float, spacing: float, screed: float, conductivity: float
) -> None:
    """A carpet insulates."""
    thin, thick = sorted((covering, thicker))
    gradients = [floor_a(spacing, each, screed, conductivity).gradient_w_m2k for each in (thin, thick)]
    assert gradients[1] <= gradients[0] * (1.0 + 1e-12)


@given(
    spacing=spacings,
    covering=coverings,
    screed=screeds,
    conductivity=conductivities,
    diameter=diameters,
    surface_excess_k=st.floats(1.0, 15.0),
)
def test_limit_scales_with_the_basic_curve_and_stays_under_it(
    spacing: float,
    covering: float,
    screed: float,
    conductivity: float,
    diameter: float,
    surface_excess_k: float,
) -> None:
    """The limit at any permitted temperature is the one at 9 K times (Δ/9)^1.1."""
    characteristic = floor_a(spacing, covering, screed, conductivity, diameter)
    limit = en_1264.limit_heat_flux(characteristic, surface_excess_k)
    at_nine = en_1264.limit_heat_flux(characteristic, 9.0)
    assert limit == pytest.approx(at_nine * (surface_excess_k / 9.0) ** 1.1)
    assert 0.0 < limit <= en_1264.basic_heat_flux(surface_excess_k)


@given(
    spacing=st.floats(0.05, 0.30),
    covering=coverings,
    share=st.floats(0.0, 1.0),
    other=st.floats(0.0, 1.0),
)
def test_wider_device_never_lowers_the_output_of_type_b(
    spacing: float, covering: float, share: float, other: float
) -> None:
    """More sheet spreads more heat, but for the last ninth of the spacing."""
    narrow, wide = sorted((share, other))
    gradients = [
        floor_b(spacing, covering, device_width=spacing * width).gradient_w_m2k for width in (narrow, wide)
    ]
    # The standard's cubic, 1 − 3.2x + 3.4x² − 1.2x³, is least at x 0.889 with −0.0008, not at 1 with 0.
    assert gradients[0] <= gradients[1] * 1.001


@given(heat_flux_w_m2=st.floats(0.0, 200.0))
def test_surface_excess_is_the_inverse_of_the_basic_curve(heat_flux_w_m2: float) -> None:
    """There and back."""
    assert en_1264.basic_heat_flux(en_1264.surface_excess(heat_flux_w_m2)) == pytest.approx(heat_flux_w_m2)


@settings(max_examples=50)
@given(up=st.floats(0.0, 150.0), room_c=st.floats(15.0, 25.0), below_c=st.floats(-10.0, 15.0))
def test_insulation_without_end_stops_the_downward_flux(up: float, room_c: float, below_c: float) -> None:
    """And more of it never lets more through."""
    fluxes = [
        en_1264.downward_heat_flux(
            upward_heat_flux_w_m2=up,
            resistance_up_m2k_w=0.23,
            resistance_down_m2k_w=resistance,
            room_c=room_c,
            below_c=below_c,
        )
        for resistance in (1.0, 10.0, 1e9)
    ]
    assert fluxes[0] >= fluxes[1] >= fluxes[2]
    assert fluxes[2] == pytest.approx(0.0, abs=1e-6)


# --- Refusals ---


@pytest.mark.parametrize(
    ("changed", "field", "quantity", "covered"),
    [
        ({"spacing": 0.049}, "pipe_spacing_m", "", "0.05 and more"),
        ({"covering": 0.151}, "covering_resistance_m2k_w", "", "0.0 to 0.15"),
        ({"screed": 0.009}, "screed_thickness_m", "", "0.01 and more"),
        ({"diameter": 0.007}, "pipe_outside_diameter_m", "", "0.008 to 0.03"),
        ({"diameter": 0.031}, "pipe_outside_diameter_m", "", "0.008 to 0.03"),
        (
            {"screed": 0.015, "conductivity": 2.0},
            "screed_thickness_m",
            "s_u/λ_E ",
            "0.01 and more",
        ),
        (
            {"spacing": 0.30, "conductivity": 0.5},
            "pipe_spacing_m",
            "s_u/T of the limit curve ",
            "0.173 and more",
        ),
    ],
)
def test_type_a_refuses_what_the_tables_do_not_cover(
    changed: dict[str, float], field: str, quantity: str, covered: str
) -> None:
    """With the covered range in the message."""
    with pytest.raises(OutOfScope) as refusal:
        floor_a(**changed)
    assert (refusal.value.field, refusal.value.limit) == (field, quantity + covered)
    assert str(refusal.value).endswith(covered)


@pytest.mark.parametrize(
    ("changed", "field", "quantity", "covered"),
    [
        ({"spacing": 0.46}, "pipe_spacing_m", "", "0.05 to 0.45"),
        ({"covering": 0.2}, "covering_resistance_m2k_w", "", "0.0 to 0.15"),
        ({"diameter": 0.012}, "pipe_outside_diameter_m", "", "0.014 to 0.022"),
        ({"conductivity": 0.2}, "screed_thickness_m", "s_u/λ_E ", "0.01 to 0.18"),
        ({"device": 0.002}, "conducting_device_thickness_m", "K_WL ", "0.1 to 1.5"),
        ({"device": 0.0, "screed": 0.012}, "conducting_device_thickness_m", "K_WL ", "0.1 to 1.5"),
    ],
)
def test_type_b_refuses_what_the_tables_do_not_cover(
    changed: dict[str, float], field: str, quantity: str, covered: str
) -> None:
    """With the covered range in the message."""
    with pytest.raises(OutOfScope) as refusal:
        floor_b(**changed)
    assert (refusal.value.field, refusal.value.limit) == (field, quantity + covered)
    assert str(refusal.value).endswith(covered)


def test_type_b_refuses_where_the_tables_leave_no_limit() -> None:
    """B_G is 0 at 0.45 m and K_WL 0.1."""
    with pytest.raises(OutOfScope, match="no limit curve"):
        floor_b(spacing=0.45, device=0.0125, device_conductivity=1.0)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"covering": -0.01}, "covering_resistance_m2k_w"),
        ({"conductivity": 0.0}, "screed_conductivity_w_mk"),
        ({"wall": 0.008}, "pipe_wall_thickness_m"),
        ({"wall": 0.0}, "pipe_wall_thickness_m"),
        ({"pipe_conductivity": 0.0}, "pipe_conductivity_w_mk"),
        ({"diameter": 0.0}, "pipe_outside_diameter_m"),
    ],
)
def test_type_a_refuses_what_cannot_be(changed: dict[str, float], field: str) -> None:
    """A pipe without a bore, a screed without conductivity."""
    with pytest.raises(NotPhysical) as refusal:
        floor_a(**changed)
    assert refusal.value.field == field


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"screed": 0.0}, "screed_thickness_m"),
        ({"device": -0.001}, "conducting_device_thickness_m"),
        ({"device_conductivity": 0.0}, "conducting_device_conductivity_w_mk"),
        ({"device_width": 0.151}, "conducting_device_width_m"),
        ({"device_width": -0.01}, "conducting_device_width_m"),
    ],
)
def test_type_b_refuses_what_cannot_be(changed: dict[str, float], field: str) -> None:
    """Devices that overlap, a floor without a screed."""
    with pytest.raises(NotPhysical) as refusal:
        floor_b(**changed)
    assert refusal.value.field == field


def test_fluxes_refuse_what_cannot_be() -> None:
    """Negative excesses and fluxes, a surface no warmer than the room, no resistance at all."""
    with pytest.raises(NotPhysical):
        en_1264.heat_flux(floor_a(), -1.0)
    with pytest.raises(NotPhysical):
        en_1264.limit_heat_flux(floor_a(), 0.0)
    with pytest.raises(NotPhysical):
        en_1264.basic_heat_flux(-0.1)
    with pytest.raises(NotPhysical):
        en_1264.surface_excess(-0.1)
    with pytest.raises(NotPhysical) as refusal:
        en_1264.downward_heat_flux(
            upward_heat_flux_w_m2=50.0,
            resistance_up_m2k_w=0.2,
            resistance_down_m2k_w=0.0,
            room_c=20.0,
            below_c=10.0,
        )
    assert refusal.value.field == "resistance_down_m2k_w"
