"""Which of these heat pumps carries the load on the design day without being too large?"""

from __future__ import annotations

from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building import heat_pump_workings as worked
from warmstead.building.annex import NationalAnnex
from warmstead.building.cautions import caution
from warmstead.building.findings import Findings, Warning, WarningCode
from warmstead.building.heat_pumps import (
    LEAST_LOAD_W,
    Limits,
    ResolvedCandidate,
    Verdict,
    coverage_limits,
    hot_water_hours_per_day,
    resolve_candidate,
    value_at,
    verdict,
)
from warmstead.building.house import annex_of, default_annex, resolve_house
from warmstead.building.names import refuse_repeated
from warmstead.building.statements import Basis, Step, basis
from warmstead.standards.en_14825 import (
    Crossing,
    LoadLine,
    bivalent_temperature,
    cycling_limit,
    reduction_needed,
    required_capacity,
)
from warmstead.survey.document import Document, MayBeAbsent
from warmstead.survey.heat_pumps import Candidate, HotWater, Thresholds
from warmstead.survey.house import House
from warmstead.survey.quantities import (
    OutsideTemperature,
    Power,
    RoomTemperature,
    WaterTemperature,
    stated,
)

TITLE = "Heat-pump sizing"
DESCRIPTION = (
    "Each candidate's capacity and coefficient of performance on the design day against the load, hot water included; bivalent "
    "temperature, backup, cycling, a verdict with reasons, and the smallest suitable candidate."
)
SCALDING_C = 50.0
"""Water from here on burns skin within minutes (common practice)."""
PASTEURISING_C = 60.0
"""Store temperature under which legionella can grow (common practice; local codes decide)."""

UNIT_CAUTIONS: tuple[WarningCode, ...] = (
    "caution.refrigerant",
    "caution.electrical_supply",
    "caution.outdoor_pipes",
    "caution.minimum_water_volume",
    "caution.listed_building",
)


class HeatPumpSizingRequest(Document):
    """A house, or its load in three numbers, and the candidates."""

    house: MayBeAbsent[House] = Field(None, description="The house; or the three numbers of its load line.")
    design_heat_load_w: MayBeAbsent[Power] = Field(None, description="Design heat load; without `house`.")
    external_temperature_c: MayBeAbsent[OutsideTemperature] = Field(
        None, description="Its outside temperature; without `house`."
    )
    base_temperature_c: MayBeAbsent[RoomTemperature] = Field(
        None,
        description="Outside temperature at which no heat is needed; with `house` the loss-weighted room temperature where absent.",
    )
    flow_temperature_c: WaterTemperature = Field(
        description="Flow temperature of the heating circuit on the design day."
    )
    candidates: list[Candidate] = Field(
        min_length=1, max_length=100, description="The heat pumps to compare."
    )
    hot_water: MayBeAbsent[HotWater] = Field(
        None, description="Hot water that the same unit makes; absent: none."
    )
    thresholds: MayBeAbsent[Thresholds] = Field(None, description="Limits of the verdict.")


class CandidateStatement(TypedDict):
    """One candidate against the load."""

    id: Annotated[str, Field(description="Id of the candidate.")]
    capacity_at_design_w: Annotated[float, stated("W", "Capacity at the design condition.")]
    coefficient_of_performance_at_design: Annotated[float, stated("1", "Coefficient of performance there.")]
    required_w: Annotated[
        float, stated("W", "Capacity that this candidate needs, its own hours of hot water counted.")
    ]
    coverage: Annotated[float, stated("1", "Capacity over requirement.")]
    margin_w: Annotated[float, stated("W", "Capacity less requirement.")]
    reduction_needed_w: Annotated[
        float, stated("W", "Watts by which the house's load must fall for this unit to suffice.")
    ]
    bivalent_temperature_c: NotRequired[
        Annotated[
            float,
            stated("Cel", "Outside temperature at which the capacity just carries the space-heating load."),
        ]
    ]
    minimum_capacity_w: NotRequired[Annotated[float, stated("W", "Lowest capacity at the design condition.")]]
    cycling_above_external_temperature_c: NotRequired[
        Annotated[float, stated("Cel", "Outside temperature above which it must cycle.")]
    ]
    backup_at_design_w: Annotated[
        float, stated("W", "Heat that something else must give at the design condition.")
    ]
    hot_water_hours_per_day: NotRequired[
        Annotated[float, stated("h", "Hours of a design day spent on hot water.")]
    ]
    hot_water_share: NotRequired[Annotated[float, stated("1", "Share of a design day spent on hot water.")]]
    verdict: Annotated[Verdict, Field(description="By the thresholds of coverage.")]
    reasons: Annotated[list[str], Field(description="The verdict and what else matters, in words.")]


