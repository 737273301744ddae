"""The workings: each step of a result with its symbol, value, equation and clause, in the order a person checks by hand.

Steps only restate numbers that the calculation kept; nothing is computed a second time here except plain sums.
"""

from __future__ import annotations

from warmstead.building.constructions import GroundResult, Transmittance
from warmstead.building.house import ResolvedHouse
from warmstead.building.layered import LayeredResult, layer_resistances
from warmstead.building.rooms import Face, ResolvedRoom
from warmstead.building.statements import Step
from warmstead.building.ventilation import NO_AIR
from warmstead.standards import iso_6946, iso_10077_1, iso_13370
from warmstead.survey.constructions import AirLayer, Construction, Declared, Layered, Typical

_U = "W/(m²·K)"
_R = "m²·K/W"


class Steps:
    """Collects the steps of one subject."""

    def __init__(self, of: str) -> None:
        self.of = of
        self.steps: list[Step] = []

    def add(self, quantity: str, symbol: str, value: float, unit: str, equation: str, clause: str) -> None:
        """Add one step."""
        self.steps.append(
            {
                "of": self.of,
                "quantity": quantity,
                "symbol": symbol,
                "value": value,
                "unit": unit,
                "equation": equation,
                "clause": clause,
            }
        )


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
    steps.add(
        "internal surface resistance",
        "R_si",
        totals.internal_surface_m2k_w,
        _R,
        "by direction of heat flow",
        "ISO 6946:2017, 6.8",
    )
    for index, (layer, resistance) in enumerate(
        zip(construction.layers, layer_resistances(construction, result), strict=True), start=1
    ):
        clause = "ISO 6946:2017, 6.9" if isinstance(layer, AirLayer) else "ISO 6946:2017, 6.7.1"
        steps.add(
            f"layer {index}, {layer.kind}", f"R_{index}", resistance, _R, _layer_equation(layer), clause
        )
    steps.add(
        "external surface resistance",
        "R_se",
        totals.external_surface_m2k_w,
        _R,
        "by what the far side faces",
        "ISO 6946:2017, 6.8",
    )
    if len(totals.sections) > 1:
        for index, section in enumerate(totals.sections, start=1):
            steps.add(
                f"area share of section {index}",
                f"f_{index}",
                section.fraction,
                "1",
                "product of the bridges' shares",
                "ISO 6946:2017, 6.7.2.2",
            )
            through = (
                sum(section.resistances_m2k_w) + totals.internal_surface_m2k_w + totals.external_surface_m2k_w
            )
            steps.add(
                f"resistance through section {index}",
                f"R_tot,{index}",
                through,
                _R,
                "R_si + Σ R + R_se",
                "ISO 6946:2017, 6.7.2.3",
            )
        steps.add(
            "upper limit", "R_tot;upper", totals.upper_m2k_w, _R, "1/Σ(f/R_tot,i)", "ISO 6946:2017, 6.7.2.3"
        )
        steps.add(
            "lower limit",
            "R_tot;lower",
            totals.lower_m2k_w,
            _R,
            "R_si + Σ R_j + R_se, 1/R_j = Σ(f/R)",
            "ISO 6946:2017, 6.7.2.4",
        )
        steps.add(
            "total resistance", "R_tot", totals.total_m2k_w, _R, "(upper + lower)/2", "ISO 6946:2017, 6.7.2.2"
        )
        error = (totals.upper_m2k_w - totals.lower_m2k_w) / (2.0 * totals.total_m2k_w)
        steps.add(
            "greatest relative error",
            "e",
            100.0 * error,
            "%",
            "(upper − lower)/(2·R_tot)·100",
            "ISO 6946:2017, 6.7.2.5",
        )
    else:
        steps.add(
            "total resistance", "R_tot", totals.total_m2k_w, _R, "R_si + Σ R + R_se", "ISO 6946:2017, 6.7.1.2"
        )
    if result.taper_u_value_w_m2k is not None:
        steps.add(
            "U-value with the taper",
            "U",
            result.taper_u_value_w_m2k,
            _U,
            "by the shape of the taper, from R_tot as R_0",
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
    steps.add("U-value", "U", result.u_value_w_m2k, _U, "1/R_tot + ΔU", "ISO 6946:2017, 6.5")


def _layer_equation(layer: object) -> str:
    kind = getattr(layer, "kind", "")
    if kind == "solid":
        bridged = getattr(layer, "bridges", None)
        return "1/Σ(f·λ/d)" if bridged else "d/λ"
    if kind == "air":
        if getattr(layer, "ventilation", "") == "well_ventilated":
            return "0: well ventilated, this layer and all outside it are left out"
        return "1/(h_a + h_r)" if getattr(layer, "emissivity", None) else "table by thickness and direction"
    return "effective resistance of the taper" if kind == "tapered" else "given"


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


def room_steps(house: ResolvedHouse, room: ResolvedRoom) -> list[Step]:
    """Return the steps to one room's load: its constructions, rows, air and sum."""
    steps: list[Step] = []
    for name, transmittance in _constructions_of(house, [room]):
        steps += construction_steps(name, house.constructions.by_id[name], transmittance)
    return steps + _room(house, room)


def house_steps(house: ResolvedHouse) -> list[Step]:
    """Return the steps to the house's load: constructions once, then room by room, then the sums."""
    steps: list[Step] = []
    for name, transmittance in _constructions_of(house, house.rooms):
        steps += construction_steps(name, house.constructions.by_id[name], transmittance)
    for name, temperature in house.space_temperatures_c.items():
        space = Steps(name)
        space.add(
            "temperature of the unheated space",
            "θ_u",
            temperature,
            "°C",
            "Σ(H·θ)/Σ H over all its sides and its air",
            "EN 12831:2003, 7.1.2",
        )
        steps += space.steps
    for room in house.rooms:
        steps += _room(house, room)
    total = Steps("house")
    total.add(
        "transmission",
        "Φ_T",
        house.transmission_w,
        "W",
        "Σ rooms; heat between rooms cancels",
        "EN 12831:2003, 8.2",
    )
    by_sum = house.ventilation.method == "air_changes"
    total.add(
        "ventilation",
        "Φ_V",
        house.ventilation_w,
        "W",
        "Σ rooms" if by_sum else "c · [max(Σ(½·V_inf + V_mech)·Δθ, Σ V_min·Δθ) − Σ η·V_su·Δθ] + flues",
        "EN 12831:2003, 8.2",
    )
    total.add("reheat", "Φ_RH", house.reheat_w, "W", "Σ rooms", "EN 12831:2003, 7.3")
    total.add(
        "design heat load", "Φ_HL", house.design_heat_load_w, "W", "Φ_T + Φ_V + Φ_RH", "EN 12831:2003, 8.2"
    )
    return steps + total.steps


def _constructions_of(house: ResolvedHouse, rooms: list[ResolvedRoom]) -> list[tuple[str, Transmittance]]:
    """Return the constructions of some rooms, each side of each once, in the order met."""
    found: dict[tuple[str, float], Transmittance] = {}
    for room in rooms:
        for face in room.faces:
            for side in ("outside", "internal"):
                transmittance = house.constructions.resolved(face.construction, side)
                if transmittance is not None and transmittance.u_value_w_m2k == face.u_value_w_m2k:
                    found.setdefault((face.construction, face.u_value_w_m2k), transmittance)
    return [(name, transmittance) for (name, _), transmittance in found.items()]


def _room(house: ResolvedHouse, room: ResolvedRoom) -> list[Step]:
    steps = Steps(room.id)
    for face in room.faces:
        _face(steps, room, face)
    steps.add("transmission", "Φ_T", room.transmission_w, "W", "Σ rows", "EN 12831:2003, 7.1")
    _air(steps, house, room)
    steps.add("reheat", "Φ_RH", room.reheat_w, "W", "f_RH · floor area", "EN 12831:2003, 7.3")
    steps.add(
        "design heat load", "Φ_HL", room.design_heat_load_w, "W", "Φ_T + Φ_V + Φ_RH", "EN 12831:2003, 7"
    )
    return steps.steps


_DIFFERENCES = {
    "outside": ("θ_i − θ_e", "EN 12831:2003, 7.1.1"),
    "ground": (
        "1.45 · G_W · (θ_i − θ_m,e); suspended floors and ground_rule external: θ_i − θ_e",
        "EN 12831:2003, 7.1.3",
    ),
    "room": ("θ_i − θ_j of the room beside", "EN 12831:2003, 7.1.4"),
    "unheated_space": ("θ_i − θ_u, or b · (θ_i − θ_e)", "EN 12831:2003, 7.1.2"),
    "neighbour": ("θ_i − θ next door", "EN 12831:2003, 7.1.4"),
}


def _face(steps: Steps, room: ResolvedRoom, face: Face) -> None:
    equation, clause = _DIFFERENCES[face.boundary]
    row = f"{face.id}: "
    steps.add(f"{row}effective temperature difference", "Δθ", face.difference_k, "K", equation, clause)
    if face.bridge_w_k:
        how = "ψ · l" if face.kind == "junction" else "surcharge · A"
        steps.add(f"{row}thermal bridges", "H_tb", face.bridge_w_k, "W/K", how, "EN 12831:2003, 7.1.1")
    steps.add(
        f"{row}heat loss",
        "Φ",
        face.heat_loss_w,
        "W",
        f"({face.area_m2:.6g} · {face.u_value_w_m2k:.6g} + {face.bridge_w_k:.6g}) · {face.difference_k:.6g}",
        clause,
    )


def _air(steps: Steps, house: ResolvedHouse, room: ResolvedRoom) -> None:
    ventilation = house.ventilation
    air = room.room.ventilation or NO_AIR
    difference = room.temperature_c - house.external_c
    capacity = ventilation.air_heat_capacity_wh_m3k
    steps.add(
        "heat capacity of air", "c", capacity, "Wh/(m³·K)", "given or by national annex", "EN 12831:2003, 7.2"
    )
    flow = ventilation.room_air.get(room.id)
    if flow is None:
        steps.add(
            "air changes",
            "n",
            ventilation.air_changes[room.id],
            "1/h",
            "given or by use",
            "EN 12831:2003, 7.2",
        )
        mechanical = (1.0 - (air.heat_recovery_efficiency or 0.0)) * (air.supply_l_s or 0.0)
        if ventilation.mechanical:
            steps.add(
                "supply less recovered heat",
                "(1 − η)·q_su",
                mechanical,
                "l/s",
                "given",
                "EN 12831:2003, 7.2.1.3",
            )
            steps.add(
                "share of extract beyond supply",
                "q_ex",
                ventilation.room_unbalanced_l_s(room),
                "l/s",
                "by share of volume",
                "EN 12831:2003, 7.2.1.4",
            )
        equation = "[c·n·V + 3.6·c·((1 − η)·q_su + q_ex + q_flue)] · (θ_i − θ_e)"
    else:
        steps.add(
            "infiltration",
            "V_inf",
            flow.infiltration_m3_h,
            "m³/h",
            "2 · V · n50 · e · ε",
            "EN 12831:2003, 7.2.1.2",
        )
        steps.add(
            "hygienic minimum", "V_min", flow.hygienic_m3_h, "m³/h", "n_min · V", "EN 12831:2003, 7.2.1.1"
        )
        clause = "EN 12831:2003, 7.2.1"
        steps.add(
            "mechanical air",
            "V_mech",
            flow.mechanical_m3_h,
            "m³/h",
            "supply, and extract beyond supply",
            clause,
        )
        steps.add("made good by heat recovery", "η·V_su", flow.recovered_m3_h, "m³/h", "η · supply", clause)
        equation = "max(V_inf + V_mech, V_min) − η·V_su"
        steps.add("air that counts", "V", flow.thermal_m3_h, "m³/h", equation, clause)
        equation = "c · (V + 3.6·q_flue) · (θ_i − θ_e)"
    if ventilation.flue_l_s[room.id]:
        steps.add(
            "air through flues",
            "q_flue",
            ventilation.flue_l_s[room.id],
            "l/s",
            "given or by table",
            "table flues",
        )
    steps.add(
        "temperature difference to outside", "θ_i − θ_e", difference, "K", "θ_i − θ_e", "EN 12831:2003, 7.2"
    )
    steps.add("ventilation", "Φ_V", room.ventilation_w, "W", equation, "EN 12831:2003, 7.2")
