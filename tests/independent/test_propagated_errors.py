"""What an error of each input does to the result: the written equation carried by `uncertainties`, against the code.

Each equation is written out here as its standard prints it, with numbers that carry an error. The library knows nothing but
the rules of arithmetic and of derivatives: its value must be the code's, and its derivative by each input the code's slope.
So a survey's doubtful conductivity or thickness can be followed through to the result.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pytest
from uncertainties import ufloat
from uncertainties.umath import exp, log

from warmstead.standards import en_442, en_1264, en_12831, en_14825, iso_6946, iso_10077_1, iso_13370, water

if TYPE_CHECKING:
    from collections.abc import Callable


class Equation(NamedTuple):
    """The code, the same as its standard prints it, and where to look at both."""

    name: str
    code: Callable[..., float]
    written: Callable[..., Any]
    inputs: dict[str, float]


# --- ISO 13370 (the clauses and the letters are those of its 2007 edition, from memory) -------------


def thickness(w: Any, soil: Any, resistance: Any) -> Any:
    """d_t = w + λ (R_si + R_f + R_se)."""
    return w + soil * (0.17 + resistance + 0.04)


def uninsulated(b: Any, d: Any, soil: Any) -> Any:
    """2λ/(π B′ + d) · ln(π B′/d + 1)."""
    return 2.0 * soil / (math.pi * b + d) * log(math.pi * b / d + 1.0)


def slab(area: float, perimeter: float, w: float, soil: float, resistance: float) -> float:
    return iso_13370.slab_on_ground(
        area_m2=area,
        exposed_perimeter_m=perimeter,
        wall_thickness_m=w,
        soil_conductivity_w_mk=soil,
        floor_resistance_m2k_w=resistance,
    ).u_value_w_m2k


def slab_written(area: Any, perimeter: Any, w: Any, soil: Any, resistance: Any) -> Any:
    return uninsulated(area / (0.5 * perimeter), thickness(w, soil, resistance), soil)


def insulated_slab_written(area: Any, perimeter: Any, w: Any, soil: Any, resistance: Any) -> Any:
    return soil / (0.457 * area / (0.5 * perimeter) + thickness(w, soil, resistance))


def edged(position: str) -> Callable[..., float]:
    def psi(w: float, soil: float, resistance: float, width: float, d: float, conductivity: float) -> float:
        edge = iso_13370.EdgeInsulation(position, width, d, conductivity)  # type: ignore[arg-type]  # a position by its name
        return iso_13370.slab_on_ground(
            area_m2=60.0,
            exposed_perimeter_m=25.0,
            wall_thickness_m=w,
            soil_conductivity_w_mk=soil,
            floor_resistance_m2k_w=resistance,
            edge_insulation=edge,
        ).edge_psi_w_mk

    return psi


def edge_written(reach: float) -> Callable[..., Any]:
    def psi(w: Any, soil: Any, resistance: Any, width: Any, d: Any, conductivity: Any) -> Any:
        # Ψ = −λ/π · (ln(D/d_t + 1) − ln(D/(d_t + d′) + 1)), d′ = λ (d/λ_n − d/λ); 2 D where it stands upright.
        d_t = thickness(w, soil, resistance)
        added = soil * (d / conductivity - d / soil)
        return -soil / math.pi * (log(reach * width / d_t + 1.0) - log(reach * width / (d_t + added) + 1.0))

    return psi


def suspended(
    area: float,
    perimeter: float,
    w: float,
    soil: float,
    resistance: float,
    height: float,
    opening: float,
    wind: float,
    shielding: float,
    wall: float,
    ground: float,
) -> float:
    return iso_13370.suspended_floor(
        area_m2=area,
        exposed_perimeter_m=perimeter,
        wall_thickness_m=w,
        soil_conductivity_w_mk=soil,
        floor_resistance_m2k_w=resistance,
        height_above_ground_m=height,
        ventilation_opening_m2_per_m=opening,
        wind_speed_m_s=wind,
        wind_shielding_factor=shielding,
        underfloor_wall_u_value_w_m2k=wall,
        ground_resistance_m2k_w=ground,
    ).u_value_w_m2k


def suspended_written(
    area: Any,
    perimeter: Any,
    w: Any,
    soil: Any,
    resistance: Any,
    height: Any,
    opening: Any,
    wind: Any,
    shielding: Any,
    wall: Any,
    ground: Any,
) -> Any:
    # 1/U = 1/U_f + 1/(U_g + U_x), U_x = 2 h U_w/B′ + 1450 ε v f_w/B′.
    b = area / (0.5 * perimeter)
    u_g = uninsulated(b, thickness(w, soil, ground), soil)
    u_x = 2.0 * height * wall / b + 1450.0 * opening * wind * shielding / b
    return 1.0 / (resistance + 2.0 * 0.17 + 1.0 / (u_g + u_x))


def cellar_floor(
    area: float, perimeter: float, w: float, soil: float, resistance: float, depth: float
) -> float:
    return iso_13370.basement_floor(
        area_m2=area,
        exposed_perimeter_m=perimeter,
        wall_thickness_m=w,
        soil_conductivity_w_mk=soil,
        floor_resistance_m2k_w=resistance,
        depth_m=depth,
    ).u_value_w_m2k


def cellar_floor_written(area: Any, perimeter: Any, w: Any, soil: Any, resistance: Any, depth: Any) -> Any:
    return uninsulated(area / (0.5 * perimeter), thickness(w, soil, resistance) + 0.5 * depth, soil)


def cellar_wall(w: float, soil: float, floor: float, depth: float, wall: float) -> float:
    return iso_13370.basement_wall(
        wall_thickness_m=w,
        soil_conductivity_w_mk=soil,
        floor_resistance_m2k_w=floor,
        depth_m=depth,
        wall_resistance_m2k_w=wall,
    ).u_value_w_m2k


def cellar_wall_written(w: Any, soil: Any, floor: Any, depth: Any, wall: Any) -> Any:
    # U = 2λ/(π z) · (1 + 0.5 d_t/(d_t + z)) · ln(z/d_w + 1), d_w = λ (R_si + R_w + R_se); d_w for d_t where smaller.
    d_w = soil * (0.13 + wall + 0.04)
    d_t = thickness(w, soil, floor)
    if d_w.nominal_value < d_t.nominal_value:
        d_t = d_w
    return 2.0 * soil / (math.pi * depth) * (1.0 + 0.5 * d_t / (d_t + depth)) * log(depth / d_w + 1.0)


FLOOR = {"area": 60.0, "perimeter": 25.0, "w": 0.35, "soil": 1.7, "resistance": 0.8}
EDGE = {"w": 0.35, "soil": 1.7, "resistance": 0.4, "width": 0.8, "d": 0.06, "conductivity": 0.035}
GROUND = (
    Equation("slab", slab, slab_written, FLOOR),
    Equation("insulated slab", slab, insulated_slab_written, {**FLOOR, "perimeter": 45.0, "resistance": 4.5}),
    Equation("horizontal edge", edged("horizontal"), edge_written(1.0), EDGE),
    Equation("upright edge", edged("vertical"), edge_written(2.0), EDGE),
    Equation(
        "suspended floor",
        suspended,
        suspended_written,
        {
            **FLOOR,
            "height": 0.35,
            "opening": 0.0018,
            "wind": 4.5,
            "shielding": 0.06,
            "wall": 1.4,
            "ground": 0.3,
        },
    ),
    Equation("basement floor", cellar_floor, cellar_floor_written, {**FLOOR, "depth": 1.4}),
    Equation(
        "insulated basement wall",
        cellar_wall,
        cellar_wall_written,
        {"w": 0.35, "soil": 1.7, "floor": 0.5, "depth": 1.4, "wall": 2.2},
    ),
    Equation(
        "bare basement wall",
        cellar_wall,
        cellar_wall_written,
        {"w": 0.35, "soil": 1.7, "floor": 0.9, "depth": 1.4, "wall": 0.25},
    ),
)

# --- ISO 6946 and ISO 10077-1 (from memory) ----------------------------------------------------------


def fastener(
    conductivity: float, section: float, count: float, d0: float, d1: float, r1: float, total: float
) -> float:
    return iso_6946.fastener_correction(conductivity, section, count, d0, d1, r1, total)


def fastener_written(
    conductivity: Any, section: Any, count: Any, d0: Any, d1: Any, r1: Any, total: Any
) -> Any:
    # ΔU_f = α · λ A n/d0 · (R1/R_tot)², α = 0.8 · d1/d0.
    return 0.8 * d1 / d0 * conductivity * section * count / d0 * (r1 / total) ** 2


def reflecting(heat_flow: iso_6946.HeatFlow) -> Callable[..., float]:
    def resistance(d: float, one: float, other: float, mean_c: float) -> float:
        return iso_6946.emissive_air_layer(d, heat_flow, one, other, mean_c).resistance_m2k_w

    return resistance


def reflecting_written(convective: Callable[[Any], Any]) -> Callable[..., Any]:
    def resistance(d: Any, one: Any, other: Any, mean_c: Any) -> Any:
        # R = 1/(h_a + h_r), h_r = 4 σ T³/(1/ε1 + 1/ε2 − 1).
        radiative = 4.0 * 5.67e-8 * (mean_c + 273.15) ** 3 / (1.0 / one + 1.0 / other - 1.0)
        return 1.0 / (convective(d) + radiative)

    return resistance


def bridged(plain: float, between: float, bridge: float, fraction: float, outer: float) -> float:
    layers = [
        iso_6946.Layer(plain),
        iso_6946.Layer(between, (iso_6946.Bridge(fraction, bridge),)),
        iso_6946.Layer(outer),
    ]
    return iso_6946.total_resistance(layers, 0.13, 0.04).total_m2k_w


def bridged_written(plain: Any, between: Any, bridge: Any, fraction: Any, outer: Any) -> Any:
    rest = 0.13 + plain + outer + 0.04
    upper = 1.0 / ((1.0 - fraction) / (rest + between) + fraction / (rest + bridge))
    lower = rest + 1.0 / ((1.0 - fraction) / between + fraction / bridge)
    return (upper + lower) / 2.0


def glazed(glass: float, glass_u: float, frame: float, frame_u: float, length: float, psi: float) -> float:
    parts = [iso_10077_1.Part(glass, glass_u), iso_10077_1.Part(frame, frame_u)]
    return iso_10077_1.window(parts, [iso_10077_1.Edge(length, psi)]).u_value_w_m2k


LAYER = {"d": 0.04, "one": 0.2, "other": 0.8, "mean_c": 7.0}
COMPONENTS = (
    Equation(
        "fasteners",
        fastener,
        fastener_written,
        {
            "conductivity": 48.0,
            "section": 2.1e-5,
            "count": 5.0,
            "d0": 0.12,
            "d1": 0.10,
            "r1": 3.1,
            "total": 3.7,
        },
    ),
    Equation(
        "air gaps",
        lambda r1, total: iso_6946.air_gap_correction(2, r1, total),
        lambda r1, total: 0.04 * (r1 / total) ** 2,
        {"r1": 3.1, "total": 3.7},
    ),
    Equation(
        "inverted roof",
        iso_6946.inverted_roof_correction,
        lambda rainfall_mm_per_day, drainage_factor, heat_loss_factor, insulation_resistance_m2k_w, total_m2k_w: (
            rainfall_mm_per_day
            * drainage_factor
            * heat_loss_factor
            * (insulation_resistance_m2k_w / total_m2k_w) ** 2
        ),
        {
            "rainfall_mm_per_day": 2.6,
            "drainage_factor": 0.75,
            "heat_loss_factor": 0.05,
            "insulation_resistance_m2k_w": 3.1,
            "total_m2k_w": 3.7,
        },
    ),
    Equation("air layer upwards", reflecting("upwards"), reflecting_written(lambda d: 1.95), LAYER),
    Equation("air layer horizontal", reflecting("horizontal"), reflecting_written(lambda d: 1.25), LAYER),
    Equation(
        "air layer downwards",
        reflecting("downwards"),
        reflecting_written(lambda d: 0.12 * exp(-0.44 * log(d))),
        {**LAYER, "d": 0.15},
    ),
    Equation(
        "thin air layer",
        reflecting("upwards"),
        reflecting_written(lambda d: 0.025 / d),
        {**LAYER, "d": 0.006},
    ),
    Equation(
        "slightly ventilated",
        iso_6946.slightly_ventilated_total,
        lambda openings_mm2, unventilated_total_m2k_w, well_ventilated_total_m2k_w: (
            (1500.0 - openings_mm2) / 1000.0 * unventilated_total_m2k_w
            + (openings_mm2 - 500.0) / 1000.0 * well_ventilated_total_m2k_w
        ),
        {"openings_mm2": 820.0, "unventilated_total_m2k_w": 3.1, "well_ventilated_total_m2k_w": 2.7},
    ),
    Equation(
        "bridged layer",
        bridged,
        bridged_written,
        {"plain": 0.07, "between": 3.4, "bridge": 1.1, "fraction": 0.14, "outer": 0.21},
    ),
    Equation(
        "window",
        glazed,
        lambda glass, glass_u, frame, frame_u, length, psi: (
            (glass * glass_u + frame * frame_u + length * psi) / (glass + frame)
        ),
        {"glass": 1.3, "glass_u": 1.1, "frame": 0.4, "frame_u": 1.6, "length": 5.2, "psi": 0.05},
    ),
)

# --- Loads, emitters and heat pumps (from memory) ----------------------------------------------------


def mechanical(c: float, n: float, volume: float, supply: float, recovery: float, drawn: float) -> float:
    return en_12831.air_change_coefficient(
        air_heat_capacity_wh_m3k=c,
        air_changes=n,
        volume_m3=volume,
        supply_l_s=supply,
        heat_recovery_efficiency=recovery,
        unbalanced_extract_l_s=drawn,
    )


def plane_of_water(covering: float, screed: float, conductivity: float) -> float:
    return en_1264.type_d(
        covering_resistance_m2k_w=covering, screed_thickness_m=screed, screed_conductivity_w_mk=conductivity
    ).gradient_w_m2k


def plane_of_water_written(covering: Any, screed: Any, conductivity: Any) -> Any:
    # φ = B · a_B · 1.06 · a_U · ΔθH, a_U = (1/α + s_u,0/λ_u,0)/(1/α + s_u/λ_E), a_B = 1/(1 + B · 1.06 · a_U · R_λ,B).
    a_u = (1.0 / 10.8 + 0.045 / 1.0) / (1.0 / 10.8 + screed / conductivity)
    return 6.5 * 1.06 * a_u / (1.0 + 6.5 * 1.06 * a_u * covering)


def down(up: float, resistance_up: float, resistance_down: float, room_c: float, below_c: float) -> float:
    return en_1264.downward_heat_flux(
        upward_heat_flux_w_m2=up,
        resistance_up_m2k_w=resistance_up,
        resistance_down_m2k_w=resistance_down,
        room_c=room_c,
        below_c=below_c,
    )


LOADS = (
    Equation(
        "air of a room",
        mechanical,
        lambda c, n, volume, supply, recovery, drawn: (
            c * n * volume + 3.6 * c * (1.0 - recovery) * supply + 3.6 * c * drawn
        ),
        {"c": 0.335, "n": 0.6, "volume": 43.0, "supply": 13.0, "recovery": 0.82, "drawn": 4.0},
    ),
    Equation(
        "floor on ground",
        en_12831.ground_difference,
        lambda room_c, annual_mean_external_c, ground_factor, ground_water_factor: (
            ground_factor * ground_water_factor * (room_c - annual_mean_external_c)
        ),
        {"room_c": 21.0, "annual_mean_external_c": 9.4, "ground_factor": 1.45, "ground_water_factor": 1.15},
    ),
    Equation(
        "infiltration",
        en_12831.infiltration,
        lambda volume_m3, air_changes_at_50pa, shielding_coefficient, height_factor: (
            2.0 * volume_m3 * air_changes_at_50pa * shielding_coefficient * height_factor
        ),
        {"volume_m3": 43.0, "air_changes_at_50pa": 6.3, "shielding_coefficient": 0.03, "height_factor": 1.2},
    ),
    Equation(
        "radiator",
        en_442.output,
        lambda standard_output_w, standard_excess_k, exponent, excess_k: (
            standard_output_w * exp(exponent * log(excess_k / standard_excess_k))
        ),
        {"standard_output_w": 1350.0, "standard_excess_k": 60.0, "exponent": 1.33, "excess_k": 24.0},
    ),
    Equation(
        "radiator needed",
        en_442.standard_output_needed,
        lambda required_w, excess_k, exponent: required_w * exp(exponent * log(50.0 / excess_k)),
        {"required_w": 640.0, "excess_k": 24.0, "exponent": 1.33},
    ),
    Equation(
        "logarithmic mean",
        en_442.logarithmic_excess,
        lambda flow_c, return_c, room_c: (flow_c - return_c) / log((flow_c - room_c) / (return_c - room_c)),
        {"flow_c": 52.0, "return_c": 33.0, "room_c": 21.0},
    ),
    Equation(
        "plane of water",
        plane_of_water,
        plane_of_water_written,
        {"covering": 0.06, "screed": 0.04, "conductivity": 1.1},
    ),
    Equation(
        "basic curve",
        en_1264.basic_heat_flux,
        lambda surface_excess_k: 8.92 * exp(1.1 * log(surface_excess_k)),
        {"surface_excess_k": 7.3},
    ),
    Equation(
        "heat downwards",
        down,
        lambda up, resistance_up, resistance_down, room_c, below_c: (
            (resistance_up * up + room_c - below_c) / resistance_down
        ),
        {"up": 47.0, "resistance_up": 0.24, "resistance_down": 1.9, "room_c": 21.0, "below_c": 8.0},
    ),
    Equation(
        "water of a circuit",
        water.flow_l_s,
        # ρ 992.2 kg/m³ and c 4179 J/(kgK) at 40 °C: to their digits those of CoolProp, which other tests see to.
        lambda heat_w, difference_k: 1000.0 * heat_w / (992.2 * 4179.0 * difference_k),
        {"heat_w": 5200.0, "difference_k": 6.5},
    ),
    Equation(
        "capacity with hot water",
        en_14825.required_capacity,
        lambda load_w, hot_water_hours_per_day: load_w * 24.0 / (24.0 - hot_water_hours_per_day),
        {"load_w": 6100.0, "hot_water_hours_per_day": 3.2},
    ),
    Equation(
        "load line",
        lambda load, outside, base, at: en_14825.LoadLine(load, outside, base).at(at),
        lambda load, outside, base, at: load * (base - at) / (base - outside),
        {"load": 6100.0, "outside": -5.5, "base": 16.5, "at": 3.0},
    ),
)

# --- What the results say besides -------------------------------------------------------------------


def sides_of_a_void(**inputs: float) -> float:
    names = {
        "area": "area_m2",
        "perimeter": "exposed_perimeter_m",
        "height": "height_above_ground_m",
        "opening": "ventilation_opening_m2_per_m",
        "wind": "wind_speed_m_s",
        "shielding": "wind_shielding_factor",
        "wall": "underfloor_wall_u_value_w_m2k",
    }
    return iso_13370.suspended_floor(
        wall_thickness_m=0.3,
        soil_conductivity_w_mk=1.5,
        floor_resistance_m2k_w=0.4,
        **{names[name]: value for name, value in inputs.items()},
    ).sides_u_value_w_m2k


def floor_of(
    area: float, perimeter: float, w: float, soil: float, resistance: float
) -> iso_13370.SlabOnGround:
    return iso_13370.slab_on_ground(
        area_m2=area,
        exposed_perimeter_m=perimeter,
        wall_thickness_m=w,
        soil_conductivity_w_mk=soil,
        floor_resistance_m2k_w=resistance,
    )


def bridged_error(rest: float, between: float, bridge: float, fraction: float) -> float:
    layers = [iso_6946.Layer(rest), iso_6946.Layer(between, (iso_6946.Bridge(fraction, bridge),))]
    return iso_6946.total_resistance(layers, 0.13, 0.04).relative_error


def bridged_error_written(rest: Any, between: Any, bridge: Any, fraction: Any) -> Any:
    # (R′ − R″)/(2 R_tot).
    rest = rest + 0.17
    upper = 1.0 / ((1.0 - fraction) / (rest + between) + fraction / (rest + bridge))
    lower = rest + 1.0 / ((1.0 - fraction) / between + fraction / bridge)
    return (upper - lower) / (upper + lower)


BESIDES = (
    Equation(
        "characteristic dimension",
        lambda **inputs: floor_of(**inputs).characteristic_dimension_m,
        lambda area, perimeter, w, soil, resistance: area / (0.5 * perimeter),
        FLOOR,
    ),
    Equation(
        "equivalent thickness",
        lambda **inputs: floor_of(**inputs).equivalent_thickness_m,
        lambda area, perimeter, w, soil, resistance: thickness(w, soil, resistance),
        FLOOR,
    ),
    Equation(
        "sides of a void",
        sides_of_a_void,
        lambda area, perimeter, height, opening, wind, shielding, wall: (
            (2.0 * height * wall + 1450.0 * opening * wind * shielding) * 0.5 * perimeter / area
        ),
        {
            "area": 60.0,
            "perimeter": 25.0,
            "height": 0.35,
            "opening": 0.0018,
            "wind": 4.5,
            "shielding": 0.06,
            "wall": 1.4,
        },
    ),
    Equation(
        "largest relative error",
        bridged_error,
        bridged_error_written,
        {"rest": 0.3, "between": 3.4, "bridge": 1.1, "fraction": 0.14},
    ),
    Equation(
        "air layer beside an ordinary surface at 10 °C",
        lambda d, one: iso_6946.emissive_air_layer(d, "horizontal", one).resistance_m2k_w,
        lambda d, one: 1.0 / (1.25 + 4.0 * 5.67e-8 * 283.15**3 / (1.0 / one + 1.0 / 0.9 - 1.0)),
        {"d": 0.05, "one": 0.3},
    ),
    Equation(
        "reduction of a load",
        lambda load_w, capacity_w, coverage, hours: en_14825.reduction_needed(
            load_w, capacity_w, coverage, hours
        ),
        lambda load_w, capacity_w, coverage, hours: load_w - capacity_w / coverage * (24.0 - hours) / 24.0,
        {"load_w": 9100.0, "capacity_w": 6200.0, "coverage": 0.95, "hours": 2.7},
    ),
    Equation(
        "hours of hot water",
        en_14825.hot_water_hours,
        lambda energy_kwh_per_day, capacity_w: energy_kwh_per_day * 1000.0 / capacity_w,
        {"energy_kwh_per_day": 9.4, "capacity_w": 5300.0},
    ),
)

EQUATIONS = (*GROUND, *COMPONENTS, *LOADS, *BESIDES)


@pytest.mark.parametrize("equation", EQUATIONS, ids=[equation.name for equation in EQUATIONS])
def test_value_and_error_of_each_input(equation: Equation) -> None:
    inputs = {name: ufloat(value, abs(value) / 100.0) for name, value in equation.inputs.items()}
    written = equation.written(**inputs)
    assert equation.code(**equation.inputs) == pytest.approx(written.nominal_value, rel=1e-12)
    for name, value in equation.inputs.items():
        step = 1e-5 * abs(value)
        above, below = (
            equation.code(**{**equation.inputs, name: value + sign * step}) for sign in (1.0, -1.0)
        )
        # Without a derivative the equation does not know the input.
        by_input = written.derivatives.get(inputs[name], 0.0)
        assert (above - below) / (2.0 * step) == pytest.approx(by_input, rel=1e-5, abs=1e-9), name


def test_error_of_a_whole_survey() -> None:
    # Equation: R_tot of a bridged layer, with 5 % on each input, independent of each other, against many draws.
    inputs = next(equation.inputs for equation in COMPONENTS if equation.name == "bridged layer")
    written = bridged_written(**{name: ufloat(value, 0.05 * value) for name, value in inputs.items()})
    draws = np.random.default_rng(12831).normal(
        list(inputs.values()), [0.05 * value for value in inputs.values()], (4000, 5)
    )
    drawn = [bridged(*draw) for draw in draws.tolist()]
    # The standard deviation of 4000 draws is itself good to about 1 %; the tangent of a nearly straight function to as much.
    assert float(np.std(drawn)) == pytest.approx(written.std_dev, rel=0.04)
    assert float(np.mean(drawn)) == pytest.approx(written.nominal_value, rel=0.005)
