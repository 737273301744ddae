"""Ventilation losses of the rooms and of the house, by either method."""

from __future__ import annotations

from warmstead.building.annex import NationalAnnex, flue_air, height_factor
from warmstead.building.cautions import caution
from warmstead.building.findings import Findings
from warmstead.building.rooms import ResolvedRoom
from warmstead.standards import en_12831
from warmstead.survey.house import ByAirtightness, House, RoomVentilation

NO_AIR = RoomVentilation()
MOST_USUAL_AIR_CHANGES = 6.0
"""More than these are rare even in draughty rooms (common practice)."""
DRAWING_FLUES = ("open_chimney", "open_flue", "closed_stove")
"""Flues that take their air from the room, so that extract can turn their draught."""


class Ventilation:
    """Resolves the air of all rooms and sets their ventilation losses."""

    def __init__(
        self, house: House, rooms: list[ResolvedRoom], annex: NationalAnnex, findings: Findings, at: str
    ) -> None:
        self._house = house
        self._rooms = rooms
        self._annex = annex
        self._findings = findings
        self._at = at
        self.air_heat_capacity_wh_m3k = self._air_heat_capacity()
        self.unbalanced_l_s = 0.0
        self.volume_m3 = sum(room.volume_m3 for room in rooms)
        self.mechanical = False
        self.extract = False
        self.house_w = 0.0
        self.air_changes: dict[str, float] = {}
        self.flue_l_s: dict[str, float] = {}
        self.room_air: dict[str, en_12831.RoomAir] = {}

    @property
    def method(self) -> str:
        """The method that applies: `air_changes` or `airtightness`."""
        return "airtightness" if isinstance(self._house.ventilation, ByAirtightness) else "air_changes"

    def resolve(self) -> None:
        """Give every room, and the house, its ventilation loss."""
        self._mechanical_air()
        for room in self._rooms:
            self.air_changes[room.id] = self._air_changes(room)
            self.flue_l_s[room.id] = self._flues(room)
        if isinstance(self._house.ventilation, ByAirtightness):
            self._by_airtightness(self._house.ventilation)
        else:
            self._by_air_changes()

    def room_unbalanced_l_s(self, room: ResolvedRoom) -> float:
        """Outside air that a room replaces for extract anywhere in the house, by its share of volume, l/s."""
        return self.unbalanced_l_s * room.volume_m3 / self.volume_m3 if self.unbalanced_l_s else 0.0

    def _air_heat_capacity(self) -> float:
        ventilation = self._house.ventilation
        if ventilation is None:
            self._findings.warn(
                "default.ventilation_method", f"{self._at}/ventilation", "method air_changes taken"
            )
        elif ventilation.air_heat_capacity_wh_m3k is not None:
            return ventilation.air_heat_capacity_wh_m3k
        by_airtightness = isinstance(ventilation, ByAirtightness)
        parameter = "airtightness_air_heat_capacity_wh_m3k" if by_airtightness else "air_heat_capacity_wh_m3k"
        return self._annex.take(
            parameter,
            "Wh/(m³·K)",
            self._findings,
            "default.air_heat_capacity",
            f"{self._at}/ventilation/air_heat_capacity_wh_m3k",
        )

    def _mechanical_air(self) -> None:
        supply = extract = 0.0
        for room in self._rooms:
            air = room.room.ventilation or NO_AIR
            supply += air.supply_l_s or 0.0
            extract += air.extract_l_s or 0.0
            if air.heat_recovery_efficiency and not air.supply_l_s:
                self._findings.warn(
                    "unusual.heat_recovery_without_supply",
                    f"{room.at}/ventilation/heat_recovery_efficiency",
                    "without supply_l_s in this room there is no heat to recover",
                )
        self.unbalanced_l_s = max(0.0, extract - supply)
        self.mechanical = supply > 0.0 or extract > 0.0
        self.extract = extract > 0.0
        if self.mechanical and self.method == "air_changes":
            self._findings.warn(
                "assumption.air_changes_exclude_mechanical",
                f"{self._at}/ventilation",
                "air_changes are taken to exclude the mechanical air, which is added to them",
            )

    def _air_changes(self, room: ResolvedRoom) -> float:
        air_changes = (room.room.ventilation or NO_AIR).air_changes
        if air_changes is not None:
            if air_changes > MOST_USUAL_AIR_CHANGES:
                at = f"{room.at}/ventilation/air_changes"
                self._findings.warn(
                    "unusual.air_changes", at, f"{air_changes:g} per hour is unusual in a house"
                )
            return air_changes
        return self._annex.take_air_changes(room.use, self._findings, f"{room.at}/ventilation/air_changes")

    def _flues(self, room: ResolvedRoom) -> float:
        total = 0.0
        for index, flue in enumerate(room.room.flues or ()):
            at = f"{room.at}/flues/{index}"
            if flue.air_l_s is None:
                taken = flue_air(flue.kind)
                text = f"{taken.value:.3g} l/s taken for {flue.kind}"
                drawn = taken.take(self._findings, "default.flue_air", f"{at}/air_l_s", text)
            else:
                drawn = flue.air_l_s
            total += drawn
            if flue.kind in DRAWING_FLUES:
                caution(
                    self._findings, "caution.flue_and_extract" if self.extract else "caution.open_flue", at
                )
        if total:
            self._findings.warn(
                "assumption.flue_air_added",
                f"{room.at}/flues",
                f"{total:.3g} l/s through flues is added to the room's air",
            )
        return total

    def _flue_coefficient_w_k(self, room: ResolvedRoom) -> float:
        return self.air_heat_capacity_wh_m3k * en_12831.M3_H_PER_L_S * self.flue_l_s[room.id]

    def _by_air_changes(self) -> None:
        external_c = self._house.conditions.external_temperature_c
        for room in self._rooms:
            air = room.room.ventilation or NO_AIR
            coefficient = en_12831.air_change_coefficient(
                air_heat_capacity_wh_m3k=self.air_heat_capacity_wh_m3k,
                air_changes=self.air_changes[room.id],
                volume_m3=room.volume_m3,
                supply_l_s=air.supply_l_s or 0.0,
                heat_recovery_efficiency=air.heat_recovery_efficiency or 0.0,
                unbalanced_extract_l_s=self.room_unbalanced_l_s(room),
            )
            room.ventilation_w = (coefficient + self._flue_coefficient_w_k(room)) * (
                room.temperature_c - external_c
            )
            self.house_w += room.ventilation_w

    def _by_airtightness(self, method: ByAirtightness) -> None:
        air_changes_at_50pa = self._air_changes_at_50pa(method)
        height = self._height_factor(method)
        external_c = self._house.conditions.external_temperature_c
        flows: list[tuple[en_12831.RoomAir, float]] = []
        flue_w = 0.0
        for room in self._rooms:
            air = room.room.ventilation or NO_AIR
            infiltration = en_12831.infiltration(
                room.volume_m3, air_changes_at_50pa, self._shielding(method, room), height
            )
            supply = en_12831.M3_H_PER_L_S * (air.supply_l_s or 0.0)
            drawn_in = en_12831.M3_H_PER_L_S * self.room_unbalanced_l_s(room)
            recovered = (air.heat_recovery_efficiency or 0.0) * supply
            hygienic = self.air_changes[room.id] * room.volume_m3
            flow = en_12831.room_air(infiltration, hygienic, supply + drawn_in, recovered)
            difference = room.temperature_c - external_c
            flue = self._flue_coefficient_w_k(room) * difference
            room.ventilation_w = self.air_heat_capacity_wh_m3k * flow.thermal_m3_h * difference + flue
            flue_w += flue
            self.room_air[room.id] = flow
            flows.append((flow, difference))
        self.house_w = flue_w + en_12831.building_ventilation(flows, self.air_heat_capacity_wh_m3k)

    def _air_changes_at_50pa(self, method: ByAirtightness) -> float:
        at = f"{self._at}/ventilation"
        if method.edition is None:
            self._findings.warn("default.edition", f"{at}/edition", "EN 12831:2003 taken")
        permeability = (method.air_permeability_50pa_m3_h_m2, method.envelope_area_m2)
        if method.air_changes_at_50pa is not None:
            if permeability != (None, None):
                self._findings.refuse(
                    "ambiguous",
                    f"{at}/air_changes_at_50pa",
                    "give air_changes_at_50pa, or permeability and envelope",
                )
            return method.air_changes_at_50pa
        if method.air_permeability_50pa_m3_h_m2 is None or method.envelope_area_m2 is None:
            self._findings.refuse(
                "incomplete",
                f"{at}/air_changes_at_50pa",
                "give air_changes_at_50pa, or air_permeability_50pa_m3_h_m2 and envelope_area_m2",
            )
            return 0.0
        if self.volume_m3 <= 0.0:
            return 0.0
        return en_12831.air_changes_from_permeability(
            method.air_permeability_50pa_m3_h_m2, method.envelope_area_m2, self.volume_m3
        )

    def _height_factor(self, method: ByAirtightness) -> float:
        at = f"{self._at}/ventilation/height_above_ground_m"
        if method.height_above_ground_m is None:
            self._findings.warn("default.height", at, "height up to 10 m taken, factor 1")
            return 1.0
        factor = height_factor(method.height_above_ground_m)
        if factor is None:
            self._findings.refuse(
                "not_covered", at, "the table height-factors covers heights up to its last row only"
            )
            return 1.0
        if not factor.seen:
            self._findings.warn_of_memory(factor.table, at)
        return factor.value

    def _shielding(self, method: ByAirtightness, room: ResolvedRoom) -> float:
        shielding = method.shielding
        if shielding is None:
            shielding = "moderate"
            self._findings.warn(
                "default.shielding", f"{self._at}/ventilation/shielding", "moderate shielding taken"
            )
        openings = (room.room.ventilation or NO_AIR).exposed_openings
        if openings is None:
            count = sum(face.kind == "opening" and face.boundary == "outside" for face in room.faces)
            openings = "none" if count == 0 else "one" if count == 1 else "several"
            self._findings.warn(
                "default.exposed_openings",
                f"{room.at}/ventilation/exposed_openings",
                f"{openings} taken: {count} openings to outside are in the survey",
            )
        self._findings.warn_of_memory("shielding", f"{self._at}/ventilation/shielding")
        return self._annex.shielding_coefficient(shielding, openings)
