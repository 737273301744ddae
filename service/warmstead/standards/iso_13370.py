"""ISO 13370: steady heat transfer from floors and basements to the ground.

The clauses are those of the 2007 edition (the 2017 edition numbers them anew), and are from memory. The
formulas of the slab, of both its branches and of its edge insulation were read in a published course example,
together with the definitions of B′ and d_t; those of suspended floors and of basements are from memory. All
are the yearly mean, and the U-values stand for the difference between inside and outside air.

Reference: ISO 13370:2007 and 2017, Thermal performance of buildings - Heat transfer via the ground -
Calculation methods.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from warmstead.standards.errors import NotPhysical, OutOfScope, check_above_zero, check_not_below_zero

INTERNAL_SURFACE_OF_FLOOR_M2K_W = 0.17
INTERNAL_SURFACE_OF_WALL_M2K_W = 0.13
EXTERNAL_SURFACE_M2K_W = 0.04

VENTILATION_W_S_M3K = 1450.0
"""The heat that a wind of 1 m/s carries off, in W/(m²K), per m² of opening: the standard's rounded figure."""

_DIMENSION = "ISO 13370:2007, 8.1"
_THICKNESS = "ISO 13370:2007, 8.2"
_SLAB = "ISO 13370:2007, 9.1"
_SUSPENDED = "ISO 13370:2007, 9.2"
_BASEMENT = "ISO 13370:2007, 9.3"
_EDGE = "ISO 13370:2007, annex B"


class EdgeInsulation(NamedTuple):
    """Insulation along the edge of a slab: flat under or over its rim, or upright at its side.

    `width_m` is how far it reaches inwards, or how deep under the ground.
    """

    position: Literal["horizontal", "vertical"]
    width_m: float
    thickness_m: float
    conductivity_w_mk: float


class SlabOnGround(NamedTuple):
    """A slab's U-value, with B′, d_t, the U-value before edge insulation, and Ψ of that edge (0 or less)."""

    u_value_w_m2k: float
    characteristic_dimension_m: float
    equivalent_thickness_m: float
    u_value_without_edge_w_m2k: float
    edge_psi_w_mk: float


class SuspendedFloor(NamedTuple):
    """A suspended floor's U-value, with B′, d_g, and the U-values of floor, ground and the void's sides."""

    u_value_w_m2k: float
    characteristic_dimension_m: float
    equivalent_thickness_m: float
    floor_u_value_w_m2k: float
    ground_u_value_w_m2k: float
    sides_u_value_w_m2k: float


class BasementFloor(NamedTuple):
    """A heated basement floor's U-value, with B′ and d_t."""

    u_value_w_m2k: float
    characteristic_dimension_m: float
    equivalent_thickness_m: float


class BasementWall(NamedTuple):
    """A heated basement wall's U-value, with d_t of the floor and d_w of the wall, both as they are."""

    u_value_w_m2k: float
    floor_equivalent_thickness_m: float
    wall_equivalent_thickness_m: float


def slab_on_ground(
    *,
    area_m2: float,
    exposed_perimeter_m: float,
    wall_thickness_m: float,
    soil_conductivity_w_mk: float,
    floor_resistance_m2k_w: float,
    edge_insulation: EdgeInsulation | None = None,
    internal_surface_m2k_w: float = INTERNAL_SURFACE_OF_FLOOR_M2K_W,
    external_surface_m2k_w: float = EXTERNAL_SURFACE_M2K_W,
) -> SlabOnGround:
    """U-value of a slab on ground, with or without edge insulation (9.1 and annex B).

    B′ = A/(P/2); d_t = w + λ (R_si + R_f + R_se). Where d_t < B′, U0 = 2λ/(π B′ + d_t) · ln(π B′/d_t + 1),
    else U0 = λ/(0.457 B′ + d_t); the two differ by 0.014 % where they meet. Edge insulation adds 2 Ψ/B′.

    Args:
        area_m2: A, of the whole floor, m², above 0.
        exposed_perimeter_m: P, of the whole floor, towards outside or unheated spaces, m, above 0.
        wall_thickness_m: w, of the outside walls, all layers, m, 0 or more.
        soil_conductivity_w_mk: λ, W/(mK), above 0.
        floor_resistance_m2k_w: R_f, all-over layers without surfaces (dense slab and hardcore left out),
            m²K/W.
        edge_insulation: at the whole exposed perimeter.
        internal_surface_m2k_w: R_si, m²K/W.
        external_surface_m2k_w: R_se, m²K/W.

    Raises:
        OutOfScope: no exposed perimeter (B′ would be infinite; U tends to 0, which for a whole floor is an
            input to doubt, not a result); edge insulation that conducts better than the soil, or takes off
            all of U0.
        NotPhysical: a value outside its range.
    """
    dimension = _characteristic_dimension(area_m2, exposed_perimeter_m)
    check_not_below_zero(floor_resistance_m2k_w, "floor_resistance_m2k_w", _SLAB)
    resistance = _with_surfaces(internal_surface_m2k_w, floor_resistance_m2k_w, external_surface_m2k_w)
    thickness = _equivalent_thickness(wall_thickness_m, soil_conductivity_w_mk, resistance)
    without_edge = _floor_u_value(dimension, thickness, soil_conductivity_w_mk)
    if edge_insulation is None:
        return SlabOnGround(without_edge, dimension, thickness, without_edge, 0.0)
    psi = _edge_psi(edge_insulation, thickness, soil_conductivity_w_mk)
    u_value = without_edge + 2.0 * psi / dimension
    if u_value <= 0.0:
        raise OutOfScope(
            "the edge insulation would take off more than the floor loses",
            field="edge_insulation/width_m",
            value=edge_insulation.width_m,
            limit="an edge that leaves the floor a U-value above 0",
            clause=_EDGE,
        )
    return SlabOnGround(u_value, dimension, thickness, without_edge, psi)


