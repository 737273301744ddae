"""The published grid: the inputs on which a mutant must differ to count as a fault.

A mutant that gives the same result as the right equation everywhere on this grid, to 1e-9 of it (or of 1), counts as
equivalent: it is another way of writing the same thing. Every axis holds ordinary values, the places where a rule changes
and both sides of every limit.
"""

from __future__ import annotations

import importlib
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import product
from typing import Any

import grid_statistics
import numpy as np
from grid_calls import Call, one_by_one, over

from warmstead.standards import (
    en_442,
    en_1264,
    en_12831,
    en_14825,
    fan_convector,
    iso_6946,
    iso_10077_1,
    iso_13370,
    performance_table,
    water,
)
from warmstead.standards.errors import MethodError, check_above_zero, check_not_below_zero

SAME_WITHIN = 1e-9
"""Of the greater of 1 and the value itself."""

REFUSED = "(refused)"

Outcome = list[float | str]

NOT_NUMBERS = (-1.0, 0.0, math.nan, math.inf)


def outcome(call: Call) -> Outcome:
    """Return what a call gives, flat: its numbers and texts, or which refusal, of which field, at which limit."""
    function, positional, named = call
    flat: Outcome = []
    try:
        _flatten(function(*positional, **named), flat)
    except MethodError as refusal:
        return [REFUSED, type(refusal).__name__, refusal.field, refusal.limit]
    except Exception as error:  # a mutant may fail in any way
        return [REFUSED, type(error).__name__]
    return flat


def is_refusal(given: Outcome) -> bool:
    """Whether an outcome is no result but a refusal, or a failure."""
    return bool(given) and given[0] == REFUSED


def same(one: Outcome, other: Outcome) -> bool:
    """Whether two outcomes agree, each number to 1e-9."""
    return len(one) == len(other) and all(map(_agree, one, other))


def _agree(one: float | str, other: float | str) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return one == other
    if not (math.isfinite(one) and math.isfinite(other)):
        return one == other or (math.isnan(one) and math.isnan(other))
    return abs(one - other) <= SAME_WITHIN * max(1.0, abs(one))


def _flatten(value: Any, into: Outcome) -> None:
    if isinstance(value, np.ndarray | np.generic):
        value = value.tolist()
    if value is None or isinstance(value, bool | str):
        into.append(str(value))
    elif isinstance(value, int | float):
        into.append(float(value))
    elif isinstance(value, Mapping):
        for name in value:
            into.append(str(name))
            _flatten(value[name], into)
    elif isinstance(value, Sequence):
        into.append(f"[{len(value)}]")
        for one in value:
            _flatten(one, into)
    else:
        into.append(repr(value))


def calls_of(module: str) -> list[Call]:
    """Return the grid's calls of a module of `warmstead.standards`, and one that reads its public constants."""
    return [*_GRIDS[module](), (public_constants, (module,), {})]


def public_constants(module: str) -> dict[str, float]:
    """Return the numbers that a module shows to others by name."""
    held = vars(importlib.import_module(f"warmstead.standards.{module}"))
    return {
        name: value for name, value in held.items() if name[0].isupper() and isinstance(value, int | float)
    }


# --- ISO 6946 --------------------------------------------------------------------------------------


