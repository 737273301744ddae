"""The inputs of a house's heat balance: each has a key and the value of the survey; rows say how they meet.

A key is a tuple of texts: `("u_value", construction, side)`, `("area", "room", room, element)`, `("air_changes", room)` and so
on. Factors and shifts that many rows share (`("area_factor",)`, `("temperature_shift",)`) are 1 and 0 in the survey.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Literal, NamedTuple

from warmstead.building.constructions import FloorKind
from warmstead.building.envelope import BRIDGED_BOUNDARIES
from warmstead.building.findings import Findings
from warmstead.building.house import ResolvedHouse
from warmstead.building.rooms import Face
from warmstead.standards.en_12831 import air_changes_from_permeability
from warmstead.survey.constructions import ExternalSide
from warmstead.survey.house import Boundary, ByAirtightness, Element

Key = tuple[str, ...]
EXTERNAL: Key = ("external",)
ANNUAL_MEAN: Key = ("annual_mean",)
TEMPERATURE_SHIFT: Key = ("temperature_shift",)
NEIGHBOUR_SHIFT: Key = ("neighbour_shift",)
AREA_FACTOR: Key = ("area_factor",)
AIR_FACTOR: Key = ("air_factor",)
SURCHARGE: Key = ("surcharge",)
AIRTIGHTNESS: Key = ("airtightness",)


class Target(NamedTuple):
    """What a row loses heat to."""

    kind: Literal["external", "ground", "room", "space", "given", "reduced"]
    name: str = ""
    """Of the room or space."""
    key: Key | None = None
    """Of the temperature or the reduction factor that the survey gives."""


Side = Target
"""What one side of an unheated space faces."""


class Surface(NamedTuple):
    """An area as products of inputs: its own, less those of its openings; the house's area factor comes on top."""

    own: tuple[Key, ...]
    openings: tuple[tuple[Key, ...], ...] = ()

    def varies(self, varying: Collection[Key]) -> bool:
        """Say whether any input of it varies."""
        return any(key in varying for keys in (self.own, *self.openings) for key in keys)

    def area(self, nominal: Mapping[Key, float]) -> float:
        """Return the net area by the survey, m²."""
        return _product(self.own, nominal) - sum(_product(keys, nominal) for keys in self.openings)


def _product(keys: tuple[Key, ...], nominal: Mapping[Key, float]) -> float:
    value = 1.0
    for key in keys:
        value *= nominal[key]
    return value


class Row(NamedTuple):
    """An element, opening or junction of a room or an unheated space."""

    owner: str
    target: Target
    transmittance: Key
    """Of the U-value, or of ψ."""
    surface: Surface | None
    """None for a junction."""
    bridged: bool = False
    """Whether the surcharge for thermal bridges is added."""
    length_m: float = 0.0
    """Of a junction."""


