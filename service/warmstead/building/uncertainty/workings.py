"""The workings of an uncertain load: sensitivities and contributions, their sum, and what the draws gave."""

from __future__ import annotations

from warmstead.building.statements import Step
from warmstead.building.steps import Steps
from warmstead.building.uncertainty.load import Outcome

PROPAGATION = "JCGM 100:2008, 5.1.2"


def steps(outcome: Outcome) -> list[Step]:
    """Return the law of propagation input by input, then the draws."""
    listed: list[Step] = []
    parts = zip(outcome.listed, outcome.slopes.coefficients, outcome.contributions_w, strict=True)
    for item, slope, contribution in parts:
        own = Steps(item.found.words)
        distribution = item.distribution
        unit = item.found.unit
        own.add(
            "best estimate", "x_i", distribution.mean, unit, "mean of its distribution", "JCGM 101:2008, 6.4"
        )
        own.add(
            "standard uncertainty",
            "u(x_i)",
            distribution.standard_uncertainty,
            unit,
            "standard deviation of its distribution",
            "JCGM 101:2008, 6.4",
        )
        own.add(
            "sensitivity coefficient",
            "c_i",
            slope,
            f"W for 1 {unit}",
            "∂Φ/∂x_i at the best estimates, by central differences",
            "JCGM 100:2008, 5.1.3",
        )
        own.add("contribution", "|c_i|·u(x_i)", contribution, "W", "|c_i| · u(x_i)", PROPAGATION)
        listed += own.steps
    house = Steps("house")
    house.add(
        "load at the best estimates", "y", outcome.slopes.load_w, "W", "heat balance", "EN 12831:2003, 8.2"
    )
    house.add(
        "combined standard uncertainty", "u_c(y)", outcome.combined_w, "W", "√Σ (c_i · u(x_i))²", PROPAGATION
    )
    drawn = f"of the loads of {outcome.draws} draws"
    house.add("mean of the draws", "ỹ", outcome.moments.mean, "W", f"mean {drawn}", "JCGM 101:2008, 7.6")
    house.add(
        "standard uncertainty of the draws",
        "u(ỹ)",
        outcome.moments.standard_uncertainty,
        "W",
        f"standard deviation {drawn}",
        "JCGM 101:2008, 7.6",
    )
    ends = outcome.intervals.symmetric
    share = f"{outcome.probability:g}"
    house.add(
        "lower end", "y_low", ends.low, "W", f"as much of 1 − {share} below as above", "JCGM 101:2008, 7.7"
    )
    house.add(
        "upper end", "y_high", ends.high, "W", f"as much of 1 − {share} below as above", "JCGM 101:2008, 7.7"
    )
    return listed + house.steps