def _iso_6946() -> Iterator[Call]:
    bridge, layer = iso_6946.Bridge, iso_6946.Layer
    walls: list[list[iso_6946.Layer]] = [
        [],
        [layer(0.0)],
        [layer(0.1), layer(2.3)],
        [layer(0.0), layer(1.7)],
        [layer(4.0, (bridge(0.1, 0.5),))],
        [layer(0.06), layer(3.5, (bridge(0.15, 1.167),)), layer(0.069), layer(0.18)],
        [layer(2.0, (bridge(0.1, 0.5),)), layer(3.0, (bridge(0.2, 0.8), bridge(0.05, 0.3)))],
        [
            layer(2.0, (bridge(0.1, 0.5, "a"),)),
            layer(1.0, (bridge(0.2, 0.4),)),
            layer(3.0, (bridge(0.1, 0.9, "a"),)),
        ],
        [
            layer(2.0, (bridge(0.1, 0.5, "a"), bridge(0.2, 0.7, "b"))),
            layer(3.0, (bridge(0.2, 0.9, "b"), bridge(0.1, 0.6, "a"))),
        ],
        [
            layer(2.5, (bridge(0.15, 0.8, "a"),)),
            layer(1.0),
            layer(1.5, (bridge(0.15, 0.5, "a"), bridge(0.17, 0.6))),
        ],
        [
            layer(2.0, (bridge(0.1, 0.5, "a"),)),
            layer(1.0, (bridge(0.1, 0.5, "a"), bridge(0.3, 0.2, "b"))),
            layer(1.0, (bridge(0.3, 0.2, "b"),)),
        ],
        [layer(2.0, (bridge(0.0, 0.5),)), layer(1.0)],
        [layer(2.0, (bridge(0.0, 0.5), bridge(0.1, 0.4))), layer(1.0)],
        [
            layer(2.0, (bridge(0.1, 0.5, "a"),)),
            layer(3.0, (bridge(0.2, 0.9, "b"),)),
            layer(1.0, (bridge(0.1, 0.3, "a"), bridge(0.2, 0.4, "b"))),
        ],
        [layer(2.0, (bridge(0.1, 0.5, "a"),)), layer(2.0, (bridge(0.12, 0.5, "a"),))],
        [layer(2.0, (bridge(0.1, 0.5, "a"),)), layer(2.0, (bridge(0.1 * (1.0 + 1e-12), 0.5, "a"),))],
        [layer(2.0, (bridge(0.1, 0.5, "a"), bridge(0.1, 0.5, "a")))],
        [layer(2.0, (bridge(0.6, 1.0), bridge(0.4, 2.0)))],
        [layer(2.0, (bridge(0.6, 1.0), bridge(0.5, 2.0)))],
        [layer(2.0, (bridge(0.999, 1.0),))],
        [layer(-0.1)],
        [layer(math.nan)],
        [layer(math.inf)],
        [layer(0.0, (bridge(0.1, 1.0),))],
        [layer(-1.0, (bridge(0.1, 1.0),))],
        [layer(1.0, (bridge(0.1, 0.0),))],
        [layer(1.0, (bridge(-0.1, 1.0),))],
        [layer(1.0, (bridge(0.1, math.inf),))],
        [layer(1.0, (bridge(0.1, 0.5),))] * 7,
        [layer(1.0, (bridge(0.1, 0.5),))] * 8,
        [layer(1.0, (bridge(0.001, 0.5),) * 2), layer(1.0, (bridge(0.001, 0.5),) * 42)],
        [layer(1.0, (bridge(0.1, 0.5, "a"),))] * 14,
    ]
    for wall in walls:
        for surfaces in (
            (0.13, 0.04),
            (0.10, 0.04),
            (0.0, 0.0),
            (0.0, 0.04),
            (-0.1, 0.2),
            (0.13, -0.04),
            (0.13, math.inf),
        ):
            yield iso_6946.total_resistance, (wall, *surfaces), {}

    points = [(0.0, 0.0), (0.005, 0.11), (0.015, 0.17), (0.025, 0.19), (0.05, 0.21), (0.3, 0.23)]
    for thickness in (-0.01, 0.0, 0.001, 0.005, 0.01, 0.02, 0.025, 0.04, 0.1, 0.3, 0.301, math.nan, math.inf):
        yield iso_6946.tabulated_air_layer, (thickness, points), {}
        yield iso_6946.tabulated_air_layer, (thickness, points[1:]), {}

    yield from over(
        iso_6946.emissive_air_layer,
        thickness_m=(0.002, 0.0128, 0.02, 0.025, 0.0366, 0.1, 0.3),
        heat_flow=("horizontal", "upwards", "downwards"),
        emissivity=(0.05, 0.5, 0.9, 1.0),
        opposite_emissivity=(0.05, 0.9, 1.0),
        mean_temperature_c=(-10.0, 0.0, 10.0, 25.0),
    )
    yield iso_6946.emissive_air_layer, (0.05, "horizontal", 0.3), {}
    yield from one_by_one(
        iso_6946.emissive_air_layer,
        {"thickness_m": 0.05, "heat_flow": "upwards", "emissivity": 0.9},
        thickness_m=(*NOT_NUMBERS, 0.301, 0.31, 1.3),
        emissivity=(*NOT_NUMBERS, 1.001),
        opposite_emissivity=(*NOT_NUMBERS, 1.001),
        mean_temperature_c=(-273.15, -273.0, -280.0, math.inf),
    )

    openings = (499.0, 500.0, 500.001, 750.0, 1000.0, 1499.0, 1500.0, 1500.5, 1501.0, math.nan)
    yield from over(
        iso_6946.slightly_ventilated_total,
        openings_mm2=openings,
        unventilated_total_m2k_w=(3.0, 0.5, 0.0, -1.0, math.inf),
        well_ventilated_total_m2k_w=(2.6, 0.7, 0.0, -1.0, math.nan),
    )
    yield from over(iso_6946.unventilated_share, openings_mm2=openings)
    yield from over(
        iso_6946.slightly_ventilated_1996,
        air_layer_resistance_m2k_w=(0.0, 0.18, 0.21, *NOT_NUMBERS),
        outer_resistance_m2k_w=(0.0, 0.10, 0.15, 0.1501, 0.9, *NOT_NUMBERS),
    )
    yield from _tapers()
    yield from _corrections()
    for resistances in ((0.13, 0.5, 3.3, 0.04), (0.0, 1.0), (1.0,), (0.0,), (), (0.2, -0.1), (0.2, math.inf)):
        for inside, outside in ((20.0, 0.0), (21.0, -3.0), (18.0, 25.0)):
            yield iso_6946.interface_temperatures, (resistances, inside, outside), {}
    for u_value in (0.0, 0.004, 0.005, 0.285, 0.2849999, 0.2968, 1.005, 2, 12.345, -0.1, math.nan, math.inf):
        yield iso_6946.stated, (u_value,), {}


def _tapers() -> Iterator[Call]:
    shapes = (
        "rectangle",
        "triangle_thickest_at_apex",
        "triangle_thinnest_at_apex",
        "triangle_three_thicknesses",
    )
    thickest = (0.0, 1e-6, 0.01, 0.05, 0.0999, 0.1, 0.11, 0.3, 1.0, 3.0, 8.0, -1.0, math.nan, math.inf)
    for shape, base, top in product(shapes, (0.3, 1.0, 2.5, 0.0, -1.0, math.inf), thickest):
        for between in (None, 0.0, 0.004, 0.09, 0.1, 0.5, 1.0, 3.0, -0.1, 20.0):
            yield iso_6946.tapered_u_value, (shape, base, top, between), {}


