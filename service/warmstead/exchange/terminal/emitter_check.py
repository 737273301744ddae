"""Rooms with their emitters in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.text import Text

from warmstead.exchange.terminal.tables import Result, optional, titled, watts


def tables(result: Result) -> Iterable[RenderableType]:
    """Rooms with their emitters, short ones marked."""
    table = titled(
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
            watts(room["required_w"]),
            watts(room["available_w"]),
            f"{room['coverage']:.0%}" if "coverage" in room else "",
            optional(room, "lowest_flow_temperature_c", "{:.1f}") or "none",
            optional(room, "standard_output_needed_w", "{:.0f}") if short else "",
            style="bold red" if short else "",
        )
    yield table
    if "governing_room" in result:
        lowest = (
            optional(result, "lowest_flow_temperature_c", "{:.1f} °C")
            or "no flow temperature that carries it"
        )
        yield Text(f"Room {result['governing_room']} governs the flow temperature: {lowest}")
