"""The emitters of a room in numbers: what they give at any flow and return temperature, and how low these may go."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

from warmstead.building.findings import Findings, code_of
from warmstead.building.house import ResolvedHouse
from warmstead.building.rooms import Face, ResolvedRoom
from warmstead.building.search import first_reached
from warmstead.standards import en_442, en_1264, fan_convector
from warmstead.standards.errors import MethodError, OutOfScope
from warmstead.survey.emitters import Emitter, FanConvector, Radiator, Underfloor

STANDARD_EXCESS_K = 50.0
"""Excess temperature of the standard output (EN 442-2:2014)."""
DEFAULT_EXPONENT = 1.3
"""Exponent of a radiator whose maker states none (common practice)."""
HOT_SURFACE_C = 55.0
"""Flow temperature from which radiators can burn skin (common practice)."""
HIGHEST_FLOW_C = 110.0
"""Highest flow temperature that is looked at, as in the request."""
SEARCH_WIDTH_K = 1e-7
LOWEST_SCREED_CONDUCTIVITY_W_MK = 0.8
"""Under this the limit curve of EN 1264 type A is on the unsafe side of a conduction solution (see its tests)."""


class Circuit(NamedTuple):
    """Flow and return temperature of the water."""

    flow_c: float
    return_c: float

    def shifted(self, by_k: float) -> Circuit:
        """Return both temperatures moved by the same amount."""
        return Circuit(self.flow_c + by_k, self.return_c + by_k)


class Emission(NamedTuple):
    """What one emitter gives at one state of its water."""

    output_w: float
    excess_k: float
    mean: en_442.Mean
    downward_w: float = 0.0
    at_surface_limit: bool = False


class ResolvedEmitter(Protocol):
    """An emitter in numbers."""

    @property
    def emitter(self) -> Emitter:
        """The emitter as sent."""

    def emission(self, water: Circuit) -> Emission:
        """What it gives to its room. Raises MethodError outside its method."""

    def output_when_searching(self, water: Circuit) -> float:
        """Its output while temperatures are varied, W: what its method does not cover counts as nothing."""


class ResolvedRadiator:
    """A radiator by EN 442."""

    def __init__(self, radiator: Radiator, room: ResolvedRoom, at: str, findings: Findings) -> None:
        self.emitter = radiator
        self._room_c = room.temperature_c
        self._stated_w = radiator.standard_output_w
        self.exponent = radiator.exponent or DEFAULT_EXPONENT
        self.standard_excess_k = radiator.standard_excess_temperature_k or STANDARD_EXCESS_K
        self.factor = 1.0 if radiator.output_factor is None else radiator.output_factor
        if radiator.exponent is None:
            findings.warn("default.exponent", f"{at}/exponent", f"{DEFAULT_EXPONENT:g} taken")
        if radiator.standard_excess_temperature_k is None:
            findings.warn(
                "default.standard_excess_temperature",
                f"{at}/standard_excess_temperature_k",
                "50 K (EN 442) taken",
            )

    @property
    def standard_output_w(self) -> float:
        """Standard output at an excess temperature of 50 K, W, whatever excess it was stated at."""
        return en_442.output(self._stated_w, self.standard_excess_k, self.exponent, STANDARD_EXCESS_K)

    def emission(self, water: Circuit) -> Emission:
        """What it gives to its room."""
        excess = en_442.excess_temperature(water.flow_c, water.return_c, self._room_c)
        return Emission(self._output_w(excess.excess_k), excess.excess_k, excess.mean)

    def output_when_searching(self, water: Circuit) -> float:
        """Its output while temperatures are varied, W."""
        excess = en_442.excess_temperature(water.flow_c, water.return_c, self._room_c)
        return self._output_w(excess.excess_k)

    def _output_w(self, excess_k: float) -> float:
        return self.factor * en_442.output(self._stated_w, self.standard_excess_k, self.exponent, excess_k)


class ResolvedUnderfloor:
    """An underfloor panel by EN 1264."""

    def __init__(
        self, underfloor: Underfloor, room: ResolvedRoom, house: ResolvedHouse, at: str, findings: Findings
    ) -> None:
        self.emitter = underfloor
        self._room_c = room.temperature_c
        self.characteristic = _characteristic(underfloor, at, findings)
        zone = _zone(underfloor, room, at, findings)
        self.surface_limit_c = en_1264.maximum_surface_temperature_c(zone, room.temperature_c)
        surface_excess_k = self.surface_limit_c - room.temperature_c
        self.limit_w_m2 = (
            en_1264.limit_heat_flux(self.characteristic, surface_excess_k) if surface_excess_k > 0 else 0.0
        )
        self._below_c, self._resistance_down = _below(underfloor, room, house, at, findings)
        if self._below_c > room.temperature_c:
            findings.warn(
                "unusual.warmer_below",
                f"{at}/temperature_below_c",
                "it is warmer below than in the room: heat from there is not credited",
            )
        if underfloor.area_m2 > room.floor_area_m2:
            findings.warn(
                "unusual.emitter_area",
                f"{at}/area_m2",
                f"a panel of {underfloor.area_m2:g} m² in a room of {room.floor_area_m2:g} m²",
            )

    def emission(self, water: Circuit) -> Emission:
        """What it gives to its room, and what it loses downwards."""
        excess_k = en_442.logarithmic_excess(water.flow_c, water.return_c, self._room_c)
        free_w_m2 = en_1264.heat_flux(self.characteristic, excess_k)
        flux = min(free_w_m2, self.limit_w_m2)
        downward = en_1264.downward_heat_flux(
            upward_heat_flux_w_m2=flux,
            resistance_up_m2k_w=en_1264.resistance_up(
                covering_resistance_m2k_w=self.emitter.covering_resistance_m2k_w,
                screed_thickness_m=self.emitter.screed_thickness_mm / 1000.0,
                screed_conductivity_w_mk=self.emitter.screed_conductivity_w_mk,
            ),
            resistance_down_m2k_w=self._resistance_down,
            room_c=self._room_c,
            below_c=self._below_c,
        )
        area = self.emitter.area_m2
        return Emission(
            flux * area, excess_k, "logarithmic", max(downward, 0.0) * area, free_w_m2 > self.limit_w_m2
        )

    def output_when_searching(self, water: Circuit) -> float:
        """Its output while temperatures are varied, W."""
        excess_k = en_442.logarithmic_excess(water.flow_c, water.return_c, self._room_c)
        flux = min(en_1264.heat_flux(self.characteristic, excess_k), self.limit_w_m2)
        return flux * self.emitter.area_m2


class ResolvedFanConvector:
    """A fan convector by its own table."""

    def __init__(self, convector: FanConvector, room: ResolvedRoom) -> None:
        self.emitter = convector
        self._room_c = room.temperature_c
        self._points = [(point.excess_temperature_k, point.output_w) for point in convector.outputs]

    def emission(self, water: Circuit) -> Emission:
        """What it gives to its room."""
        excess = en_442.excess_temperature(water.flow_c, water.return_c, self._room_c)
        return Emission(fan_convector.output(self._points, excess.excess_k), excess.excess_k, excess.mean)

    def output_when_searching(self, water: Circuit) -> float:
        """Its output while temperatures are varied, W: nothing below its table, no more than its last row above it."""
        excess_k = en_442.excess_temperature(water.flow_c, water.return_c, self._room_c).excess_k
        if excess_k < self._points[0][0]:
            return 0.0
        return fan_convector.output(self._points, min(excess_k, self._points[-1][0]))


def resolve_emitter(
    emitter: Emitter, room: ResolvedRoom, house: ResolvedHouse, at: str, findings: Findings
) -> ResolvedEmitter | None:
    """Return an emitter in numbers, or None with problems noted.

    Args:
        emitter: as sent.
        room: its room.
        house: the house, for what lies below a panel.
        at: JSON pointer of the emitter.
        findings: where problems and warnings go.
    """
    known = len(findings.problems)
    try:
        if emitter.kind == "radiator":
            return ResolvedRadiator(emitter, room, at, findings)
        if emitter.kind == "underfloor":
            return ResolvedUnderfloor(emitter, room, house, at, findings)
        _check_rising(emitter, at, findings)
        return None if len(findings.problems) > known else ResolvedFanConvector(emitter, room)
    except MethodError as error:
        findings.refuse(code_of(error), pointer_of(error, emitter, at), str(error))
        return None


def pointer_of(error: MethodError, emitter: Emitter, at: str) -> str:
    """Return where in an emitter an equation's field stands: its own name, or that in millimetres."""
    fields = type(emitter).model_fields
    for name in (error.field, f"{error.field}m"):
        if name in fields:
            return f"{at}/{name}"
    return at


