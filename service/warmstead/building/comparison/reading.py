"""A resolved house read for comparison: its rows as the quantities they are products of."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from warmstead.building.envelope import BRIDGED_BOUNDARIES
from warmstead.building.findings import Findings
from warmstead.building.house import ResolvedHouse
from warmstead.building.rooms import Face, ResolvedRoom
from warmstead.standards.en_12831 import M3_H_PER_L_S
from warmstead.survey.constructions import Construction
from warmstead.survey.house import (
    AnotherRoom,
    Boundary,
    Element,
    Ground,
    Junction,
    Neighbour,
    Opening,
    Outside,
    RoomVentilation,
    UnheatedSpace,
)


class Side(NamedTuple):
    """What is on the other side: the row loses by `weight` · (room temperature − `reference_c`)."""

    kind: str
    """As `boundary.to`."""
    reference: str
    """Whose temperature counts: `outside`, `annual_mean`, `room`, `space` or `given`."""
    target: str
    """Id of the room or space, else empty."""
    weight: float
    reference_c: float


class Part(NamedTuple):
    """One element, opening or junction of a survey, in the room that declares it."""

    room: str
    id: str
    kind: str
    construction: str
    gross_m2: float
    openings: tuple[tuple[str, float], ...]
    """Openings taken off the gross area, by id."""
    u_value_w_m2k: float
    junction_w_k: float
    """ψ · length of a junction, else 0."""
    side: Side
    heat_loss_w: float
    opening_of: str
    survey: Element | Opening | Junction

    @property
    def net_m2(self) -> float:
        """Area less openings."""
        return self.gross_m2 - sum(area for _, area in self.openings)


class PartPair(NamedTuple):
    """A row in both surveys, or in one of them."""

    room: str
    """The room's name in the answer."""
    first: Part | None
    second: Part | None

    @property
    def id(self) -> str:
        """Its name in the answer: the first survey's, where it has it."""
        return self.any.id

    @property
    def any(self) -> Part:
        """The row in the first survey that has it."""
        part = self.first or self.second
        assert part is not None, "a pair has at least one row"
        return part


class Air(NamedTuple):
    """What a room's ventilation loss is made of."""

    air_changes: float
    infiltration_per_h: float | None
    """2 · n50 · e · ε, None where the survey does not go by airtightness."""
    supply_l_s: float
    drawn_in_l_s: float
    recovery: float
    flue_l_s: float


def differs(one: float, other: float) -> bool:
    """Tell whether two numbers differ by more than the last digits of the arithmetic that they came from."""
    return abs(one - other) > 1e-12 * max(1.0, abs(one), abs(other))


