"""An outside design temperature in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType

from warmstead.exchange.terminal.tables import Result, numbers_table, optional


def tables(result: Result) -> Iterable[RenderableType]:
    """The temperature and the row that it comes from."""
    yield numbers_table(
        ("outside design temperature", f"{result['external_temperature_c']:.1f} °C"),
        ("correction for altitude within", f"{result['altitude_correction_k']:.2f} K"),
        ("altitude of the table", optional(result, "table_altitude_m", "{:.0f} m")),
        ("exceeded for", optional(result, "exceedance_percent", "{:g} % of the year")),
        ("annual mean", optional(result, "annual_mean_external_temperature_c", "{:.1f} °C")),
        ("row", f"{result['row']} ({result['provenance']})"),
        ("source", result["source"]),
    )
