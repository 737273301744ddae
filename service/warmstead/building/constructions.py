"""U-values of the house's constructions: the document resolved for the standards' equations, each construction once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple

from warmstead.building.annex import UNSEEN, NationalAnnex, number
from warmstead.building.cautions import caution
from warmstead.building.findings import Findings, code_of
from warmstead.building.layered import LayeredResult, resolve_layered
from warmstead.standards import iso_10077_1, iso_13370
from warmstead.standards.errors import MethodError
from warmstead.survey.constructions import (
    BasementFloor,
    BasementWall,
    Construction,
    ExternalSide,
    SlabOnGround,
    SuspendedFloor,
    Typical,
    Window,
)
from warmstead.tables import table

USUAL_U_VALUES_W_M2K = (0.05, 6.5)
"""From the best insulated to a sheet of single glass in a metal frame (common practice)."""

SMALLEST_WINDOW_M2 = 0.0001
"""The least area that any opening may have, as in the request."""
GREATEST_U_VALUE_W_M2K = 1e6
"""Over this there is no resistance to speak of, and a U-value has no meaning."""

GroundResult = (
    iso_13370.SlabOnGround | iso_13370.SuspendedFloor | iso_13370.BasementFloor | iso_13370.BasementWall
)
FloorKind = Literal["slab_on_ground", "suspended", "basement_floor", "basement_wall"]


class Transmittance(NamedTuple):
    """The U-value of a construction, with what it was made of."""

    u_value_w_m2k: float
    calculation: LayeredResult | GroundResult | iso_10077_1.Window | None = None
    floor: FloorKind | None = None


class Constructions:
    """Resolves constructions by id and external side, each once."""

    def __init__(
        self, constructions: Mapping[str, Construction], annex: NationalAnnex, findings: Findings, at: str
    ) -> None:
        self.by_id = constructions
        self._annex = annex
        self._findings = findings
        self._at = at
        self._resolved: dict[tuple[str, ExternalSide], Transmittance | None] = {}

    def transmittance(self, construction: str, side: ExternalSide) -> Transmittance | None:
        """Return the U-value of a known construction towards a side; None where a problem was noted."""
        key = (construction, side)
        if key not in self._resolved:
            self._resolved[key] = resolve(
                self.by_id[construction], side, self._annex, self._findings, f"{self._at}/{construction}"
            )
        return self._resolved[key]

    def check_unused(self) -> None:
        """Refuse what no element uses as well, if it contradicts itself; what it would warn of concerns nobody."""
        used = {name for name, _ in self._resolved}
        for name, construction in self.by_id.items():
            if name not in used:
                apart = Findings()
                resolve(construction, "outside", self._annex, apart, f"{self._at}/{name}")
                for problem in apart.problems:
                    self._findings.refuse(problem.code, problem.pointer, problem.detail)

    def resolved(self, construction: str, side: ExternalSide) -> Transmittance | None:
        """Return a U-value that was asked for before, else None."""
        return self._resolved.get((construction, side))


def resolve(
    construction: Construction, side: ExternalSide, annex: NationalAnnex, findings: Findings, at: str
) -> Transmittance | None:
    """Return a construction's U-value, or None with a problem noted.

    Args:
        construction: as sent.
        side: what the far side faces, where the construction does not say.
        annex: the national annex.
        findings: where problems and warnings go.
        at: JSON pointer of the construction.
    """
    try:
        transmittance = _resolve(construction, side, annex, findings, at)
        if transmittance is not None and not transmittance.u_value_w_m2k <= GREATEST_U_VALUE_W_M2K:
            findings.refuse("contradiction", at, "a component without any resistance has no U-value")
            return None
        if transmittance is not None:
            _warn_of_unusual(transmittance.u_value_w_m2k, findings, at)
        return transmittance
    except MethodError as error:
        findings.refuse(code_of(error), f"{at}{_path_within(construction, error.field)}", str(error))
        return None


def _warn_of_unusual(u_value_w_m2k: float, findings: Findings, at: str) -> None:
    low, high = USUAL_U_VALUES_W_M2K
    if not low <= u_value_w_m2k <= high:
        findings.warn("unusual.u_value", at, f"{u_value_w_m2k:.3g} W/(m²·K) is outside {low:g} to {high:g}")


def _path_within(construction: Construction, field: str) -> str:
    """Return as much of an equation's field as there is in the construction, as a JSON pointer."""
    pointer = ""
    here: object = construction
    for step in field.split("/"):
        if isinstance(here, list) and step.isdigit() and int(step) < len(here):
            here = here[int(step)]
        elif getattr(here, step, None) is not None:
            here = getattr(here, step)
        else:
            break
        pointer += f"/{step}"
    return pointer


