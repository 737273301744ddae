"""Two surveys in a terminal: what makes the difference, then causes and rooms."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.table import Table
from rich.text import Text

from warmstead.exchange.terminal.tables import Result, numbers_table, titled, watts

MOST_STATEMENTS = 20
"""A terminal shows so many; all of them are in the answer."""


def tables(result: Result) -> Iterable[RenderableType]:
    """Return both loads, the statements, and the difference by cause and by room."""
    first, second = result["first"], result["second"]
    yield numbers_table(
        (first["name"], f"{first['design_heat_load_w']:.0f} W"),
        (second["name"], f"{second['design_heat_load_w']:.0f} W"),
        ("difference", f"{result['difference_w']:+.0f} W"),
    )
    yield _statements(result)
    yield _causes(result)
    yield _rooms(result)
    unmatched = result["unmatched"]
    rooms = len(unmatched["first_rooms"]) + len(unmatched["second_rooms"])
    elements = len(unmatched["first_elements"]) + len(unmatched["second_elements"])
    if rooms or elements:
        yield Text(f"In one survey only: {rooms} rooms, {elements} elements")


def _statements(result: Result) -> Table:
    table = titled("What makes the difference", ">W", "cause", "pattern", "in words")
    for statement in result["statements"][:MOST_STATEMENTS]:
        table.add_row(
            watts(statement["difference_w"]),
            statement["cause"],
            statement.get("pattern", ""),
            statement["in_words"],
        )
    rest = result["statements"][MOST_STATEMENTS:]
    if rest:
        table.add_row(watts(sum(one["difference_w"] for one in rest)), "", "", f"{len(rest)} more")
    return table


def _causes(result: Result) -> Table:
    table = titled("By cause", "group", "cause", ">W")
    for group in result["by_cause"]:
        table.add_row(group["group"], "", watts(group["difference_w"]), style="bold")
        for cause in group["causes"]:
            table.add_row("", cause["cause"], watts(cause["difference_w"]))
    return table


def _rooms(result: Result) -> Table:
    table = titled("By room", "room", ">first, W", ">second, W", ">difference, W", "mostly by")
    for room in result["by_room"]:
        most = max(room["causes"], key=lambda cause: abs(cause["difference_w"]), default=None)
        table.add_row(
            room["room"],
            watts(room["first_w"]) if "first_w" in room else "",
            watts(room["second_w"]) if "second_w" in room else "",
            watts(room["difference_w"]),
            most["cause"] if most else "",
        )
    beyond = sum(cause["difference_w"] for cause in result["beyond_rooms"])
    if result["beyond_rooms"]:
        table.add_row("beyond the rooms", "", "", watts(beyond), "")
    return table