def lowest_shift_k(
    required_w: float, emitters: Sequence[tuple[ResolvedEmitter, Circuit]], room_c: float
) -> float | None:
    """Return by how much all circuits may move until the emitters just carry a load, in K; None if they never do.

    The output rises with the shift throughout, small jumps included, so that there is one place.

    Args:
        required_w: load of the room, W, above 0.
        emitters: each with its circuit as it stands now.
        room_c: temperature of the room, °C.
    """
    if not emitters:
        return None

    def excess_w(shift_k: float) -> float:
        outputs = [emitter.output_when_searching(water.shifted(shift_k)) for emitter, water in emitters]
        return sum(outputs) - required_w

    lowest = max(room_c - water.return_c for _, water in emitters)
    highest = min(HIGHEST_FLOW_C - water.flow_c for _, water in emitters)
    if highest <= lowest:
        return None
    most_w = excess_w(highest)
    if most_w < 0.0:
        return None
    return first_reached(excess_w, lowest, highest, -required_w, most_w, SEARCH_WIDTH_K)


def standard_output_needed_w(
    required_w: float, emitters: Sequence[tuple[ResolvedEmitter, Emission]], excess_k: float
) -> float | None:
    """Standard output (50 K) that the room's radiators would need beside its other emitters, W; None where none.

    Radiators that stand there are scaled together, so that exponents and factors stay theirs; where there are none,
    one of exponent 1.3 is meant.

    Args:
        required_w: load of the room, W.
        emitters: the room's emitters with what they give.
        excess_k: excess temperature at which a radiator would work here, K.
    """
    by_radiators = by_others = standard = 0.0
    for emitter, emission in emitters:
        if isinstance(emitter, ResolvedRadiator):
            by_radiators += emission.output_w
            standard += emitter.standard_output_w
        else:
            by_others += emission.output_w
    needed = required_w - by_others
    if needed <= 0.0:
        return None
    if by_radiators > 0.0:
        return standard * needed / by_radiators
    return en_442.standard_output_needed(needed, excess_k, DEFAULT_EXPONENT, STANDARD_EXCESS_K)