class HeatPumpSizingResult(TypedDict):
    """The candidates against the load."""

    design_heat_load_w: Annotated[float, stated("W", "Design heat load.")]
    required_w: Annotated[
        float,
        stated(
            "W",
            "Capacity required: of the smallest suitable candidate with its hot water, else of the most demanding.",
        ),
    ]
    external_temperature_c: Annotated[float, stated("Cel", "Outside design temperature.")]
    base_temperature_c: Annotated[float, stated("Cel", "Outside temperature at which no heat is needed.")]
    candidates: Annotated[list[CandidateStatement], Field(description="The candidates, in the order sent.")]
    smallest_suitable: NotRequired[
        Annotated[str, Field(description="Suitable candidate of the least capacity.")]
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: HeatPumpSizingRequest, *, workings: bool = False) -> HeatPumpSizingResult:
    """Return each candidate's standing against the load.

    Args:
        request: the load, the flow temperature and the candidates.
        workings: whether to list each step.

    Raises:
        Refused: the request contradicts itself, or a candidate's table does not cover the design condition.
    """
    findings = Findings()
    annex = _annex(request)
    limits = coverage_limits(request.thresholds, annex, findings)
    refuse_repeated(findings, ((f"/candidates/{i}/id", c.id) for i, c in enumerate(request.candidates)))
    resolved = [
        resolve_candidate(candidate, f"/candidates/{index}", request.flow_temperature_c, findings)
        for index, candidate in enumerate(request.candidates)
    ]
    line = _load_line(request, findings)
    statements: list[CandidateStatement] = []
    steps: list[Step] = []
    for candidate in resolved:
        statement = candidate and line and _statement(request, candidate, line, limits, findings)
        if statement and candidate and line:
            statements.append(statement)
            if workings:
                steps += worked.candidate_steps(candidate, line, dict(statement))
    findings.stop_if_refused()
    assert line is not None, "a request without a load line is refused"
    _cautions(request, findings)
    result: HeatPumpSizingResult = {
        "design_heat_load_w": line.design_heat_load_w,
        "required_w": max(statement["required_w"] for statement in statements),
        "external_temperature_c": line.external_temperature_c,
        "base_temperature_c": line.base_temperature_c,
        "candidates": statements,
        "basis": basis(annex),
        "warnings": findings.warnings(),
    }
    suitable = [statement for statement in statements if statement["verdict"] == "suitable"]
    if suitable:
        smallest = min(suitable, key=lambda statement: statement["capacity_at_design_w"])
        result["smallest_suitable"] = smallest["id"]
        result["required_w"] = smallest["required_w"]
    if workings:
        result["workings"] = worked.load_line_steps(line) + steps
    return result


def _annex(request: HeatPumpSizingRequest) -> NationalAnnex:
    """Return the house's annex, the default one where none is named; the house's own warnings say so."""
    if request.house is None:
        return default_annex()
    return annex_of(request.house.conditions, Findings(), "")


def _load_line(request: HeatPumpSizingRequest, findings: Findings) -> LoadLine | None:
    """Return the load line by either way of giving it; None with a problem noted."""
    line = (
        _own_line(request, findings)
        if request.house is None
        else _line_of_house(request, request.house, findings)
    )
    if line is not None and line.base_temperature_c <= line.external_temperature_c:
        findings.refuse(
            "contradiction",
            "/base_temperature_c",
            f"must be above the outside temperature of {line.external_temperature_c:g} °C",
        )
        return None
    return line


