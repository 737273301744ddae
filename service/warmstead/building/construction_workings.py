"""The workings of a U-value: each number on the way to it, in the order a person checks by hand.

Steps only restate numbers that the calculation kept, or that stand in the document and the tables.
"""

from __future__ import annotations

from warmstead.building.constructions import GroundResult, Transmittance
from warmstead.building.findings import Findings
from warmstead.building.layered import LayeredResult, Totals, layer_resistances
from warmstead.building.materials import conductivity
from warmstead.building.statements import Step
from warmstead.building.steps import Steps
from warmstead.standards import iso_6946, iso_10077_1, iso_13370
from warmstead.survey.constructions import (
    Bridge,
    Construction,
    Declared,
    Layer,
    Layered,
    SolidLayer,
    TaperedLayer,
    Typical,
)

_U = "W/(m²·K)"
_R = "m²·K/W"


def construction_steps(of: str, construction: Construction, transmittance: Transmittance) -> list[Step]:
    """Return the steps to a construction's U-value."""
    steps = Steps(of)
    calculation = transmittance.calculation
    if isinstance(calculation, LayeredResult):
        assert isinstance(construction, Layered)
        _layered(steps, construction, calculation)
    elif isinstance(calculation, iso_10077_1.Window):
        clause = "ISO 10077-1:2017, 6.4.2"
        steps.add("area of all parts", "A_w", calculation.area_m2, "m²", "Σ A", clause)
        steps.add(
            "heat through the parts",
            "Σ A·U",
            calculation.parts_w_k,
            "W/K",
            "A_g·U_g + A_f·U_f + A_p·U_p",
            clause,
        )
        steps.add(
            "heat through the edges", "Σ l·ψ", calculation.edges_w_k, "W/K", "l_g·ψ_g + l_p·ψ_p", clause
        )
        steps.add("U-value", "U_w", calculation.u_value_w_m2k, _U, "(Σ A·U + Σ l·ψ)/A_w", clause)
    elif calculation is not None:
        _ground(steps, calculation)
    else:
        source = "as declared"
        if isinstance(construction, Declared):
            source = construction.source
        elif isinstance(construction, Typical):
            source = f"table typical-constructions, row {construction.row}"
        steps.add("U-value", "U", transmittance.u_value_w_m2k, _U, "given", source)
    return steps.steps


def _layered(steps: Steps, construction: Layered, result: LayeredResult) -> None:
    totals = result.totals
    clause = "ISO 6946:2017, 6.8"
    steps.add(
        "internal surface resistance",
        "R_si",
        totals.internal_surface_m2k_w,
        _R,
        "by direction of heat flow",
        clause,
    )
    cut_off = _cut_off_from(construction)
    for index, (layer, resistance) in enumerate(
        zip(construction.layers, layer_resistances(construction, result), strict=True)
    ):
        _layer(steps, construction, index, layer, resistance, beyond=index > cut_off)
    how = (
        "by what the far side faces"
        if cut_off == len(construction.layers)
        else "as R_si: beside a ventilated air layer"
    )
    steps.add("external surface resistance", "R_se", totals.external_surface_m2k_w, _R, how, clause)
    _totals(steps, totals, "")
    if result.taper_u_value_w_m2k is not None:
        equation = "by the shape of the taper, from R_tot as R_0"
        steps.add(
            "U-value with the taper",
            "U_0",
            result.taper_u_value_w_m2k,
            _U,
            equation,
            "ISO 6946:2017, annex E",
        )
    if result.corrected is not None:
        clause = "ISO 6946:2017, annex F"
        for term in result.corrected.terms:
            steps.add(
                f"correction for {term.name}", "ΔU", term.correction_w_m2k, _U, "by the annex", term.clause
            )
        taken = result.corrected.taken_w_m2k
        steps.add("corrections taken", "ΔU", taken, _U, "Σ ΔU, left out under 3 % of U", clause)
    equation = "1/R_tot + ΔU" if result.taper_u_value_w_m2k is None else "U_0 + ΔU"
    steps.add("U-value", "U", result.u_value_w_m2k, _U, equation, "ISO 6946:2017, 6.5")


def _cut_off_from(construction: Layered) -> int:
    """Return the index of the well-ventilated air layer that cuts off the rest; the number of layers if there is none."""
    for index, layer in enumerate(construction.layers):
        if layer.kind == "air" and layer.ventilation == "well_ventilated":
            return index
    return len(construction.layers)


