"""Rooms in numbers: temperature, volume and what fills the gaps of the survey."""

from __future__ import annotations

from warmstead.building.annex import NationalAnnex
from warmstead.building.findings import Findings
from warmstead.survey.house import Room

LEAST_DIFFERENCE_K = 0.001
"""Of a room's temperature to that outside: a coefficient divides by it, and no thermometer tells less (common practice)."""
USUAL_TEMPERATURES_C = (12.0, 26.0)
USUAL_HEIGHTS_M = (1.8, 6.0)
VOLUME_TOLERANCE = 0.05
"""Volume and floor area times height may differ by this share before it is told: slopes and recesses (common practice)."""


class Face:
    """One side of a room: part of an element, an opening or a junction, towards one boundary.

    `heat_loss_w` = (`area_m2` · `u_value_w_m2k` + `bridge_w_k`) · `difference_k`.
    """

    __slots__ = (
        "adjoins",
        "area_m2",
        "boundary",
        "bridge_w_k",
        "coefficient_w_k",
        "construction",
        "declared_in",
        "difference_k",
        "heat_loss_w",
        "id",
        "kind",
        "opening_of",
        "u_value_w_m2k",
    )

    def __init__(
        self,
        id: str,
        kind: str,
        construction: str,
        boundary: str,
        area_m2: float,
        u_value_w_m2k: float,
        bridge_w_k: float,
        opening_of: str | None,
    ) -> None:
        self.id = id
        self.kind = kind
        self.construction = construction
        self.boundary = boundary
        self.area_m2 = area_m2
        self.u_value_w_m2k = u_value_w_m2k
        self.bridge_w_k = bridge_w_k
        self.opening_of = opening_of
        self.coefficient_w_k = area_m2 * u_value_w_m2k + bridge_w_k
        self.adjoins: str | None = None
        self.declared_in: str | None = None
        self.difference_k = self.heat_loss_w = 0.0

    def set_difference(self, difference_k: float) -> None:
        """Set the effective temperature difference, and with it the heat loss."""
        self.difference_k = difference_k
        self.heat_loss_w = self.coefficient_w_k * difference_k

    def mirrored(self, declared_in: str) -> Face:
        """Return this face as the room on its other side sees it: the same heat, with the opposite sign."""
        other = Face(
            self.id,
            self.kind,
            self.construction,
            self.boundary,
            self.area_m2,
            self.u_value_w_m2k,
            self.bridge_w_k,
            self.opening_of,
        )
        other.adjoins = other.declared_in = declared_in
        other.set_difference(0.0 - self.difference_k)  # never a negative zero
        return other


class ResolvedRoom:
    """A heated room in numbers."""

    __slots__ = (
        "at",
        "coefficient_w_k",
        "faces",
        "floor_area_m2",
        "id",
        "mirrored_faces",
        "reheat_w",
        "room",
        "temperature_c",
        "transmission_w",
        "use",
        "ventilation_w",
        "volume_m3",
    )

    def __init__(
        self, room: Room, at: str, use: str, temperature_c: float, volume_m3: float, reheat_w: float
    ) -> None:
        self.room = room
        self.id = room.id
        self.at = at
        self.use = use
        self.temperature_c = temperature_c
        self.floor_area_m2 = room.floor_area_m2
        self.volume_m3 = volume_m3
        self.reheat_w = reheat_w
        self.faces: list[Face] = []
        self.mirrored_faces: list[Face] = []
        self.ventilation_w = 0.0
        self.transmission_w = 0.0
        self.coefficient_w_k = 0.0

    def settle(self, external_c: float) -> None:
        """Add up the faces, once all of them and the ventilation stand.

        The coefficient leaves out heat to other rooms: (transmission + ventilation)/(θi − θe).
        """
        between_rooms = elsewhere = 0.0
        for face in self.faces:
            if face.boundary == "room":
                between_rooms += face.heat_loss_w
            else:
                elsewhere += face.heat_loss_w
        self.transmission_w = elsewhere + between_rooms
        self.coefficient_w_k = (elsewhere + self.ventilation_w) / (self.temperature_c - external_c)

    @property
    def design_heat_load_w(self) -> float:
        """Transmission, ventilation and reheat together, W."""
        return self.transmission_w + self.ventilation_w + self.reheat_w


def resolve_room(
    room: Room, at: str, external_c: float, reheat_w_m2: float, annex: NationalAnnex, findings: Findings
) -> ResolvedRoom:
    """Return a room in numbers, without its faces and its air."""
    use = room.use
    if use is None:
        use = "unspecified"
        if (
            room.design_temperature_c is None
            or room.ventilation is None
            or room.ventilation.air_changes is None
        ):
            findings.warn("default.room_use", f"{at}/use", "use unspecified taken for temperature and air")
    temperature = room.design_temperature_c
    if temperature is None:
        temperature = annex.take_temperature(use, findings, f"{at}/design_temperature_c")
    elif not USUAL_TEMPERATURES_C[0] <= temperature <= USUAL_TEMPERATURES_C[1]:
        findings.warn(
            "unusual.room_temperature",
            f"{at}/design_temperature_c",
            f"{temperature:g} °C is unusual for a heated room",
        )
    if temperature - external_c < LEAST_DIFFERENCE_K:
        findings.refuse(
            "contradiction",
            f"{at}/design_temperature_c",
            f"{temperature:g} °C is not above the outside temperature of {external_c:g} °C; "
            f"at least {LEAST_DIFFERENCE_K:g} K above it",
        )
    volume = _volume(room, at, findings)
    height_m = volume / room.floor_area_m2
    if volume and not USUAL_HEIGHTS_M[0] <= height_m <= USUAL_HEIGHTS_M[1]:
        findings.warn("unusual.height", at, f"volume over floor area makes a mean height of {height_m:.3g} m")
    return ResolvedRoom(room, at, use, temperature, volume, reheat_w_m2 * room.floor_area_m2)


def _volume(room: Room, at: str, findings: Findings) -> float:
    volume_m3, height_m = room.volume_m3, room.height_m
    if volume_m3 is None:
        if height_m is None:
            findings.refuse("incomplete", f"{at}/height_m", "give height_m or volume_m3")
            return 0.0
        return room.floor_area_m2 * height_m
    if height_m is not None:
        by_height = room.floor_area_m2 * height_m
        if abs(by_height - volume_m3) > VOLUME_TOLERANCE * volume_m3:
            findings.warn(
                "unusual.volume",
                f"{at}/volume_m3",
                f"volume_m3 was used; floor_area_m2 times height_m would be {by_height:.4g} m³",
            )
    return volume_m3
