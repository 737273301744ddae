"""Candidate heat pumps in numbers: their tables checked, their lines at a flow temperature, and what makes one suitable."""

from __future__ import annotations

from typing import Literal, NamedTuple

from warmstead.building.annex import NationalAnnex
from warmstead.building.findings import Findings
from warmstead.standards.en_14825 import hot_water_hours
from warmstead.standards.errors import MethodError, OutOfScope
from warmstead.standards.performance_table import Curve, curve_at_flow, holes, value_on
from warmstead.survey.heat_pumps import Candidate, HotWater, PerformancePoint, Thresholds

DEFROST_RANGE_C = (0.0, 5.0)
"""Outside temperatures at which most frost forms; a table without a row in there hides the dip (common practice)."""

ROUNDING = 1e-9
"""The last digits of a coverage do not decide a verdict: both limits count as suitable."""
LEAST_LOAD_W = 0.1
"""Of a house for which a heat pump is sized, as of a load that is sent in its place; under it there is nothing to size."""

Verdict = Literal["undersized", "suitable", "oversized"]

Node = tuple[float, float]
"""A row's place in the grid: outside and flow temperature, °C."""
Grid = dict[Node, float]


class ResolvedCandidate(NamedTuple):
    """A heat pump's line of capacity and so on, at the flow temperature in question."""

    candidate: Candidate
    at: str
    capacity_w: Curve
    coefficient_of_performance: Curve
    minimum_capacity_w: Curve | None
    capacities: Grid


def resolve_candidate(
    candidate: Candidate, at: str, flow_c: float, findings: Findings
) -> ResolvedCandidate | None:
    """Return a candidate's lines at a flow temperature, or None with problems noted.

    Args:
        candidate: as sent.
        at: JSON pointer of the candidate.
        flow_c: flow temperature of the heating circuit, °C.
        findings: where problems and warnings go.
    """
    rows = candidate.performance
    nodes = [(row.external_temperature_c, row.flow_temperature_c) for row in rows]
    minimum = [row.minimum_capacity_w for row in rows]
    known = len(findings.problems)
    _check_grid(rows, nodes, minimum, at, findings)
    if len(findings.problems) > known:
        return None
    _warn_of_ratings(candidate, at, findings)
    capacities = dict(zip(nodes, [row.capacity_w for row in rows], strict=True))
    performance = dict(zip(nodes, [row.coefficient_of_performance for row in rows], strict=True))
    least = {place: value for place, value in zip(nodes, minimum, strict=True) if value is not None}
    try:
        return ResolvedCandidate(
            candidate,
            at,
            curve_at_flow(capacities, flow_c),
            curve_at_flow(performance, flow_c),
            curve_at_flow(least, flow_c) if least else None,
            capacities,
        )
    except OutOfScope as error:
        findings.refuse("not_covered", f"{at}/performance", f"flow temperature: {error}")
        return None


def value_at(curve: Curve, external_c: float, at: str, findings: Findings) -> float | None:
    """Return a line's value at an outside temperature, or None with a problem noted."""
    try:
        return value_on(curve, external_c)
    except OutOfScope as error:
        findings.refuse("not_covered", f"{at}/performance", f"outside temperature: {error}")
        return None


class Limits(NamedTuple):
    """Coverages between which a candidate is suitable, both included."""

    minimum_coverage: float
    maximum_coverage: float


def coverage_limits(given: Thresholds | None, annex: NationalAnnex, findings: Findings) -> Limits:
    """Return the coverages that count as suitable: as sent, else the national annex's with a warning.

    Args:
        given: the request's `/thresholds`.
        annex: the national annex.
        findings: where problems and warnings go.
    """
    given = given or Thresholds()
    minimum, maximum = given.minimum_coverage, given.maximum_coverage
    if minimum is None:
        minimum = annex.value("minimum_coverage", findings, "/thresholds/minimum_coverage")
    if maximum is None:
        maximum = annex.value("maximum_coverage", findings, "/thresholds/maximum_coverage")
    limits = Limits(minimum, maximum)
    if given.minimum_coverage is None or given.maximum_coverage is None:
        findings.warn(
            "default.coverage_limits",
            "/thresholds",
            f"coverage of {limits.minimum_coverage:g} to {limits.maximum_coverage:g} counts as suitable (common practice)",
        )
    if limits.maximum_coverage < limits.minimum_coverage:
        findings.refuse(
            "contradiction",
            "/thresholds/maximum_coverage",
            f"at least minimum_coverage, {limits.minimum_coverage:g}",
        )
    return limits