def _own_line(request: HeatPumpSizingRequest, findings: Findings) -> LoadLine | None:
    load, external_c, base_c = (
        request.design_heat_load_w,
        request.external_temperature_c,
        request.base_temperature_c,
    )
    if load is not None and external_c is not None and base_c is not None:
        return LoadLine(load, external_c, base_c)
    for name in ("design_heat_load_w", "external_temperature_c", "base_temperature_c"):
        if getattr(request, name) is None:
            detail = "without a house, give design_heat_load_w, external_temperature_c and base_temperature_c"
            findings.refuse("incomplete", f"/{name}", detail)
    return None


def _line_of_house(request: HeatPumpSizingRequest, house: House, findings: Findings) -> LoadLine | None:
    for name in ("design_heat_load_w", "external_temperature_c"):
        if getattr(request, name) is not None:
            findings.refuse(
                "ambiguous", f"/{name}", "with a house, its own load and outside temperature apply"
            )
    resolved = resolve_house(house, findings)
    warmest = max(resolved.rooms, key=lambda room: room.temperature_c)
    if request.flow_temperature_c <= warmest.temperature_c:
        detail = f"does not heat {warmest.id!r} at {warmest.temperature_c:g} °C; it must be above that"
        findings.refuse("contradiction", "/flow_temperature_c", detail)
    base = request.base_temperature_c
    if base is None:
        base = resolved.loss_weighted_temperature_c
        findings.warn(
            "default.base_temperature", "/base_temperature_c", "the loss-weighted room temperature taken"
        )
        findings.warn(
            "assumption.no_gains",
            "/base_temperature_c",
            "no credit for the sun, people and appliances in the base temperature",
        )
    if base is None or resolved.design_heat_load_w < LEAST_LOAD_W:
        findings.refuse(
            "contradiction", "/house", "this house needs no heat on the design day: there is nothing to size"
        )
        return None
    return LoadLine(resolved.design_heat_load_w, resolved.external_c, base)


def _statement(
    request: HeatPumpSizingRequest,
    resolved: ResolvedCandidate,
    line: LoadLine,
    limits: Limits,
    findings: Findings,
) -> CandidateStatement | None:
    external_c = line.external_temperature_c
    capacity = value_at(resolved.capacity_w, external_c, resolved.at, findings)
    performance = value_at(resolved.coefficient_of_performance, external_c, resolved.at, findings)
    hours = hot_water_hours_per_day(request.hot_water, resolved, external_c, findings)
    if capacity is None or performance is None or hours is None:
        return None
    load = line.design_heat_load_w
    required = required_capacity(load, hours)
    coverage = capacity / required
    statement: CandidateStatement = {
        "id": resolved.candidate.id,
        "capacity_at_design_w": capacity,
        "coefficient_of_performance_at_design": performance,
        "required_w": required,
        "coverage": coverage,
        "margin_w": capacity - required,
        "reduction_needed_w": reduction_needed(load, capacity, limits.minimum_coverage, hours),
        "backup_at_design_w": max(0.0, required - capacity),
        "verdict": verdict(coverage, limits),
        "reasons": [],
    }
    if request.hot_water is not None:
        statement["hot_water_hours_per_day"] = hours
        statement["hot_water_share"] = hours / 24.0
    bivalent = bivalent_temperature(resolved.capacity_w, line)
    if bivalent.temperature_c is not None and bivalent.temperature_c > external_c and coverage >= 1.0:
        findings.warn(
            "caution.short_in_milder_weather",
            resolved.at,
            f"it carries the design day but not {bivalent.temperature_c:.1f} °C: its table dips in between",
        )
    if bivalent.temperature_c is not None:
        statement["bivalent_temperature_c"] = bivalent.temperature_c
    cycling = None
    if resolved.minimum_capacity_w is not None:
        minimum = value_at(resolved.minimum_capacity_w, external_c, resolved.at, findings)
        if minimum is not None:
            statement["minimum_capacity_w"] = minimum
        cycling = cycling_limit(resolved.minimum_capacity_w, line)
        if cycling.temperature_c is not None:
            statement["cycling_above_external_temperature_c"] = cycling.temperature_c
    statement["reasons"] = _reasons(statement, resolved, line, limits, bivalent, cycling)
    return statement