def _check_rising(convector: FanConvector, at: str, findings: Findings) -> None:
    points = convector.outputs
    for index in range(1, len(points)):
        if points[index].excess_temperature_k <= points[index - 1].excess_temperature_k:
            findings.refuse(
                "contradiction",
                f"{at}/outputs/{index}/excess_temperature_k",
                "rows rise in excess temperature",
            )
        if points[index].output_w < points[index - 1].output_w:
            findings.refuse(
                "contradiction",
                f"{at}/outputs/{index}/output_w",
                "output does not fall as excess temperature rises",
            )


def _characteristic(underfloor: Underfloor, at: str, findings: Findings) -> en_1264.Characteristic:
    system = underfloor.system or "A"
    if underfloor.system is None:
        findings.warn("default.underfloor_system", f"{at}/system", "system A taken: pipes within the screed")
    if underfloor.pipe_wall_thickness_mm is None or underfloor.pipe_conductivity_w_mk is None:
        findings.warn("default.pipe", at, "a pipe wall of 2 mm and 0.35 W/(m·K) taken where absent")
    wall_m = (underfloor.pipe_wall_thickness_mm or 1000.0 * en_1264.REFERENCE_PIPE_WALL_THICKNESS_M) / 1000.0
    pipe_conductivity = underfloor.pipe_conductivity_w_mk or en_1264.REFERENCE_PIPE_CONDUCTIVITY_W_MK
    if system == "A" and underfloor.screed_conductivity_w_mk < LOWEST_SCREED_CONDUCTIVITY_W_MK:
        findings.warn(
            "caution.method_limit",
            f"{at}/screed_conductivity_w_mk",
            "the standard's limit curve allows a badly conducting screed more heat than conduction does: the floor can become "
            "warmer than its limit",
        )
    prefix = f"type_{system.lower()}."
    if any(kind == "from_memory" for name, kind in en_1264.PROVENANCE.items() if name.startswith(prefix)):
        findings.warn("memory.equation_table", at, f"factors of EN 1264 for system {system} are from memory")
    if system == "A":
        if underfloor.conducting_device is not None:
            findings.refuse("not_allowed_here", f"{at}/conducting_device", "for system B only")
        return en_1264.type_a(
            pipe_spacing_m=underfloor.pipe_spacing_mm / 1000.0,
            covering_resistance_m2k_w=underfloor.covering_resistance_m2k_w,
            screed_thickness_m=underfloor.screed_thickness_mm / 1000.0,
            screed_conductivity_w_mk=underfloor.screed_conductivity_w_mk,
            pipe_outside_diameter_m=underfloor.pipe_outside_diameter_mm / 1000.0,
            pipe_wall_thickness_m=wall_m,
            pipe_conductivity_w_mk=pipe_conductivity,
        )
    device = underfloor.conducting_device
    if device is None:
        raise OutOfScope(
            "system B needs its conducting_device",
            field="conducting_device",
            value=None,
            limit="width_mm, thickness_mm, conductivity_w_mk",
            clause="EN 1264-2, type B",
        )
    return en_1264.type_b(
        pipe_spacing_m=underfloor.pipe_spacing_mm / 1000.0,
        covering_resistance_m2k_w=underfloor.covering_resistance_m2k_w,
        screed_thickness_m=underfloor.screed_thickness_mm / 1000.0,
        screed_conductivity_w_mk=underfloor.screed_conductivity_w_mk,
        pipe_outside_diameter_m=underfloor.pipe_outside_diameter_mm / 1000.0,
        conducting_device_thickness_m=device.thickness_mm / 1000.0,
        conducting_device_conductivity_w_mk=device.conductivity_w_mk,
        conducting_device_width_m=device.width_mm / 1000.0,
        pipe_wall_thickness_m=wall_m,
        pipe_conductivity_w_mk=pipe_conductivity,
    )


