"""A measured heat loss coefficient in a terminal."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.text import Text

from warmstead.exchange.terminal.tables import Result, numbers_table, titled


def tables(result: Result) -> Iterable[RenderableType]:
    """What the readings say, then the survey against it."""
    left_out = len(result["set_aside"])
    yield numbers_table(
        ("heat loss coefficient", _interval(result, "heat_loss_coefficient_w_k", "{:.0f}", "W/K")),
        ("base temperature", _interval(result, "base_temperature_c", "{:.1f}", "°C")),
        ("base use", _interval(result, "base_use_kwh_per_day", "{:.1f}", "kWh a day")),
        ("solar aperture", _interval(result, "solar_aperture_m2", "{:.1f}", "m²")),
        ("gains implied", f"{result['implied_gains_w']:.0f} W" if "implied_gains_w" in result else ""),
        ("readings", f"{result['readings_used']} of {result['days_used']} days, {left_out} set aside"),
        ("about the fit", f"±{result['fit']['residual_kwh_per_day']:.1f} kWh a day of heat"),
    )
    if "comparison" in result:
        yield from _comparison(result["comparison"])


def _interval(result: Result, member: str, form: str, unit: str) -> str:
    if member not in result:
        return ""
    estimate = result[member]
    value, low, high = (form.format(estimate[name]) for name in ("value", "low", "high"))
    return f"{value} {unit}, {result['probability']:.0%} between {low} and {high}"


def _comparison(comparison: Result) -> Iterable[RenderableType]:
    table = titled("The survey on a like basis", "part", ">survey, W/K", ">like basis, W/K", "why")
    for part in comparison["parts"]:
        table.add_row(
            part["part"].replace("_", " "),
            f"{part['survey_w_k']:.1f}",
            f"{part['like_basis_w_k']:.1f}",
            part["why"],
        )
    table.add_section()
    table.add_row(
        "house",
        f"{comparison['survey_coefficient_w_k']:.1f}",
        f"{comparison['on_like_basis_w_k']:.1f}",
        "",
        style="bold",
    )
    yield table
    words = comparison["in_words"]
    yield Text(words[0].upper() + words[1:])