def suspended_floor(
    *,
    area_m2: float,
    exposed_perimeter_m: float,
    wall_thickness_m: float,
    soil_conductivity_w_mk: float,
    floor_resistance_m2k_w: float,
    height_above_ground_m: float,
    ventilation_opening_m2_per_m: float,
    wind_speed_m_s: float,
    wind_shielding_factor: float,
    underfloor_wall_u_value_w_m2k: float,
    ground_resistance_m2k_w: float = 0.0,
    internal_surface_m2k_w: float = INTERNAL_SURFACE_OF_FLOOR_M2K_W,
    external_surface_m2k_w: float = EXTERNAL_SURFACE_M2K_W,
) -> SuspendedFloor:
    """U-value of a floor over a void that outside air ventilates (9.2; from memory).

    1/U = 1/U_f + 1/(U_g + U_x). U_f has R_si at both faces. U_g = 2λ/(π B′ + d_g) · ln(π B′/d_g + 1) with
    d_g = w + λ (R_si + R_g + R_se). U_x = 2 h U_w/B′ + 1450 ε v f_w/B′. For a void whose bottom is at most
    0.5 m under the ground outside, and which wind ventilates: deeper ones and mechanical ventilation are
    other formulas.

    Args:
        area_m2: A, of the whole floor, m², above 0.
        exposed_perimeter_m: P, of the whole floor, m, above 0.
        wall_thickness_m: w, of the outside walls, m, 0 or more.
        soil_conductivity_w_mk: λ, W/(mK), above 0.
        floor_resistance_m2k_w: R_f, of the floor without surfaces, its bridges counted, m²K/W, 0 or more.
        height_above_ground_m: h, of the floor's upper face above the ground outside, m, 0 or more.
        ventilation_opening_m2_per_m: ε, m² per metre of perimeter, 0 or more.
        wind_speed_m_s: v, the yearly mean at 10 m height, m/s, 0 or more.
        wind_shielding_factor: f_w, 0.02 sheltered, 0.05 average, 0.10 exposed; 0 to 1.
        underfloor_wall_u_value_w_m2k: U_w, of the walls of the void above ground, W/(m²K), 0 or more.
        ground_resistance_m2k_w: R_g, of insulation on the bottom of the void, m²K/W, 0 or more.
        internal_surface_m2k_w: R_si, m²K/W.
        external_surface_m2k_w: R_se, m²K/W.

    Raises:
        OutOfScope: no exposed perimeter.
        NotPhysical: a value outside its range.
    """
    dimension = _characteristic_dimension(area_m2, exposed_perimeter_m)
    for value, field in (
        (floor_resistance_m2k_w, "floor_resistance_m2k_w"),
        (height_above_ground_m, "height_above_ground_m"),
        (ventilation_opening_m2_per_m, "ventilation_opening_m2_per_m"),
        (wind_speed_m_s, "wind_speed_m_s"),
        (underfloor_wall_u_value_w_m2k, "underfloor_wall_u_value_w_m2k"),
        (ground_resistance_m2k_w, "ground_resistance_m2k_w"),
    ):
        check_not_below_zero(value, field, _SUSPENDED)
    if not 0.0 <= wind_shielding_factor <= 1.0:
        raise NotPhysical(
            f"a wind shielding factor of {wind_shielding_factor} can't be",
            field="wind_shielding_factor",
            value=wind_shielding_factor,
            limit="0 to 1",
            clause=_SUSPENDED,
        )
    through_floor = floor_resistance_m2k_w + 2.0 * internal_surface_m2k_w
    check_above_zero(through_floor, "floor_resistance_m2k_w", _SUSPENDED)
    resistance = _with_surfaces(internal_surface_m2k_w, ground_resistance_m2k_w, external_surface_m2k_w)
    thickness = _equivalent_thickness(wall_thickness_m, soil_conductivity_w_mk, resistance)
    ground = _uninsulated_floor_u_value(dimension, thickness, soil_conductivity_w_mk)
    walls = 2.0 * height_above_ground_m * underfloor_wall_u_value_w_m2k / dimension
    air = (
        VENTILATION_W_S_M3K
        * ventilation_opening_m2_per_m
        * wind_speed_m_s
        * wind_shielding_factor
        / dimension
    )
    sides = walls + air
    u_value = 1.0 / (through_floor + 1.0 / (ground + sides))
    return SuspendedFloor(u_value, dimension, thickness, 1.0 / through_floor, ground, sides)


