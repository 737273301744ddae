"""How sure is the load, does each heat pump suffice, and what should be measured next?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.findings import Findings, Warning
from warmstead.building.heat_pumps import LEAST_LOAD_W, coverage_limits, resolve_candidate
from warmstead.building.house import ResolvedHouse, resolve_house
from warmstead.building.names import refuse_repeated
from warmstead.building.statements import Basis, Step, basis
from warmstead.building.uncertainty.statements import (
    CandidateProbability,
    ChoiceStatement,
    FirstOrder,
    InputStatement,
    Intervals,
    MeasureNext,
    RoomUncertainty,
    Tolerances,
)
from warmstead.survey.document import Document, Identifier, MayBeAbsent
from warmstead.survey.heat_pumps import Candidate, HotWater, Thresholds
from warmstead.survey.house import House
from warmstead.survey.quantities import WaterTemperature, stated
from warmstead.survey.uncertainty import Confidence, CoverageProbability, Draws, Seed, UncertainQuantity

if TYPE_CHECKING:  # NumPy comes with it, and nobody needs that before this question is asked
    from warmstead.building.uncertainty.load import Candidates

TITLE = "Uncertainty"
DESCRIPTION = (
    "The load's uncertainty from that of the survey's inputs (Monte Carlo after JCGM 101, the law of propagation beside it): "
    "intervals, how likely each candidate suffices, the share of each input, what to measure next and what it would be worth."
)
DRAWS, SEED, PROBABILITY = 10_000, 1, 0.95


class UncertaintyRequest(Document):
    """A house, what of it is uncertain, and the heat pumps to choose from."""

    house: House = Field(description="The house.")
    quantities: MayBeAbsent[list[UncertainQuantity]] = Field(
        None,
        max_length=200,
        description="What is uncertain, each with its distribution; each independent of the others.",
    )
    confidence: MayBeAbsent[dict[Identifier, Confidence]] = Field(
        None,
        max_length=1000,
        description="By construction: how its U-value is known; the table `uncertainty-classes` says what that means.",
    )
    defaults: MayBeAbsent[bool] = Field(
        None,
        description="Whether U-values, areas and air that are not named are uncertain by the usual amount; not where absent.",
    )
    draws: MayBeAbsent[Draws] = Field(None, description="Number of draws; 10,000 where absent.")
    seed: MayBeAbsent[Seed] = Field(None, description="Seed of the random numbers; 1 where absent.")
    probability: MayBeAbsent[CoverageProbability] = Field(
        None, description="Coverage probability of the intervals; 0.95 where absent."
    )
    candidates: MayBeAbsent[list[Candidate]] = Field(
        None, min_length=1, max_length=20, description="Heat pumps to choose from; with `flow_temperature_c`."
    )
    flow_temperature_c: MayBeAbsent[WaterTemperature] = Field(
        None, description="Flow temperature of the heating circuit on the design day; with `candidates`."
    )
    hot_water: MayBeAbsent[HotWater] = Field(
        None, description="Hot water that the same unit makes; absent: none."
    )
    thresholds: MayBeAbsent[Thresholds] = Field(None, description="Limits of the verdict.")


class UncertaintyResult(TypedDict):
    """The load's uncertainty and where it comes from."""

    design_heat_load_w: Annotated[float, stated("W", "By the survey.")]
    mean_w: Annotated[float, stated("W", "Mean of the draws.")]
    median_w: Annotated[float, stated("W", "Median of the draws.")]
    standard_uncertainty_w: Annotated[float, stated("W", "Standard deviation of the draws.")]
    probability: Annotated[float, stated("1", "Coverage probability of the intervals.")]
    intervals: Annotated[Intervals, Field(description="Coverage intervals.")]
    draws: Annotated[int, stated("1", "Draws that counted.")]
    numerical_tolerances: Annotated[Tolerances, Field(description="How far the draws themselves may be off.")]
    first_order: Annotated[FirstOrder, Field(description="The law of propagation, as a check.")]
    rooms: Annotated[list[RoomUncertainty], Field(description="The rooms, in the order sent.")]
    candidates: NotRequired[
        Annotated[list[CandidateProbability], Field(description="The candidates, in the order sent.")]
    ]
    choice: NotRequired[Annotated[ChoiceStatement, Field(description="The choice as things stand.")]]
    inputs: Annotated[
        list[InputStatement], Field(description="The uncertain inputs, that of the largest share first.")
    ]
    share_of_interactions: Annotated[
        float, stated("1", "Share of the variance that no input explains by itself, 0 at least.")
    ]
    measure_next: NotRequired[
        Annotated[MeasureNext, Field(description="Absent where no input matters to the load.")]
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: UncertaintyRequest, *, workings: bool = False) -> UncertaintyResult:
    """Return the uncertainty of a house's load.

    Args:
        request: the house and what of it is uncertain.
        workings: whether to list each step.

    Raises:
        Refused: the survey contradicts itself, or a quantity or a distribution does not fit it.
    """
    from warmstead.building.uncertainty import load
    from warmstead.building.uncertainty import workings as worked

    findings = Findings()
    house = resolve_house(request.house, findings)
    uncertain = load.UncertainLoad(house, findings)
    for index, quantity in enumerate(request.quantities or ()):
        uncertain.inputs.add(quantity, f"/quantities/{index}")
    for name, confidence in (request.confidence or {}).items():
        uncertain.inputs.add_class(name, confidence, f"/confidence/{name}")
    if request.defaults:
        uncertain.inputs.add_defaults()
    elif not request.quantities and not request.confidence:
        detail = "nothing is uncertain: give quantities or confidence, or set defaults to true"
        findings.refuse("incomplete", "/quantities", detail)
    candidates = _candidates(request, house, findings)
    draws, seed, probability = _method(request, findings)
    uncertain.check_cost(draws)
    findings.stop_if_refused()
    findings.warn(
        "assumption.independent_inputs",
        "/quantities" if request.quantities else "/confidence" if request.confidence else "/defaults",
        "every uncertain input is drawn independently of the others; what is shared is shared within one input",
    )
    outcome = uncertain.draw(draws, seed, probability, candidates)
    stated_inputs = outcome.input_statements()
    result: UncertaintyResult = {
        "design_heat_load_w": house.design_heat_load_w,
        "mean_w": outcome.moments.mean,
        "median_w": outcome.median_w,
        "standard_uncertainty_w": outcome.moments.standard_uncertainty,
        "probability": probability,
        "intervals": outcome.interval_statements(),
        "draws": outcome.draws,
        "numerical_tolerances": outcome.tolerances(),
        "first_order": outcome.first_order(),
        "rooms": outcome.room_statements(),
        "inputs": stated_inputs,
        "share_of_interactions": max(0.0, 1.0 - sum(i["share_of_variance"] for i in stated_inputs))
        if any(i["share_of_variance"] for i in stated_inputs)
        else 0.0,
        "basis": basis(house.annex),
        "warnings": findings.warnings(),
    }
    if candidates is not None:
        result["candidates"] = outcome.candidate_statements()
        result["choice"] = outcome.choice_statement()
    following = outcome.measure_next(stated_inputs)
    if following is not None:
        result["measure_next"] = following
    if workings:
        result["workings"] = worked.steps(outcome)
    return result


