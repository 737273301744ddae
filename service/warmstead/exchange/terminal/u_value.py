"""A U-value in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from warmstead.exchange.terminal.tables import Result, numbers_table, optional, titled


def tables(result: Result) -> Iterable[RenderableType]:
    """The U-value and the layers it is made of."""
    yield numbers_table(
        ("U-value", f"{result['u_value_w_m2k']:.4f} W/(m²·K), stated {result['stated']}"),
        ("total resistance", optional(result, "total_resistance_m2k_w", "{:.4f} m²·K/W")),
        ("upper limit", optional(result, "upper_limit_m2k_w", "{:.4f} m²·K/W")),
        ("lower limit", optional(result, "lower_limit_m2k_w", "{:.4f} m²·K/W")),
        ("corrections within", optional(result, "correction_w_m2k", "{:.4f} W/(m²·K)")),
    )
    if "layers" in result:
        table = titled("Layers, from inside to outside", "layer", ">R, m²·K/W", ">share")
        for index, layer in enumerate(result["layers"], start=1):
            table.add_row(str(index), f"{layer['resistance_m2k_w']:.3f}", f"{layer['share']:.1%}")
        yield table
