"""A house in a terminal: rooms, then constructions."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from warmstead.exchange.terminal.tables import Result, titled, watts


def tables(result: Result) -> Iterable[RenderableType]:
    """The house: rooms, then constructions."""
    rooms = titled("Rooms", "room", ">°C", ">m²", ">transmission, W", ">ventilation, W", ">load, W", ">W/m²")
    for room in result["rooms"]:
        rooms.add_row(
            room["id"],
            f"{room['design_temperature_c']:g}",
            f"{room['floor_area_m2']:.1f}",
            watts(room["transmission_w"]),
            watts(room["ventilation_w"]),
            watts(room["design_heat_load_w"]),
            f"{room['design_heat_load_w'] / room['floor_area_m2']:.0f}",
        )
    rooms.add_section()
    rooms.add_row(
        "house",
        "",
        f"{result['floor_area_m2']:.1f}",
        watts(result["transmission_w"]),
        watts(result["ventilation_w"]),
        watts(result["design_heat_load_w"]),
        f"{result['specific_heat_load_w_m2']:.0f}",
        style="bold",
    )
    yield rooms
    yield _constructions(result)
    for space in result["unheated_spaces"]:
        yield Text(f"Unheated space {space['id']}: {space['temperature_c']:.1f} °C on the design day")


def _constructions(result: Result) -> Table:
    table = titled("Where the heat goes", "construction", "towards", ">area, m²", ">loss, W", ">share")
    for row in result["by_construction"]:
        share = f"{round(row['share'], 6) + 0.0:.1%}" if "share" in row else ""
        table.add_row(
            row["construction"], row["boundary"], f"{row['area_m2']:.1f}", watts(row["heat_loss_w"]), share
        )
    return table