def _layer(
    steps: Steps, construction: Layered, index: int, layer: Layer, resistance_m2k_w: float, beyond: bool
) -> None:
    """List one layer: what it is made of, then its resistance."""
    number = index + 1
    clause = "ISO 6946:2017, 6.9" if layer.kind == "air" else "ISO 6946:2017, 6.7.1"
    if not beyond and (layer.kind == "solid" or layer.kind == "tapered"):
        lambda_ = conductivity(layer, Findings(), "")
        steps.add(
            f"conductivity of layer {number}", f"λ_{number}", lambda_, "W/(m·K)", _origin(layer), clause
        )
    if not beyond and (layer.kind == "solid" or layer.kind == "air"):
        for bridge in layer.bridges or ():
            value = conductivity(bridge, Findings(), "")
            what = f"conductivity of a bridge in layer {number}, share {bridge.fraction:g}"
            steps.add(what, f"λ_{number}", value, "W/(m·K)", _origin(bridge), clause)
    if (
        not beyond
        and layer.kind == "air"
        and layer.emissivity is not None
        and layer.ventilation != "well_ventilated"
    ):
        air = iso_6946.emissive_air_layer(
            layer.thickness_mm / 1000.0, construction.heat_flow, layer.emissivity
        )
        annex = "ISO 6946:2017, annex D"
        steps.add(
            f"convection in layer {number}",
            "h_a",
            air.convective_w_m2k,
            _U,
            "by direction and thickness",
            annex,
        )
        equation = "4·σ·T³/(1/ε + 1/0.9 − 1) at 10 °C"
        steps.add(f"radiation in layer {number}", "h_r", air.radiative_w_m2k, _U, equation, annex)
    equation = "0: outside a well-ventilated air layer" if beyond else _layer_equation(layer)
    steps.add(f"layer {number}, {layer.kind}", f"R_{number}", resistance_m2k_w, _R, equation, clause)


def _origin(part: SolidLayer | TaperedLayer | Bridge) -> str:
    return "given" if part.material is None else f"table materials, row {part.material}"


def _totals(steps: Steps, totals: Totals, as_if: str) -> None:
    """List the total resistance, by its limits where bridged, or between two where slightly ventilated."""
    if totals.between is not None:
        between = totals.between
        _totals(steps, between.unventilated, f"{as_if}, as if the air layer were unventilated")
        _totals(steps, between.well_ventilated, f"{as_if}, as if it were well ventilated")
        clause = "ISO 6946:2017, 6.9.3"
        steps.add(
            f"openings{as_if}",
            "A_v",
            between.openings_mm2,
            "mm²/m",
            "given or the middle of the class",
            clause,
        )
        equation = "(1500 − A_v)/1000 · R_tot,u + (A_v − 500)/1000 · R_tot,v"
        steps.add(f"total resistance{as_if}", "R_tot", totals.total_m2k_w, _R, equation, clause)
        return
    clause = "ISO 6946:2017, 6.7.2"
    if len(totals.sections) == 1:
        steps.add(f"total resistance{as_if}", "R_tot", totals.total_m2k_w, _R, "R_si + Σ R + R_se", clause)
        return
    surfaces = totals.internal_surface_m2k_w + totals.external_surface_m2k_w
    for index, section in enumerate(totals.sections, start=1):
        name = f"section {index}{as_if}"
        steps.add(
            f"area share of {name}",
            f"f_{index}",
            section.fraction,
            "1",
            "product of the bridges' shares",
            clause,
        )
        through = sum(section.resistances_m2k_w) + surfaces
        steps.add(f"resistance through {name}", f"R_tot,{index}", through, _R, "R_si + Σ R + R_se", clause)
    steps.add(f"upper limit{as_if}", "R_tot;upper", totals.upper_m2k_w, _R, "1/Σ(f/R_tot,i)", clause)
    equation = "R_si + Σ R_j + R_se, 1/R_j = Σ(f/R)"
    steps.add(f"lower limit{as_if}", "R_tot;lower", totals.lower_m2k_w, _R, equation, clause)
    steps.add(f"total resistance{as_if}", "R_tot", totals.total_m2k_w, _R, "(upper + lower)/2", clause)
    error = 100.0 * (totals.upper_m2k_w - totals.lower_m2k_w) / (2.0 * totals.total_m2k_w)
    steps.add(f"greatest relative error{as_if}", "e", error, "%", "(upper − lower)/(2·R_tot)·100", clause)


def _layer_equation(layer: Layer) -> str:
    if layer.kind == "solid":
        return "1/Σ(f·λ/d)" if layer.bridges else "d/λ"
    if layer.kind == "air":
        if layer.ventilation == "well_ventilated":
            return "0: well ventilated, this layer and all outside it are left out"
        return "1/(h_a + h_r)" if layer.emissivity is not None else "table by thickness and direction"
    return "effective resistance of the taper" if layer.kind == "tapered" else "given"


