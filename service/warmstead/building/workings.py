"""The workings of rooms and houses: each row, the air, the sums, in the order a person checks by hand.

Steps only restate numbers that the calculation kept; nothing is computed a second time here except plain sums.
"""

from __future__ import annotations

from warmstead.building.construction_workings import construction_steps
from warmstead.building.constructions import Transmittance
from warmstead.building.house import ResolvedHouse
from warmstead.building.rooms import Face, ResolvedRoom
from warmstead.building.statements import Step
from warmstead.building.steps import Steps
from warmstead.building.ventilation import NO_AIR


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
    for name in house.space_temperatures_c:
        steps += _space(house, name)
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


def _space(house: ResolvedHouse, name: str) -> list[Step]:
    """List the balance of an unheated space, side by side."""
    steps = Steps(name)
    clause = "EN 12831:2003, 7.1.2"
    for index, (coefficient, temperature) in enumerate(house.space_couplings[name], start=1):
        what = "to rooms in their order, then its own elements, its air last"
        steps.add(
            f"coefficient of side {index}",
            f"H_{index}",
            coefficient,
            "W/K",
            f"A·U + bridges, or c·n·V: {what}",
            clause,
        )
        steps.add(
            f"temperature behind side {index}", f"θ_{index}", temperature, "°C", "given or resolved", clause
        )
    temperature = house.space_temperatures_c[name]
    steps.add("temperature of the unheated space", "θ_u", temperature, "°C", "Σ(H·θ)/Σ H", clause)
    return steps.steps


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
        _face(steps, house, room, face)
    steps.add("transmission", "Φ_T", room.transmission_w, "W", "Σ rows", "EN 12831:2003, 7.1")
    _air(steps, house, room)
    steps.add("reheat", "Φ_RH", room.reheat_w, "W", "f_RH · floor area", "EN 12831:2003, 7.3")
    steps.add(
        "design heat load", "Φ_HL", room.design_heat_load_w, "W", "Φ_T + Φ_V + Φ_RH", "EN 12831:2003, 7"
    )
    return steps.steps


_DIFFERENCES = {
    "outside": ("θ_i − θ_e", "EN 12831:2003, 7.1.1"),
    "room": ("θ_i − θ_j of the room beside", "EN 12831:2003, 7.1.4"),
    "unheated_space": ("θ_i − θ_u, or b · (θ_i − θ_e)", "EN 12831:2003, 7.1.2"),
    "neighbour": ("θ_i − θ next door", "EN 12831:2003, 7.1.4"),
}


def _difference(house: ResolvedHouse, room: ResolvedRoom, face: Face) -> tuple[str, str]:
    """Say how a face's effective temperature difference follows, and by which clause."""
    if face.boundary != "ground":
        return _DIFFERENCES[face.boundary]
    if house.ground_factors is None or face.difference_k == room.temperature_c - house.external_c:
        return "θ_i − θ_e: a suspended floor, or ground_rule external", "EN 12831:2003, 7.1.3"
    factor, water = house.ground_factors
    return f"f_g1 · G_W · (θ_i − θ_m,e) = {factor:g} · {water:g} · (θ_i − θ_m,e)", "EN 12831:2003, 7.1.3"


def _face(steps: Steps, house: ResolvedHouse, room: ResolvedRoom, face: Face) -> None:
    equation, clause = _difference(house, room, face)
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
