"""One element's loss in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from warmstead.exchange.terminal.tables import Result, numbers_table


def tables(result: Result) -> Iterable[RenderableType]:
    """The loss and how it follows."""
    yield numbers_table(
        ("heat loss", f"{result['heat_loss_w']:.1f} W"),
        ("effective temperature difference", f"{result['temperature_difference_k']:.1f} K"),
        ("for each kelvin", f"{result['heat_loss_coefficient_w_k']:.3f} W/K"),
        ("thermal bridges within", f"{result['thermal_bridge_w_k']:.3f} W/K"),
    )
