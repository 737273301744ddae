"""Everything that bounds the rooms: elements, openings and junctions as faces with their temperature differences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from warmstead.building.annex import NationalAnnex
from warmstead.building.cautions import caution
from warmstead.building.constructions import Constructions, FloorKind, Transmittance
from warmstead.building.findings import Findings
from warmstead.building.names import refuse_repeated, refuse_unknown
from warmstead.building.pointers import Place, Pointer
from warmstead.building.rooms import Face, ResolvedRoom
from warmstead.standards.en_12831 import Coupling, ground_difference, reduced_difference, unheated_temperature
from warmstead.standards.errors import NotPhysical
from warmstead.survey.constructions import ExternalSide
from warmstead.survey.house import (
    AnotherRoom,
    Boundary,
    Conditions,
    Element,
    Ground,
    House,
    Junction,
    Neighbour,
    Outside,
    UnheatedSpace,
    UnheatedSpaceDescription,
)
from warmstead.tables import table

JUNCTION = "junction"
"""What a junction's row says in place of a construction."""
SAME_AREA = 0.02
"""Two elements between the same rooms within this share of each other look like one declared twice."""


_UNKNOWN = Transmittance(0.0)


BARE_KINDS = ("layered", "window")
"""Constructions whose U-value says nothing of the ground below them."""
BOUNDARIES = ("outside", "ground", "room", "unheated_space", "neighbour")
BRIDGED_BOUNDARIES = ("outside", "unheated_space")
"""Boundaries on which the surcharge for thermal bridges applies."""


class _Pending(NamedTuple):
    """A face towards a space whose temperature is not known yet."""

    face: Face
    room: ResolvedRoom