def _corrections() -> Iterator[Call]:
    shares = (
        (2.5, 3.0),
        (3.0, 3.0),
        (0.5, 3.1),
        (3.1, 3.0),
        (0.0, 3.0),
        (-1.0, 3.0),
        (2.0, 0.0),
        (2.0, math.inf),
    )
    for level, share in product((-1, 0, 1, 2, 3), shares):
        yield iso_6946.air_gap_correction, (level, *share), {}
    fastener = {
        "conductivity_w_mk": 50.0,
        "cross_section_m2": 2e-5,
        "count_per_m2": 4.0,
        "insulation_thickness_m": 0.1,
        "penetration_m": 0.1,
        "insulation_resistance_m2k_w": 2.5,
        "total_m2k_w": 3.0,
    }
    yield from one_by_one(
        iso_6946.fastener_correction,
        fastener,
        conductivity_w_mk=(17.0, *NOT_NUMBERS),
        cross_section_m2=(5e-5, *NOT_NUMBERS),
        count_per_m2=(6.0, *NOT_NUMBERS),
        insulation_thickness_m=(0.12, 0.15, *NOT_NUMBERS),
        penetration_m=(0.05, 0.075, 0.11, *NOT_NUMBERS),
        insulation_resistance_m2k_w=(1.0, 3.0, 3.5, *NOT_NUMBERS),
        total_m2k_w=(2.5, 4.0, *NOT_NUMBERS),
    )
    yield from over(
        iso_6946.inverted_roof_correction,
        rainfall_mm_per_day=(0.0, 2.5, 3.0, -1.0, math.inf),
        drainage_factor=(0.0, 0.5, 1.0, 1.001, 1.5, -0.1, math.nan),
        heat_loss_factor=(0.0, 0.04, 0.02, -0.04, math.nan),
        insulation_resistance_m2k_w=(2.5, 3.0, 3.1),
        total_m2k_w=(3.0,),
    )
    yield from over(
        iso_6946.correction_may_be_left_out,
        correction_w_m2k=(0.0, 0.00599, 0.006, 0.00601, 0.01, 0.3, -0.01, math.nan, math.inf),
        u_value_w_m2k=(0.2, 0.3, 1.0, 10.0, 0.0, -1.0, math.inf),
    )


# --- ISO 13370 and ISO 10077-1 ---------------------------------------------------------------------


