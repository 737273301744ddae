"""Measures, what they save, and which to take, in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.text import Text

from warmstead.exchange.terminal.tables import Result, numbers_table, optional, titled, watts


def tables(result: Result) -> Iterable[RenderableType]:
    """Measures one by one, the sets that reach the goal, the frontier."""
    yield numbers_table(
        ("design heat load now", f"{result['design_heat_load_w']:.0f} W"),
        ("with all that can stand together", f"{result['all_measures']['design_heat_load_w']:.0f} W"),
    )
    measures = titled(
        "Measures", "measure", ">cost", ">saves alone, W", ">after the others, W", ">cost per W"
    )
    for row in result["measures"]:
        measures.add_row(
            row["id"],
            optional(row, "cost", "{:.0f}"),
            watts(row["saving_alone_w"]),
            watts(row["saving_after_others_w"]),
            optional(row, "cost_per_watt_saved", "{:.2f}"),
        )
    yield measures
    for conflict in result["conflicts"]:
        yield Text(f"Not together: {', '.join(conflict['measures'])} ({conflict['reason']})")
    yield from _sets(result)
    yield from _frontier(result)
    yield from _thickness(result)


def _sets(result: Result) -> Iterable[RenderableType]:
    """The cheapest set and its runners-up, or how near the nearest comes."""
    if "cheapest" in result:
        reaching = titled(
            "Sets that reach the goal, the cheapest first", "measures", ">cost", ">load, W", ">margin, W"
        )
        for row in (result["cheapest"], *result["runners_up"]):
            reaching.add_row(
                ", ".join(row["measures"]) or "none needed",
                optional(row, "cost", "{:.0f}"),
                watts(row["design_heat_load_w"]),
                optional(row, "margin_w", "{:.0f}"),
            )
        yield reaching
        if not result["cheapest"]["proved_optimal"]:
            yield Text("It is not proved that the first is the cheapest", style="bold yellow")
    if "shortfall" in result:
        short = result["shortfall"]
        nearest = ", ".join(short["measures"]) or "no measure at all"
        yield Text(
            f"No set reaches the goal: {short['shortfall_w']:.0f} W are missing with {nearest}",
            style="bold red",
        )


def _frontier(result: Result) -> Iterable[RenderableType]:
    if "frontier" not in result:
        return
    title = "Cost against load" if result["frontier_complete"] else "Cost against load, the cheapest of them"
    frontier = titled(title, ">cost", ">load, W", "measures")
    for row in result["frontier"]:
        frontier.add_row(
            optional(row, "cost", "{:.0f}"),
            watts(row["design_heat_load_w"]),
            ", ".join(row["measures"]) or "none",
        )
    yield frontier


def _thickness(result: Result) -> Iterable[RenderableType]:
    if "least_thickness" not in result:
        return
    row = result["least_thickness"]
    if "thickness_mm" in row:
        yield Text(f"Least thickness of the layer: {row['thickness_mm']:.1f} mm")
    else:
        yield Text(f"No thickness of the layer reaches the goal: {row['shortfall_w']:.0f} W are missing")
