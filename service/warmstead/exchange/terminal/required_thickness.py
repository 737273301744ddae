"""A required thickness in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from warmstead.exchange.terminal.tables import Result, numbers_table


def tables(result: Result) -> Iterable[RenderableType]:
    """The thickness and the U-value with it."""
    yield numbers_table(
        ("least thickness", f"{result['thickness_mm']:.1f} mm"),
        ("U-value with it", f"{result['u_value_w_m2k']:.4f} W/(m²·K)"),
        ("U-value without the layer", f"{result['u_value_without_layer_w_m2k']:.4f} W/(m²·K)"),
    )