def _iso_13370() -> Iterator[Call]:
    floor = {
        "area_m2": 50.0,
        "exposed_perimeter_m": 20.0,
        "wall_thickness_m": 0.3,
        "soil_conductivity_w_mk": 2.0,
        "floor_resistance_m2k_w": 1.0,
    }
    ranges: dict[str, Sequence[float]] = {
        "area_m2": (20.0, 100.0, *NOT_NUMBERS),
        "exposed_perimeter_m": (10.0, 40.0, 1e-9, *NOT_NUMBERS),
        "wall_thickness_m": (0.0, 0.5, *NOT_NUMBERS),
        "soil_conductivity_w_mk": (1.5, 3.5, *NOT_NUMBERS),
        "floor_resistance_m2k_w": (0.0, 0.5, 2.5, 6.0, *NOT_NUMBERS),
        "internal_surface_m2k_w": (0.10, 0.13, 0.0, -0.1, math.inf),
        "external_surface_m2k_w": (0.0, 0.1, -0.1, math.inf),
    }
    # The last of these has d_t equal to B′ exactly: 0 + 2 · (0.17 + 0.79 + 0.04) = 2 = 20/(0.5 · 20).
    yield from over(
        iso_13370.slab_on_ground,
        area_m2=(20.0, 100.0),
        exposed_perimeter_m=(20.0, 45.0),
        wall_thickness_m=(0.0, 0.3),
        soil_conductivity_w_mk=(1.5, 2.0),
        floor_resistance_m2k_w=(0.0, 0.79, 2.5, 6.0),
    )
    yield from one_by_one(iso_13370.slab_on_ground, floor, **ranges)
    edge = iso_13370.EdgeInsulation
    for position, width, thickness, conductivity in product(
        ("horizontal", "vertical"), (0.5, 1.0, 0.0, 30.0), (0.05, 0.1, 0.0), (0.035, 2.0, 2.1, 0.0, math.inf)
    ):
        insulation = edge(position, width, thickness, conductivity)  # type: ignore[arg-type]  # a position by its name
        yield iso_13370.slab_on_ground, (), {**floor, "edge_insulation": insulation}
        yield (
            iso_13370.slab_on_ground,
            (),
            {**floor, "floor_resistance_m2k_w": 0.0, "edge_insulation": insulation},
        )
    for width in (5.0, 30.0):
        insulation = edge("vertical", width, 0.5, 0.02)
        bare_square = {
            **floor,
            "exposed_perimeter_m": 50.0,
            "soil_conductivity_w_mk": 1.5,
            "floor_resistance_m2k_w": 0.0,
        }
        yield iso_13370.slab_on_ground, (), {**bare_square, "edge_insulation": insulation}
    bare = {**floor, "wall_thickness_m": 0.0, "floor_resistance_m2k_w": 0.0}
    yield iso_13370.slab_on_ground, (), {**bare, "internal_surface_m2k_w": 0.0, "external_surface_m2k_w": 0.0}

    void = {
        **floor,
        "height_above_ground_m": 0.3,
        "ventilation_opening_m2_per_m": 0.0015,
        "wind_speed_m_s": 5.0,
        "wind_shielding_factor": 0.05,
        "underfloor_wall_u_value_w_m2k": 1.7,
    }
    yield from one_by_one(
        iso_13370.suspended_floor,
        void,
        height_above_ground_m=(0.6, *NOT_NUMBERS),
        ventilation_opening_m2_per_m=(0.003, *NOT_NUMBERS),
        wind_speed_m_s=(3.0, *NOT_NUMBERS),
        wind_shielding_factor=(0.02, 0.1, 1.0, 1.001, 1.5, *NOT_NUMBERS),
        underfloor_wall_u_value_w_m2k=(0.5, *NOT_NUMBERS),
        ground_resistance_m2k_w=(0.0, 1.0, -1.0, math.inf),
        **ranges,
    )
    yield (
        iso_13370.suspended_floor,
        (),
        {**void, "floor_resistance_m2k_w": 0.0, "internal_surface_m2k_w": 0.0},
    )

    yield from one_by_one(
        iso_13370.basement_floor, {**floor, "depth_m": 1.5}, depth_m=(0.5, 2.5, *NOT_NUMBERS), **ranges
    )
    deep = {**floor, "area_m2": 20.0, "exposed_perimeter_m": 20.0, "wall_thickness_m": 0.0}
    for depth, resistance in product((0.0, 1.0, 2.0), (0.0, 0.29, 0.79, 4.0)):
        yield iso_13370.basement_floor, (), {**deep, "floor_resistance_m2k_w": resistance, "depth_m": depth}

    wall = {
        "wall_thickness_m": 0.3,
        "soil_conductivity_w_mk": 2.0,
        "floor_resistance_m2k_w": 1.0,
        "depth_m": 1.5,
        "wall_resistance_m2k_w": 0.8,
    }
    yield from one_by_one(
        iso_13370.basement_wall,
        wall,
        wall_thickness_m=(0.0, 0.5, *NOT_NUMBERS),
        soil_conductivity_w_mk=(1.5, *NOT_NUMBERS),
        floor_resistance_m2k_w=(0.0, 2.5, *NOT_NUMBERS),
        depth_m=(0.5, 2.5, *NOT_NUMBERS),
        wall_resistance_m2k_w=(0.0, 0.3, 2.5, *NOT_NUMBERS),
        floor_internal_surface_m2k_w=(0.1, -0.1, math.inf),
        wall_internal_surface_m2k_w=(0.1, 0.3, -0.1, math.inf),
        external_surface_m2k_w=(0.1, -0.1, math.inf),
    )
    yield iso_13370.basement_wall, (), {**wall, "wall_resistance_m2k_w": 0.0, "wall_internal_surface_m2k_w": 0.0, "external_surface_m2k_w": 0.0}  # noqa: E501  # fmt: skip


def _iso_10077_1() -> Iterator[Call]:
    part, edge = iso_10077_1.Part, iso_10077_1.Edge
    parts: tuple[list[iso_10077_1.Part], ...] = (
        [part(1.2, 1.1), part(0.3, 1.5)],
        [part(1.2, 1.1)],
        [part(0.5, 1.2), part(0.1, 1.8)],
        [part(0.5, 1.2), part(0.6, 1.8), part(0.9, 0.7)],
        [part(0.0, 1.1), part(2.0, 0.0)],
        [],
        [part(0.0, 1.1)],
        [part(1.0, 1.1), part(-0.3, 1.5)],
        [part(1.0, -1.1)],
        [part(1.0, math.inf)],
        [part(math.nan, 1.0)],
    )
    edges: tuple[list[iso_10077_1.Edge], ...] = (
        [],
        [edge(6.0, 0.04)],
        [edge(3.0, 0.06), edge(4.0, 0.05)],
        [edge(0.0, 0.1), edge(2.0, 0.0)],
        [edge(6.0, -0.01)],
        [edge(1.0, -1.1)],
        [edge(1.0, -0.5)],
        [edge(1.0, -1.2)],
        [edge(6.0, -0.2)],
        [edge(60.0, -0.2)],
        [edge(-6.0, 0.04)],
        [edge(6.0, math.nan)],
        [edge(math.inf, 0.04)],
    )
    for some_parts, some_edges in product(parts, edges):
        yield iso_10077_1.window, (some_parts, some_edges), {}


# --- EN 12831 --------------------------------------------------------------------------------------