def _reasons(
    statement: CandidateStatement,
    resolved: ResolvedCandidate,
    line: LoadLine,
    limits: Limits,
    bivalent: Crossing,
    cycling: Crossing | None,
) -> list[str]:
    """Say in words what the verdict rests on, and what else a reader has to see."""
    capacity, required = statement["capacity_at_design_w"], statement["required_w"]
    reasons = [
        f"{capacity:.0f} W at the design condition is {100 * statement['coverage']:.1f} % of the {required:.0f} W required"
    ]
    if statement["verdict"] == "undersized":
        reduction = statement["reduction_needed_w"]
        reasons.append(
            f"under {100 * limits.minimum_coverage:.1f} %: the house would have to lose {reduction:.0f} W less"
        )
        if capacity >= line.design_heat_load_w * limits.minimum_coverage:
            reasons.append("only because of the hours that hot water takes: without it, it would suffice")
    elif statement["verdict"] == "oversized":
        reasons.append(
            f"over {100 * limits.maximum_coverage:.1f} %: it would cycle more and cost more than needed"
        )
    reasons += _about_bivalent(resolved, line, bivalent, statement["coverage"])
    if cycling is not None:
        reasons += _about_cycling(resolved, cycling)
    return reasons + _about_backup(resolved, statement["backup_at_design_w"])


def _about_bivalent(
    resolved: ResolvedCandidate, line: LoadLine, bivalent: Crossing, coverage: float
) -> list[str]:
    coldest, warmest = resolved.capacity_w[0][0], resolved.capacity_w[-1][0]
    if bivalent.temperature_c is None:
        if bivalent.side == "above":
            return [
                f"no bivalent temperature: it carries the space-heating load down to {coldest:g} °C, where its table ends"
            ]
        return [f"no bivalent temperature: it falls short even at {warmest:g} °C, where its table ends"]
    if coverage >= 1.0 and bivalent.temperature_c > line.external_temperature_c:
        return [
            f"it carries the design day, yet falls short in milder weather from {bivalent.temperature_c:.1f} °C down: "
            "its table dips there"
        ]
    return []


def _about_cycling(resolved: ResolvedCandidate, cycling: Crossing) -> list[str]:
    coldest, warmest = resolved.capacity_w[0][0], resolved.capacity_w[-1][0]
    if cycling.side == "above":
        return [
            f"its lowest capacity exceeds the load throughout its table, from {coldest:g} °C on: it always cycles"
        ]
    if cycling.side == "below":
        return [
            f"no cycling limit: its lowest capacity stays under the load up to {warmest:g} °C, where its table ends"
        ]
    return []


def _about_backup(resolved: ResolvedCandidate, backup_w: float) -> list[str]:
    heater = resolved.candidate.backup_heater_w
    if backup_w <= 0.0:
        return []
    if heater is None:
        return [f"{backup_w:.0f} W are short on the design day, and no backup heater is known"]
    enough = "covers" if heater >= backup_w else "does not cover"
    return [f"its backup heater of {heater:.0f} W {enough} the {backup_w:.0f} W that are short"]


def _cautions(request: HeatPumpSizingRequest, findings: Findings) -> None:
    for code in UNIT_CAUTIONS:
        caution(findings, code, "/candidates")
    if request.hot_water is not None:
        caution(findings, "caution.unvented_cylinder", "/hot_water")
        if request.hot_water.storage_temperature_c >= SCALDING_C:
            caution(findings, "caution.scald", "/hot_water/storage_temperature_c")
        if request.hot_water.storage_temperature_c < PASTEURISING_C:
            caution(findings, "caution.legionella", "/hot_water/storage_temperature_c")
