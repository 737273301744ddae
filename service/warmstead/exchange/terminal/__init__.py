"""Answers as tables for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from warmstead.building.findings import Problem
from warmstead.exchange.terminal import (
    element_loss,
    emitter_check,
    heat_pump_sizing,
    house_loss,
    improvements,
    measured_heat_loss,
    outside_temperature,
    radiator_output,
    required_thickness,
    room_loss,
    survey_comparison,
    u_value,
    uncertainty,
)
from warmstead.exchange.terminal.tables import Result, titled


def render(question: str, result: Result) -> RenderableType:
    """Return an answer as tables, its workings and warnings after it."""
    return Group(numbers(question, result), warnings(result["warnings"]))


def numbers(question: str, result: Result) -> RenderableType:
    """Return an answer as tables without its warnings."""
    parts = list(_RENDERERS[question](result))
    if "workings" in result:
        parts.append(workings(result["workings"]))
    return Group(*parts)


def problems(found: Iterable[Problem]) -> RenderableType:
    """Return what is wrong with a request as a table."""
    table = titled("Refused", "where", "code", "what would be accepted")
    for pointer, code, detail in found:
        table.add_row(pointer or "(the whole document)", code, detail)
    return table


def workings(steps: Sequence[Result]) -> Table:
    """Every step with its equation and clause."""
    table = titled("Workings", "of", "quantity", "symbol", ">value", "unit", "equation", "clause")
    for step in steps:
        table.add_row(
            step["of"],
            step["quantity"],
            step["symbol"],
            f"{step['value']:.6g}",
            step["unit"],
            step["equation"],
            step["clause"],
        )
    return table


def warnings(found: Sequence[Result]) -> RenderableType:
    """Warnings by code, cautions apart from what was taken or seen; further places of a code are counted."""
    if not found:
        return Text("No warnings")
    cautions = [warning for warning in found if warning["code"].startswith("caution.")]
    others = [warning for warning in found if not warning["code"].startswith("caution.")]
    tables = [_by_code(title, part) for title, part in (("Warnings", others), ("Cautions", cautions)) if part]
    return Group(*tables)


def _by_code(title: str, found: Sequence[Result]) -> Table:
    table = titled(title, "code", "where", "what")
    groups: dict[str, list[Result]] = {}
    for warning in found:
        groups.setdefault(warning["code"], []).append(warning)
    for code, group in groups.items():
        more = f" (and {len(group) - 1} more places)" if len(group) > 1 else ""
        table.add_row(code, (group[0]["pointer"] or "/") + more, group[0]["detail"])
    return table


_RENDERERS: dict[str, Callable[[Result], Iterable[RenderableType]]] = {
    "u-value": u_value.tables,
    "required-thickness": required_thickness.tables,
    "room-loss": room_loss.tables,
    "house-loss": house_loss.tables,
    "emitter-check": emitter_check.tables,
    "heat-pump-sizing": heat_pump_sizing.tables,
    "improvements": improvements.tables,
    "survey-comparison": survey_comparison.tables,
    "uncertainty": uncertainty.tables,
    "measured-heat-loss": measured_heat_loss.tables,
    "radiator-output": radiator_output.tables,
    "element-loss": element_loss.tables,
    "outside-temperature": outside_temperature.tables,
}