def basement_floor(
    *,
    area_m2: float,
    exposed_perimeter_m: float,
    wall_thickness_m: float,
    soil_conductivity_w_mk: float,
    floor_resistance_m2k_w: float,
    depth_m: float,
    internal_surface_m2k_w: float = INTERNAL_SURFACE_OF_FLOOR_M2K_W,
    external_surface_m2k_w: float = EXTERNAL_SURFACE_M2K_W,
) -> BasementFloor:
    """U-value of the floor of a heated basement (9.3.2; from memory).

    The slab's two formulas with d_t + z/2 in place of d_t; at no depth it is a slab on ground.

    Args:
        area_m2: A, of the whole floor, m², above 0.
        exposed_perimeter_m: P, of the whole floor, m, above 0.
        wall_thickness_m: w, of the walls at ground level, m, 0 or more.
        soil_conductivity_w_mk: λ, W/(mK), above 0.
        floor_resistance_m2k_w: R_f, without surfaces, m²K/W, 0 or more.
        depth_m: z, of the floor under the ground outside, its mean where it varies, m, 0 or more.
        internal_surface_m2k_w: R_si, m²K/W.
        external_surface_m2k_w: R_se, m²K/W.

    Raises:
        OutOfScope: no exposed perimeter.
        NotPhysical: a value outside its range.
    """
    dimension = _characteristic_dimension(area_m2, exposed_perimeter_m)
    check_not_below_zero(floor_resistance_m2k_w, "floor_resistance_m2k_w", _BASEMENT)
    check_not_below_zero(depth_m, "depth_m", _BASEMENT)
    resistance = _with_surfaces(internal_surface_m2k_w, floor_resistance_m2k_w, external_surface_m2k_w)
    thickness = _equivalent_thickness(wall_thickness_m, soil_conductivity_w_mk, resistance)
    u_value = _floor_u_value(dimension, thickness + depth_m / 2.0, soil_conductivity_w_mk)
    return BasementFloor(u_value, dimension, thickness)


def basement_wall(
    *,
    wall_thickness_m: float,
    soil_conductivity_w_mk: float,
    floor_resistance_m2k_w: float,
    depth_m: float,
    wall_resistance_m2k_w: float,
    floor_internal_surface_m2k_w: float = INTERNAL_SURFACE_OF_FLOOR_M2K_W,
    wall_internal_surface_m2k_w: float = INTERNAL_SURFACE_OF_WALL_M2K_W,
    external_surface_m2k_w: float = EXTERNAL_SURFACE_M2K_W,
) -> BasementWall:
    """U-value of the wall of a heated basement, over its depth under the ground (9.3.3; from memory).

    U = 2λ/(π z) · (1 + 0.5 d_t/(d_t + z)) · ln(z/d_w + 1) with d_w = λ (R_si + R_w + R_se) and d_t of the
    floor. Where d_w < d_t, d_w stands for d_t too.

    Args:
        wall_thickness_m: w, of the walls at ground level, m, 0 or more.
        soil_conductivity_w_mk: λ, W/(mK), above 0.
        floor_resistance_m2k_w: R_f of the basement floor, without surfaces, m²K/W, 0 or more.
        depth_m: z, of the floor under the ground outside, m, above 0: without depth there is no such wall.
        wall_resistance_m2k_w: R_w, all layers of the wall without surfaces, m²K/W, 0 or more.
        floor_internal_surface_m2k_w: R_si of the floor, m²K/W.
        wall_internal_surface_m2k_w: R_si of the wall, m²K/W.
        external_surface_m2k_w: R_se, m²K/W.

    Raises:
        NotPhysical: a value outside its range.
    """
    check_not_below_zero(floor_resistance_m2k_w, "floor_resistance_m2k_w", _BASEMENT)
    check_not_below_zero(wall_resistance_m2k_w, "wall_resistance_m2k_w", _BASEMENT)
    check_above_zero(depth_m, "depth_m", _BASEMENT)
    floor = _equivalent_thickness(
        wall_thickness_m,
        soil_conductivity_w_mk,
        _with_surfaces(floor_internal_surface_m2k_w, floor_resistance_m2k_w, external_surface_m2k_w),
    )
    wall = soil_conductivity_w_mk * _with_surfaces(
        wall_internal_surface_m2k_w, wall_resistance_m2k_w, external_surface_m2k_w
    )
    check_above_zero(wall, "wall_resistance_m2k_w", _BASEMENT)
    below_corner = min(floor, wall)
    u_value = (
        2.0
        * soil_conductivity_w_mk
        / (math.pi * depth_m)
        * (1.0 + 0.5 * below_corner / (below_corner + depth_m))
        * math.log1p(depth_m / wall)
    )
    return BasementWall(u_value, floor, wall)


