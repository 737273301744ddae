"""The workings of an emitter check: each emitter's output step by step."""

from __future__ import annotations

from collections.abc import Sequence

from warmstead.building.emitters import (
    Circuit,
    Emission,
    ResolvedEmitter,
    ResolvedRadiator,
    ResolvedUnderfloor,
)
from warmstead.building.rooms import ResolvedRoom
from warmstead.building.statements import Step
from warmstead.building.steps import Steps


def emitter_steps(
    room: ResolvedRoom, emitters: Sequence[tuple[ResolvedEmitter, Circuit, Emission]]
) -> list[Step]:
    """Return the steps to a room's available output."""
    steps = Steps(room.id)
    for emitter, water, emission in emitters:
        _emitter(steps, room, emitter, water, emission)
    available = sum(emission.output_w for _, _, emission in emitters)
    steps.add("available output", "Σ Φ", available, "W", "sum of the emitters", "")
    steps.add(
        "required output",
        "Φ_HL",
        room.design_heat_load_w,
        "W",
        "design heat load of the room",
        "EN 12831:2003, 7",
    )
    return steps.steps


def _emitter(
    steps: Steps, room: ResolvedRoom, emitter: ResolvedEmitter, water: Circuit, emission: Emission
) -> None:
    row = f"{emitter.emitter.id}: "
    span = f"θ_V {water.flow_c:g}, θ_R {water.return_c:g}, θ_i {room.temperature_c:g} °C"
    equation = (
        f"(θ_V − θ_R)/ln((θ_V − θ_i)/(θ_R − θ_i)); {span}"
        if emission.mean == "logarithmic"
        else f"(θ_V + θ_R)/2 − θ_i; {span}"
    )
    steps.add(
        f"{row}excess temperature, {emission.mean} mean",
        "ΔT",
        emission.excess_k,
        "K",
        equation,
        "EN 1264-2" if isinstance(emitter, ResolvedUnderfloor) else "EN 442-2:2014; DIN 4703-3 for the mean",
    )
    if isinstance(emitter, ResolvedRadiator):
        equation = f"{emitter.emitter.standard_output_w:g}·(ΔT/{emitter.standard_excess_k:g})^{emitter.exponent:g}·{emitter.factor:g}"
        steps.add(
            f"{row}output", "Φ", emission.output_w, "W", equation, "EN 442-2:2014, characteristic equation"
        )
    elif isinstance(emitter, ResolvedUnderfloor):
        clause = "EN 1264-2"
        characteristic = emitter.characteristic
        steps.add(
            f"{row}gradient of the characteristic",
            "K_H",
            characteristic.gradient_w_m2k,
            "W/(m²·K)",
            "B·a_B·a_T^m_T·a_U^m_U·a_D^m_D (type A), B·a_B·a_T^m_T·a_U·a_WL·a_K (type B)",
            clause,
        )
        for name, symbol, value in (
            ("covering factor", "a_B", characteristic.covering_factor),
            ("spacing factor", "a_T", characteristic.spacing_factor),
            ("spacing exponent", "m_T", characteristic.spacing_exponent),
            ("screed factor", "a_U", characteristic.screed_factor),
            ("screed exponent", "m_U", characteristic.screed_exponent),
            ("diameter factor", "a_D", characteristic.diameter_factor),
            ("diameter exponent", "m_D", characteristic.diameter_exponent),
        ):
            steps.add(f"{row}{name}", symbol, value, "1", "table or definition", clause)
        steps.add(
            f"{row}highest surface temperature", "θ_F,max", emitter.surface_limit_c, "°C", "by zone", clause
        )
        steps.add(
            f"{row}limit of the heat flux",
            "q_G",
            emitter.limit_w_m2,
            "W/m²",
            "limit curve at its crossing with the characteristic",
            clause,
        )
        steps.add(f"{row}output", "Φ", emission.output_w, "W", "min(K_H·ΔθH, q_G)·A", clause)
        steps.add(
            f"{row}downward loss",
            "Φ_u",
            emission.downward_w,
            "W",
            "(R_o·q + θ_i − θ_u)/R_u·A; to the water flow, not to the room",
            "EN 1264-3",
        )
    else:
        steps.add(
            f"{row}output",
            "Φ",
            emission.output_w,
            "W",
            "straight line between the table's rows",
            "the maker's table",
        )