def hot_water_hours_per_day(
    hot_water: HotWater | None, resolved: ResolvedCandidate, external_c: float, findings: Findings
) -> float | None:
    """Return the hours a day for hot water at the store's flow temperature; None with a problem noted.

    Args:
        hot_water: the request's `/hot_water`; None takes no hours.
        resolved: the candidate.
        external_c: outside temperature, °C.
        findings: where problems go.
    """
    if hot_water is None:
        return 0.0
    try:
        curve = curve_at_flow(resolved.capacities, hot_water.storage_temperature_c)
    except MethodError as error:
        findings.refuse(
            "not_covered",
            f"{resolved.at}/performance",
            f"hot water at {hot_water.storage_temperature_c:g} °C: {error}",
        )
        return None
    capacity = value_at(curve, external_c, resolved.at, findings)
    if capacity is None:
        return None
    try:
        return hot_water_hours(hot_water.energy_kwh_per_day, capacity)
    except MethodError as error:
        findings.refuse(
            "contradiction",
            "/hot_water/energy_kwh_per_day",
            f"{resolved.candidate.id}: {error}; give {error.limit}",
        )
        return None


def verdict(coverage: float, limits: Limits) -> Verdict:
    """Return what a coverage makes of a candidate; both limits are suitable."""
    if coverage < limits.minimum_coverage * (1.0 - ROUNDING):
        return "undersized"
    return "oversized" if coverage > limits.maximum_coverage * (1.0 + ROUNDING) else "suitable"


def _check_grid(
    rows: list[PerformancePoint],
    nodes: list[Node],
    minimum: list[float | None],
    at: str,
    findings: Findings,
) -> None:
    seen: set[Node] = set()
    for index, (place, least_w) in enumerate(zip(nodes, minimum, strict=True)):
        if place in seen:
            outside, flow = place
            findings.refuse(
                "contradiction",
                f"{at}/performance/{index}",
                f"a second row at {outside:g} °C outside with {flow:g} °C flow",
            )
        seen.add(place)
        if least_w is not None and least_w > rows[index].capacity_w:
            findings.refuse(
                "contradiction", f"{at}/performance/{index}/minimum_capacity_w", "at most capacity_w"
            )
        if (least_w is None) != (minimum[0] is None):
            findings.refuse(
                "incomplete",
                f"{at}/performance/{index}/minimum_capacity_w",
                "give minimum_capacity_w in every row of a candidate or in none",
            )
    missing = holes(seen)
    if missing.number:
        listed = "; ".join(f"{outside:g} °C outside with {flow:g} °C flow" for outside, flow in missing.first)
        more = (
            f" and {missing.number - len(missing.first)} more" if missing.number > len(missing.first) else ""
        )
        findings.refuse(
            "incomplete",
            f"{at}/performance",
            f"the table needs a full grid; rows are missing at {listed}{more}",
        )


def _warn_of_ratings(candidate: Candidate, at: str, findings: Findings) -> None:
    if candidate.rating_basis is None:
        findings.warn(
            "default.rating_basis",
            f"{at}/rating_basis",
            "integrated taken: defrosting is within the capacities",
        )
    elif candidate.rating_basis == "peak":
        findings.warn(
            "caution.peak_rating",
            f"{at}/rating_basis",
            "peak ratings leave out defrosting: between −7 and 5 °C less heat arrives",
        )
    outside = sorted({row.external_temperature_c for row in candidate.performance})
    low, high = DEFROST_RANGE_C
    if outside[0] < low and outside[-1] > high and not any(low <= t <= high for t in outside):
        findings.warn(
            "caution.defrost_gap",
            f"{at}/performance",
            "no row between 0 and 5 °C outside: the dip by defrosting lies hidden between the rows",
        )
