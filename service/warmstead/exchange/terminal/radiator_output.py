"""A radiator's output in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from warmstead.exchange.terminal.tables import Result, numbers_table, optional


def tables(result: Result) -> Iterable[RenderableType]:
    """The output and how it follows."""
    yield numbers_table(
        ("output", f"{result['output_w']:.0f} W"),
        ("of the standard output", f"{result['output_share']:.1%}"),
        ("excess temperature", f"{result['excess_temperature_k']:.1f} K, {result['mean']} mean"),
        ("water flow", optional(result, "flow_l_s", "{:.4f} l/s")),
    )
