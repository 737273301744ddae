"""Layered constructions resolved for ISO 6946: materials, air layers, ventilated cavities, tapers, corrections."""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from warmstead.building.annex import UNSEEN, number
from warmstead.building.corrections import Corrected, correct
from warmstead.building.findings import Findings
from warmstead.building.layered_cautions import warn_of_damp, warn_of_method_limits
from warmstead.standards import iso_6946
from warmstead.standards.errors import OutOfScope
from warmstead.survey.constructions import (
    AirLayer,
    Bridge,
    ExternalSide,
    HeatFlow,
    Layered,
    ResistanceLayer,
    SolidLayer,
    TaperedLayer,
)
from warmstead.tables import table

VENTILATED_OPENINGS_MM2 = {
    "unventilated": (0.0, 500.0),
    "slightly_ventilated": (500.0, 1500.0),
    "well_ventilated": (1500.0, 1_000_000.0),
}
"""Openings to outside by class of air layer, mm² per metre or square metre (ISO 6946:2017, 6.9.2 to 6.9.4)."""


class Totals(NamedTuple):
    """Resistances of a whole component, its air layers dealt with."""

    total_m2k_w: float
    upper_m2k_w: float
    lower_m2k_w: float
    internal_surface_m2k_w: float
    external_surface_m2k_w: float
    layers_m2k_w: tuple[float, ...]
    """Each layer's own as sent, the lower limit's where bridged; 0 for what a well-ventilated cavity cuts off."""
    sections: tuple[iso_6946.Section, ...]


class LayeredResult(NamedTuple):
    """The U-value of a layered construction and every number on the way to it."""

    u_value_w_m2k: float
    totals: Totals
    taper_u_value_w_m2k: float | None
    corrected: Corrected | None
    """The corrections, None where none were asked for."""


class _Resolved(NamedTuple):
    """One layer in numbers."""

    layer: iso_6946.Layer
    openings_mm2: float | None = None
    """Set for slightly ventilated air layers only."""
    well_ventilated: bool = False


def resolve_layered(
    construction: Layered, side: ExternalSide, findings: Findings, at: str
) -> LayeredResult | None:
    """Return the U-value of a layered construction, or None with problems noted.

    Args:
        construction: as sent.
        side: what the far side faces, where the construction does not say.
        findings: where problems and warnings go.
        at: JSON pointer of the construction.

    Raises:
        MethodError: an equation refuses the input.
    """
    known = len(findings.problems)
    resolved = [
        _layer(layer, construction, findings, f"{at}/layers/{index}")
        for index, layer in enumerate(construction.layers)
    ]
    tapers = [index for index, layer in enumerate(construction.layers) if isinstance(layer, TaperedLayer)]
    if len(tapers) > 1:
        findings.refuse("not_covered", f"{at}/layers/{tapers[1]}", "one tapered layer in a construction")
    if len(findings.problems) > known:
        return None
    internal, external = _surfaces(construction, side, findings, at)
    totals = _totals(resolved, internal, external, construction.edition == "1996")
    taper_u = _taper(construction, totals, tapers[0]) if tapers else None
    u_value = 1.0 / totals.total_m2k_w if taper_u is None else taper_u
    layers = [layer.layer for layer in resolved]
    warn_of_method_limits(construction, layers, totals.upper_m2k_w, totals.lower_m2k_w, findings, at)
    warn_of_damp(construction, totals.layers_m2k_w, findings, at)
    if construction.corrections is None:
        return LayeredResult(u_value, totals, taper_u, None)
    corrected = correct(
        construction, construction.corrections, u_value, totals.layers_m2k_w, findings, f"{at}/corrections"
    )
    return corrected and LayeredResult(u_value + corrected.taken_w_m2k, totals, taper_u, corrected)


def layer_resistances(construction: Layered, result: LayeredResult) -> list[float]:
    """Return the resistance of each layer as sent, in m²K/W, a tapered layer's being its effective one."""
    resistances = list(result.totals.layers_m2k_w)
    if result.taper_u_value_w_m2k is not None:
        index = next(i for i, layer in enumerate(construction.layers) if isinstance(layer, TaperedLayer))
        resistances[index] += 1.0 / result.taper_u_value_w_m2k - result.totals.total_m2k_w
    return resistances


