"""A survey with measures applied: the house as it would stand, a document like any other for the one resolver.

Nothing is calculated here but the resistance of layers on a construction whose own layers are unknown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from warmstead.building.annex import NationalAnnex
from warmstead.building.findings import Findings, Problem
from warmstead.building.improvement.added_layers import Added, with_layers
from warmstead.building.improvement.parts import Part, Place
from warmstead.building.ventilation import DRAWING_FLUES
from warmstead.survey.constructions import Construction
from warmstead.survey.house import ByAirtightness, Element, House, RoomVentilation, ThermalBridges
from warmstead.survey.measures import (
    Action,
    AddLayers,
    ChangeAir,
    ChangeAirtightness,
    ChangeThermalBridges,
    Measure,
    ReplaceConstruction,
    SwapEmitter,
)


class Derived(NamedTuple):
    """A house with some parts of measures, and where in the request each of its new places comes from."""

    house: House
    origins: dict[str, str]
    """JSON pointers of the request by pointers of the derived house."""

    def origin(self, pointer: str) -> str:
        """Return the place in the request that a place in the derived house comes from."""
        here = pointer
        while here:
            if here in self.origins:
                rest = pointer[len(here) :]
                found = self.origins[here]
                return found.removesuffix("…") if found.endswith("…") else found + rest
            here = here.rpartition("/")[0]
        return pointer


class Derivation:
    """Derives houses from one survey."""

    def __init__(
        self, house: House, measures: Sequence[Measure], annex: NationalAnnex, at: str = "/measures"
    ) -> None:
        self._house = house
        self._measures = measures
        self._annex = annex
        self._at = at
        # Every combination of one construction and some actions is made once.
        self._made: dict[tuple[str, tuple[Part, ...]], _Made] = {}
        self._used = dict(house.constructions)

    def action_at(self, part: Part) -> str:
        """Return the JSON pointer of a part's action."""
        return f"{self._at}/{part.measure}/actions/{part.action}"

    def action(self, part: Part) -> Action:
        """Return a part's action."""
        return self._measures[part.measure].actions[part.action]

    def without_unused(self, names: Iterable[str]) -> None:
        """Leave out of derived houses what no surface uses: it was checked once and need not be again."""
        self._used = {name: self._used[name] for name in dict.fromkeys(names) if name in self._used}

    def house_with(self, parts: Iterable[Part], findings: Findings) -> Derived:
        """Return the house with some parts of measures, replacements first, layers in the order of the measures.

        Args:
            parts: the parts, at most one that replaces at each place.
            findings: where problems go, and warnings of how a construction was made.
        """
        by_place: dict[Place, list[Part]] = {}
        for part in sorted(parts):
            by_place.setdefault(part.place, []).append(part)
        return _Draft(self, by_place, findings).derived()

    def construction(self, name: str, parts: Sequence[Part], findings: Findings) -> _Made:
        """Return what stands in place of a construction after some parts, with a name of its own.

        Args:
            name: key of what is there.
            parts: parts of one place, in the order of the measures.
            findings: where problems and warnings go.
        """
        anywhere = tuple(part._replace(place=ANYWHERE) for part in parts)
        made = self._made.get((name, anywhere))
        if made is None:
            made = self._made[name, anywhere] = self._make(name, parts)
        for problem in made.findings.problems:
            findings.refuse(problem.code, problem.pointer, problem.detail)
        for warning in made.findings.warnings():
            findings.warn(warning["code"], warning["pointer"], warning["detail"])
        return made

    def _make(self, name: str, parts: Sequence[Part]) -> _Made:
        findings = Findings()
        construction: Construction | None = self._house.constructions.get(name)
        origin = ""
        for part in sorted(parts, key=lambda part: not part.replaces):
            action, at = self.action(part), self.action_at(part)
            if isinstance(action, ReplaceConstruction):
                construction, origin = action.construction, f"{at}/construction"
            elif construction is not None and isinstance(action, AddLayers):
                added = with_layers(
                    construction, action, f"{part.measure}.{part.action}", self._annex, findings, at
                )
                if added is not None and added.by_resistance:
                    _warn_of_resistance(findings, at)
                construction, origin = _construction_of(added), f"{at}…"
        suffix = " ".join(f"{part.measure}.{part.action}" for part in parts)
        # A blank cannot be sent in a name, so that no name of the survey is met.
        return _Made(f"{name} {suffix}", construction, origin, findings)

    @property
    def house(self) -> House:
        """The house as surveyed."""
        return self._house

    @property
    def constructions(self) -> dict[str, Construction]:
        """The constructions of the survey that are used."""
        return self._used


ANYWHERE = Place("anywhere")
"""In place of a part's own place, where only what it does to a construction matters."""


class _Made(NamedTuple):
    """A construction after some parts of measures."""

    name: str
    construction: Construction | None
    origin: str
    findings: Findings


def _construction_of(added: Added | None) -> Construction | None:
    return None if added is None else added.construction


def _warn_of_resistance(findings: Findings, at: str) -> None:
    findings.warn(
        "assumption.layers_added_to_resistance",
        at,
        "the layers of what is there are unknown: the new ones' resistance is added to its own",
    )