def _method(request: UncertaintyRequest, findings: Findings) -> tuple[int, int, float]:
    """Return number of draws, seed and coverage probability, with a warning for each that was taken."""
    given = {"draws": request.draws, "seed": request.seed, "probability": request.probability}
    taken = {"draws": DRAWS, "seed": SEED, "probability": PROBABILITY}
    for name, value in given.items():
        if value is None:
            findings.warn("default.monte_carlo", f"/{name}", f"{name} {taken[name]:g} taken")
    return (
        request.draws or DRAWS,
        SEED if request.seed is None else request.seed,
        request.probability or PROBABILITY,
    )


def _candidates(request: UncertaintyRequest, house: ResolvedHouse, findings: Findings) -> Candidates | None:
    """Return the candidates in numbers with their limits; None where there are none, or with problems noted."""
    from warmstead.building.uncertainty.load import Candidates

    if request.candidates is None:
        for member in ("flow_temperature_c", "hot_water", "thresholds"):
            if getattr(request, member) is not None:
                findings.refuse(
                    "incomplete", "/candidates", f"{member} is for candidates: give them, or leave it out"
                )
        return None
    limits = coverage_limits(request.thresholds, house.annex, findings)
    refuse_repeated(findings, ((f"/candidates/{i}/id", c.id) for i, c in enumerate(request.candidates)))
    flow_c = request.flow_temperature_c
    if flow_c is None:
        findings.refuse("missing_field", "/flow_temperature_c", "candidates need the flow temperature")
        return None
    warmest = max(house.rooms, key=lambda room: room.temperature_c)
    if flow_c <= warmest.temperature_c:
        detail = f"does not heat {warmest.id!r} at {warmest.temperature_c:g} °C; it must be above that"
        findings.refuse("contradiction", "/flow_temperature_c", detail)
    if house.design_heat_load_w < LEAST_LOAD_W:
        detail = "this house needs no heat on the design day: there is nothing to choose"
        findings.refuse("contradiction", "/house", detail)
        return None
    resolved = [
        resolve_candidate(candidate, f"/candidates/{index}", flow_c, findings)
        for index, candidate in enumerate(request.candidates)
    ]
    return Candidates.resolve([one for one in resolved if one], request.hot_water, limits, house, findings)