def _conductivity(part: SolidLayer | Bridge | TaperedLayer, findings: Findings, at: str) -> float | None:
    if (part.conductivity_w_mk is None) == (part.material is None):
        code = "incomplete" if part.material is None else "ambiguous"
        findings.refuse(code, f"{at}/conductivity_w_mk", "give exactly one of conductivity_w_mk and material")  # type: ignore[arg-type]  # both are codes
        return None
    if part.conductivity_w_mk is not None:
        return part.conductivity_w_mk
    row = table("materials").by_id(str(part.material))
    if row is None:
        findings.refuse("not_found", f"{at}/material", f"no row {part.material!r} in /v1/tables/materials")
        return None
    if row["provenance"] in UNSEEN:
        findings.warn_of_memory("materials", f"{at}/material")
    return number(row, "conductivity_w_mk")


def _layer(layer: object, construction: Layered, findings: Findings, at: str) -> _Resolved:
    if isinstance(layer, SolidLayer):
        thickness_m = layer.thickness_mm / 1000.0
        conductivity = _conductivity(layer, findings, at) or 1.0
        bridges = _bridges(layer.bridges, thickness_m, findings, at)
        return _Resolved(iso_6946.Layer(thickness_m / conductivity, bridges))
    if isinstance(layer, ResistanceLayer):
        return _Resolved(iso_6946.Layer(layer.resistance_m2k_w))
    if isinstance(layer, TaperedLayer):
        return _Resolved(
            iso_6946.Layer(layer.minimum_thickness_mm / 1000.0 / _taper_conductivity(layer, findings, at))
        )
    assert isinstance(layer, AirLayer)
    return _air(layer, construction, findings, at)


def _bridges(
    bridges: list[Bridge] | None, thickness_m: float, findings: Findings, at: str
) -> tuple[iso_6946.Bridge, ...]:
    if bridges is None:
        return ()
    if sum(bridge.fraction for bridge in bridges) >= 1.0:
        findings.refuse("contradiction", f"{at}/bridges", "the bridges' fractions must stay under 1 in all")
    return tuple(
        iso_6946.Bridge(
            bridge.fraction,
            thickness_m / (_conductivity(bridge, findings, f"{at}/bridges/{index}") or 1.0),
            bridge.path,
        )
        for index, bridge in enumerate(bridges)
    )


def _taper_conductivity(layer: TaperedLayer, findings: Findings, at: str) -> float:
    if layer.maximum_thickness_mm < layer.minimum_thickness_mm:
        findings.refuse("contradiction", f"{at}/maximum_thickness_mm", "at least minimum_thickness_mm")
    three = layer.shape == "triangle_three_thicknesses"
    middle = layer.intermediate_thickness_mm
    if three and middle is None:
        findings.refuse(
            "incomplete", f"{at}/intermediate_thickness_mm", "needed for triangle_three_thicknesses"
        )
    elif not three and middle is not None:
        findings.refuse(
            "not_allowed_here", f"{at}/intermediate_thickness_mm", "for triangle_three_thicknesses only"
        )
    elif middle is not None and not layer.minimum_thickness_mm <= middle <= layer.maximum_thickness_mm:
        findings.refuse(
            "contradiction", f"{at}/intermediate_thickness_mm", "between the least and the greatest thickness"
        )
    return _conductivity(layer, findings, at) or 1.0


@cache
def _air_layer_points(heat_flow: HeatFlow) -> tuple[tuple[float, float], ...]:
    return tuple(
        sorted(
            (number(row, "thickness_mm") / 1000.0, number(row, "resistance_m2k_w"))
            for row in table("air-layers").rows
            if row["heat_flow"] == heat_flow
        )
    )


