"""What all answers in a terminal are made of."""

from __future__ import annotations

from typing import Any

from rich.table import Table

Result = dict[str, Any]


def load_lines(result: Result) -> list[tuple[str, str]]:
    """Return a load and what it is made of, as lines of names and values."""
    return [
        ("transmission", f"{result['transmission_w']:.0f} W"),
        ("ventilation", f"{result['ventilation_w']:.0f} W"),
        ("reheat", f"{result['reheat_w']:.0f} W"),
        ("design heat load", f"{result['design_heat_load_w']:.0f} W"),
    ]


def watts(value: float) -> str:
    """Write whole watts, a zero without sign."""
    return f"{round(value) + 0:d}"


def optional(result: Result, member: str, form: str) -> str:
    """Write a member that may be absent, then as nothing."""
    return form.format(result[member]) if member in result else ""


def numbers_table(*pairs: tuple[str, str]) -> Table:
    """Return names and values as a table without lines; empty values are left out."""
    table = Table(box=None, show_header=False, pad_edge=False)
    for name, value in pairs:
        if value:
            table.add_row(name, value)
    return table


def titled(title: str, *columns: str) -> Table:
    """Return an empty table; columns that begin with `>` hold numbers."""
    table = Table(title=title, title_justify="left", title_style="bold", header_style="bold")
    for column in columns:
        table.add_column(column.removeprefix(">"), justify="right" if column.startswith(">") else "left")
    return table