def interface_steps(
    of: str, construction: Layered, transmittance: Transmittance, internal_c: float, external_c: float
) -> list[Step]:
    """Return the temperature at each interface, from the inside air to the outside air."""
    result = transmittance.calculation
    assert isinstance(result, LayeredResult)
    totals = result.totals
    resistances = (
        totals.internal_surface_m2k_w,
        *layer_resistances(construction, result),
        totals.external_surface_m2k_w,
    )
    steps = Steps(of)
    places = ["inside air", "inside surface"]
    places += [f"between layers {i} and {i + 1}" for i in range(1, len(construction.layers))]
    places += ["outside surface", "outside air"]
    for place, temperature in zip(
        places, iso_6946.interface_temperatures(resistances, internal_c, external_c), strict=True
    ):
        equation = "θ_i − (θ_i − θ_e)·ΣR/R_tot"
        steps.add(
            f"temperature, {place}",
            "θ",
            temperature,
            "°C",
            equation,
            "ISO 13788, steady state; bridged layers by their lower limit",
        )
    return steps.steps


def _ground(steps: Steps, result: GroundResult) -> None:
    if isinstance(result, iso_13370.BasementWall):
        steps.add(
            "equivalent thickness of the floor",
            "d_t",
            result.floor_equivalent_thickness_m,
            "m",
            "w + λ·(R_si + R_f + R_se)",
            "ISO 13370:2007, 9.3",
        )
        steps.add(
            "equivalent thickness of the wall",
            "d_w",
            result.wall_equivalent_thickness_m,
            "m",
            "λ·(R_si + R_w + R_se)",
            "ISO 13370:2007, 9.3",
        )
        steps.add(
            "U-value",
            "U_bw",
            result.u_value_w_m2k,
            _U,
            "2λ/(π·z)·(1 + 0.5·d_t/(d_t + z))·ln(z/d_w + 1)",
            "ISO 13370:2007, 9.3",
        )
        return
    steps.add(
        "characteristic dimension",
        "B′",
        result.characteristic_dimension_m,
        "m",
        "A/(P/2)",
        "ISO 13370:2007, 8.1",
    )
    if isinstance(result, iso_13370.SuspendedFloor):
        clause = "ISO 13370:2007, 9.2"
        steps.add(
            "equivalent thickness of the ground",
            "d_g",
            result.equivalent_thickness_m,
            "m",
            "w + λ·(R_si + R_g + R_se)",
            clause,
        )
        steps.add(
            "U-value of the floor itself",
            "U_f",
            result.floor_u_value_w_m2k,
            _U,
            "1/(R_si + R_f + R_si)",
            clause,
        )
        steps.add(
            "U-value through the ground",
            "U_g",
            result.ground_u_value_w_m2k,
            _U,
            "2λ/(π·B′ + d_g)·ln(π·B′/d_g + 1)",
            clause,
        )
        steps.add(
            "equivalent U-value of walls and wind",
            "U_x",
            result.sides_u_value_w_m2k,
            _U,
            "2·h·U_w/B′ + 1450·ε·v·f_w/B′",
            clause,
        )
        steps.add("U-value", "U", result.u_value_w_m2k, _U, "1/U = 1/U_f + 1/(U_g + U_x)", clause)
        return
    steps.add(
        "equivalent thickness of the floor",
        "d_t",
        result.equivalent_thickness_m,
        "m",
        "w + λ·(R_si + R_f + R_se)",
        "ISO 13370:2007, 8.2",
    )
    if isinstance(result, iso_13370.SlabOnGround):
        clause = "ISO 13370:2007, 9.1"
        steps.add(
            "U-value without edge insulation",
            "U_0",
            result.u_value_without_edge_w_m2k,
            _U,
            "2λ/(π·B′ + d_t)·ln(π·B′/d_t + 1), or λ/(0.457·B′ + d_t) where d_t ≥ B′",
            clause,
        )
        steps.add(
            "edge insulation",
            "ψ_g,e",
            result.edge_psi_w_mk,
            "W/(m·K)",
            "−λ/π·[ln(D/d_t + 1) − ln(D/(d_t + d′) + 1)], 2D where vertical",
            clause,
        )
        steps.add("U-value", "U", result.u_value_w_m2k, _U, "U_0 + 2·ψ_g,e/B′", clause)
    else:
        steps.add(
            "U-value",
            "U_bf",
            result.u_value_w_m2k,
            _U,
            "as a slab with d_t + z/2 in place of d_t",
            "ISO 13370:2007, 9.3",
        )
