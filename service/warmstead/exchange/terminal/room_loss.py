"""A room in a terminal, row by row."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from warmstead.exchange.terminal.tables import Result, load_lines, numbers_table, titled, watts


def tables(result: Result) -> Iterable[RenderableType]:
    """One room, row by row."""
    table = titled(
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
            watts(row["heat_loss_w"]),
        )
    yield table
    yield numbers_table(*load_lines(result))