def _en_12831() -> Iterator[Call]:
    rooms, outside = (18.0, 21.0), (-7.0, 3.5)
    yield from over(
        en_12831.ground_difference,
        room_c=rooms,
        annual_mean_external_c=(8.5, 10.0),
        ground_factor=(1.0, 1.45),
        ground_water_factor=(1.0, 1.15),
    )
    yield from over(
        en_12831.reduced_difference, room_c=rooms, external_c=outside, reduction_factor=(0.0, 0.4, 0.8, 1.0)
    )
    coupling = en_12831.Coupling
    for sides in (
        [coupling(10.0, 20.0), coupling(30.0, -3.0)],
        [coupling(5.0, 21.0), coupling(7.5, 18.0), coupling(40.0, -5.0), coupling(3.0, 10.0)],
        [coupling(0.5, 12.0)],
        [coupling(0.0, 12.0)],
        [],
        [coupling(-1.0, 12.0)],
        [coupling(10.0, 20.0), coupling(5.0, -3.0), coupling(-2.0, -10.0)],
        [coupling(10.0, 20.0), coupling(5.0, 20.0), coupling(-5.0, 20.0)],
        [coupling(10.0, 20.0), coupling(5.0, 20.0), coupling(-5.0, 19.0)],
        [coupling(10.0, 20.0), coupling(5.0, 20.0), coupling(-5.0, 21.0)],
        [coupling(10.0, 20.0), coupling(5.0, 10.0), coupling(-14.0, 12.0)],
        [coupling(10.0, 20.0), coupling(0.0, 40.0), coupling(-9.0, 18.0)],
        [coupling(0.5, 20.0), coupling(0.5, 10.0), coupling(-0.25, 5.0)],
    ):
        yield en_12831.unheated_temperature, (sides,), {}
    yield from over(
        en_12831.air_change_coefficient,
        air_heat_capacity_wh_m3k=(0.33, 0.34),
        air_changes=(0.0, 0.5, 1.5),
        volume_m3=(0.0, 40.0),
        supply_l_s=(0.0, 12.0),
        heat_recovery_efficiency=(0.0, 0.8, 1.0),
        unbalanced_extract_l_s=(0.0, 7.0),
    )
    yield (
        en_12831.air_change_coefficient,
        (),
        {"air_heat_capacity_wh_m3k": 0.33, "air_changes": 0.7, "volume_m3": 31.0},
    )
    yield (
        en_12831.air_change_coefficient,
        (),
        {"air_heat_capacity_wh_m3k": 0.33, "air_changes": 0.7, "volume_m3": 31.0, "supply_l_s": 8.0},
    )
    yield from over(
        en_12831.air_changes_from_permeability,
        air_permeability_m3_h_m2=(3.0, 10.0),
        envelope_area_m2=(200.0, 350.0),
        volume_m3=(250.0, 400.0),
    )
    yield from over(
        en_12831.infiltration,
        volume_m3=(25.0, 40.0),
        air_changes_at_50pa=(0.6, 8.0),
        shielding_coefficient=(0.0, 0.02, 0.05),
        height_factor=(1.0, 1.2),
    )
    yield from over(
        en_12831.room_air,
        infiltration_m3_h=(0.0, 10.0, 45.0),
        hygienic_m3_h=(0.0, 20.0, 45.0),
        mechanical_m3_h=(0.0, 8.0, 60.0),
        recovered_m3_h=(0.0, 5.0),
    )
    air = en_12831.RoomAir
    houses: tuple[list[tuple[en_12831.RoomAir, float]], ...] = (
        [],
        [(air(10.0, 20.0, 0.0, 0.0, 20.0), 24.0)],
        [(air(50.0, 20.0, 0.0, 0.0, 50.0), 24.0), (air(8.0, 2.0, 0.0, 0.0, 8.0), 21.0)],
        [(air(10.0, 20.0, 15.0, 9.0, 16.0), 24.0), (air(30.0, 12.0, 7.0, 0.0, 37.0), 21.0)],
    )
    for house, capacity in product(houses, (0.33, 0.34)):
        yield en_12831.building_ventilation, (house, capacity), {}


# --- EN 14825 and the table ------------------------------------------------------------------------

_CURVES: tuple[performance_table.Curve, ...] = (
    ((-15.0, 4000.0), (-7.0, 5000.0), (2.0, 6000.0), (7.0, 8000.0), (12.0, 9000.0)),
    ((-7.0, 7000.0), (2.0, 5500.0), (7.0, 7500.0)),
    ((-7.0, 700.0), (2.0, 800.0), (7.0, 900.0)),
    ((-7.0, 17000.0), (2.0, 18000.0), (7.0, 19000.0)),
    ((-10.0, 6000.0), (0.0, 4000.0), (10.0, 2000.0)),
    ((-5.0, 5000.0),),
    ((-5.0, 4000.0), (5.0, 3000.0)),
    ((-2.0, 5400.0), (20.0, 3000.0)),
    # Against the load line of 0.2 kW/K from 20 °C: crossings at either end, in a corner, and half a watt beside.
    ((-5.0, 5000.5),),
    ((-5.0, 4999.5),),
    ((-7.0, 5400.0), (12.0, 9000.0)),
    ((-7.0, 5400.5), (12.0, 9000.0)),
    ((-7.0, 5399.5), (12.0, 9000.0)),
    ((2.0, 3000.0), (12.0, 1600.0)),
    ((2.0, 3000.0), (12.0, 1600.5)),
    ((2.0, 3000.0), (12.0, 1599.5)),
    ((-7.0, 3000.0), (2.0, 3600.0), (12.0, 9000.0)),
)


