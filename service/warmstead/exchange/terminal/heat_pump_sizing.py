"""Candidates with their verdicts in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.text import Text

from warmstead.exchange.terminal.tables import Result, numbers_table, optional, titled, watts

_VERDICT_STYLES = {"suitable": "bold green", "undersized": "red", "oversized": "yellow"}


def tables(result: Result) -> Iterable[RenderableType]:
    """Candidates with their verdicts and reasons."""
    yield numbers_table(
        (
            "design heat load",
            f"{result['design_heat_load_w']:.0f} W at {result['external_temperature_c']:g} °C outside",
        ),
        ("capacity required", f"{result['required_w']:.0f} W, hot water included where asked for"),
        ("smallest suitable", result.get("smallest_suitable", "none of them")),
    )
    table = titled(
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
            watts(row["capacity_at_design_w"]),
            f"{row['coefficient_of_performance_at_design']:.2f}",
            f"{row['coverage']:.1%}",
            watts(row["reduction_needed_w"]),
            optional(row, "bivalent_temperature_c", "{:.1f}"),
            optional(row, "cycling_above_external_temperature_c", "{:.1f}"),
            Text(row["verdict"], style=_VERDICT_STYLES[row["verdict"]]),
        )
    yield table
    for row in result["candidates"]:
        yield Text(f"{row['id']}: {'; '.join(row['reasons'])}")