def pointers_mapped(problems: Iterable[Problem], derived: Derived) -> list[Problem]:
    """Return problems of a derived house at their places in the request."""
    return [problem._replace(pointer=derived.origin(problem.pointer)) for problem in problems]


class _Draft:
    """A house in the making; only what changes is copied."""

    def __init__(self, derivation: Derivation, by_place: dict[Place, list[Part]], findings: Findings) -> None:
        self._derivation = derivation
        self._house = derivation.house
        self._findings = findings
        self._origins: dict[str, str] = {}
        self._constructions = dict(derivation.constructions)
        self._house_changes: dict[str, Any] = {}
        self._rooms: dict[int, dict[str, Any]] = {}
        self._spaces: dict[int, dict[str, Any]] = {}
        for place, parts in by_place.items():
            self._apply(place, parts)

    def derived(self) -> Derived:
        """Return the house as it would stand."""
        changes = self._house_changes
        changes["constructions"] = self._constructions
        if self._rooms:
            rooms = list(self._house.rooms)
            for index, update in self._rooms.items():
                rooms[index] = rooms[index].model_copy(update=update)
            changes["rooms"] = rooms
        if self._spaces:
            spaces = list(self._house.unheated_spaces or ())
            for index, update in self._spaces.items():
                spaces[index] = spaces[index].model_copy(update=update)
            changes["unheated_spaces"] = spaces
        return Derived(self._house.model_copy(update=changes), self._origins)

    def _apply(self, place: Place, parts: list[Part]) -> None:
        last = parts[-1]
        action, at = self._derivation.action(last), self._derivation.action_at(last)
        if place.kind in ("room_surface", "space_surface"):
            self._surface(place, parts)
        elif isinstance(action, ChangeAir):
            self._air(place, action, at)
        elif isinstance(action, SwapEmitter):
            self._emitter(place, action, at)
        elif isinstance(action, ChangeAirtightness):
            self._airtightness(action, at)
        elif isinstance(action, ChangeThermalBridges):
            bridges = self._house.thermal_bridges or ThermalBridges()
            self._house_changes["thermal_bridges"] = bridges.model_copy(
                update={"surcharge_w_m2k": action.surcharge_w_m2k}
            )

    def _surface(self, place: Place, parts: list[Part]) -> None:
        in_room = place.kind == "room_surface"
        drafts = self._rooms if in_room else self._spaces
        owner = (self._house.rooms if in_room else self._house.unheated_spaces or [])[place.owner]
        update = drafts.setdefault(place.owner, {})
        elements: list[Element] = update.setdefault("elements", list(owner.elements))
        element = elements[place.element]
        openings = element.openings or []
        old = element.construction if place.opening < 0 else openings[place.opening].construction
        made = self._derivation.construction(old, parts, self._findings)
        if made.construction is None:
            return
        self._constructions[made.name] = made.construction
        changed = {"construction": made.name}
        at = f"/house/{'rooms' if in_room else 'unheated_spaces'}/{place.owner}/elements/{place.element}"
        if place.opening < 0:
            elements[place.element] = element.model_copy(update=changed)
        else:
            at += f"/openings/{place.opening}"
            openings = list(openings)
            openings[place.opening] = openings[place.opening].model_copy(update=changed)
            elements[place.element] = element.model_copy(update={"openings": openings})
        self._origins[f"/house/constructions/{made.name}"] = made.origin
        self._origins[f"{at}/construction"] = f"{self._derivation.action_at(parts[-1])}…"

    def _air(self, place: Place, action: ChangeAir, at: str) -> None:
        room = self._house.rooms[place.owner]
        update = self._rooms.setdefault(place.owner, {})
        if place.kind == "flues":
            update["flues"] = [flue for flue in room.flues or () if flue.kind not in DRAWING_FLUES]
            return
        air: RoomVentilation = update.get("ventilation") or room.ventilation or RoomVentilation()
        update["ventilation"] = air.model_copy(update={place.member: getattr(action, place.member)})
        self._origins[f"/house/rooms/{place.owner}/ventilation/{place.member}"] = f"{at}/{place.member}"

    def _emitter(self, place: Place, action: SwapEmitter, at: str) -> None:
        update = self._rooms.setdefault(place.owner, {})
        room = self._house.rooms[place.owner]
        emitters = update.setdefault("emitters", list(room.emitters or ()))
        index = next(i for i, emitter in enumerate(room.emitters or ()) if emitter.id == place.member)
        emitters[index] = action.replacement
        self._origins[f"/house/rooms/{place.owner}/emitters/{index}"] = f"{at}/replacement"

    def _airtightness(self, action: ChangeAirtightness, at: str) -> None:
        ventilation = self._house.ventilation
        assert isinstance(ventilation, ByAirtightness), "refused before"
        self._house_changes["ventilation"] = ventilation.model_copy(
            update={
                "air_changes_at_50pa": action.air_changes_at_50pa,
                "air_permeability_50pa_m3_h_m2": None,
                "envelope_area_m2": None,
            }
        )
        self._origins["/house/ventilation/air_changes_at_50pa"] = f"{at}/air_changes_at_50pa"