def _en_14825() -> Iterator[Call]:
    lines = (
        en_14825.LoadLine(6000.0, -7.0, 18.0),
        en_14825.LoadLine(5400.0, -7.0, 20.0),
        en_14825.LoadLine(6000.0, -10.0, 20.0),
        en_14825.LoadLine(4800.0, -4.0, 20.0),
        en_14825.LoadLine(8000.0, -3.0, 15.5),
    )
    for line, external_c in product(lines, (-20.0, -10.0, -7.0, 0.0, 5.5, 18.0, 20.0, 25.0)):
        yield line.at, (external_c,), {}
    for line, curve in product(lines, _CURVES):
        yield en_14825.bivalent_temperature, (curve, line), {}
        yield en_14825.cycling_limit, (curve, line), {}
    yield from over(
        en_14825.hot_water_hours,
        energy_kwh_per_day=(0.0, 6.0, 10.0, 119.9, 120.0, 121.0, 500.0),
        capacity_w=(5000.0, 7500.0),
    )
    yield from over(
        en_14825.required_capacity, load_w=(0.0, 5000.0, 8000.0), hot_water_hours_per_day=(0.0, 2.5, 23.5)
    )
    yield from over(
        en_14825.reduction_needed,
        load_w=(5000.0, 8000.0),
        capacity_w=(4000.0, 6000.0, 8000.0, 12000.0),
        minimum_coverage=(0.8, 1.0, 1.2),
        hot_water_hours_per_day=(0.0, 2.5, 12.0),
    )


def _performance_table() -> Iterator[Call]:
    full = {
        (t, f): 1000.0 * (8 + 0.2 * t - 0.03 * f + 0.001 * t * f)
        for t in (-15.0, -7.0, 2.0, 7.0)
        for f in (35.0, 45.0, 55.0)
    }
    holed = {node: value for node, value in full.items() if node != (2.0, 45.0)}
    two_holes = {node: value for node, value in full.items() if node not in ((-7.0, 55.0), (7.0, 35.0))}
    one_row = {(-7.0, 35.0): 5000.0, (7.0, 35.0): 8000.0}
    # Four rows that share no temperature lack twelve of a grid of sixteen.
    scattered = {(10.0 * number, 35.0 + 5.0 * number): 5000.0 for number in range(4)}
    for table in (full, holed, two_holes, one_row, scattered):
        yield performance_table.holes, (list(table),), {}
        yield performance_table.holes, (list(table), 2), {}
        for flow_c in (34.9, 35.0, 40.0, 45.0, 47.5, 55.0, 55.1, math.nan):
            yield performance_table.curve_at_flow, (table, flow_c), {}
    for curve, external_c in product(
        _CURVES, (-15.1, -15.0, -12.0, -7.0, -5.0, -2.0, 0.0, 2.0, 6.0, 7.0, 12.0, 12.1, math.nan)
    ):
        yield performance_table.value_on, (curve, external_c), {}


# --- Emitters --------------------------------------------------------------------------------------


def _en_442() -> Iterator[Call]:
    water_temperatures = (
        (75.0, 65.0, 20.0), (55.0, 45.0, 20.0), (40.0, 34.0, 20.0), (55.0, 30.0, 20.0), (50.0, 30.0, 20.0), (45.0, 45.0, 20.0),
        (45.0, 45.0 - 1e-9, 20.0), (40.0, 41.0, 20.0), (40.0, 20.0, 20.0), (18.0, 17.0, 20.0), (60.0, 45.0, 24.0), (math.nan, 40.0, 20.0),
        (50.0, math.nan, 20.0),
    )  # fmt: skip
    for temperatures in water_temperatures:
        yield en_442.excess_temperature, temperatures, {}
        yield en_442.logarithmic_excess, temperatures, {}
    yield from over(
        en_442.output,
        standard_output_w=(0.0, 1200.0, -1.0),
        standard_excess_k=(50.0, 60.0, 0.0, -1.0),
        exponent=(1.0, 1.3, 0.0, -1.0),
        excess_k=(0.0, 0.5, 25.0, 50.0, 60.0, -1.0, math.nan),
    )
    yield from over(
        en_442.standard_output_needed,
        required_w=(0.0, 800.0, -1.0),
        excess_k=(0.5, 25.0, 50.0, 0.0, -1.0),
        exponent=(1.0, 1.3, 0.0, -1.0),
        standard_excess_k=(50.0, 60.0, 0.0, -1.0),
    )
    yield en_442.standard_output_needed, (800.0, 25.0, 1.3), {}


def _fan_convector() -> Iterator[Call]:
    tables: tuple[list[tuple[float, float]], ...] = (
        [(10.0, 400.0), (20.0, 1000.0), (30.0, 1700.0), (50.0, 3300.0)],
        [(10.0, 0.0), (20.0, 500.0)],
        [(10.0, 500.0), (20.0, 500.5), (30.0, 400.0)],
        [(10.0, 400.0)],
        [],
        [(10.0, 400.0), (10.0, 500.0)],
        [(20.0, 400.0), (10.0, 300.0)],
        [(10.0, -0.5), (20.0, 500.0)],
        [(10.0, math.nan), (20.0, 500.0)],
        [(10.0, 400.0), (20.0, 1000.0), (15.0, 1200.0)],
    )
    for points, excess_k in product(tables, (9.99, 10.0, 12.5, 20.0, 27.5, 30.0, 50.0, 50.01, math.nan)):
        yield fan_convector.output, (points, excess_k), {}