def _resolve(
    construction: Construction, side: ExternalSide, annex: NationalAnnex, findings: Findings, at: str
) -> Transmittance | None:
    if construction.kind == "layered":
        layered = resolve_layered(construction, side, findings, at)
        return layered and Transmittance(layered.u_value_w_m2k, layered)
    if construction.kind == "declared":
        return Transmittance(construction.u_value_w_m2k)
    if construction.kind == "window":
        return _window(construction, findings, at)
    if construction.kind == "typical":
        return _typical(construction, findings, at)
    return _ground_floor(construction, annex, findings, at)


def _window(window: Window, findings: Findings, at: str) -> Transmittance | None:
    parts = [
        iso_10077_1.Part(window.glazing_area_m2, window.u_glazing_w_m2k),
        iso_10077_1.Part(window.frame_area_m2, window.u_frame_w_m2k),
    ]
    edges = [iso_10077_1.Edge(window.glazing_perimeter_m, window.psi_glazing_w_mk)]
    if (window.panel_area_m2 is None) != (window.u_panel_w_m2k is None):
        findings.refuse("incomplete", at, "an opaque panel needs both panel_area_m2 and u_panel_w_m2k")
        return None
    if (window.panel_perimeter_m is None) != (window.psi_panel_w_mk is None):
        findings.refuse("incomplete", at, "a panel's edge needs both panel_perimeter_m and psi_panel_w_mk")
        return None
    if window.panel_perimeter_m and window.panel_area_m2 is None:
        findings.refuse(
            "incomplete",
            f"{at}/panel_area_m2",
            "a panel's edge needs its panel: panel_area_m2 and u_panel_w_m2k",
        )
        return None
    if sum((window.glazing_area_m2, window.frame_area_m2, window.panel_area_m2 or 0.0)) < SMALLEST_WINDOW_M2:
        findings.refuse(
            "contradiction", at, f"glazing, frame and panels need at least {SMALLEST_WINDOW_M2:g} m² in all"
        )
        return None
    if window.panel_area_m2 is not None and window.u_panel_w_m2k is not None:
        parts.append(iso_10077_1.Part(window.panel_area_m2, window.u_panel_w_m2k))
    if window.panel_perimeter_m is not None and window.psi_panel_w_mk is not None:
        edges.append(iso_10077_1.Edge(window.panel_perimeter_m, window.psi_panel_w_mk))
    result = iso_10077_1.window(parts, edges)
    return Transmittance(result.u_value_w_m2k, result)


def _typical(typical: Typical, findings: Findings, at: str) -> Transmittance | None:
    row = table("typical-constructions").by_id(typical.row)
    if row is None:
        findings.refuse(
            "not_found", f"{at}/row", f"no row {typical.row!r} in /v1/tables/typical-constructions"
        )
        return None
    if row["provenance"] in UNSEEN:
        findings.warn_of_memory("typical-constructions", f"{at}/row")
    if "u_value_w_m2k" in row:
        if typical.thickness_mm is not None:
            findings.refuse(
                "not_allowed_here", f"{at}/thickness_mm", f"row {typical.row!r} does not go by thickness"
            )
            return None
        return Transmittance(number(row, "u_value_w_m2k"))
    low, high = number(row, "minimum_thickness_mm"), number(row, "maximum_thickness_mm")
    if typical.thickness_mm is None:
        findings.refuse(
            "incomplete",
            f"{at}/thickness_mm",
            f"row {typical.row!r} goes by thickness, {low:g} to {high:g} mm",
        )
        return None
    if not low <= typical.thickness_mm <= high:
        findings.refuse(
            "not_covered", f"{at}/thickness_mm", f"row {typical.row!r} covers {low:g} to {high:g} mm"
        )
        return None
    return Transmittance(
        number(row, "intercept_w_m2k") + number(row, "slope_w_m2k_per_mm") * typical.thickness_mm
    )


