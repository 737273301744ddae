"""The workings of heat-pump sizing: the load line, then each candidate's numbers step by step."""

from __future__ import annotations

from collections.abc import Mapping

from warmstead.building.heat_pumps import ResolvedCandidate
from warmstead.building.statements import Step
from warmstead.building.steps import Steps
from warmstead.standards.en_14825 import LoadLine


def load_line_steps(line: LoadLine) -> list[Step]:
    """Return the steps of the load line."""
    steps = Steps("load line")
    steps.add(
        "design heat load",
        "Φ_HL",
        line.design_heat_load_w,
        "W",
        "of the house, or as given",
        "EN 12831:2003, 8",
    )
    steps.add(
        "outside design temperature", "θ_e", line.external_temperature_c, "°C", "given", "EN 12831:2003, 6.1"
    )
    steps.add(
        "base temperature",
        "θ_base",
        line.base_temperature_c,
        "°C",
        "given, or Σ(H·θ_i)/Σ H of the rooms",
        "EN 14825",
    )
    span = line.base_temperature_c - line.external_temperature_c
    steps.add(
        "slope",
        "Φ_HL/(θ_base − θ_e)",
        line.design_heat_load_w / span,
        "W/K",
        "load(T) = slope · (θ_base − T)",
        "EN 14825",
    )
    return steps.steps


def candidate_steps(resolved: ResolvedCandidate, line: LoadLine, numbers: Mapping[str, object]) -> list[Step]:
    """Return the steps to a candidate's verdict; `numbers` are those of its statement."""
    steps = Steps(resolved.candidate.id)
    table = "the maker's table"
    for temperature, capacity in resolved.capacity_w:
        steps.add(
            f"capacity at {temperature:g} °C outside",
            "P(T)",
            capacity,
            "W",
            "straight line between flow temperatures",
            table,
        )
    rows = (
        (
            "capacity_at_design_w",
            "capacity at the design condition",
            "P",
            "W",
            "straight line between outside temperatures",
            table,
        ),
        (
            "coefficient_of_performance_at_design",
            "coefficient of performance there",
            "COP",
            "1",
            "bilinear",
            table,
        ),
        (
            "hot_water_hours_per_day",
            "hours for hot water",
            "t",
            "h/d",
            "energy · 1000/capacity at the store's flow temperature",
            "daily balance",
        ),
        ("required_w", "capacity required", "P_req", "W", "load · 24/(24 − t)", "daily balance"),
        ("coverage", "coverage", "P/P_req", "1", "capacity/required", "daily balance"),
        ("margin_w", "margin", "P − P_req", "W", "capacity − required", "daily balance"),
        (
            "reduction_needed_w",
            "reduction needed",
            "ΔΦ",
            "W",
            "max(0, load − P/minimum coverage · (24 − t)/24)",
            "daily balance",
        ),
        (
            "backup_at_design_w",
            "backup at the design condition",
            "P_sup",
            "W",
            "max(0, required − capacity)",
            "EN 14825",
        ),
        (
            "bivalent_temperature_c",
            "bivalent temperature",
            "T_biv",
            "°C",
            "capacity(T) = load(T)",
            "EN 14825",
        ),
        ("minimum_capacity_w", "lowest capacity at the design condition", "P_min", "W", "bilinear", table),
        (
            "cycling_above_external_temperature_c",
            "cycling above",
            "T",
            "°C",
            "lowest capacity(T) = load(T)",
            "EN 14825",
        ),
    )
    for name, quantity, symbol, unit, equation, clause in rows:
        value = numbers.get(name)
        if isinstance(value, float):
            steps.add(quantity, symbol, value, unit, equation, clause)
    return steps.steps
