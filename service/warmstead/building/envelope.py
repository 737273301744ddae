"""Everything that bounds the rooms: elements, openings and junctions as faces with their temperature differences."""

from __future__ import annotations

from typing import NamedTuple

from warmstead.building.annex import NationalAnnex
from warmstead.building.cautions import caution
from warmstead.building.constructions import Constructions, FloorKind, Transmittance
from warmstead.building.findings import Findings
from warmstead.building.names import refuse_repeated, refuse_unknown
from warmstead.building.rooms import Face, ResolvedRoom
from warmstead.standards.en_12831 import Coupling, ground_difference, reduced_difference, unheated_temperature
from warmstead.standards.errors import NotPhysical
from warmstead.survey.constructions import ExternalSide, Layered, Window
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

JUNCTION = "junction"
"""What a junction's row says in place of a construction."""
SAME_AREA = 0.02
"""Two elements between the same rooms within this share of each other look like one declared twice."""


_UNKNOWN = Transmittance(0.0)


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
        self._rooms = {room.id: room for room in rooms}
        self._constructions = constructions
        self._annex = annex
        self._findings = findings
        self._at = at
        self._air_heat_capacity = air_heat_capacity_wh_m3k
        self._conditions: Conditions = house.conditions
        self._external_c = house.conditions.external_temperature_c
        self._surcharge = 0.0
        self._spaces = {space.id: space for space in house.unheated_spaces or ()}
        self._couplings: dict[str, list[Coupling]] = {name: [] for name in self._spaces}
        self._pending: dict[str, list[_Pending]] = {name: [] for name in self._spaces}
        self._between: dict[tuple[str, str], list[tuple[float, str]]] = {}
        self._ground_water_factor: float | None = None
        self.space_temperatures_c: dict[str, float] = {}

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
        for room in self._rooms.values():
            self._room(room)
        for index, junction in enumerate(junctions):
            self._junction(junction, f"{self._at}/thermal_bridges/junctions/{index}")
        for index, space in enumerate(self._house.unheated_spaces or ()):
            self._space(space, f"{self._at}/unheated_spaces/{index}")
        self._warn_of_pairs()
        for room in self._rooms.values():
            room.faces.extend(room.mirrored_faces)
            room.mirrored_faces = []

    def _thermal_bridges(self) -> list[Junction]:
        bridges = self._house.thermal_bridges
        at = f"{self._at}/thermal_bridges"
        if bridges is None or (bridges.surcharge_w_m2k is None and bridges.junctions is None):
            self._surcharge = self._annex.value("thermal_bridge_surcharge_w_m2k")
            self._findings.warn(
                "default.thermal_bridges",
                at,
                f"surcharge of {self._surcharge:g} W/(m²·K) taken, national annex {self._annex.name}",
            )
            return []
        if bridges.surcharge_w_m2k is not None and bridges.junctions is not None:
            self._findings.refuse(
                "ambiguous", f"{at}/junctions", "give surcharge_w_m2k or junctions, not both"
            )
        dimensions = self._house.dimensions or "internal"
        if bridges.dimensions is not None and bridges.dimensions != dimensions:
            self._findings.warn(
                "unusual.dimension_basis",
                f"{at}/dimensions",
                f"values made for {bridges.dimensions} dimensions stand beside {dimensions} areas",
            )
        self._surcharge = bridges.surcharge_w_m2k or 0.0
        return bridges.junctions or []

    def _room(self, room: ResolvedRoom) -> None:
        survey = room.room
        names = [(f"{room.at}/elements/{i}/id", e.id) for i, e in enumerate(survey.elements)]
        for index, element in enumerate(survey.elements):
            at = f"{room.at}/elements/{index}"
            if element.openings:
                names.extend((f"{at}/openings/{j}/id", o.id) for j, o in enumerate(element.openings))
            self._element(room, element, at)
        if len({name for _, name in names}) < len(names):
            refuse_repeated(self._findings, names)

    def _element(self, room: ResolvedRoom, element: Element, at: str) -> None:
        boundary = element.boundary
        gross = gross_area(element, at, self._findings)
        net = net_area(element, gross, at, self._findings)
        if isinstance(boundary, AnotherRoom):
            self._between.setdefault((room.id, boundary.room), []).append((gross, at))
        wall = self._transmittance(element.construction, boundary, f"{at}/construction")
        self._face(room, boundary, f"{at}/boundary", element.id, element.construction, net, wall, None)
        for index, opening in enumerate(element.openings or ()):
            pointer = f"{at}/openings/{index}"
            transmittance = self._transmittance(opening.construction, boundary, f"{pointer}/construction")
            self._face(
                room,
                boundary,
                f"{at}/boundary",
                opening.id,
                opening.construction,
                opening.area_m2,
                transmittance,
                element.id,
            )
        if isinstance(boundary, UnheatedSpace) and self._is_ceiling(element.construction):
            caution(self._findings, "caution.loft_frost", f"{self._at}/constructions/{element.construction}")

    def _is_ceiling(self, name: str) -> bool:
        construction = self._constructions.by_id.get(name)
        return isinstance(construction, Layered) and construction.heat_flow == "upwards"

    def _transmittance(self, name: str, boundary: Boundary, at: str) -> Transmittance | None:
        construction = self._constructions.by_id.get(name)
        if construction is None:
            refuse_unknown(self._findings, at, "construction", name, self._constructions.by_id)
            return None
        on_ground = isinstance(boundary, Ground)
        if on_ground and isinstance(construction, Layered | Window):
            self._findings.refuse(
                "contradiction",
                at,
                "bare layers have no U-value on ground: use a ground_floor, or a declared equivalent U-value",
            )
            return None
        if not on_ground and construction.kind == "ground_floor":
            self._findings.refuse(
                "contradiction", at, 'a ground_floor construction needs the boundary {"to": "ground"}'
            )
            return None
        side: ExternalSide = "outside" if isinstance(boundary, Outside | Ground) else "internal"
        return self._constructions.transmittance(name, side)

    def _face(
        self,
        room: ResolvedRoom,
        boundary: Boundary,
        boundary_at: str,
        identifier: str,
        construction: str,
        area_m2: float,
        transmittance: Transmittance | None,
        opening_of: str | None,
    ) -> None:
        if transmittance is None:
            # Refused already; placed all the same, so that what is wrong with its boundary is found as well.
            transmittance = _UNKNOWN
        bridge = self._surcharge * area_m2 if isinstance(boundary, Outside | UnheatedSpace) else 0.0
        face = Face(
            identifier,
            "element" if opening_of is None else "opening",
            construction,
            boundary.to,
            area_m2,
            transmittance.u_value_w_m2k,
            bridge,
            opening_of,
            None,
        )
        self._place(room, face, boundary, boundary_at, transmittance.floor)

    def _junction(self, junction: Junction, at: str) -> None:
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
        face = Face(junction.id, "junction", JUNCTION, boundary.to, 0.0, 0.0, bridge, None, None)
        self._place(room, face, boundary, f"{at}/boundary", None)

    def _place(
        self, room: ResolvedRoom, face: Face, boundary: Boundary, at: str, floor: FloorKind | None
    ) -> None:
        """Put a face into its room, and into the room or the balance on its other side."""
        room.faces.append(face)
        if isinstance(boundary, Outside):
            face.set_difference(room.temperature_c - self._external_c)
        elif isinstance(boundary, AnotherRoom):
            self._to_room(room, face, boundary, at)
        elif isinstance(boundary, Neighbour):
            face.set_difference(room.temperature_c - boundary.temperature_c)
        elif isinstance(boundary, Ground):
            face.set_difference(self._ground_difference(room.temperature_c, floor))
        else:
            self._to_unheated_space(room, face, boundary, at)

    def _to_room(self, room: ResolvedRoom, face: Face, boundary: AnotherRoom, at: str) -> None:
        other = self._rooms.get(boundary.room)
        if other is None:
            if boundary.room in self._spaces:
                self._findings.refuse(
                    "not_found",
                    f"{at}/room",
                    f'{boundary.room!r} is an unheated space: {{"to": "unheated_space", "space": …}}',
                )
            else:
                refuse_unknown(self._findings, f"{at}/room", "room", boundary.room, self._rooms)
            return
        if other is room:
            self._findings.refuse("contradiction", f"{at}/room", "a room has no boundary with itself")
            return
        face.adjoins = other.id
        face.set_difference(room.temperature_c - other.temperature_c)
        other.mirrored_faces.append(face.mirrored(room.id, room.id))

    def _to_unheated_space(self, room: ResolvedRoom, face: Face, boundary: UnheatedSpace, at: str) -> None:
        ways = (boundary.space, boundary.temperature_c, boundary.temperature_reduction_factor)
        if sum(way is not None for way in ways) != 1:
            self._findings.refuse(
                "incomplete" if not any(way is not None for way in ways) else "ambiguous",
                at,
                "give exactly one of space, temperature_c and temperature_reduction_factor",
            )
        elif boundary.temperature_c is not None:
            face.set_difference(room.temperature_c - boundary.temperature_c)
        elif boundary.temperature_reduction_factor is not None:
            factor = boundary.temperature_reduction_factor
            face.set_difference(reduced_difference(room.temperature_c, self._external_c, factor))
        elif boundary.space in self._spaces:
            face.adjoins = boundary.space
            self._couplings[boundary.space].append(Coupling(face.coefficient_w_k, room.temperature_c))
            self._pending[boundary.space].append(_Pending(face, room))
        else:
            refuse_unknown(self._findings, f"{at}/space", "unheated space", str(boundary.space), self._spaces)

    def _ground_difference(self, inside_c: float, floor: FloorKind | None) -> float:
        if floor == "suspended" or self._conditions.ground_rule == "external":
            return inside_c - self._external_c
        annual_mean = self._conditions.annual_mean_external_temperature_c
        if annual_mean is None:
            pointer = f"{self._at}/conditions/annual_mean_external_temperature_c"
            if not any(problem.pointer == pointer for problem in self._findings.problems):
                self._findings.refuse("missing_field", pointer, "needed, since something stands on ground")
            return 0.0
        return ground_difference(
            inside_c, annual_mean, self._annex.value("ground_temperature_factor"), self._water_factor()
        )

    def _water_factor(self) -> float:
        if self._ground_water_factor is None:
            near = self._conditions.ground_water == "within_1_m"
            self._ground_water_factor = self._annex.value(
                "ground_water_factor_near" if near else "ground_water_factor_far"
            )
            if self._conditions.ground_water is None:
                self._findings.warn(
                    "default.ground_water",
                    f"{self._at}/conditions/ground_water",
                    "ground water taken to be more than 1 m below the floor",
                )
            if self._conditions.ground_rule is None:
                self._findings.warn(
                    "default.ground_rule",
                    f"{self._at}/conditions/ground_rule",
                    "annual_mean taken: floors on ground lose by the annual mean temperature",
                )
        return self._ground_water_factor

    def _space(self, space: UnheatedSpaceDescription, at: str) -> None:
        """Balance one unheated space and settle the faces that wait for its temperature."""
        couplings = self._couplings[space.id]
        for index, element in enumerate(space.elements):
            couplings.extend(self._space_sides(element, f"{at}/elements/{index}"))
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
            air_changes = self._annex.value("unheated_space_air_changes")
            self._findings.warn(
                "default.unheated_space_air_changes",
                f"{at}/air_changes",
                f"{air_changes:g} per hour taken, national annex {self._annex.name}",
            )
        return self._air_heat_capacity * air_changes * space.volume_m3

    def _space_sides(self, element: Element, at: str) -> list[Coupling]:
        boundary = element.boundary
        if isinstance(boundary, AnotherRoom | UnheatedSpace):
            self._findings.refuse(
                "not_allowed_here",
                f"{at}/boundary/to",
                "an unheated space's own elements face outside, ground or a neighbour; what divides it from a room is declared there",
            )
            return []
        net = net_area(element, gross_area(element, at, self._findings), at, self._findings)
        parts = [(element.construction, net, f"{at}/construction")]
        parts.extend(
            (opening.construction, opening.area_m2, f"{at}/openings/{i}/construction")
            for i, opening in enumerate(element.openings or ())
        )
        couplings = []
        for construction, area, pointer in parts:
            transmittance = self._transmittance(construction, boundary, pointer)
            if transmittance is not None:
                couplings.append(self._space_coupling(boundary, area, transmittance))
        return couplings

    def _space_coupling(
        self, boundary: Outside | Ground | Neighbour, area_m2: float, transmittance: Transmittance
    ) -> Coupling:
        coefficient = area_m2 * transmittance.u_value_w_m2k
        if isinstance(boundary, Neighbour):
            return Coupling(coefficient, boundary.temperature_c)
        if isinstance(boundary, Outside):
            return Coupling(coefficient + self._surcharge * area_m2, self._external_c)
        # A difference of 1 K to the ground's reference gives the factor with which the ground rule weighs it.
        if transmittance.floor == "suspended" or self._conditions.ground_rule == "external":
            return Coupling(coefficient, self._external_c)
        annual_mean = self._conditions.annual_mean_external_temperature_c or 0.0
        weight = self._ground_difference(annual_mean + 1.0, transmittance.floor)
        return Coupling(coefficient * weight, annual_mean)

    def _warn_of_pairs(self) -> None:
        for (room, other), declared in self._between.items():
            if room < other:
                continue
            for area, at in declared:
                if any(
                    abs(area - twin) <= SAME_AREA * area for twin, _ in self._between.get((other, room), ())
                ):
                    self._findings.warn(
                        "unusual.declared_twice",
                        at,
                        f"looks like an element between {room!r} and {other!r} that is declared in both: once is enough",
                    )


def gross_area(element: Element, at: str, findings: Findings) -> float:
    """Return an element's gross area, m², by exactly one of its two ways."""
    if element.area_m2 is not None:
        if element.length_m is not None or element.height_m is not None:
            findings.refuse(
                "ambiguous", f"{at}/area_m2", "give area_m2, or length_m and height_m, never both"
            )
        return element.area_m2
    if element.length_m is None or element.height_m is None:
        findings.refuse("incomplete", f"{at}/area_m2", "give area_m2, or length_m and height_m")
        return 0.0
    return element.length_m * element.height_m


def net_area(element: Element, gross_m2: float, at: str, findings: Findings) -> float:
    """Return an element's area less its openings, m²."""
    if not element.openings:
        return gross_m2
    openings = sum(opening.area_m2 for opening in element.openings)
    net = gross_m2 - openings
    if net < -1e-9 * gross_m2 and gross_m2 > 0.0:
        findings.refuse(
            "contradiction",
            f"{at}/openings",
            f"openings of {openings:g} m² in an element of {gross_m2:g} m²; at most its area",
        )
    return max(net, 0.0)
