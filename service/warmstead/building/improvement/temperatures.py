"""Water temperatures and heat pumps beside which the measures are looked at."""

from __future__ import annotations

from collections.abc import Sequence

from warmstead.building.emitters import Circuit
from warmstead.building.findings import Findings
from warmstead.building.heat_pumps import (
    Limits,
    coverage_limits,
    hot_water_hours_per_day,
    resolve_candidate,
    value_at,
)
from warmstead.building.house import ResolvedHouse
from warmstead.building.improvement.goals import Suitable
from warmstead.building.names import refuse_repeated
from warmstead.building.room_emitters import Circuits, check_order
from warmstead.survey.emitters import CircuitTemperatures
from warmstead.survey.heat_pumps import Candidate, HotWater, Thresholds
from warmstead.survey.measures import FlowTemperatureGoal, Goal


def circuits_in_question(
    goal: Goal | None,
    flow_c: float | None,
    return_c: float | None,
    mixed: Sequence[CircuitTemperatures],
    findings: Findings,
) -> Circuits | None:
    """Return the water temperatures: the goal's, else the request's own where both are given, else None.

    Args:
        goal: the request's `/goal`.
        flow_c: the request's `/flow_temperature_c`.
        return_c: the request's `/return_temperature_c`.
        mixed: the request's `/circuits`.
        findings: where problems and warnings go.
    """
    refuse_repeated(findings, ((f"/circuits/{i}/id", circuit.id) for i, circuit in enumerate(mixed)))
    if isinstance(goal, FlowTemperatureGoal):
        if return_c is not None:
            detail = "the goal has water temperatures of its own: give them once"
            findings.refuse("ambiguous", "/return_temperature_c", detail)
        flow_c, return_c = goal.flow_temperature_c, goal.return_temperature_c
    if return_c is None:
        if mixed:
            detail = "circuits of their own need the other temperatures beside them"
            findings.refuse("incomplete", "/return_temperature_c", detail)
        return None
    if flow_c is None:
        detail = "a return temperature needs its flow temperature"
        findings.refuse("incomplete", "/flow_temperature_c", detail)
        return None
    known = len(findings.problems)
    check_order(flow_c, return_c, _at(goal), findings)
    circuits: Circuits = {None: Circuit(flow_c, return_c)}
    for index, circuit in enumerate(mixed):
        check_order(circuit.flow_temperature_c, circuit.return_temperature_c, f"/circuits/{index}", findings)
        circuits[circuit.id] = Circuit(circuit.flow_temperature_c, circuit.return_temperature_c)
    return circuits if len(findings.problems) == known else None


def check_returns(
    goal: Goal | None,
    circuits: Circuits | None,
    mixed: Sequence[CircuitTemperatures],
    house: ResolvedHouse,
    findings: Findings,
) -> None:
    """Refuse water that comes back no warmer than a room it is to heat.

    Args:
        goal: the request's `/goal`.
        circuits: the water temperatures in question, where there are any.
        mixed: the request's `/circuits`.
        house: the house.
        findings: where problems go.
    """
    if circuits is None:
        return
    places: dict[str | None, str] = {circuit.id: f"/circuits/{i}" for i, circuit in enumerate(mixed)}
    places[None] = _at(goal)
    for room in house.rooms:
        named = {emitter.circuit for emitter in room.room.emitters or ()} or {None}
        for name in sorted(named.intersection(circuits), key=str):
            return_c = circuits[name].return_c
            if return_c <= room.temperature_c:
                detail = (
                    f"{return_c:g} °C does not heat {room.id!r} at {room.temperature_c:g} °C; "
                    "it must be above that"
                )
                findings.refuse("contradiction", f"{places[name]}/return_temperature_c", detail)


def _at(goal: Goal | None) -> str:
    return "/goal" if isinstance(goal, FlowTemperatureGoal) else ""


def suitable_candidates(
    candidates: Sequence[Candidate],
    flow_c: float | None,
    hot_water: HotWater | None,
    thresholds: Thresholds | None,
    house: ResolvedHouse,
    findings: Findings,
) -> dict[str, Suitable]:
    """Return each candidate's being suitable as a goal, by its id; what is refused is left out.

    Args:
        candidates: the request's `/candidates`.
        flow_c: the request's `/flow_temperature_c`.
        hot_water: the request's `/hot_water`.
        thresholds: the request's `/thresholds`.
        house: the house as it is.
        findings: where problems and warnings go.
    """
    if not candidates:
        for name, given in (("hot_water", hot_water), ("thresholds", thresholds)):
            if given is not None:
                findings.refuse("incomplete", "/candidates", f"{name} is for candidates, and there are none")
        return {}
    if flow_c is None:
        findings.refuse("incomplete", "/flow_temperature_c", "candidates need the flow temperature")
        return {}
    warmest = max(house.rooms, key=lambda room: room.temperature_c)
    if flow_c <= warmest.temperature_c:
        detail = f"does not heat {warmest.id!r} at {warmest.temperature_c:g} °C; it must be above that"
        findings.refuse("contradiction", "/flow_temperature_c", detail)
    limits = coverage_limits(thresholds, house.annex, findings)
    refuse_repeated(findings, ((f"/candidates/{i}/id", c.id) for i, c in enumerate(candidates)))
    found: dict[str, Suitable] = {}
    for index, candidate in enumerate(candidates):
        goal = _suitable(candidate, f"/candidates/{index}", flow_c, hot_water, limits, house, findings)
        if goal is not None:
            found[candidate.id] = goal
    return found


def _suitable(
    candidate: Candidate,
    at: str,
    flow_c: float,
    hot_water: HotWater | None,
    limits: Limits,
    house: ResolvedHouse,
    findings: Findings,
) -> Suitable | None:
    resolved = resolve_candidate(candidate, at, flow_c, findings)
    if resolved is None:
        return None
    capacity = value_at(resolved.capacity_w, house.external_c, at, findings)
    hours = hot_water_hours_per_day(hot_water, resolved, house.external_c, findings)
    return None if capacity is None or hours is None else Suitable(capacity, hours, limits)
