"""Answers as tables for a terminal."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from warmstead.building.findings import Problem

Result = dict[str, Any]


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
    table = _table("Refused", "where", "code", "what would be accepted")
    for pointer, code, detail in found:
        table.add_row(pointer or "(the whole document)", code, detail)
    return table


def u_value(result: Result) -> Iterable[RenderableType]:
    """The U-value and the layers it is made of."""
    yield _numbers(
        ("U-value", f"{result['u_value_w_m2k']:.4f} W/(m²·K), stated {result['stated']}"),
        ("total resistance", _optional(result, "total_resistance_m2k_w", "{:.4f} m²·K/W")),
        ("upper limit", _optional(result, "upper_limit_m2k_w", "{:.4f} m²·K/W")),
        ("lower limit", _optional(result, "lower_limit_m2k_w", "{:.4f} m²·K/W")),
        ("corrections within", _optional(result, "correction_w_m2k", "{:.4f} W/(m²·K)")),
    )
    if "layers" in result:
        table = _table("Layers, from inside to outside", "layer", ">R, m²·K/W", ">share")
        for index, layer in enumerate(result["layers"], start=1):
            table.add_row(str(index), f"{layer['resistance_m2k_w']:.3f}", f"{layer['share']:.1%}")
        yield table


def required_thickness(result: Result) -> Iterable[RenderableType]:
    """The thickness and the U-value with it."""
    yield _numbers(
        ("least thickness", f"{result['thickness_mm']:.1f} mm"),
        ("U-value with it", f"{result['u_value_w_m2k']:.4f} W/(m²·K)"),
        ("U-value without the layer", f"{result['u_value_without_layer_w_m2k']:.4f} W/(m²·K)"),
    )


def room_loss(result: Result) -> Iterable[RenderableType]:
    """One room, row by row."""
    table = _table(
        f"Room {result['id']} at {result['design_temperature_c']:g} °C",
        "row",
        "construction",
        "towards",
        ">area, m²",
        ">U, W/(m²·K)",
        ">bridges, W/K",
        ">Δθ, K",
        ">loss, W",
    )
    for row in result["elements"]:
        towards = row.get("adjoins", row["boundary"])
        table.add_row(
            f"  {row['id']}" if "opening_of" in row else row["id"],
            row["construction"],
            towards,
            f"{row['area_m2']:.2f}",
            f"{row['u_value_w_m2k']:.3f}",
            f"{row['thermal_bridge_w_k']:.2f}",
            f"{row['temperature_difference_k']:.1f}",
            _watts(row["heat_loss_w"]),
        )
    yield table
    yield _numbers(*_load(result))


def house_loss(result: Result) -> Iterable[RenderableType]:
    """The house: rooms, then constructions."""
    rooms = _table("Rooms", "room", ">°C", ">m²", ">transmission, W", ">ventilation, W", ">load, W", ">W/m²")
    for room in result["rooms"]:
        rooms.add_row(
            room["id"],
            f"{room['design_temperature_c']:g}",
            f"{room['floor_area_m2']:.1f}",
            _watts(room["transmission_w"]),
            _watts(room["ventilation_w"]),
            _watts(room["design_heat_load_w"]),
            f"{room['design_heat_load_w'] / room['floor_area_m2']:.0f}",
        )
    rooms.add_section()
    rooms.add_row(
        "house",
        "",
        f"{result['floor_area_m2']:.1f}",
        _watts(result["transmission_w"]),
        _watts(result["ventilation_w"]),
        _watts(result["design_heat_load_w"]),
        f"{result['specific_heat_load_w_m2']:.0f}",
        style="bold",
    )
    yield rooms
    yield _constructions(result)
    for space in result["unheated_spaces"]:
        yield Text(f"Unheated space {space['id']}: {space['temperature_c']:.1f} °C on the design day")


def _constructions(result: Result) -> Table:
    table = _table("Where the heat goes", "construction", "towards", ">area, m²", ">loss, W", ">share")
    for row in result["by_construction"]:
        share = f"{round(row['share'], 6) + 0.0:.1%}" if "share" in row else ""
        table.add_row(
            row["construction"], row["boundary"], f"{row['area_m2']:.1f}", _watts(row["heat_loss_w"]), share
        )
    return table


def emitter_check(result: Result) -> Iterable[RenderableType]:
    """Rooms with their emitters, short ones marked."""
    table = _table(
        "Emitters",
        "room",
        "emitter",
        ">needs, W",
        ">gives, W",
        ">coverage",
        ">lowest flow, °C",
        ">needs at 50 K, W",
    )
    for room in result["rooms"]:
        short = room.get("coverage", 1.0) < 1.0
        table.add_row(
            room["id"],
            ", ".join(emitter["id"] for emitter in room["emitters"]) or "none",
            _watts(room["required_w"]),
            _watts(room["available_w"]),
            f"{room['coverage']:.0%}" if "coverage" in room else "",
            _optional(room, "lowest_flow_temperature_c", "{:.1f}") or "none",
            _optional(room, "standard_output_needed_w", "{:.0f}") if short else "",
            style="bold red" if short else "",
        )
    yield table
    if "governing_room" in result:
        lowest = (
            _optional(result, "lowest_flow_temperature_c", "{:.1f} °C")
            or "no flow temperature that carries it"
        )
        yield Text(f"Room {result['governing_room']} governs the flow temperature: {lowest}")


_VERDICT_STYLES = {"suitable": "bold green", "undersized": "red", "oversized": "yellow"}


def heat_pump_sizing(result: Result) -> Iterable[RenderableType]:
    """Candidates with their verdicts and reasons."""
    yield _numbers(
        (
            "design heat load",
            f"{result['design_heat_load_w']:.0f} W at {result['external_temperature_c']:g} °C outside",
        ),
        ("capacity required", f"{result['required_w']:.0f} W, hot water included where asked for"),
        ("smallest suitable", result.get("smallest_suitable", "none of them")),
    )
    table = _table(
        "Candidates",
        "unit",
        ">capacity, W",
        ">COP",
        ">coverage",
        ">short by, W",
        ">bivalent, °C",
        ">cycles above, °C",
        "verdict",
    )
    for row in result["candidates"]:
        table.add_row(
            row["id"],
            _watts(row["capacity_at_design_w"]),
            f"{row['coefficient_of_performance_at_design']:.2f}",
            f"{row['coverage']:.1%}",
            _watts(row["reduction_needed_w"]),
            _optional(row, "bivalent_temperature_c", "{:.1f}"),
            _optional(row, "cycling_above_external_temperature_c", "{:.1f}"),
            Text(row["verdict"], style=_VERDICT_STYLES[row["verdict"]]),
        )
    yield table
    for row in result["candidates"]:
        yield Text(f"{row['id']}: {'; '.join(row['reasons'])}")


def workings(steps: Sequence[Result]) -> Table:
    """Every step with its equation and clause."""
    table = _table("Workings", "of", "quantity", "symbol", ">value", "unit", "equation", "clause")
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
    table = _table(title, "code", "where", "what")
    groups: dict[str, list[Result]] = {}
    for warning in found:
        groups.setdefault(warning["code"], []).append(warning)
    for code, group in groups.items():
        more = f" (and {len(group) - 1} more places)" if len(group) > 1 else ""
        table.add_row(code, (group[0]["pointer"] or "/") + more, group[0]["detail"])
    return table


def _load(result: Result) -> list[tuple[str, str]]:
    return [
        ("transmission", f"{result['transmission_w']:.0f} W"),
        ("ventilation", f"{result['ventilation_w']:.0f} W"),
        ("reheat", f"{result['reheat_w']:.0f} W"),
        ("design heat load", f"{result['design_heat_load_w']:.0f} W"),
    ]


def _watts(value: float) -> str:
    """Write whole watts, a zero without sign."""
    return f"{round(value) + 0:d}"


def _optional(result: Result, member: str, form: str) -> str:
    return form.format(result[member]) if member in result else ""


def _numbers(*pairs: tuple[str, str]) -> Table:
    table = Table(box=None, show_header=False, pad_edge=False)
    for name, value in pairs:
        if value:
            table.add_row(name, value)
    return table


def _table(title: str, *columns: str) -> Table:
    """Return an empty table; columns that begin with `>` hold numbers."""
    table = Table(title=title, title_justify="left", title_style="bold", header_style="bold")
    for column in columns:
        table.add_column(column.removeprefix(">"), justify="right" if column.startswith(">") else "left")
    return table


_RENDERERS: dict[str, Callable[[Result], Iterable[RenderableType]]] = {
    "u-value": u_value,
    "required-thickness": required_thickness,
    "room-loss": room_loss,
    "house-loss": house_loss,
    "emitter-check": emitter_check,
    "heat-pump-sizing": heat_pump_sizing,
}