class HouseInputs:
    """Every input of a house's balance by key, and the rows that they meet in."""

    def __init__(self, house: ResolvedHouse) -> None:
        self._house = house
        document = house.house
        self.nominal: dict[Key, float] = {
            EXTERNAL: house.external_c,
            ANNUAL_MEAN: document.conditions.annual_mean_external_temperature_c or 0.0,
            TEMPERATURE_SHIFT: 0.0,
            NEIGHBOUR_SHIFT: 0.0,
            AREA_FACTOR: 1.0,
            AIR_FACTOR: 1.0,
            SURCHARGE: self._surcharge(),
        }
        self.sides: dict[str, list[Key]] = {}
        self.area_factors: dict[Key, Key] = {}
        """Of each area the factor that it shares with the others of its construction."""
        """Keys of each construction's U-values: one for each side that something of it faces."""
        self.rows: list[Row] = []
        self.spaces: dict[str, list[tuple[Side, Row]]] = {space: [] for space in house.space_temperatures_c}
        self.spaces_with_junctions: set[str] = set()
        self.space_air_w_k_per_change: dict[str, float] = {}
        self.infiltration_m3_h_per_change: dict[str, float] = {}
        """2 · V · e · ε of each room, by the method of airtightness only."""
        factor, water = house.ground_factors or (1.0, 1.0)
        self.ground_weight = factor * water
        self._take_spaces()
        self._take_rooms()
        self._take_air()

    def _surcharge(self) -> float:
        bridges = self._house.house.thermal_bridges
        if bridges is None or (bridges.surcharge_w_m2k is None and bridges.junctions is None):
            return self._default("thermal_bridge_surcharge_w_m2k")
        return bridges.surcharge_w_m2k or 0.0

    def _default(self, parameter: str) -> float:
        """Return the national annex's value; that it was taken was told when the house was resolved."""
        return self._house.annex.value(parameter, Findings(), "")

    def _take_rooms(self) -> None:
        bridges = self._house.house.thermal_bridges
        junctions = {(j.room, j.id): j for j in (bridges and bridges.junctions) or ()}
        for room in self._house.rooms:
            self.nominal["temperature", room.id] = room.temperature_c
            elements = {element.id: element for element in room.room.elements}
            openings: dict[str, list[Face]] = {}
            for face in room.faces:
                if face.opening_of is not None and face.declared_in is None:
                    openings.setdefault(face.opening_of, []).append(face)
            for face in room.faces:
                if face.declared_in is not None:
                    continue
                if face.kind == "junction":
                    junction = junctions[room.id, face.id]
                    key: Key = ("junction", room.id, face.id)
                    self.nominal[key] = junction.psi_w_mk
                    target = self._target(room.id, face.id, junction.boundary, None, face)
                    row = Row(room.id, target, key, None, length_m=junction.length_m)
                else:
                    row = self._row(room.id, face, elements[face.opening_of or face.id], openings)
                self._place(row)

    def _row(self, room: str, face: Face, element: Element, openings: dict[str, list[Face]]) -> Row:
        inside = openings.get(face.id, []) if face.opening_of is None else []
        gross = face.area_m2 + sum(opening.area_m2 for opening in inside)
        key, floor = self._u_value(face.construction, face.boundary)
        surface = Surface(
            self._area("room", room, face.id, face.construction, gross),
            tuple(self._area("room", room, o.id, o.construction, o.area_m2) for o in inside),
        )
        target = self._target(room, element.id, element.boundary, floor, face)
        return Row(room, target, key, surface, face.boundary in BRIDGED_BOUNDARIES)

    def _place(self, row: Row) -> None:
        self.rows.append(row)
        if row.target.kind == "space":
            self.spaces[row.target.name].append((Target("room", row.owner), row))
            if row.surface is None:
                self.spaces_with_junctions.add(row.target.name)

    def _target(
        self, owner: str, id: str, boundary: Boundary | None, floor: FloorKind | None, face: Face
    ) -> Target:
        """Return what a room's row loses heat to, its temperature or factor among the inputs."""
        if boundary is None or boundary.to == "outside":
            return Target("external")
        if boundary.to == "room":
            return Target("room", boundary.room)
        if boundary.to == "neighbour":
            return self._given(("neighbour", "room", owner, id), boundary.temperature_c)
        if boundary.to == "ground":
            return Target("external" if self._ground_is_outside(floor) else "ground")
        if boundary.space is not None:
            return Target("space", boundary.space)
        if boundary.temperature_c is not None:
            return self._given(("adjacent", owner, id), boundary.temperature_c)
        key = ("reduction_factor", owner, id)
        self.nominal[key] = boundary.temperature_reduction_factor or 0.0
        return Target("reduced", key=key)

    def _given(self, key: Key, temperature_c: float) -> Target:
        self.nominal[key] = temperature_c
        return Target("given", key=key)

    def _ground_is_outside(self, floor: FloorKind | None) -> bool:
        return floor == "suspended" or self._house.house.conditions.ground_rule == "external"

    def _take_spaces(self) -> None:
        for space in self._house.house.unheated_spaces or ():
            if space.id not in self.spaces:
                continue  # nothing adjoins it, and it has no temperature
            self.space_air_w_k_per_change[space.id] = (
                self._house.ventilation.air_heat_capacity_wh_m3k * space.volume_m3
            )
            changes = space.air_changes
            if changes is None:
                changes = self._default("unheated_space_air_changes")
            self.nominal["space_air", space.id] = changes
            for element in space.elements:
                self.spaces[space.id].extend(self._space_sides(space.id, element))

    def _space_sides(self, space: str, element: Element) -> Iterator[tuple[Side, Row]]:
        boundary = element.boundary
        gross = element.area_m2
        if gross is None:
            gross = (element.length_m or 0.0) * (element.height_m or 0.0)
        openings = tuple(
            self._area("space", space, o.id, o.construction, o.area_m2) for o in element.openings or ()
        )
        parts = [
            (
                element.construction,
                Surface(self._area("space", space, element.id, element.construction, gross), openings),
            )
        ]
        parts += [
            (o.construction, Surface(keys)) for o, keys in zip(element.openings or (), openings, strict=True)
        ]
        for construction, surface in parts:
            key, floor = self._u_value(construction, boundary.to)
            if boundary.to == "neighbour":
                side = self._given(("neighbour", "space", space, element.id), boundary.temperature_c)
            else:
                outside = boundary.to == "outside" or self._ground_is_outside(floor)
                side = Target("external" if outside else "ground")
            yield side, Row(space, side, key, surface, boundary.to == "outside")

    def _area(self, kind: str, owner: str, id: str, construction: str, area_m2: float) -> tuple[Key, ...]:
        own, shared = ("area", kind, owner, id), ("area_factor", construction)
        self.nominal[own] = area_m2
        self.area_factors[own] = shared
        self.nominal[shared] = 1.0
        return own, shared

    def _u_value(self, construction: str, to: str) -> tuple[Key, FloorKind | None]:
        side: ExternalSide = "outside" if to in ("outside", "ground") else "internal"
        transmittance = self._house.constructions.resolved(construction, side)
        assert transmittance is not None, "every construction of a resolved house is resolved"
        key = ("u_value", construction, side)
        if key not in self.nominal:
            self.nominal[key] = transmittance.u_value_w_m2k
            self.sides.setdefault(construction, []).append(key)
        return key, transmittance.floor

    def _take_air(self) -> None:
        ventilation = self._house.ventilation
        method = self._house.house.ventilation
        for room in self._house.rooms:
            air = room.room.ventilation
            self.nominal["air_changes", room.id] = ventilation.air_changes[room.id]
            self.nominal["flue_air", room.id] = ventilation.flue_l_s[room.id]
            self.nominal["heat_recovery", room.id] = (air and air.heat_recovery_efficiency) or 0.0
        if isinstance(method, ByAirtightness):
            changes = method.air_changes_at_50pa
            if changes is None:
                changes = air_changes_from_permeability(
                    method.air_permeability_50pa_m3_h_m2 or 0.0,
                    method.envelope_area_m2 or 0.0,
                    ventilation.volume_m3,
                )
            self.nominal[AIRTIGHTNESS] = changes
            for name, flow in ventilation.room_air.items():
                # At 0 there is nothing to scale; no survey may then vary it.
                self.infiltration_m3_h_per_change[name] = flow.infiltration_m3_h / changes if changes else 0.0