def _ground_floor(
    floor: SlabOnGround | SuspendedFloor | BasementFloor | BasementWall,
    annex: NationalAnnex,
    findings: Findings,
    at: str,
) -> Transmittance:
    soil = floor.soil_conductivity_w_mk
    if soil is None:
        soil = annex.take(
            "soil_conductivity_w_mk",
            "W/(m·K)",
            findings,
            "default.soil_conductivity",
            f"{at}/soil_conductivity_w_mk",
        )
    wall_m = floor.wall_thickness_mm / 1000.0
    caution(findings, "caution.radon", at)
    result: GroundResult
    if isinstance(floor, SlabOnGround):
        edge = floor.edge_insulation
        result = iso_13370.slab_on_ground(
            area_m2=floor.area_m2,
            exposed_perimeter_m=floor.exposed_perimeter_m,
            wall_thickness_m=wall_m,
            soil_conductivity_w_mk=soil,
            floor_resistance_m2k_w=floor.floor_resistance_m2k_w,
            edge_insulation=None
            if edge is None
            else iso_13370.EdgeInsulation(
                edge.position, edge.width_m, edge.thickness_mm / 1000.0, edge.conductivity_w_mk
            ),
        )
    elif isinstance(floor, SuspendedFloor):
        result = _suspended(floor, wall_m, soil, annex, findings, at)
    elif isinstance(floor, BasementFloor):
        result = iso_13370.basement_floor(
            area_m2=floor.area_m2,
            exposed_perimeter_m=floor.exposed_perimeter_m,
            wall_thickness_m=wall_m,
            soil_conductivity_w_mk=soil,
            floor_resistance_m2k_w=floor.floor_resistance_m2k_w,
            depth_m=floor.depth_m,
        )
    else:
        result = iso_13370.basement_wall(
            wall_thickness_m=wall_m,
            soil_conductivity_w_mk=soil,
            floor_resistance_m2k_w=floor.floor_resistance_m2k_w,
            depth_m=floor.depth_m,
            wall_resistance_m2k_w=floor.wall_resistance_m2k_w,
        )
    return Transmittance(result.u_value_w_m2k, result, floor.floor)


def _suspended(
    floor: SuspendedFloor, wall_m: float, soil: float, annex: NationalAnnex, findings: Findings, at: str
) -> iso_13370.SuspendedFloor:
    """Resolve a suspended floor; what the survey does not say is the national annex's, with a warning each."""

    def default(value: float | None, member: str, parameter: str, unit: str) -> float:
        if value is not None:
            return value
        return annex.take(parameter, unit, findings, "default.underfloor_space", f"{at}/{member}")

    caution(findings, "caution.suspended_floor", at)
    if floor.wind_shielding is None:
        parameter = "underfloor_wind_shielding_average"
        factor = annex.take(
            parameter, "(average)", findings, "default.underfloor_space", f"{at}/wind_shielding"
        )
    else:
        factor = annex.value(
            f"underfloor_wind_shielding_{floor.wind_shielding}", findings, f"{at}/wind_shielding"
        )
    return iso_13370.suspended_floor(
        area_m2=floor.area_m2,
        exposed_perimeter_m=floor.exposed_perimeter_m,
        wall_thickness_m=wall_m,
        soil_conductivity_w_mk=soil,
        floor_resistance_m2k_w=floor.floor_resistance_m2k_w,
        height_above_ground_m=floor.height_above_ground_m,
        ventilation_opening_m2_per_m=default(
            floor.ventilation_opening_m2_per_m,
            "ventilation_opening_m2_per_m",
            "underfloor_ventilation_opening_m2_per_m",
            "m²/m",
        ),
        wind_speed_m_s=default(floor.wind_speed_m_s, "wind_speed_m_s", "underfloor_wind_speed_m_s", "m/s"),
        wind_shielding_factor=factor,
        underfloor_wall_u_value_w_m2k=default(
            floor.underfloor_wall_u_value_w_m2k,
            "underfloor_wall_u_value_w_m2k",
            "underfloor_wall_u_value_w_m2k",
            "W/(m²·K)",
        ),
        ground_resistance_m2k_w=floor.ground_resistance_m2k_w or 0.0,
    )