class Reading:
    """One survey, read."""

    def __init__(self, house: ResolvedHouse) -> None:
        self.house = house
        self.rooms = {room.id: room for room in house.rooms}
        self.external_c = house.external_c
        self.method = house.ventilation.method
        self.air_heat_capacity_wh_m3k = house.ventilation.air_heat_capacity_wh_m3k
        self.surcharge_w_m2k = _surcharge(house)
        self.reheat_w_m2 = _reheat(house)
        self.parts = {room.id: {part.id: part for part in self._parts(room)} for room in house.rooms}

    @property
    def load_w(self) -> float:
        """The house's design heat load."""
        return self.house.design_heat_load_w

    def construction(self, name: str) -> Construction | None:
        """Return a construction as sent; None for a junction's."""
        return self.house.constructions.by_id.get(name)

    def coefficient_w_k(self, part: Part) -> float:
        """Return a row's heat loss coefficient."""
        area = part.net_m2
        bridge = self.surcharge_w_m2k * area if is_bridged(part.kind, part.side) else part.junction_w_k
        return area * part.u_value_w_m2k + bridge

    def air(self, room: ResolvedRoom) -> Air:
        """Return what a room's ventilation loss is made of."""
        ventilation = self.house.ventilation
        given = room.room.ventilation or RoomVentilation()
        flows = ventilation.room_air.get(room.id)
        return Air(
            ventilation.air_changes[room.id],
            None if flows is None else flows.infiltration_m3_h / room.volume_m3,
            given.supply_l_s or 0.0,
            ventilation.room_unbalanced_l_s(room),
            given.heat_recovery_efficiency or 0.0,
            ventilation.flue_l_s[room.id],
        )

    def _parts(self, room: ResolvedRoom) -> Iterator[Part]:
        surveyed = dict(self._surveyed(room))
        for face in room.faces:
            if face.declared_in is None:
                document, boundary = surveyed[face.id]
                yield self._part(room, face, document, boundary)

    def _surveyed(
        self, room: ResolvedRoom
    ) -> Iterator[tuple[str, tuple[Element | Opening | Junction, Boundary]]]:
        for element in room.room.elements:
            yield element.id, (element, element.boundary)
            for opening in element.openings or ():
                yield opening.id, (opening, element.boundary)
        bridges = self.house.house.thermal_bridges
        for junction in (bridges and bridges.junctions) or ():
            if junction.room == room.id:
                yield junction.id, (junction, junction.boundary or Outside(to="outside"))

    def _part(
        self, room: ResolvedRoom, face: Face, document: Element | Opening | Junction, boundary: Boundary
    ) -> Part:
        openings: tuple[tuple[str, float], ...] = ()
        if isinstance(document, Element) and document.openings:
            openings = tuple((opening.id, opening.area_m2) for opening in document.openings)
        return Part(
            room.id,
            face.id,
            face.kind,
            face.construction,
            face.area_m2 + sum(area for _, area in openings),
            openings,
            face.u_value_w_m2k,
            face.bridge_w_k if face.kind == "junction" else 0.0,
            self._side(face, boundary),
            face.heat_loss_w,
            face.opening_of or "",
            document,
        )

    def _side(self, face: Face, boundary: Boundary) -> Side:
        to = boundary.to
        if isinstance(boundary, AnotherRoom):
            return Side(to, "room", boundary.room, 1.0, self.rooms[boundary.room].temperature_c)
        if isinstance(boundary, Neighbour):
            return Side(to, "given", "", 1.0, boundary.temperature_c)
        if isinstance(boundary, UnheatedSpace):
            if boundary.space is not None:
                temperature = self.house.space_temperatures_c[boundary.space]
                return Side(to, "space", boundary.space, 1.0, temperature)
            if boundary.temperature_c is not None:
                return Side(to, "given", "", 1.0, boundary.temperature_c)
            return Side(to, "outside", "", boundary.temperature_reduction_factor or 0.0, self.external_c)
        if isinstance(boundary, Ground) and not self._by_outside(face):
            first, water = self.house.ground_factors or (1.0, 1.0)
            annual_mean = self.house.house.conditions.annual_mean_external_temperature_c or 0.0
            return Side(to, "annual_mean", "", first * water, annual_mean)
        return Side(to, "outside", "", 1.0, self.external_c)

    def _by_outside(self, face: Face) -> bool:
        """Tell whether a row on ground loses by the outside temperature."""
        if self.house.house.conditions.ground_rule == "external":
            return True
        transmittance = self.house.constructions.resolved(face.construction, "outside")
        return transmittance is not None and transmittance.floor == "suspended"


def is_bridged(kind: str, side: Side) -> bool:
    """Tell whether the surcharge for thermal bridges counts in a row."""
    return kind != "junction" and side.kind in BRIDGED_BOUNDARIES


def _surcharge(house: ResolvedHouse) -> float:
    bridges = house.house.thermal_bridges
    if bridges is None or (bridges.surcharge_w_m2k is None and bridges.junctions is None):
        # What was resolved has told of the default already.
        return house.annex.value("thermal_bridge_surcharge_w_m2k", Findings(), "")
    return bridges.surcharge_w_m2k or 0.0


def _reheat(house: ResolvedHouse) -> float:
    given = house.house.reheat_w_m2
    return house.annex.value("reheat_w_m2", Findings(), "") if given is None else given


def air_loss_w(
    method: str,
    air: Air,
    infiltration_per_h: float,
    volume_m3: float,
    air_heat_capacity_wh_m3k: float,
    difference_k: float,
) -> float:
    """Return a room's ventilation loss from its parts, W, by either method (EN 12831:2003, 7.2; from memory)."""
    entering = M3_H_PER_L_S * (air.supply_l_s + air.drawn_in_l_s)
    natural = air.air_changes * volume_m3
    by_tightness = method == "airtightness"
    volume = max(infiltration_per_h * volume_m3 + entering, natural) if by_tightness else natural + entering
    flows = volume + M3_H_PER_L_S * (air.flue_l_s - air.recovery * air.supply_l_s)
    return air_heat_capacity_wh_m3k * flows * difference_k
