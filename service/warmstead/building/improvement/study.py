"""A house and its possible measures: every combination that matters resolved by the one resolver, each once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from warmstead.building.findings import Findings, Refused
from warmstead.building.house import ResolvedHouse, resolve_house
from warmstead.building.improvement.choice import Choices, Chosen, States
from warmstead.building.improvement.derivation import Derivation, Derived
from warmstead.building.improvement.goals import Goal, Loads, quantities, scales
from warmstead.building.improvement.interactions import Group, Pair, groups, replacing_pairs, subsets
from warmstead.building.improvement.parts import Part, Place, owner_of, surface_of, take_apart
from warmstead.building.names import refuse_repeated, refuse_unknown
from warmstead.building.room_emitters import Circuits, check_emitters, feed
from warmstead.survey.house import House
from warmstead.survey.measures import Measure

MOST_STATES = 2048
"""Joint states of all groups together that one request may need."""
MOST_WORK = 1_000_000
"""Rows of houses that one request may need to have worked out: some seconds. A construction counts as ten rows."""
ROWS_OF_A_CONSTRUCTION = 10


class Conflict(NamedTuple):
    """Measures that cannot stand together, and why."""

    measures: tuple[int, ...]
    reason: str


class Study:
    """Resolves a house with any of its measures."""

    def __init__(
        self, house: House, measures: Sequence[Measure], circuits: Circuits | None, findings: Findings
    ) -> None:
        """Take the house as it is.

        Args:
            house: the house as surveyed.
            measures: the measures.
            circuits: water temperatures, where emitters are in question.
            findings: where problems and warnings go.

        Raises:
            Refused: the house or the measures contradict themselves.
        """
        self.measures = measures
        self._circuits = circuits
        self._outputs: dict[tuple[int, ...], float] = {}
        self._loads: dict[Chosen, Loads] = {}
        self.conflicts: list[Conflict] = []
        self._check_ids(findings)
        if circuits is not None:
            check_emitters(house, circuits, findings)
        self.parts = take_apart(house, measures, findings, "/measures")
        self.now = resolve_house(house, findings)
        findings.stop_if_refused()
        self.derivation = Derivation(house, measures, self.now.annex)
        self.derivation.without_unused(_used(house))
        self._known = {(warning["code"], warning["pointer"]) for warning in findings.warnings()}
        self.loads_now = self._loads[frozenset()] = self._loads_of(self.now, findings)
        self._parts: list[list[Part]] = [[] for _ in measures]
        for part in self.parts:
            self._parts[part.measure].append(part)
        findings.stop_if_refused()
        self.excluded = self._excluded()
        self.groups = groups(house, self.parts)
        self._check_work(findings)
        self.alone = [self._alone(index, findings) for index in range(len(measures))]
        findings.stop_if_refused()
        self._states = [self._states_of(group) for group in self.groups]

    def parts_of(self, chosen: Chosen) -> list[Part]:
        """Return what a set of measures does, in the order of the measures."""
        return [part for measure in sorted(chosen) for part in self._parts[measure]]

    def loads(self, chosen: Chosen) -> Loads:
        """Return the loads with a set of measures that can stand together."""
        if chosen not in self._loads:
            loads = self._loads_with(self.parts_of(chosen))
            assert loads is not None, "only what can stand together is asked for"
            self._loads[chosen] = loads
        return self._loads[chosen]

    def _loads_with(self, parts: Sequence[Part]) -> Loads | None:
        """Return the loads with some parts of measures; None where the resolver refuses such a house."""
        findings = Findings()
        try:
            return self.loads_of_house(self.derivation.house_with(parts, findings).house, findings)
        except Refused:
            return None

    def loads_of_house(self, house: House, findings: Findings) -> Loads:
        """Return the loads of a house that differs from this one by its measures only. Raises Refused."""
        loads = self._loads_of(resolve_house(house, findings), findings)
        findings.stop_if_refused()
        return loads

    def possible(self, chosen: Iterable[int]) -> bool:
        """Whether measures can stand together."""
        taken = frozenset(chosen)
        if any(one in taken and other in taken for one, other in self.excluded):
            return False
        return all(taken.intersection(s.members) in s.states for s in self._states)

    def together(self, first: Sequence[int]) -> Chosen:
        """Return as many measures as can stand together: those given, then each further one in the order sent."""
        taken = set(first)
        for measure in range(len(self.measures)):
            if measure not in taken and self.possible(taken | {measure}):
                taken.add(measure)
        return frozenset(taken)

    def choices(self, goal: Goal, costs: Sequence[float]) -> Choices:
        """Return what there is to choose from, in the terms of a goal."""
        start = quantities(goal, self.loads_now)

        def effect(loads: Loads) -> tuple[float, ...]:
            return tuple(after - before for after, before in zip(quantities(goal, loads), start, strict=True))

        found = tuple(
            States(group.members, {state: effect(loads) for state, loads in group.states.items()})
            for group in self._states
        )
        return Choices(tuple(costs), start, scales(goal, self.loads_now), found, frozenset(self.excluded))

    def _check_ids(self, findings: Findings) -> None:
        refuse_repeated(
            findings, ((f"/measures/{i}/id", measure.id) for i, measure in enumerate(self.measures))
        )
        known = {measure.id for measure in self.measures}
        for index, measure in enumerate(self.measures):
            for which, name in enumerate(measure.excludes or ()):
                at = f"/measures/{index}/excludes/{which}"
                if name not in known:
                    refuse_unknown(findings, at, "measure", name, known)
                elif name == measure.id:
                    findings.refuse("contradiction", at, "a measure cannot exclude itself")

    def _excluded(self) -> set[Pair]:
        index_of = {measure.id: index for index, measure in enumerate(self.measures)}
        said: dict[Pair, str] = {}
        for index, measure in enumerate(self.measures):
            for name in measure.excludes or ():
                pair = (min(index, index_of[name]), max(index, index_of[name]))
                said.setdefault(pair, "they are said to exclude each other")
        for pair, place in replacing_pairs(self.parts).items():
            said.setdefault(pair, f"both change the same thing: {self._in_words(place)}")
        self.conflicts = [Conflict(pair, reason) for pair, reason in sorted(said.items())]
        return set(said)

    def _in_words(self, place: Place) -> str:
        if place.kind == "airtightness":
            return "the house's airtightness"
        if place.kind == "surcharge":
            return "the surcharge for thermal bridges"
        house = self.now.house
        if place.member:
            return f"{place.member} in {house.rooms[place.owner].id}"
        return f"{surface_of(house, place).id} in {owner_of(house, place).id}"

    def _check_work(self, findings: Findings) -> None:
        """Refuse what would take too long, before any of it is done."""
        states = 0
        for group in self.groups:
            for _ in subsets(group.members, self.excluded):
                states += 1
                if states > MOST_STATES:
                    break
        if states > MOST_STATES:
            findings.refuse(
                "not_covered",
                "/measures",
                f"more than {MOST_STATES} joint states: let fewer measures meet in one place, or say which exclude each other",
            )
        rows = sum(len(room.faces) + 1 for room in self.now.rooms) + len(self.parts)
        rows += ROWS_OF_A_CONSTRUCTION * len(self.derivation.constructions)
        if not findings.problems and rows * (states + 3 * len(self.measures)) > MOST_WORK:
            findings.refuse(
                "not_covered",
                "/measures",
                f"{states} joint states and {len(self.measures)} measures in a house of this size: too much to go through",
            )
        findings.stop_if_refused()

    def _alone(self, index: int, findings: Findings) -> ResolvedHouse:
        """Resolve the house with one measure, its problems and warnings told at the measure's own place."""
        parts = self.parts_of(frozenset({index}))
        apart = Findings()
        derived = self.derivation.house_with(parts, apart)
        try:
            apart.stop_if_refused()
            resolved = resolve_house(derived.house, apart)
            if self._circuits is not None:
                check_emitters(derived.house, self._circuits, apart)
            loads = self._loads_of(resolved, apart)
            apart.stop_if_refused()
        except Refused as refused:
            for problem in refused.problems:
                findings.refuse(problem.code, _placed(derived, problem.pointer, index), problem.detail)
            return self.now
        self._loads[frozenset({index})] = loads
        for warning in apart.warnings():
            if (warning["code"], warning["pointer"]) not in self._known:
                at = _placed(derived, warning["pointer"], index)
                findings.warn(warning["code"], at, warning["detail"])
        return resolved

    def _loads_of(self, house: ResolvedHouse, findings: Findings) -> Loads:
        outputs: tuple[float, ...] = ()
        if self._circuits is not None:
            outputs = tuple(self._output(house, index, findings) for index in range(len(house.rooms)))
        return Loads(
            house.design_heat_load_w, tuple(room.design_heat_load_w for room in house.rooms), outputs
        )

    def _output(self, house: ResolvedHouse, index: int, findings: Findings) -> float:
        """Return what a room's emitters give: it depends on them and the room's temperature alone."""
        assert self._circuits is not None
        room = house.rooms[index]
        key = (index, *(id(emitter) for emitter in room.room.emitters or ()))
        if key not in self._outputs:
            fed = feed(room, house, self._circuits, findings)
            self._outputs[key] = sum((item.emission.output_w for item in fed), 0.0)
        return self._outputs[key]

    def _states_of(self, group: Group) -> _GroupStates:
        """Resolve every set of a group's measures that can stand together."""
        states: dict[Chosen, Loads] = {}
        refused: list[Chosen] = []
        for chosen in subsets(group.members, self.excluded):
            if any(known <= chosen for known in refused):
                continue
            loads = self._loads_of_state(group, chosen)
            if loads is None:
                refused.append(chosen)
                self.conflicts.append(
                    Conflict(tuple(sorted(chosen)), "the method covers each of them, but not all together")
                )
            else:
                states[chosen] = loads
        return _GroupStates(group.members, states)

    def _loads_of_state(self, group: Group, chosen: Chosen) -> Loads | None:
        """Return the loads with what some members do at a group's places alone."""
        parts = group.parts_of(chosen)
        if len(parts) == sum(len(self._parts[measure]) for measure in chosen):
            # They do nothing elsewhere, so that this is the house with them.
            if chosen not in self._loads and (loads := self._loads_with(parts)) is not None:
                self._loads[chosen] = loads
            return self._loads.get(chosen)
        return self._loads_with(parts)


class _GroupStates(NamedTuple):
    members: tuple[int, ...]
    states: dict[Chosen, Loads]


def _used(house: House) -> list[str]:
    """Return the names of all constructions that a house's surfaces have."""
    owners = [*house.rooms, *(house.unheated_spaces or ())]
    elements = [element for owner in owners for element in owner.elements]
    return [e.construction for e in elements] + [o.construction for e in elements for o in e.openings or ()]


def _placed(derived: Derived, pointer: str, measure: int) -> str:
    """Return where in the request a problem of a house with one measure is; at the measure itself if nowhere else."""
    origin = derived.origin(pointer)
    return origin if origin.startswith("/measures") else f"/measures/{measure}"