def _water() -> Iterator[Call]:
    yield from over(
        water.flow_l_s,
        heat_w=(0.0, 0.5, 850.0, 8000.0, -1.0, math.nan),
        difference_k=(0.5, 5.0, 7.5, 10.0, 0.0, -1.0, math.nan),
    )


# --- EN 1264 ---------------------------------------------------------------------------------------

_SPACINGS_M = (0.05, 0.0625, 0.075, 0.10, 0.125, 0.15, 0.20, 0.21, 0.225, 0.28, 0.30, 0.32, 0.375, 0.50)


def _en_1264() -> Iterator[Call]:
    for floor in _floors():
        function, _, named = floor
        yield floor
        try:
            characteristic = function(**named)
        except MethodError:
            continue
        for excess_k in (9.0, 15.0):
            yield en_1264.limit_heat_flux, (characteristic, excess_k), {}
    plain = en_1264.type_a(**_TYPE_A)
    for excess_k in (0.0, 0.5, 15.0, 27.0, -0.5, math.nan):
        yield en_1264.heat_flux, (plain, excess_k), {}
        yield en_1264.limit_heat_flux, (plain, excess_k), {}
        yield en_1264.basic_heat_flux, (excess_k,), {}
        yield en_1264.surface_excess, (excess_k,), {}
    zones: tuple[en_1264.Zone, ...] = ("occupied", "peripheral", "bathroom")
    for zone, room_c in product(zones, (20.0, 24.0)):
        yield en_1264.maximum_surface_temperature_c, (zone, room_c), {}
    yield from over(
        en_1264.resistance_up,
        covering_resistance_m2k_w=(0.0, 0.1, 0.3, -0.01),
        screed_thickness_m=(0.0, 0.045, 0.07, -0.01),
        screed_conductivity_w_mk=(0.5, 1.2, 0.0, -1.0),
    )
    yield from one_by_one(
        en_1264.downward_heat_flux,
        {"upward_heat_flux_w_m2": 50.0, "resistance_up_m2k_w": 0.23, "resistance_down_m2k_w": 2.5, "room_c": 20.0, "below_c": 10.0},
        upward_heat_flux_w_m2=(0.0, 0.5, 80.0, -0.5),
        resistance_up_m2k_w=(0.0, 0.4, -0.1),
        resistance_down_m2k_w=(0.5, 1.0, 0.0, -1.0),
        room_c=(18.0, 24.0),
        below_c=(-5.0, 20.0, 25.0),
    )  # fmt: skip


_TYPE_A: dict[str, Any] = {
    "pipe_spacing_m": 0.15,
    "covering_resistance_m2k_w": 0.10,
    "screed_thickness_m": 0.045,
    "screed_conductivity_w_mk": 1.2,
    "pipe_outside_diameter_m": 0.016,
}
_TYPE_B: dict[str, Any] = {
    **_TYPE_A,
    "conducting_device_thickness_m": 0.0005,
    "conducting_device_conductivity_w_mk": 200.0,
    "conducting_device_width_m": 0.15,
}


def _floors() -> Iterator[Call]:
    for spacing, covering, screed in product(
        _SPACINGS_M, (0.0, 0.03, 0.05, 0.1, 0.12, 0.15), (0.012, 0.030, 0.045, 0.065, 0.095, 0.12, 0.2)
    ):
        changed = {
            "pipe_spacing_m": spacing,
            "covering_resistance_m2k_w": covering,
            "screed_thickness_m": screed,
        }
        yield en_1264.type_a, (), {**_TYPE_A, **changed}
    limits: dict[str, Sequence[float]] = {
        "pipe_spacing_m": (0.049, 0.05, 0.0, math.nan),
        "covering_resistance_m2k_w": (-0.01, 0.151, math.nan),
        "screed_thickness_m": (0.0, 0.009, 0.01, 0.012, 0.0121, math.nan),
        "screed_conductivity_w_mk": (0.0, -1.0, 0.3, 0.6, 2.0, 5.0),
        "pipe_outside_diameter_m": (0.0, 0.004, 0.0079, 0.008, 0.014, 0.018, 0.02, 0.022, 0.03, 0.031),
        "pipe_wall_thickness_m": (0.0, -0.001, 0.001, 0.0025, 0.0079, 0.008, 0.009),
        "pipe_conductivity_w_mk": (0.0, -1.0, 0.22, 0.41, 390.0),
    }
    for usual in (
        _TYPE_A,
        {**_TYPE_A, "pipe_spacing_m": 0.30},
        {**_TYPE_A, "pipe_spacing_m": 0.5, "screed_thickness_m": 0.1},
    ):
        yield from one_by_one(en_1264.type_a, usual, **limits)
    # s_u/λ_E at its limits: 0.01, and 0.0792, beyond which the limit curve goes by s_u/T.
    for thickness, conductivity, spacing in product(
        (0.0099, 0.01, 0.0792, 0.07921), (1.0,), (0.2, 0.375, 0.45, 0.6)
    ):
        changed = {
            "screed_thickness_m": thickness,
            "screed_conductivity_w_mk": conductivity,
            "pipe_spacing_m": spacing,
        }
        yield en_1264.type_a, (), {**_TYPE_A, **changed}
    yield from _floors_of_type_b()
    yield from over(
        en_1264.type_d,
        covering_resistance_m2k_w=(0.0, 0.05, 0.15, 0.16, -0.01),
        screed_thickness_m=(0.02, 0.045, 0.0, -0.01),
        screed_conductivity_w_mk=(0.5, 1.2, 0.0, -1.0),
    )