class Envelope:
    """Builds the faces of all rooms, and the balance of the unheated spaces between."""

    def __init__(
        self,
        house: House,
        rooms: list[ResolvedRoom],
        constructions: Constructions,
        annex: NationalAnnex,
        findings: Findings,
        at: str,
        air_heat_capacity_wh_m3k: float,
    ) -> None:
        self._house = house
        self._all_rooms = rooms
        self._rooms = {room.id: room for room in rooms}
        self._constructions = constructions
        self._annex = annex
        self._findings = findings
        self._at = at
        self._air_heat_capacity = air_heat_capacity_wh_m3k
        self._conditions: Conditions = house.conditions
        self._external_c = house.conditions.external_temperature_c
        self._surcharge = 0.0
        # U-values by kind of boundary and name, so that each pair is looked into once.
        self._known: dict[str, dict[str, Transmittance]] = {to: {} for to in BOUNDARIES}
        self._spaces = {space.id: space for space in house.unheated_spaces or ()}
        self._couplings: dict[str, list[Coupling]] = {name: [] for name in self._spaces}
        self._pending: dict[str, list[_Pending]] = {name: [] for name in self._spaces}
        self._between: dict[tuple[str, str], list[tuple[float, int]]] = {}
        self._ground_factors: tuple[float, float] | None = None
        self.space_temperatures_c: dict[str, float] = {}

    @property
    def space_couplings(self) -> dict[str, list[Coupling]]:
        """Every side of each unheated space, its air last."""
        return self._couplings

    @property
    def ground_factors(self) -> tuple[float, float] | None:
        """f_g1 and the ground-water factor, where something was weighed by them."""
        return self._ground_factors

    def build(self) -> None:
        """Give every room its faces."""
        refuse_repeated(
            self._findings,
            (
                (f"{self._at}/unheated_spaces/{i}/id", s.id)
                for i, s in enumerate(self._house.unheated_spaces or ())
            ),
        )
        junctions = self._thermal_bridges()
        for room in self._all_rooms:
            self._room(room)
        for index, junction in enumerate(junctions):
            self._junction(junction, index)
        for index, space in enumerate(self._house.unheated_spaces or ()):
            self._space(space, f"{self._at}/unheated_spaces/{index}")
        self._warn_of_pairs()
        self._warn_of_floors()
        for room in self._all_rooms:
            room.faces.extend(room.mirrored_faces)
            room.mirrored_faces = []

    def _thermal_bridges(self) -> list[Junction]:
        bridges = self._house.thermal_bridges
        at = f"{self._at}/thermal_bridges"
        if bridges is None or (bridges.surcharge_w_m2k is None and bridges.junctions is None):
            self._surcharge = self._annex.take(
                "thermal_bridge_surcharge_w_m2k",
                "W/(m²·K) surcharge",
                self._findings,
                "default.thermal_bridges",
                at,
            )
            return []
        if bridges.surcharge_w_m2k is not None and bridges.junctions is not None:
            self._findings.refuse(
                "ambiguous", f"{at}/junctions", "give surcharge_w_m2k or junctions, not both"
            )
        dimensions = self._house.dimensions or "internal"
        if bridges.dimensions is None and dimensions == "external":
            self._findings.warn(
                "unusual.dimension_basis",
                f"{at}/dimensions",
                "areas are external and nothing says that the thermal-bridge values are made for that",
            )
        if bridges.dimensions is not None and bridges.dimensions != dimensions:
            self._findings.warn(
                "unusual.dimension_basis",
                f"{at}/dimensions",
                f"values made for {bridges.dimensions} dimensions stand beside {dimensions} areas",
            )
        self._surcharge = bridges.surcharge_w_m2k or 0.0
        return bridges.junctions or []

    def _room(self, room: ResolvedRoom) -> None:
        elements = room.room.elements
        for index, element in enumerate(elements):
            self._element(room, element, index)
        ids = [face.id for face in room.faces]
        if len(set(ids)) < len(ids):
            refuse_repeated(self._findings, ids_of(elements, room.at))

    def _element(self, room: ResolvedRoom, element: Element, index: int) -> None:
        boundary = element.boundary
        to = boundary.to
        at = Pointer(room.at, "elements", index)
        gross = net = gross_area(element, at, self._findings)
        openings, name = element.openings, element.id
        if openings:
            net = net_area(element, gross, at, self._findings)
        self._face(room, boundary, to, at, at, name, element.construction, net, None)
        if openings:
            for which, opening in enumerate(openings):
                place = Pointer(at, "openings", which)
                self._face(
                    room, boundary, to, at, place, opening.id, opening.construction, opening.area_m2, name
                )
        if to == "outside":
            return
        if boundary.to == "room":
            self._between.setdefault((room.id, boundary.room), []).append((gross, index))
        elif boundary.to == "unheated_space" and self._is_ceiling(element.construction):
            caution(self._findings, "caution.loft_frost", f"{self._at}/constructions/{element.construction}")

    def _is_ceiling(self, name: str) -> bool:
        construction = self._constructions.by_id.get(name)
        return (
            construction is not None
            and construction.kind == "layered"
            and construction.heat_flow == "upwards"
        )

    def _transmittance(self, name: str, to: str, at: Place) -> Transmittance | None:
        """Return the U-value of what stands at a place towards a kind of boundary; None where a problem was noted."""
        known = self._known[to]
        transmittance = known.get(name)
        if transmittance is None:
            transmittance = self._look_up(name, to, at)
            if transmittance is not None:
                known[name] = transmittance
        return transmittance

    def _look_up(self, name: str, to: str, at: Place) -> Transmittance | None:
        construction = self._constructions.by_id.get(name)
        if construction is None:
            refuse_unknown(
                self._findings, f"{at}/construction", "construction", name, self._constructions.by_id
            )
            return None
        on_ground = to == "ground"
        if on_ground and construction.kind in BARE_KINDS:
            self._findings.refuse(
                "contradiction",
                f"{at}/construction",
                "bare layers have no U-value on ground: use a ground_floor, or a declared equivalent U-value",
            )
            return None
        if not on_ground and construction.kind == "ground_floor":
            detail = 'a ground_floor construction needs the boundary {"to": "ground"}'
            self._findings.refuse("contradiction", f"{at}/construction", detail)
            return None
        if on_ground and construction.kind == "typical":
            row = table("typical-constructions").by_id(construction.row)
            if row is not None and row["element"] != "floor":
                detail = f"row {construction.row!r} is for a {row['element']}, not for a floor on ground"
                self._findings.refuse("contradiction", f"{at}/construction", detail)
                return None
        side: ExternalSide = "outside" if on_ground or to == "outside" else "internal"
        return self._constructions.transmittance(name, side)

    def _face(
        self,
        room: ResolvedRoom,
        boundary: Boundary,
        to: str,
        element_at: Pointer,
        at: Pointer,
        identifier: str,
        construction: str,
        area_m2: float,
        opening_of: str | None,
    ) -> None:
        # What was refused is placed all the same, so that what is wrong with its boundary is found as well.
        transmittance = self._transmittance(construction, to, at) or _UNKNOWN
        face = Face(
            identifier,
            "element" if opening_of is None else "opening",
            construction,
            to,
            area_m2,
            transmittance.u_value_w_m2k,
            self._surcharge * area_m2 if to in BRIDGED_BOUNDARIES else 0.0,
            opening_of,
        )
        self._place(room, face, boundary, element_at, transmittance.floor)

    def _junction(self, junction: Junction, index: int) -> None:
        at = f"{self._at}/thermal_bridges/junctions/{index}"
        room = self._rooms.get(junction.room)
        if room is None:
            refuse_unknown(self._findings, f"{at}/room", "room", junction.room, self._rooms)
            return
        if any(face.id == junction.id for face in room.faces):
            self._findings.refuse(
                "duplicate_id", f"{at}/id", f"{junction.id!r} is used in room {room.id!r} already"
            )
        boundary = junction.boundary or Outside(to="outside")
        bridge = junction.psi_w_mk * junction.length_m
        face = Face(junction.id, "junction", JUNCTION, boundary.to, 0.0, 0.0, bridge, None)
        self._place(room, face, boundary, Pointer(self._at, "thermal_bridges/junctions", index), None)

    def _place(
        self, room: ResolvedRoom, face: Face, boundary: Boundary, at: Pointer, floor: FloorKind | None
    ) -> None:
        """Put a face into its room, and into the room or the balance on its other side."""
        room.faces.append(face)
        if face.boundary == "outside":
            face.set_difference(room.temperature_c - self._external_c)
        elif boundary.to == "room":
            self._to_room(room, face, boundary, at)
        elif boundary.to == "neighbour":
            face.set_difference(room.temperature_c - boundary.temperature_c)
        elif boundary.to == "ground":
            face.set_difference(self._ground_difference(room.temperature_c, floor))
        elif boundary.to == "unheated_space":
            self._to_unheated_space(room, face, boundary, at)

    def _to_room(self, room: ResolvedRoom, face: Face, boundary: AnotherRoom, at: Pointer) -> None:
        other = self._rooms.get(boundary.room)
        if other is None:
            if boundary.room in self._spaces:
                self._findings.refuse(
                    "not_found",
                    f"{at}/boundary/room",
                    f'{boundary.room!r} is an unheated space: {{"to": "unheated_space", "space": …}}',
                )
            else:
                refuse_unknown(self._findings, f"{at}/boundary/room", "room", boundary.room, self._rooms)
            return
        if other is room:
            self._findings.refuse(
                "contradiction", f"{at}/boundary/room", "a room has no boundary with itself"
            )
            return
        face.adjoins = other.id
        face.set_difference(room.temperature_c - other.temperature_c)
        other.mirrored_faces.append(face.mirrored(room.id))

    def _to_unheated_space(
        self, room: ResolvedRoom, face: Face, boundary: UnheatedSpace, at: Pointer
    ) -> None:
        space, temperature_c = boundary.space, boundary.temperature_c
        factor = boundary.temperature_reduction_factor
        known = (space is not None) + (temperature_c is not None) + (factor is not None)
        if known != 1:
            self._findings.refuse(
                "ambiguous" if known else "incomplete",
                f"{at}/boundary",
                "give exactly one of space, temperature_c and temperature_reduction_factor",
            )
        elif temperature_c is not None:
            face.set_difference(room.temperature_c - temperature_c)
        elif factor is not None:
            face.set_difference(reduced_difference(room.temperature_c, self._external_c, factor))
        elif space in self._spaces:
            face.adjoins = space
            self._couplings[space].append(Coupling(face.coefficient_w_k, room.temperature_c))
            self._pending[space].append(_Pending(face, room))
        else:
            refuse_unknown(self._findings, f"{at}/boundary/space", "unheated space", str(space), self._spaces)

    def _ground_difference(self, inside_c: float, floor: FloorKind | None) -> float:
        if floor == "suspended" or self._conditions.ground_rule == "external":
            return inside_c - self._external_c
        annual_mean = self._conditions.annual_mean_external_temperature_c
        if annual_mean is None:
            pointer = f"{self._at}/conditions/annual_mean_external_temperature_c"
            if not any(problem.pointer == pointer for problem in self._findings.problems):
                self._findings.refuse("missing_field", pointer, "needed, since something stands on ground")
            return 0.0
        return ground_difference(inside_c, annual_mean, *self._factors_to_ground())

    def _factors_to_ground(self) -> tuple[float, float]:
        """Return f_g1 and the ground-water factor, looked up and told of once."""
        if self._ground_factors is None:
            at = f"{self._at}/conditions"
            water = self._conditions.ground_water
            which = "ground_water_factor_near" if water == "within_1_m" else "ground_water_factor_far"
            self._ground_factors = (
                self._annex.value("ground_temperature_factor", self._findings, f"{at}/ground_rule"),
                self._annex.value(which, self._findings, f"{at}/ground_water"),
            )
            if water is None:
                detail = "ground water taken to be more than 1 m below the floor"
                self._findings.warn("default.ground_water", f"{at}/ground_water", detail)
            if self._conditions.ground_rule is None:
                detail = "annual_mean taken: floors on ground lose by the annual mean temperature"
                self._findings.warn("default.ground_rule", f"{at}/ground_rule", detail)
        return self._ground_factors

    def _space(self, space: UnheatedSpaceDescription, at: str) -> None:
        """Balance one unheated space and settle the faces that wait for its temperature."""
        couplings = self._couplings[space.id]
        refuse_repeated(self._findings, ids_of(space.elements, at))
        for index, element in enumerate(space.elements):
            couplings.extend(self._space_sides(element, Pointer(at, "elements", index)))
        couplings.append(Coupling(self._space_air(space, at), self._external_c))
        try:
            temperature = unheated_temperature(couplings)
        except NotPhysical as error:
            if self._pending[space.id]:
                self._findings.refuse("contradiction", at, str(error))
            return
        self.space_temperatures_c[space.id] = temperature
        for face, room in self._pending[space.id]:
            face.set_difference(room.temperature_c - temperature)

    def _space_air(self, space: UnheatedSpaceDescription, at: str) -> float:
        air_changes = space.air_changes
        if air_changes is None:
            air_changes = self._annex.take(
                "unheated_space_air_changes",
                "per hour",
                self._findings,
                "default.unheated_space_air_changes",
                f"{at}/air_changes",
            )
        return self._air_heat_capacity * air_changes * space.volume_m3

    def _space_sides(self, element: Element, at: Pointer) -> list[Coupling]:
        boundary = element.boundary
        if boundary.to == "room" or boundary.to == "unheated_space":
            self._findings.refuse(
                "not_allowed_here",
                f"{at}/boundary/to",
                "an unheated space's own elements face outside, ground or a neighbour; "
                "what divides it from a room is declared there",
            )
            return []
        net = net_area(element, gross_area(element, at, self._findings), at, self._findings)
        parts = [(element.construction, net, at)]
        parts.extend(
            (opening.construction, opening.area_m2, Pointer(at, "openings", index))
            for index, opening in enumerate(element.openings or ())
        )
        couplings = []
        for construction, area, pointer in parts:
            transmittance = self._transmittance(construction, boundary.to, pointer)
            if transmittance is not None:
                couplings.append(self._space_coupling(boundary, area, transmittance))
        return couplings

    def _space_coupling(
        self, boundary: Outside | Ground | Neighbour, area_m2: float, transmittance: Transmittance
    ) -> Coupling:
        coefficient = area_m2 * transmittance.u_value_w_m2k
        if boundary.to == "neighbour":
            return Coupling(coefficient, boundary.temperature_c)
        if boundary.to == "outside":
            return Coupling(coefficient + self._surcharge * area_m2, self._external_c)
        # A difference of 1 K to the ground's reference gives the factor with which the ground rule weighs it.
        if transmittance.floor == "suspended" or self._conditions.ground_rule == "external":
            return Coupling(coefficient, self._external_c)
        annual_mean = self._conditions.annual_mean_external_temperature_c or 0.0
        weight = self._ground_difference(annual_mean + 1.0, transmittance.floor)
        return Coupling(coefficient * weight, annual_mean)

    def _warn_of_pairs(self) -> None:
        for (room, other), declared in self._between.items():
            twins = self._between.get((other, room), ())
            if room < other or not twins:
                continue
            for area, index in declared:
                if any(abs(area - twin) <= SAME_AREA * area for twin, _ in twins):
                    self._findings.warn(
                        "unusual.declared_twice",
                        f"{self._rooms[room].at}/elements/{index}/boundary",
                        f"looks like an element between {room!r} and {other!r} that is declared in both: once is enough",
                    )

    def _warn_of_floors(self) -> None:
        """Warn where rooms have more of a ground floor than the whole floor that its U-value is for."""
        areas: dict[str, float] = {}
        for room in self._all_rooms:
            for face in room.faces:
                if face.boundary == "ground":
                    areas[face.construction] = areas.get(face.construction, 0.0) + face.area_m2
        for name, area in areas.items():
            construction = self._constructions.by_id.get(name)
            if (
                construction is None
                or construction.kind != "ground_floor"
                or construction.floor == "basement_wall"
            ):
                continue
            whole = construction.area_m2
            if area > whole * (1.0 + SAME_AREA):
                self._findings.warn(
                    "unusual.floor_area",
                    f"{self._at}/constructions/{name}/area_m2",
                    f"rooms have {area:.4g} m² of this floor, whose whole area is said to be {whole:g} m²",
                )


