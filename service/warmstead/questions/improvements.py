"""Which measures save how much, alone and together, and which is the cheapest set that reaches a goal?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Literal, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.findings import Findings, Warning
from warmstead.building.house import resolve_house
from warmstead.building.improvement import workings as worked
from warmstead.building.improvement.cautions import warn_of_work
from warmstead.building.improvement.choice import AGREEMENT, Answer, Chooser, Chosen
from warmstead.building.improvement.frontier import frontier
from warmstead.building.improvement.goals import (
    Carried,
    Goal,
    HouseLoad,
    Loads,
    NoGoal,
    quantities,
    reached,
)
from warmstead.building.improvement.least_thickness import (
    Thickness,
    layer_in_question,
    least_thickness,
    shortfall_w,
)
from warmstead.building.improvement.statements import (
    AllMeasures,
    ConflictStatement,
    FrontierPoint,
    LeastThicknessStatement,
    MeasureStatement,
    ReachingSet,
    SetStatement,
    Shortfall,
    carried,
    ids_of,
    measure_statement,
    surfaces,
)
from warmstead.building.improvement.study import Study
from warmstead.building.improvement.temperatures import (
    check_returns,
    circuits_in_question,
    suitable_candidates,
)
from warmstead.building.names import refuse_unknown
from warmstead.building.statements import Basis, Step, basis
from warmstead.survey.document import Document, MayBeAbsent, whole_number
from warmstead.survey.emitters import CircuitTemperatures
from warmstead.survey.heat_pumps import Candidate, HotWater, Thresholds
from warmstead.survey.house import House
from warmstead.survey.measures import Goal as GivenGoal
from warmstead.survey.measures import LeastThickness, Measure
from warmstead.survey.quantities import WaterTemperature, stated

TITLE = "Improvements of a house"
DESCRIPTION = (
    "What measures save alone and together, room by room, with their new U-values; the cheapest set that reaches a load, a heat "
    "pump or a flow temperature, proved by an exact solver; the frontier of cost against load; the least thickness of a layer."
)
DEFAULT_RUNNERS_UP = 3
DEFAULT_FRONTIER_POINTS = 30

Objective = Literal["cost", "number_of_measures"]
RunnersUp = Annotated[int, Field(ge=0, le=10, json_schema_extra={"x-unit": "1"}), whole_number]
FrontierPoints = Annotated[int, Field(ge=0, le=100, json_schema_extra={"x-unit": "1"}), whole_number]


class ImprovementsRequest(Document):
    """A house, what could be done to it, and what is to be reached."""

    house: House = Field(description="The house as it is.")
    measures: list[Measure] = Field(min_length=1, max_length=40, description="What could be done.")
    goal: MayBeAbsent[GivenGoal] = Field(
        None, description="What is to be reached; absent: savings and frontier only."
    )
    flow_temperature_c: MayBeAbsent[WaterTemperature] = Field(
        None,
        description="Flow temperature on the design day: for `candidates`, and with the return for the emitters.",
    )
    return_temperature_c: MayBeAbsent[WaterTemperature] = Field(
        None,
        description="Return temperature on the design day: then emitters are compared with their rooms' loads.",
    )
    circuits: MayBeAbsent[list[CircuitTemperatures]] = Field(
        None, max_length=20, description="Circuits with temperatures of their own, as for the emitter check."
    )
    candidates: MayBeAbsent[list[Candidate]] = Field(
        None, min_length=1, max_length=20, description="Heat pumps, as for heat-pump sizing."
    )
    hot_water: MayBeAbsent[HotWater] = Field(
        None, description="Hot water that the heat pump makes besides; absent: none."
    )
    thresholds: MayBeAbsent[Thresholds] = Field(
        None, description="Between which coverages a candidate is suitable."
    )
    runners_up: MayBeAbsent[RunnersUp] = Field(
        None, description="How many runners-up to list; 3 where absent."
    )
    frontier_points: MayBeAbsent[FrontierPoints] = Field(
        None, description="How many points of the frontier to list, 0 for none; 30 where absent."
    )
    least_thickness: MayBeAbsent[LeastThickness] = Field(
        None, description="A layer whose least thickness for the goal is sought."
    )


class ImprovementsResult(TypedDict):
    """What the measures do, and which of them to take."""

    design_heat_load_w: Annotated[float, stated("W", "Design heat load of the house now.")]
    objective: Annotated[
        Objective,
        Field(description="What the choice makes least: `number_of_measures` where none has a cost."),
    ]
    now: Annotated[SetStatement, Field(description="The house without any measure.")]
    measures: Annotated[list[MeasureStatement], Field(description="Each measure, in the order sent.")]
    conflicts: Annotated[list[ConflictStatement], Field(description="Measures that cannot stand together.")]
    all_measures: Annotated[AllMeasures, Field(description="The house with all that can stand together.")]
    cheapest: NotRequired[
        Annotated[
            ReachingSet,
            Field(
                description="Cheapest set that reaches the goal; of several that of least load, then the smallest."
            ),
        ]
    ]
    runners_up: NotRequired[
        Annotated[
            list[ReachingSet],
            Field(
                description="The next cheapest; none holds all measures of a cheaper one that reaches the goal."
            ),
        ]
    ]
    shortfall: NotRequired[
        Annotated[Shortfall, Field(description="Where no set reaches the goal: how near it comes.")]
    ]
    frontier: NotRequired[
        Annotated[
            list[FrontierPoint],
            Field(description="Sets than which none has less load for no more, from the cheapest on."),
        ]
    ]
    frontier_complete: NotRequired[Annotated[bool, Field(description="Whether these are all of them.")]]
    least_thickness: NotRequired[
        Annotated[LeastThicknessStatement, Field(description="The layer asked for, where one was.")]
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: ImprovementsRequest, *, workings: bool = False) -> ImprovementsResult:
    """Return what each measure does and which set is the cheapest that reaches the goal.

    Args:
        request: the house, the measures, the goal.
        workings: whether to list each step.

    Raises:
        Refused: house, measures or goal contradict themselves, or there is too much to go through.
    """
    return _Improvements(request).answer(workings)


class _Improvements:
    """One request on its way to its answer."""

    def __init__(self, request: ImprovementsRequest) -> None:
        self._request = request
        self._findings = findings = Findings()
        self._costs = _costs(request, findings)
        circuits = circuits_in_question(
            request.goal,
            request.flow_temperature_c,
            request.return_temperature_c,
            request.circuits or (),
            findings,
        )
        self._study = Study(request.house, request.measures, circuits, findings)
        check_returns(request.goal, circuits, request.circuits or (), self._study.now, findings)
        self._candidates = suitable_candidates(
            request.candidates or (),
            request.flow_temperature_c,
            request.hot_water,
            request.thresholds,
            self._study.now,
            findings,
        )
        self._goal = self._resolved_goal()
        if request.least_thickness is not None and request.goal is None:
            findings.refuse("incomplete", "/goal", "a least thickness needs a goal to reach")
        asked = request.least_thickness
        self._layer = None if asked is None else layer_in_question(asked, self._study, findings)
        findings.stop_if_refused()
        self._choices = self._study.choices(self._goal, self._costs)
        self._chooser = Chooser(self._choices, lambda s: quantities(self._goal, self._study.loads(s)))

    def answer(self, workings: bool) -> ImprovementsResult:
        """Put the answer together."""
        study, findings = self._study, self._findings
        warn_of_work(study.now, study.measures, study.parts, findings)
        everything = study.together([])
        left_out = [m.id for i, m in enumerate(study.measures) if i not in everything]
        result: ImprovementsResult = {
            "design_heat_load_w": study.loads_now.house_w,
            "objective": "cost" if _has_costs(self._request.measures) else "number_of_measures",
            "now": self._set(frozenset()),
            "measures": [measure_statement(study, index) for index in range(len(study.measures))],
            "conflicts": [
                {"measures": ids_of(study, conflict.measures), "reason": conflict.reason}
                for conflict in study.conflicts
            ],
            "all_measures": {**self._set(everything), "left_out": left_out},
            "basis": basis(study.now.annex),
            "warnings": [],
        }
        self._warn_of_no_effect()
        if self._request.goal is not None:
            self._choose(result)
        self._add_frontier(result)
        self._add_thickness(result)
        result["warnings"] = findings.warnings()
        if workings:
            result["workings"] = worked.improvement_steps(study, result["measures"], result.get("cheapest"))
        return result

    def _choose(self, result: ImprovementsResult) -> None:
        """Add the cheapest set and its runners-up, or by how much the goal is missed."""
        found = self._chooser.cheapest()
        everything = self._study.together([])
        if found.chosen is None and not found.proved and self._reached(everything):
            found = Answer(everything, proved=False)  # the solver gave up, and this much is known
        if found.chosen is None:
            result["shortfall"] = self._shortfall(found.proved)
            return
        if not found.chosen:
            self._findings.warn("unusual.already_reached", "/goal", "the house reaches it as it is")
        result["cheapest"] = {**self._set(found.chosen), "proved_optimal": found.proved}
        taken = [found.chosen]
        proved = found.proved
        wanted = self._request.runners_up
        result["runners_up"] = []
        # Every set holds the empty one: where nothing suffices there are no runners-up.
        while taken[0] and len(taken) <= (DEFAULT_RUNNERS_UP if wanted is None else wanted):
            further = self._chooser.cheapest(taken)
            proved = proved and further.proved
            if further.chosen is None:
                break
            taken.append(further.chosen)
            result["runners_up"].append({**self._set(further.chosen), "proved_optimal": proved})

    def _reached(self, chosen: Chosen) -> bool:
        return reached(self._goal, self._study.loads(chosen), AGREEMENT)

    def _shortfall(self, proved_unreachable: bool) -> Shortfall:
        nearest = self._chooser.nearest()
        loads = self._study.loads(nearest.chosen)
        conditions = self._goal.conditions(loads)
        rooms = self._study.now.rooms
        return {
            **self._set(nearest.chosen),
            "shortfall_w": shortfall_w(self._goal, loads),
            "proved_unreachable": proved_unreachable,
            "proved_nearest": nearest.proved,
            "short_rooms": [
                {"id": rooms[condition.room].id, "shortfall_w": condition.excess_w}
                for condition in conditions
                if condition.room >= 0 and condition.excess_w > AGREEMENT * condition.scale_w
            ],
        }

    def _add_frontier(self, result: ImprovementsResult) -> None:
        wanted = self._request.frontier_points
        most = DEFAULT_FRONTIER_POINTS if wanted is None else wanted
        if most == 0:
            return
        found = frontier(self._choices, self._chooser, most)
        result["frontier"] = [self._point(chosen) for chosen in found.sets]
        result["frontier_complete"] = found.complete

    def _point(self, chosen: Chosen) -> FrontierPoint:
        point: FrontierPoint = {
            "measures": ids_of(self._study, chosen),
            "design_heat_load_w": self._study.loads(chosen).house_w,
        }
        if _has_costs(self._request.measures):
            point["cost"] = self._choices.cost(chosen)
        return point

    def _add_thickness(self, result: ImprovementsResult) -> None:
        layer = self._layer
        if layer is None:
            return
        found = least_thickness(layer, self._study, self._goal)
        house = resolve_house(found.house, Findings())
        statement: LeastThicknessStatement = {
            "measures": ids_of(self._study, layer.chosen),
            "design_heat_load_w": found.loads.house_w,
            "surfaces": surfaces(self._study, layer.measure, house),
        }
        _add_what_was_found(statement, found, self._goal)
        if found.thickness_mm == 0.0:
            self._findings.warn(
                "unusual.already_reached", "/least_thickness", "the goal is reached without the layer"
            )
        result["least_thickness"] = statement

    def _set(self, chosen: Chosen) -> SetStatement:
        study = self._study
        loads = study.loads(chosen)
        statement: SetStatement = {
            "measures": ids_of(study, chosen),
            "design_heat_load_w": loads.house_w,
            "saving_w": study.loads_now.house_w - loads.house_w,
            "rooms": [
                {"id": room.id, "design_heat_load_w": load}
                for room, load in zip(study.now.rooms, loads.rooms_w, strict=True)
            ],
        }
        if _has_costs(study.measures) and all(study.measures[index].cost is not None for index in chosen):
            statement["cost"] = sum((study.measures[index].cost or 0.0 for index in sorted(chosen)), 0.0)
        conditions = self._goal.conditions(loads)
        if conditions:
            statement["margin_w"] = -max(condition.excess_w for condition in conditions)
        if loads.outputs_w:
            for row, output in zip(statement["rooms"], loads.outputs_w, strict=True):
                row["available_w"] = output
            statement["sufficient_rooms"] = carried(study, loads)
        if self._candidates:
            statement["suitable_candidates"] = [
                name for name, goal in self._candidates.items() if reached(goal, loads, AGREEMENT)
            ]
        return statement

    def _resolved_goal(self) -> Goal:
        given = self._request.goal
        if given is None:
            return NoGoal()
        if given.kind == "house_load":
            return HouseLoad(given.design_heat_load_w)
        if given.kind == "flow_temperature":
            return Carried()
        goal = self._candidates.get(given.candidate)
        if goal is None:
            known = [candidate.id for candidate in self._request.candidates or ()]
            if given.candidate not in known:
                refuse_unknown(self._findings, "/goal/candidate", "candidate", given.candidate, known)
            return NoGoal()
        return goal

    def _warn_of_no_effect(self) -> None:
        for index, measure in enumerate(self._study.measures):
            if self._study.loads(frozenset({index})) == self._study.loads_now and _changes_loads(
                measure, self._study.loads_now
            ):
                self._findings.warn(
                    "unusual.measure_without_effect",
                    f"/measures/{index}",
                    "alone it changes neither load nor output",
                )


def _add_what_was_found(statement: LeastThicknessStatement, found: Thickness, goal: Goal) -> None:
    if found.thickness_mm is not None:
        statement["thickness_mm"] = found.thickness_mm
    else:
        statement["nearest_thickness_mm"] = found.tried_mm
        statement["shortfall_w"] = shortfall_w(goal, found.loads)


def _changes_loads(measure: Measure, loads: Loads) -> bool:
    """Whether a measure is meant to change what was looked at: emitters are only where temperatures are given."""
    return bool(loads.outputs_w) or any(action.kind != "swap_emitter" for action in measure.actions)


def _has_costs(measures: Sequence[Measure]) -> bool:
    return any(measure.cost is not None for measure in measures)


def _costs(request: ImprovementsRequest, findings: Findings) -> list[float]:
    """Return what each measure costs; 1 each where none has a cost, so that their number counts."""
    if not _has_costs(request.measures):
        return [1.0] * len(request.measures)
    if request.goal is not None or request.frontier_points != 0:
        for index, measure in enumerate(request.measures):
            if measure.cost is None:
                findings.refuse(
                    "incomplete",
                    f"/measures/{index}/cost",
                    "others have a cost: give it for all measures or for none",
                )
    return [measure.cost or 0.0 for measure in request.measures]