def _floors_of_type_b() -> Iterator[Call]:
    # The sheet's conductance s_WL · λ_WL leads through every table of the device factor: K_WL 0.1 to 1.5.
    for spacing, conductance, covering in product(
        (0.05, 0.06, 0.075, 0.10, 0.12, 0.15, 0.20, 0.225, 0.26, 0.30, 0.375, 0.42, 0.45),
        (
            0.0,
            0.0125,
            0.02,
            0.03,
            0.04,
            0.05,
            0.056,
            0.0625,
            0.07,
            0.08,
            0.1,
            0.11,
            0.125,
            0.14,
            0.16,
            0.1875,
            0.2,
        ),
        (0.0, 0.1),
    ):
        changed = {
            "pipe_spacing_m": spacing,
            "covering_resistance_m2k_w": covering,
            "screed_thickness_m": 0.02,
            "screed_conductivity_w_mk": 0.5,
            "conducting_device_thickness_m": conductance / 100.0,
            "conducting_device_conductivity_w_mk": 100.0,
            "conducting_device_width_m": spacing,
        }
        yield en_1264.type_b, (), {**_TYPE_B, **changed}
    for spacing, conductance, diameter in product(
        (0.05, 0.075, 0.10, 0.15, 0.20, 0.225, 0.30, 0.375, 0.45),
        (0.0125, 0.025, 0.0375, 0.05, 0.1125, 0.1375, 0.15, 0.1625, 0.175, 0.1875),
        (0.014, 0.018, 0.020, 0.022),
    ):
        changed = {
            "pipe_spacing_m": spacing,
            "covering_resistance_m2k_w": 0.0,
            "screed_thickness_m": 1e-9,
            "screed_conductivity_w_mk": 1e-8,
            "pipe_outside_diameter_m": diameter,
            "conducting_device_thickness_m": conductance / 100.0,
            "conducting_device_conductivity_w_mk": 100.0,
            "conducting_device_width_m": spacing,
        }
        yield en_1264.type_b, (), {**_TYPE_B, **changed}
    for weight in (0.0099, 0.01, 0.015, 0.025, 0.035, 0.045, 0.055, 0.07, 0.09, 0.12, 0.17, 0.18, 0.181):
        yield (
            en_1264.type_b,
            (),
            {**_TYPE_B, "screed_thickness_m": weight * 0.5, "screed_conductivity_w_mk": 0.5},
        )
    yield from one_by_one(
        en_1264.type_b,
        _TYPE_B,
        pipe_spacing_m=(0.0, 0.049, 0.2, 0.46, math.nan),
        covering_resistance_m2k_w=(-0.01, 0.03, 0.15, 0.151),
        screed_thickness_m=(0.0, -0.01, 0.02, 0.03),
        screed_conductivity_w_mk=(0.0, -1.0, 0.6),
        pipe_outside_diameter_m=(0.0, 0.0139, 0.014, 0.015, 0.0165, 0.019, 0.021, 0.022, 0.023),
        pipe_wall_thickness_m=(0.0, 0.001, 0.0025, 0.008),
        pipe_conductivity_w_mk=(0.0, 0.22, 390.0),
        conducting_device_thickness_m=(0.0, 0.0001, 0.0002, 0.0003, 0.001, 0.002, -0.001),
        conducting_device_conductivity_w_mk=(0.0, -1.0, 50.0, 380.0),
        conducting_device_width_m=(0.0, 0.05, 0.075, 0.1, 0.1501, 0.2, -0.01),
    )
    # No limit curve at 0.45 m and K_WL 0.1: B_G is 0 there.
    nothing_left = {
        "pipe_spacing_m": 0.45,
        "conducting_device_thickness_m": 0.0125,
        "conducting_device_conductivity_w_mk": 1.0,
    }
    yield en_1264.type_b, (), {**_TYPE_B, **nothing_left}


# --- The checks that they share --------------------------------------------------------------------


def _errors() -> Iterator[Call]:
    values = (-math.inf, -1.0, -1e-12, 0.0, 1e-12, 0.5, 0.999, 1.0, 1.001, 2.0, 1e9, math.inf, math.nan)
    yield from over(check_above_zero, value=values, field=("area_m2",), clause=("a clause",))
    yield from over(check_not_below_zero, value=values, field=("area_m2",), clause=("a clause",))


_GRIDS: dict[str, Callable[[], Iterator[Call]]] = {
    "errors": _errors,
    "en_442": _en_442,
    "en_1264": _en_1264,
    "en_12831": _en_12831,
    "en_14825": _en_14825,
    "fan_convector": _fan_convector,
    "iso_6946": _iso_6946,
    "iso_10077_1": _iso_10077_1,
    "iso_13370": _iso_13370,
    "performance_table": _performance_table,
    "water": _water,
    **grid_statistics.GRIDS,
}
MODULES = tuple(_GRIDS)