def _air(layer: AirLayer, construction: Layered, findings: Findings, at: str) -> _Resolved:
    thickness_m = layer.thickness_mm / 1000.0
    openings = _openings(layer, findings, at)
    if layer.ventilation == "well_ventilated":
        return _Resolved(iso_6946.Layer(0.0), well_ventilated=True)
    if layer.emissivity is None:
        findings.warn(
            "default.air_layer_emissivity",
            f"{at}/emissivity",
            "ordinary faces taken (emissivity 0.9), by the standard's table",
        )
        resistance = iso_6946.tabulated_air_layer(thickness_m, _air_layer_points(construction.heat_flow))
    else:
        resistance = iso_6946.emissive_air_layer(
            thickness_m, construction.heat_flow, layer.emissivity
        ).resistance_m2k_w
    bridges = _bridges(layer.bridges, thickness_m, findings, at)
    if layer.ventilation == "slightly_ventilated":
        return _Resolved(iso_6946.Layer(resistance, bridges), openings_mm2=openings)
    return _Resolved(iso_6946.Layer(resistance, bridges))


def _openings(layer: AirLayer, findings: Findings, at: str) -> float:
    given = [
        (member, value)
        for member, value in (
            ("openings_mm2_per_m", layer.openings_mm2_per_m),
            ("openings_mm2_per_m2", layer.openings_mm2_per_m2),
        )
        if value is not None
    ]
    low, high = VENTILATED_OPENINGS_MM2[layer.ventilation]
    if len(given) > 1:
        findings.refuse(
            "ambiguous", f"{at}/openings_mm2_per_m2", "give openings per m (walls) or per m² (roofs, floors)"
        )
    for member, value in given:
        if not low <= value <= high:
            findings.refuse(
                "contradiction",
                f"{at}/{member}",
                f"a {layer.ventilation} air layer has {low:g} to {high:g} mm² of openings",
            )
        return value
    if layer.ventilation == "slightly_ventilated":
        findings.warn(
            "default.air_layer_openings",
            f"{at}/openings_mm2_per_m",
            "1000 mm² taken, the middle of the class",
        )
    return 1000.0


@cache
def _surface_resistances(heat_flow: HeatFlow) -> tuple[float, float]:
    row = next(row for row in table("surface-resistances").rows if row["heat_flow"] == heat_flow)
    return number(row, "internal_m2k_w"), number(row, "external_m2k_w")


def _surfaces(construction: Layered, side: ExternalSide, findings: Findings, at: str) -> tuple[float, float]:
    internal, external = _surface_resistances(construction.heat_flow)
    if construction.internal_surface_resistance_m2k_w is not None:
        internal = construction.internal_surface_resistance_m2k_w
    if (construction.external_side or side) != "outside":
        external = internal
    cut_off = any(
        isinstance(layer, AirLayer) and layer.ventilation == "well_ventilated"
        for layer in construction.layers
    )
    if construction.external_surface_resistance_m2k_w is not None:
        external = construction.external_surface_resistance_m2k_w
        if cut_off:
            findings.warn(
                "assumption.surface_resistance_replaced",
                f"{at}/external_surface_resistance_m2k_w",
                "the well-ventilated air layer is the outside here: its face has the internal surface resistance",
            )
    return internal, external


def _totals(resolved: list[_Resolved], internal: float, external: float, edition_1996: bool) -> Totals:
    """Total resistances with ventilated air layers dealt with from the inside outwards (ISO 6946, 6.9)."""
    for index, layer in enumerate(resolved):
        if layer.well_ventilated:
            inner = _totals(resolved[:index], internal, internal, edition_1996)
            return inner._replace(layers_m2k_w=inner.layers_m2k_w + (0.0,) * (len(resolved) - index))
        if layer.openings_mm2 is not None:
            if edition_1996:
                return _slightly_ventilated_1996(resolved, index, internal, external)
            return _slightly_ventilated(resolved, index, internal, external)
    total = iso_6946.total_resistance([layer.layer for layer in resolved], internal, external)
    return Totals(
        total.total_m2k_w,
        total.upper_m2k_w,
        total.lower_m2k_w,
        internal,
        external,
        total.layer_resistances_m2k_w,
        total.sections,
    )