# --- Shared by the floors -------------------------------------------------------------------------


def _characteristic_dimension(area_m2: float, exposed_perimeter_m: float) -> float:
    """B′ (8.1): the area over half the exposed perimeter, in m."""
    check_above_zero(area_m2, "area_m2", _DIMENSION)
    check_not_below_zero(exposed_perimeter_m, "exposed_perimeter_m", _DIMENSION)
    if exposed_perimeter_m == 0.0:
        raise OutOfScope(
            "a floor without exposed perimeter has no characteristic dimension: give that of the whole floor",
            field="exposed_perimeter_m",
            value=exposed_perimeter_m,
            limit="above 0 m",
            clause=_DIMENSION,
        )
    return area_m2 / (0.5 * exposed_perimeter_m)


def _with_surfaces(
    internal_surface_m2k_w: float, resistance_m2k_w: float, external_surface_m2k_w: float
) -> float:
    check_not_below_zero(internal_surface_m2k_w, "internal_surface_m2k_w", _THICKNESS)
    check_not_below_zero(external_surface_m2k_w, "external_surface_m2k_w", _THICKNESS)
    return internal_surface_m2k_w + resistance_m2k_w + external_surface_m2k_w


def _equivalent_thickness(
    wall_thickness_m: float, soil_conductivity_w_mk: float, resistance_with_surfaces_m2k_w: float
) -> float:
    """d_t (8.2): the thickness of soil with the same resistance, and the wall over it, in m."""
    check_not_below_zero(wall_thickness_m, "wall_thickness_m", _THICKNESS)
    check_above_zero(soil_conductivity_w_mk, "soil_conductivity_w_mk", _THICKNESS)
    thickness = wall_thickness_m + soil_conductivity_w_mk * resistance_with_surfaces_m2k_w
    check_above_zero(thickness, "wall_thickness_m", _THICKNESS)
    return thickness


def _floor_u_value(dimension_m: float, thickness_m: float, soil_conductivity_w_mk: float) -> float:
    if thickness_m < dimension_m:
        return _uninsulated_floor_u_value(dimension_m, thickness_m, soil_conductivity_w_mk)
    return soil_conductivity_w_mk / (0.457 * dimension_m + thickness_m)


def _uninsulated_floor_u_value(
    dimension_m: float, thickness_m: float, soil_conductivity_w_mk: float
) -> float:
    """The formula for floors without, or with moderate, insulation."""
    across = math.pi * dimension_m
    return 2.0 * soil_conductivity_w_mk / (across + thickness_m) * math.log1p(across / thickness_m)


def _edge_psi(edge: EdgeInsulation, thickness_m: float, soil_conductivity_w_mk: float) -> float:
    """Ψ of edge insulation (annex B), in W/(mK): −λ/π · (ln(D/d_t + 1) − ln(D/(d_t + d′) + 1)), upright 2 D.

    d′ = λ R′, where R′ is the insulation's resistance less that of the soil in its place.
    """
    for value, field in zip(edge[1:], EdgeInsulation._fields[1:], strict=True):
        check_above_zero(value, f"edge_insulation/{field}", _EDGE)
    if edge.conductivity_w_mk > soil_conductivity_w_mk:
        raise OutOfScope(
            "edge insulation that conducts better than the soil it replaces",
            field="edge_insulation/conductivity_w_mk",
            value=edge.conductivity_w_mk,
            limit=f"at most that of the soil, {soil_conductivity_w_mk:g} W/(mK)",
            clause=_EDGE,
        )
    additional_resistance = (
        edge.thickness_m / edge.conductivity_w_mk - edge.thickness_m / soil_conductivity_w_mk
    )
    additional_thickness = additional_resistance * soil_conductivity_w_mk
    reach = edge.width_m if edge.position == "horizontal" else 2.0 * edge.width_m
    removed = math.log1p(reach / thickness_m) - math.log1p(reach / (thickness_m + additional_thickness))
    return -soil_conductivity_w_mk / math.pi * removed