def ids_of(elements: Sequence[Element], at: Place) -> Iterator[tuple[str, str]]:
    """Return every id of some elements and their openings with its pointer."""
    for index, element in enumerate(elements):
        pointer = f"{at}/elements/{index}"
        yield f"{pointer}/id", element.id
        for which, opening in enumerate(element.openings or ()):
            yield f"{pointer}/openings/{which}/id", opening.id


def gross_area(element: Element, at: Pointer, findings: Findings) -> float:
    """Return an element's gross area, m², by exactly one of its two ways."""
    area_m2, length_m, height_m = element.area_m2, element.length_m, element.height_m
    if area_m2 is not None:
        if length_m is not None or height_m is not None:
            findings.refuse(
                "ambiguous", f"{at}/area_m2", "give area_m2, or length_m and height_m, never both"
            )
        return area_m2
    if length_m is None or height_m is None:
        findings.refuse("incomplete", f"{at}/area_m2", "give area_m2, or length_m and height_m")
        return 0.0
    return length_m * height_m


def net_area(element: Element, gross_m2: float, at: Pointer, findings: Findings) -> float:
    """Return an element's area less its openings, m²."""
    openings = element.openings
    if not openings:
        return gross_m2
    openings_m2 = sum([opening.area_m2 for opening in openings])
    net = gross_m2 - openings_m2
    if net < -1e-9 * gross_m2 and gross_m2 > 0.0:
        findings.refuse(
            "contradiction",
            f"{at}/openings",
            f"openings of {openings_m2:g} m² in an element of {gross_m2:g} m²; at most its area",
        )
    return max(net, 0.0)