def _slightly_ventilated(resolved: list[_Resolved], index: int, internal: float, external: float) -> Totals:
    """Between the component with this air layer unventilated and with it well ventilated (ISO 6946:2017, 6.9.3)."""
    openings = resolved[index].openings_mm2
    assert openings is not None
    as_unventilated = [*resolved[:index], _Resolved(resolved[index].layer), *resolved[index + 1 :]]
    as_well_ventilated = [
        *resolved[:index],
        _Resolved(resolved[index].layer, well_ventilated=True),
        *resolved[index + 1 :],
    ]
    still = _totals(as_unventilated, internal, external, edition_1996=False)
    open_ = _totals(as_well_ventilated, internal, external, edition_1996=False)
    share = iso_6946.unventilated_share(openings)

    def between(unventilated: float, well_ventilated: float) -> float:
        # What holds for the total resistance holds for each of its parts, which may be zero.
        return well_ventilated + share * (unventilated - well_ventilated)

    return Totals(
        iso_6946.slightly_ventilated_total(openings, still.total_m2k_w, open_.total_m2k_w),
        between(still.upper_m2k_w, open_.upper_m2k_w),
        between(still.lower_m2k_w, open_.lower_m2k_w),
        internal,
        between(still.external_surface_m2k_w, open_.external_surface_m2k_w),
        tuple(map(between, still.layers_m2k_w, open_.layers_m2k_w)),
        still.sections,
    )


def _slightly_ventilated_1996(
    resolved: list[_Resolved], index: int, internal: float, external: float
) -> Totals:
    """Half the air layer's resistance, and no more than 0.15 m²K/W outside it (ISO 6946:1996, 5.3.3)."""
    outer = [layer.layer for layer in resolved[index + 1 :]]
    if any(layer.bridges for layer in outer) or any(
        layer.openings_mm2 is not None for layer in resolved[index + 1 :]
    ):
        raise OutOfScope(
            "the 1996 rule for slightly ventilated air layers needs plain layers outside the air layer",
            field="edition",
            value="1996",
            limit="no bridges and one ventilated air layer",
            clause="ISO 6946:1996, 5.3.3",
        )
    outer_m2k_w = sum(layer.resistance_m2k_w for layer in outer)
    air_m2k_w, capped_m2k_w = iso_6946.slightly_ventilated_1996(
        resolved[index].layer.resistance_m2k_w, outer_m2k_w
    )
    share = capped_m2k_w / outer_m2k_w if outer_m2k_w else 1.0
    halved = resolved[index].layer
    ratio = air_m2k_w / halved.resistance_m2k_w if halved.resistance_m2k_w else 1.0
    halved = halved._replace(
        resistance_m2k_w=air_m2k_w,
        bridges=tuple(
            bridge._replace(resistance_m2k_w=bridge.resistance_m2k_w * ratio) for bridge in halved.bridges
        ),
    )
    scaled = [_Resolved(iso_6946.Layer(layer.resistance_m2k_w * share)) for layer in outer]
    return _totals([*resolved[:index], _Resolved(halved), *scaled], internal, external, edition_1996=True)


def _taper(construction: Layered, totals: Totals, index: int) -> float:
    layer = construction.layers[index]
    assert isinstance(layer, TaperedLayer)
    ventilated = [
        i
        for i, other in enumerate(construction.layers)
        if isinstance(other, AirLayer) and other.ventilation != "unventilated"
    ]
    if ventilated:
        raise OutOfScope(
            "a tapered layer together with a ventilated air layer",
            field="layers",
            value=index,
            limit="unventilated air layers beside a tapered layer",
            clause="ISO 6946:2017, annex on tapered layers",
        )
    conductivity = layer.conductivity_w_mk
    if conductivity is None:
        row = table("materials").by_id(str(layer.material))
        assert row is not None, "checked when the layer was resolved"
        conductivity = number(row, "conductivity_w_mk")

    def above_thinnest(thickness_mm: float) -> float:
        return (thickness_mm - layer.minimum_thickness_mm) / 1000.0 / conductivity

    middle = layer.intermediate_thickness_mm
    return iso_6946.tapered_u_value(
        layer.shape,
        totals.total_m2k_w,
        above_thinnest(layer.maximum_thickness_mm),
        None if middle is None else above_thinnest(middle),
    )
