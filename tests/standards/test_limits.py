"""Where a rule begins and ends, and results in full: what the examples of each module's own tests leave open.

Each of these was written because a mutant survived (`tests/mutation`): a limit that could have been open or closed, a check
that could have been left out, a member of a result that nobody had read. Expected values are by hand from the rules that the
functions' docstrings cite.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pytest

from warmstead.standards import (
    en_1264,
    fan_convector,
    iso_6946,
    iso_10077_1,
    iso_13370,
    performance_table,
)
from warmstead.standards.errors import (
    MethodError,
    NotPhysical,
    OutOfScope,
    check_above_zero,
    check_not_below_zero,
)

if TYPE_CHECKING:
    from collections.abc import Callable


def refused(call: Callable[[], object], kind: type[MethodError], field: str) -> None:
    with pytest.raises(kind) as caught:
        call()
    assert caught.value.field == field


# --- The checks that all share ----------------------------------------------------------------------


def test_checks_let_pass_what_can_be() -> None:
    # The smallest number above 0, the greatest finite one; and 0 itself for the second.
    for value in (math.nextafter(0.0, 1.0), 0.5, 1.0, 1.5, math.nextafter(math.inf, 0.0)):
        check_above_zero(value, "area_m2", "a clause")
        check_not_below_zero(value, "area_m2", "a clause")
    check_not_below_zero(0.0, "area_m2", "a clause")


@pytest.mark.parametrize("value", [-math.inf, -1.0, -0.5, math.nextafter(0.0, -1.0), math.inf, math.nan])
@pytest.mark.parametrize("check", [check_above_zero, check_not_below_zero])
def test_checks_refuse_what_cannot_be(check: Callable[[float, str, str], None], value: float) -> None:
    with pytest.raises(NotPhysical) as refusal:
        check(value, "area_m2", "a clause")
    assert (refusal.value.field, refusal.value.clause) == ("area_m2", "a clause")
    assert refusal.value.limit == ("above 0, finite" if check is check_above_zero else "0 or more, finite")


def test_nothing_is_not_above_nothing() -> None:
    refused(lambda: check_above_zero(0.0, "area_m2", "a clause"), NotPhysical, "area_m2")


# --- ISO 6946 --------------------------------------------------------------------------------------


def test_sections_are_refused_from_the_first_beyond_the_limit() -> None:
    # By hand: 3 · 43 = 129 ways, one more than 128.
    def side_by_side(number: int) -> iso_6946.Layer:
        return iso_6946.Layer(1.0, tuple(iso_6946.Bridge(0.001, 0.5) for _ in range(number)))

    refused(
        lambda: iso_6946.total_resistance([side_by_side(2), side_by_side(42)], 0.13, 0.04),
        OutOfScope,
        "layers",
    )


def test_sections_keep_the_order_of_the_layers() -> None:
    # By hand: a plain layer before a bridged one, and one behind it.
    layers = [iso_6946.Layer(0.1), iso_6946.Layer(2.0, (iso_6946.Bridge(0.1, 0.5),)), iso_6946.Layer(0.3)]
    sections = iso_6946.total_resistance(layers, 0.13, 0.04).sections
    assert [section.resistances_m2k_w for section in sections] == [(0.1, 2.0, 0.3), (0.1, 0.5, 0.3)]


def test_air_layer_table_that_begins_above_nothing() -> None:
    # At its own first row, the row itself; below it, nothing is known.
    rows = [(0.005, 0.11), (0.015, 0.17)]
    assert iso_6946.tabulated_air_layer(0.005, rows) == 0.11
    refused(lambda: iso_6946.tabulated_air_layer(0.004, rows), OutOfScope, "thickness_m")


@pytest.mark.parametrize(
    ("heat_flow", "resistance"),
    [
        # By hand, 25 mm, 0.05 against 0.9 at 10 °C: h_r = 0.256010; h_a from memory: 1/(1.95 + 0.256010),
        # 1/(1.25 + 0.256010), and downwards 0.12 · 0.025^−0.44 = 0.608253: 1/(0.608253 + …) is conduction's:
        # 0.025/0.025 = 1 is larger: 1/1.256010.
        ("upwards", 0.453307),
        ("horizontal", 0.664006),
        ("downwards", 0.796172),
    ],
)
def test_air_layer_by_direction(heat_flow: iso_6946.HeatFlow, resistance: float) -> None:
    assert iso_6946.emissive_air_layer(0.025, heat_flow, 0.05).resistance_m2k_w == pytest.approx(
        resistance, abs=1e-6
    )


def test_intermediate_thickness_from_nothing_to_the_thickest() -> None:
    three: iso_6946.TaperShape = "triangle_three_thicknesses"
    assert iso_6946.tapered_u_value(three, 1.0, 0.0, 0.0) == 1.0
    refused(
        lambda: iso_6946.tapered_u_value(three, 1.0, 2.0, -0.1),
        NotPhysical,
        "intermediate_taper_resistance_m2k_w",
    )
    refused(
        lambda: iso_6946.tapered_u_value(three, 1.0, 2.0, 2.1),
        NotPhysical,
        "intermediate_taper_resistance_m2k_w",
    )


def test_rain_from_none_to_all() -> None:
    # By hand: 3 · 0.5 · 0.04 · (2.5/3)² = 0.0416667.
    assert iso_6946.inverted_roof_correction(3.0, 0.5, 0.04, 2.5, 3.0) == pytest.approx(0.0416667, abs=5e-8)
    assert iso_6946.inverted_roof_correction(3.0, 0.0, 0.04, 2.5, 3.0) == 0.0
    refused(
        lambda: iso_6946.inverted_roof_correction(3.0, -0.1, 0.04, 2.5, 3.0), NotPhysical, "drainage_factor"
    )
    refused(
        lambda: iso_6946.inverted_roof_correction(3.0, 1.001, 0.04, 2.5, 3.0), NotPhysical, "drainage_factor"
    )


def test_correction_of_three_percent_counts() -> None:
    # Left out when under 3 %: at 3 % itself it counts (0.03 · 1.0 is exact in binary arithmetic).
    assert not iso_6946.correction_may_be_left_out(0.03, 1.0)
    assert iso_6946.correction_may_be_left_out(math.nextafter(0.03, 0.0), 1.0)


# --- ISO 13370 -------------------------------------------------------------------------------------

SITE: dict[str, Any] = {
    "area_m2": 60.0,
    "exposed_perimeter_m": 32.0,
    "wall_thickness_m": 0.3,
    "soil_conductivity_w_mk": 1.5,
    "floor_resistance_m2k_w": 0.2,
}
VOID: dict[str, Any] = {
    **SITE,
    "height_above_ground_m": 0.3,
    "ventilation_opening_m2_per_m": 0.0015,
    "wind_speed_m_s": 5.0,
    "wind_shielding_factor": 0.05,
    "underfloor_wall_u_value_w_m2k": 1.7,
}
CELLAR_WALL: dict[str, Any] = {
    "wall_thickness_m": 0.3,
    "soil_conductivity_w_mk": 1.5,
    "floor_resistance_m2k_w": 1.0,
    "depth_m": 1.5,
    "wall_resistance_m2k_w": 0.3,
}


def test_second_branch_begins_at_equal_thickness_and_dimension() -> None:
    # By hand: B′ = 20/10 = 2; d_t = 0 + 2 · (0.17 + 0.79 + 0.04) = 2, so not under B′: 2/(0.457 · 2 + 2)
    # = 0.686342. (The first branch would give 0.686248.)
    floor = iso_13370.slab_on_ground(
        area_m2=20.0,
        exposed_perimeter_m=20.0,
        wall_thickness_m=0.0,
        soil_conductivity_w_mk=2.0,
        floor_resistance_m2k_w=0.79,
    )
    assert floor.equivalent_thickness_m == floor.characteristic_dimension_m == 2.0
    assert floor.u_value_w_m2k == pytest.approx(0.686342, abs=1e-6)


def test_endless_floor_is_refused() -> None:
    refused(lambda: iso_13370.slab_on_ground(**{**SITE, "area_m2": math.inf}), NotPhysical, "area_m2")


def test_suspended_floor_with_surfaces_of_its_own() -> None:
    # By hand: U_f = 1/(0.2 + 2 · 0.10); d_g = 0.3 + 1.5 · (0.10 + 0.5 + 0.08) = 1.32.
    floor = iso_13370.suspended_floor(
        **VOID, ground_resistance_m2k_w=0.5, internal_surface_m2k_w=0.10, external_surface_m2k_w=0.08
    )
    assert floor.floor_u_value_w_m2k == pytest.approx(2.5)
    assert floor.equivalent_thickness_m == pytest.approx(1.32)


def test_wind_reaches_a_void_in_part_or_whole() -> None:
    # By hand, f_w 1: U_x = (1.02 + 1450 · 0.0015 · 5 · 1)/3.75 = 11.895/3.75.
    exposed = iso_13370.suspended_floor(**{**VOID, "wind_shielding_factor": 1.0})
    assert exposed.sides_u_value_w_m2k == pytest.approx(3.172)
    refused(
        lambda: iso_13370.suspended_floor(**{**VOID, "wind_shielding_factor": -0.01}),
        NotPhysical,
        "wind_shielding_factor",
    )


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"floor_resistance_m2k_w": 0.0, "internal_surface_m2k_w": 0.0}, "floor_resistance_m2k_w"),
        ({"internal_surface_m2k_w": -0.01, "floor_resistance_m2k_w": 1.0}, "internal_surface_m2k_w"),
        ({"external_surface_m2k_w": -0.01}, "external_surface_m2k_w"),
        ({"external_surface_m2k_w": math.inf}, "external_surface_m2k_w"),
        ({"wall_thickness_m": -0.1}, "wall_thickness_m"),
        ({"soil_conductivity_w_mk": 0.0}, "soil_conductivity_w_mk"),
        ({"soil_conductivity_w_mk": -1.0}, "soil_conductivity_w_mk"),
    ],
)
def test_suspended_floors_that_cannot_be(changed: dict[str, float], field: str) -> None:
    refused(lambda: iso_13370.suspended_floor(**{**VOID, **changed}), NotPhysical, field)


def test_basement_floor_reports_its_dimension_and_thickness() -> None:
    # By hand: B′ = 60/16 = 3.75; d_t = 0.3 + 1.5 · (0.17 + 0.2 + 0.04) = 0.915, without the depth.
    floor = iso_13370.basement_floor(**SITE, depth_m=1.5)
    assert floor.characteristic_dimension_m == pytest.approx(3.75)
    assert floor.equivalent_thickness_m == pytest.approx(0.915)


def test_basement_wall_on_clay() -> None:
    # By hand: d_t = 0.3 + 1.5 · 1.21 = 2.115; d_w = 1.5 · (0.13 + 0.3 + 0.04) = 0.705, in place of d_t too;
    # U = 3/(π 1.5) · (1 + 0.3525/2.205) · ln(1.5/0.705 + 1) = 0.636620 · 1.159864 · 1.140285.
    wall = iso_13370.basement_wall(**CELLAR_WALL)
    assert wall.u_value_w_m2k == pytest.approx(0.841978, abs=1e-6)
    assert (wall.floor_equivalent_thickness_m, wall.wall_equivalent_thickness_m) == pytest.approx(
        (2.115, 0.705)
    )


def test_basement_wall_with_surfaces_of_its_own() -> None:
    # By hand: d_t = 0.3 + 1.5 · (0.10 + 1.0 + 0.08) = 2.07; d_w = 1.5 · (0.20 + 0.3 + 0.08) = 0.87.
    wall = iso_13370.basement_wall(
        **CELLAR_WALL,
        floor_internal_surface_m2k_w=0.10,
        wall_internal_surface_m2k_w=0.20,
        external_surface_m2k_w=0.08,
    )
    assert (wall.floor_equivalent_thickness_m, wall.wall_equivalent_thickness_m) == pytest.approx(
        (2.07, 0.87)
    )


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"floor_internal_surface_m2k_w": -0.1}, "internal_surface_m2k_w"),
        ({"wall_internal_surface_m2k_w": -0.1}, "internal_surface_m2k_w"),
        ({"external_surface_m2k_w": math.inf}, "external_surface_m2k_w"),
        ({"wall_resistance_m2k_w": -1.0}, "wall_resistance_m2k_w"),
        # Less than nothing, though with its surfaces it would be more.
        ({"wall_resistance_m2k_w": -0.1}, "wall_resistance_m2k_w"),
        ({"soil_conductivity_w_mk": 0.0}, "soil_conductivity_w_mk"),
        ({"soil_conductivity_w_mk": -1.0}, "soil_conductivity_w_mk"),
        ({"wall_thickness_m": -0.1}, "wall_thickness_m"),
        (
            {"wall_resistance_m2k_w": 0.0, "wall_internal_surface_m2k_w": 0.0, "external_surface_m2k_w": 0.0},
            "wall_resistance_m2k_w",
        ),
    ],
)
def test_basement_walls_that_cannot_be(changed: dict[str, float], field: str) -> None:
    refused(lambda: iso_13370.basement_wall(**{**CELLAR_WALL, **changed}), NotPhysical, field)


# --- ISO 10077-1 -----------------------------------------------------------------------------------


def test_edges_may_take_off_as_much_as_the_parts_lose() -> None:
    # By hand: 1.0 · 1.1 − 1.0 · 1.1 = 0; 1.1 − 0.6 = 0.5; a tenth more than the parts lose can't be.
    part = [iso_10077_1.Part(1.0, 1.1)]
    assert iso_10077_1.window(part, [iso_10077_1.Edge(1.0, -1.1)]).u_value_w_m2k == 0.0
    assert iso_10077_1.window(part, [iso_10077_1.Edge(1.0, -0.6)]).u_value_w_m2k == pytest.approx(0.5)
    refused(lambda: iso_10077_1.window(part, [iso_10077_1.Edge(1.0, -1.21)]), NotPhysical, "edges")


# --- EN 1264 ---------------------------------------------------------------------------------------


def test_members_that_a_type_does_not_have_are_neutral() -> None:
    # By definition: a factor that is not in the product is 1, an exponent that raises nothing 0, and the limit
    # of water all over a plane is the basic curve (from memory): B_G 100, n_G 0.
    panel = en_1264.type_d(
        covering_resistance_m2k_w=0.05, screed_thickness_m=0.045, screed_conductivity_w_mk=1.2
    )
    assert (panel.limit_coefficient, panel.limit_exponent, panel.limit_factor) == (100.0, 0.0, 1.0)
    assert panel.limit_gradient_w_m2k == panel.gradient_w_m2k
    assert (panel.spacing_factor, panel.spacing_exponent, panel.screed_exponent) == (1.06, 1.0, 1.0)
    assert (panel.diameter_factor, panel.diameter_exponent) == (1.0, 0.0)
    assert (panel.device_factor, panel.contact_factor, panel.device_value) == (1.0, 1.0, 0.0)
    pipes = en_1264.type_a(**PIPES)
    assert (pipes.device_factor, pipes.contact_factor, pipes.device_value, pipes.limit_factor) == (
        1.0,
        1.0,
        0.0,
        1.0,
    )
    sheets = en_1264.type_b(**PIPES, **SHEETS)
    assert (sheets.diameter_factor, sheets.diameter_exponent, sheets.screed_exponent) == (1.0, 0.0, 1.0)


PIPES: dict[str, Any] = {
    "pipe_spacing_m": 0.15,
    "covering_resistance_m2k_w": 0.10,
    "screed_thickness_m": 0.05,
    "screed_conductivity_w_mk": 1.0,
    "pipe_outside_diameter_m": 0.016,
}
# s_WL · λ_WL + b_u · s_u · λ_E = 0.09 + 0.7 · 0.05: K_WL 1, as in the module's own tests.
SHEETS: dict[str, Any] = {
    "conducting_device_thickness_m": 0.0009,
    "conducting_device_conductivity_w_mk": 100.0,
    "conducting_device_width_m": 0.15,
}


def test_members_of_a_plane_of_water_by_hand() -> None:
    # By hand: s_u/λ_E 0.0375; a_U = 0.137593/(0.092593 + 0.0375) = 1.057651; a_B = 1/(1 + 6.5 · 1.06 ·
    # 1.057651 · 0.05) = 1/1.364361; K_H = 6.5 · 1.06 · 1.057651/1.364361 = 5.341121.
    panel = en_1264.type_d(
        covering_resistance_m2k_w=0.05, screed_thickness_m=0.045, screed_conductivity_w_mk=1.2
    )
    assert panel.screed_weight_m2k_w == pytest.approx(0.0375)
    assert panel.screed_factor == pytest.approx(1.057651, abs=1e-6)
    assert panel.covering_factor == pytest.approx(0.732944, abs=1e-6)
    assert panel.system_coefficient_w_m2k == 6.5
    assert panel.gradient_w_m2k == pytest.approx(5.341121, abs=1e-5)


def test_limit_of_a_narrow_device_by_hand() -> None:
    # The limit is that of devices as wide as the spacing times a_WL(L)/a_WL(T), at the gradient of the full
    # device: K_WL 1 at 0.15 m: a_WL 1 full and 0.415 none (K_WL 0, D 16 mm), B_G 89.0, n_G 0.024 (tables). Half
    # the spacing: 1 − 0.585 · 0.1 = 0.9415. Full gradient 5.46147/1.639215 (the module's own test).
    narrow = en_1264.type_b(**PIPES, **{**SHEETS, "conducting_device_width_m": 0.075})
    assert narrow.device_factor == pytest.approx(0.9415)
    assert narrow.limit_factor == pytest.approx(0.9415)
    assert narrow.limit_gradient_w_m2k == pytest.approx(5.46147 / 1.639215, abs=5e-5)
    # By hand: a_B = 1/(1 + 5.46147 · 0.9415 · 0.117041) = 1/1.601821; K_H = 5.141974/1.601821 = 3.210081.
    assert narrow.gradient_w_m2k == pytest.approx(3.210081, abs=5e-5)
    crossing = (89.0 / (5.46147 / 1.639215)) ** (1.0 / 0.976)
    limit = 0.9415 * 5.46147 / 1.639215 * crossing
    assert en_1264.limit_heat_flux(narrow, 9.0) == pytest.approx(limit, rel=2e-5)


def test_limit_curve_by_weight_ends_at_its_last_column() -> None:
    # s_u/λ_E of 0.0792 itself belongs to the tables by weight (A.4 at 0.2 m: 90.0), not to those by s_u/T
    # (0.396: 78.2 + 0.92 · 6.2 = 83.9).
    floor = en_1264.type_a(**{**PIPES, "pipe_spacing_m": 0.2, "screed_thickness_m": 0.0792})
    assert floor.limit_coefficient == pytest.approx(90.0)


@pytest.mark.parametrize(
    ("changed", "field", "kind"),
    [
        ({"covering_resistance_m2k_w": 0.16}, "covering_resistance_m2k_w", OutOfScope),
        ({"covering_resistance_m2k_w": -0.01}, "covering_resistance_m2k_w", NotPhysical),
        ({"screed_thickness_m": 0.0}, "screed_thickness_m", NotPhysical),
        ({"screed_conductivity_w_mk": 0.0}, "screed_conductivity_w_mk", NotPhysical),
    ],
)
def test_planes_of_water_that_are_refused(
    changed: dict[str, float], field: str, kind: type[MethodError]
) -> None:
    usual = {"covering_resistance_m2k_w": 0.05, "screed_thickness_m": 0.045, "screed_conductivity_w_mk": 1.2}
    refused(lambda: en_1264.type_d(**{**usual, **changed}), kind, field)


def test_sheets_without_a_screed_that_conducts_are_refused() -> None:
    refused(
        lambda: en_1264.type_b(**{**PIPES, "screed_conductivity_w_mk": 0.0}, **SHEETS),
        NotPhysical,
        "screed_conductivity_w_mk",
    )
    refused(
        lambda: en_1264.type_b(**{**PIPES, "covering_resistance_m2k_w": -0.1}, **SHEETS),
        NotPhysical,
        "covering_resistance_m2k_w",
    )


def test_pipe_that_is_all_wall_is_refused() -> None:
    refused(
        lambda: en_1264.type_a(**PIPES, pipe_wall_thickness_m=0.008), NotPhysical, "pipe_wall_thickness_m"
    )
    assert en_1264.type_a(**PIPES, pipe_wall_thickness_m=0.0079).gradient_w_m2k > 0.0


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"covering_resistance_m2k_w": -0.01}, "covering_resistance_m2k_w"),
        ({"screed_thickness_m": -0.01}, "screed_thickness_m"),
        ({"screed_conductivity_w_mk": 0.0}, "screed_conductivity_w_mk"),
    ],
)
def test_resistances_up_that_cannot_be(changed: dict[str, float], field: str) -> None:
    usual = {"covering_resistance_m2k_w": 0.0, "screed_thickness_m": 0.0, "screed_conductivity_w_mk": 1.2}
    # By hand: nothing but the surface, 1/10.8.
    assert en_1264.resistance_up(**usual) == pytest.approx(0.0925926, abs=5e-8)
    refused(lambda: en_1264.resistance_up(**{**usual, **changed}), NotPhysical, field)


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"upward_heat_flux_w_m2": -1.0}, "upward_heat_flux_w_m2"),
        ({"resistance_up_m2k_w": -0.1}, "resistance_up_m2k_w"),
        ({"resistance_down_m2k_w": 0.0}, "resistance_down_m2k_w"),
    ],
)
def test_downward_fluxes_that_cannot_be(changed: dict[str, float], field: str) -> None:
    usual = {
        "upward_heat_flux_w_m2": 0.0,
        "resistance_up_m2k_w": 0.0,
        "resistance_down_m2k_w": 0.5,
        "room_c": 20.0,
        "below_c": 10.0,
    }
    # By hand: no heat up and no resistance up: (20 − 10)/0.5.
    assert en_1264.downward_heat_flux(**usual) == pytest.approx(20.0)
    refused(lambda: en_1264.downward_heat_flux(**{**usual, **changed}), NotPhysical, field)


def test_fluxes_that_cannot_be_name_their_argument() -> None:
    floor = en_1264.type_a(**PIPES)
    refused(lambda: en_1264.heat_flux(floor, -1.0), NotPhysical, "excess_k")
    refused(lambda: en_1264.limit_heat_flux(floor, 0.0), NotPhysical, "surface_excess_k")
    refused(lambda: en_1264.basic_heat_flux(-1.0), NotPhysical, "surface_excess_k")
    refused(lambda: en_1264.surface_excess(-1.0), NotPhysical, "heat_flux_w_m2")


# --- Tables ----------------------------------------------------------------------------------------


def test_fan_convector_may_give_nothing_but_not_less() -> None:
    assert fan_convector.output([(10.0, 0.0), (20.0, 500.0)], 10.0) == 0.0
    refused(lambda: fan_convector.output([(10.0, -0.5), (20.0, 500.0)], 15.0), NotPhysical, "points")


def test_holes_are_counted_and_the_first_six_named() -> None:
    # By hand: four rows that share no temperature lack 16 − 4 of a full grid; named in the order of the axes.
    nodes = [(0.0, 35.0), (10.0, 40.0), (20.0, 45.0), (30.0, 50.0)]
    number, first = performance_table.holes(nodes)
    assert number == 12
    assert first == ((0.0, 40.0), (0.0, 45.0), (0.0, 50.0), (10.0, 35.0), (10.0, 45.0), (10.0, 50.0))
    assert performance_table.holes(nodes, 2) == (12, ((0.0, 40.0), (0.0, 45.0)))
    # Fewer than may be named: all of them.
    assert performance_table.holes([(0.0, 35.0), (10.0, 40.0)]) == (2, ((0.0, 40.0), (10.0, 35.0)))


def test_holes_of_a_performance_table_are_its_own_temperatures() -> None:
    nodes = [(-7.0, 35.0), (2.0, 35.0), (-7.0, 45.0)]
    assert performance_table.holes(nodes) == (1, ((2.0, 45.0),))
    # The first hole is told with its outside and its flow temperature.
    with pytest.raises(NotPhysical, match="at 2 °C outside with 45 °C flow") as refusal:
        performance_table.curve_at_flow(dict.fromkeys(nodes, 5000.0), 35.0)
    assert refusal.value.value == (2.0, 45.0)
