"""An uncertain load in a terminal: its interval, the candidates' chances, the inputs by their share."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import RenderableType
from rich.text import Text

from warmstead.exchange.terminal.tables import Result, numbers_table, titled, watts

MOST_INPUTS = 12
"""Inputs that a table shows; the others matter little."""


def tables(result: Result) -> Iterable[RenderableType]:
    """The load with its interval, then rooms, candidates, inputs and what to measure next."""
    ends = result["intervals"]["symmetric"]
    first = result["first_order"]
    yield numbers_table(
        ("design heat load by the survey", f"{watts(result['design_heat_load_w'])} W"),
        (
            f"mean of {result['draws']} draws",
            f"{watts(result['mean_w'])} W ± {watts(result['standard_uncertainty_w'])} W (one standard uncertainty)",
        ),
        (f"{result['probability']:.0%} interval", f"{watts(ends['low_w'])} to {watts(ends['high_w'])} W"),
        (
            "law of propagation",
            f"{watts(first['low_w'])} to {watts(first['high_w'])} W ({first['agreement'].replace('_', ' ')})",
        ),
    )
    yield _rooms(result)
    if "candidates" in result:
        yield _candidates(result)
    yield _inputs(result)
    if "measure_next" in result:
        following = result["measure_next"]
        yield Text(f"Measure next: {following['description']}: {following['reason']}")


def _rooms(result: Result) -> RenderableType:
    table = titled("Rooms", "room", ">survey, W", ">mean, W", ">from, W", ">to, W")
    for row in result["rooms"]:
        table.add_row(
            row["id"],
            watts(row["design_heat_load_w"]),
            watts(row["mean_w"]),
            watts(row["low_w"]),
            watts(row["high_w"]),
        )
    return table


def _candidates(result: Result) -> RenderableType:
    table = titled("Candidates", "unit", "by the survey", ">suitable", ">too small", ">too large")
    for row in result["candidates"]:
        table.add_row(
            row["id"],
            f"{row['verdict']}, {row['coverage']:.1%}",
            f"{row['probability_suitable']:.1%}",
            f"{row['probability_undersized']:.1%}",
            f"{row['probability_oversized']:.1%}",
        )
    return table


def _inputs(result: Result) -> RenderableType:
    table = titled(
        "What the uncertainty is made of",
        "input",
        ">value",
        ">±",
        "unit",
        ">share",
        ">narrower by, W",
        ">wrong choice",
    )
    for row in result["inputs"][:MOST_INPUTS]:
        known = row.get("probability_of_wrong_choice_if_known")
        table.add_row(
            row["description"],
            f"{row['mean']:.3g}",
            f"{row['standard_uncertainty']:.2g}",
            row["unit"],
            f"{row['share_of_variance']:.1%}",
            watts(row["narrowing_w"]),
            "" if known is None else f"{known:.1%}",
        )
    if len(result["inputs"]) > MOST_INPUTS:
        table.caption = f"and {len(result['inputs']) - MOST_INPUTS} more"
    return table