def _zone(underfloor: Underfloor, room: ResolvedRoom, at: str, findings: Findings) -> en_1264.Zone:
    if underfloor.zone is not None:
        return underfloor.zone
    zone: en_1264.Zone = "bathroom" if room.use in ("bathroom", "shower_room") else "occupied"
    findings.warn("default.underfloor_zone", f"{at}/zone", f"{zone} taken by the room's use")
    return zone


def _below(
    underfloor: Underfloor, room: ResolvedRoom, house: ResolvedHouse, at: str, findings: Findings
) -> tuple[float, float]:
    """Temperature below the panel and resistance down to it: as sent, else by what the room stands on."""
    below = next((face for face in room.faces if _is_cold_floor(face, house)), None)
    temperature = underfloor.temperature_below_c
    if temperature is None:
        temperature = room.temperature_c if below is None else _temperature_behind(below, room, house)
    resistance = underfloor.resistance_below_m2k_w
    if resistance is None:
        parameter = f"underfloor_insulation_over_{'heated' if below is None else 'unheated'}_m2k_w"
        resistance = house.annex.value(parameter, findings, f"{at}/resistance_below_m2k_w")
    if underfloor.temperature_below_c is None or underfloor.resistance_below_m2k_w is None:
        findings.warn(
            "default.underfloor_below",
            at,
            f"below the panel {temperature:g} °C behind {resistance:g} m²K/W taken where absent",
        )
    if below is not None:
        findings.warn(
            "assumption.floor_loss_kept",
            at,
            "the floor's own loss stays in the room's load although the panel covers it: on the safe side",
        )
    return temperature, resistance


def _is_cold_floor(face: Face, house: ResolvedHouse) -> bool:
    if face.boundary == "ground":
        return True
    construction = house.constructions.by_id.get(face.construction)
    downwards = (
        construction is not None and construction.kind == "layered" and construction.heat_flow == "downwards"
    )
    return downwards and face.boundary in ("unheated_space", "outside")


def _temperature_behind(face: Face, room: ResolvedRoom, house: ResolvedHouse) -> float:
    """Temperature on the far side of a floor, °C: of the year's mean for ground, else what its difference leaves."""
    annual_mean = house.house.conditions.annual_mean_external_temperature_c
    if face.boundary == "ground" and annual_mean is not None:
        return annual_mean
    return room.temperature_c - face.difference_k
