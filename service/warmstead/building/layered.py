"""Layered constructions resolved for ISO 6946: layers, ventilated cavities, tapers, corrections."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import cache
from typing import NamedTuple

from warmstead.building.air_layers import openings_mm2, unventilated_resistance
from warmstead.building.annex import Default, default
from warmstead.building.corrections import Corrected, correct
from warmstead.building.findings import Findings
from warmstead.building.layered_cautions import warn_of_damp, warn_of_method_limits
from warmstead.building.materials import conductivity
from warmstead.building.pointers import Place, Pointer
from warmstead.standards import iso_6946
from warmstead.standards.errors import OutOfScope
from warmstead.survey.constructions import Bridge, ExternalSide, HeatFlow, Layer, Layered, TaperedLayer
from warmstead.tables import table

WELL_VENTILATED = math.inf
"""In place of openings: this layer and all outside it are left out."""

Ventilated = Mapping[int, float]
"""Openings in mm² of the ventilated air layers, by their index."""


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
    between: Between | None = None
    """The two components between which a slightly ventilated air layer lies, where there is one."""


class Between(NamedTuple):
    """A component with a slightly ventilated air layer, as if still and as if moving freely."""

    openings_mm2: float
    unventilated: Totals
    well_ventilated: Totals


class LayeredResult(NamedTuple):
    """The U-value of a layered construction and every number on the way to it."""

    u_value_w_m2k: float
    totals: Totals
    taper_u_value_w_m2k: float | None
    corrected: Corrected | None
    """The corrections, None where none were asked for."""


def resolve_layered(
    construction: Layered, side: ExternalSide, findings: Findings, at: Place
) -> LayeredResult | None:
    """Return the U-value of a layered construction, or None with problems noted.

    Args:
        construction: as sent.
        side: what the far side faces, where the construction does not say.
        findings: where problems and warnings go.
        at: place of the construction.

    Raises:
        MethodError: an equation refuses the input.
    """
    known = len(findings.problems)
    heat_flow = construction.heat_flow
    layers: list[iso_6946.Layer] = []
    ventilated: dict[int, float] = {}
    taper: TaperedLayer | None = None
    for index, layer in enumerate(construction.layers):
        place = Pointer(at, "layers", index)
        layers.append(_layer(layer, heat_flow, findings, place))
        if layer.kind == "solid":
            continue
        if layer.kind == "air":
            openings = openings_mm2(layer, findings, place)
            if layer.ventilation != "unventilated":
                ventilated[index] = WELL_VENTILATED if layer.ventilation == "well_ventilated" else openings
        elif layer.kind == "tapered":
            if taper is not None:
                findings.refuse("not_covered", str(place), "one tapered layer in a construction")
            taper = layer
    if len(findings.problems) > known:
        return None
    internal, external = _surfaces(construction, side, ventilated, findings, at)
    totals = _totals(layers, ventilated, internal, external, construction.edition == "1996")
    taper_u = None if taper is None else _taper(taper, totals, ventilated, findings, at)
    u_value = 1.0 / totals.total_m2k_w if taper_u is None else taper_u
    if len(totals.sections) > 1:
        warn_of_method_limits(construction, layers, totals.upper_m2k_w, totals.lower_m2k_w, findings, at)
    if heat_flow == "horizontal":
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
        index = next(i for i, layer in enumerate(construction.layers) if layer.kind == "tapered")
        resistances[index] += 1.0 / result.taper_u_value_w_m2k - result.totals.total_m2k_w
    return resistances


def _layer(layer: Layer, heat_flow: HeatFlow, findings: Findings, at: Place) -> iso_6946.Layer:
    """Return a layer in numbers, an air layer as if unventilated and a tapered one at its thinnest."""
    if layer.kind == "solid":
        thickness_m = layer.thickness_mm / 1000.0
        resistance = thickness_m / conductivity(layer, findings, at)
        bridges = layer.bridges
        if bridges is None:
            return iso_6946.Layer(resistance)
        return iso_6946.Layer(resistance, _bridges(bridges, thickness_m, findings, at))
    if layer.kind == "resistance":
        return iso_6946.Layer(layer.resistance_m2k_w)
    if layer.kind == "tapered":
        _check_taper(layer, findings, at)
        return iso_6946.Layer(layer.minimum_thickness_mm / 1000.0 / conductivity(layer, findings, at))
    if layer.ventilation == "well_ventilated":
        return iso_6946.Layer(0.0)  # cut off, whatever it is
    resistance = unventilated_resistance(layer, heat_flow, findings, at)
    if layer.bridges is None:
        return iso_6946.Layer(resistance)
    return iso_6946.Layer(resistance, _bridges(layer.bridges, layer.thickness_mm / 1000.0, findings, at))


def _bridges(
    bridges: list[Bridge], thickness_m: float, findings: Findings, at: Place
) -> tuple[iso_6946.Bridge, ...]:
    if sum([bridge.fraction for bridge in bridges]) >= 1.0:
        findings.refuse("contradiction", f"{at}/bridges", "the bridges' fractions must stay under 1 in all")
    return tuple(
        [
            iso_6946.Bridge(
                bridge.fraction,
                thickness_m / conductivity(bridge, findings, Pointer(at, "bridges", index)),
                bridge.path,
            )
            for index, bridge in enumerate(bridges)
        ]
    )


def _check_taper(layer: TaperedLayer, findings: Findings, at: Place) -> None:
    if layer.maximum_thickness_mm < layer.minimum_thickness_mm:
        findings.refuse("contradiction", f"{at}/maximum_thickness_mm", "at least minimum_thickness_mm")
    three = layer.shape == "triangle_three_thicknesses"
    middle = layer.intermediate_thickness_mm
    place = f"{at}/intermediate_thickness_mm"
    if three and middle is None:
        findings.refuse("incomplete", place, "needed for triangle_three_thicknesses")
    elif not three and middle is not None:
        findings.refuse("not_allowed_here", place, "for triangle_three_thicknesses only")
    elif middle is not None and not layer.minimum_thickness_mm <= middle <= layer.maximum_thickness_mm:
        findings.refuse("contradiction", place, "between the least and the greatest thickness")


@cache
def _surface_resistances(heat_flow: HeatFlow) -> tuple[Default, Default]:
    row = next(row for row in table("surface-resistances").rows if row["heat_flow"] == heat_flow)
    return default(row, "internal_m2k_w", "surface-resistances"), default(
        row, "external_m2k_w", "surface-resistances"
    )


def _surfaces(
    construction: Layered, side: ExternalSide, ventilated: Ventilated, findings: Findings, at: Place
) -> tuple[float, float]:
    """Return the internal and external surface resistance, m²K/W."""
    inside, outside = _surface_resistances(construction.heat_flow)
    internal, external = inside.value, outside.value
    if construction.internal_surface_resistance_m2k_w is not None:
        internal = construction.internal_surface_resistance_m2k_w
    elif not inside.seen:
        findings.warn_of_memory(inside.table, f"{at}/heat_flow")
    if (construction.external_side or side) != "outside":
        external = internal
    if construction.external_surface_resistance_m2k_w is not None:
        external = construction.external_surface_resistance_m2k_w
        if WELL_VENTILATED in ventilated.values():
            findings.warn(
                "assumption.surface_resistance_replaced",
                f"{at}/external_surface_resistance_m2k_w",
                "the well-ventilated air layer is the outside here: its face has the internal surface resistance",
            )
    return internal, external


def _totals(
    layers: Sequence[iso_6946.Layer],
    ventilated: Ventilated,
    internal: float,
    external: float,
    edition_1996: bool,
) -> Totals:
    """Total resistances: cut off at a well-ventilated air layer, then slightly ventilated ones (ISO 6946, 6.9)."""
    if ventilated and WELL_VENTILATED in ventilated.values():
        index = min(place for place, openings in ventilated.items() if openings == WELL_VENTILATED)
        within = {place: openings for place, openings in ventilated.items() if place < index}
        inner = _totals(layers[:index], within, internal, internal, edition_1996)
        cut_off = (0.0,) * (len(layers) - index)
        return inner._replace(layers_m2k_w=inner.layers_m2k_w + cut_off)
    if ventilated and edition_1996:
        return _slightly_ventilated_1996(layers, ventilated, internal, external)
    if ventilated:
        return _slightly_ventilated(layers, ventilated, internal, external)
    total, upper, lower, _, resistances, sections = iso_6946.total_resistance(layers, internal, external)
    return Totals(total, upper, lower, internal, external, resistances, sections)


def _slightly_ventilated(
    layers: Sequence[iso_6946.Layer], ventilated: Ventilated, internal: float, external: float
) -> Totals:
    """Between the component with this air layer unventilated and with it well ventilated (ISO 6946:2017, 6.9.3)."""
    index = min(ventilated)
    openings = ventilated[index]
    further = {other: value for other, value in ventilated.items() if other != index}
    still = _totals(layers, further, internal, external, edition_1996=False)
    moving = _totals(layers, {index: WELL_VENTILATED}, internal, external, edition_1996=False)
    share = iso_6946.unventilated_share(openings)

    def between(unventilated: float, well_ventilated: float) -> float:
        # What holds for the total resistance holds for each of its parts, which may be zero.
        return well_ventilated + share * (unventilated - well_ventilated)

    return Totals(
        iso_6946.slightly_ventilated_total(openings, still.total_m2k_w, moving.total_m2k_w),
        between(still.upper_m2k_w, moving.upper_m2k_w),
        between(still.lower_m2k_w, moving.lower_m2k_w),
        internal,
        between(still.external_surface_m2k_w, moving.external_surface_m2k_w),
        tuple(map(between, still.layers_m2k_w, moving.layers_m2k_w)),
        still.sections,
        Between(openings, still, moving),
    )


def _slightly_ventilated_1996(
    layers: Sequence[iso_6946.Layer], ventilated: Ventilated, internal: float, external: float
) -> Totals:
    """Half the air layer's resistance, and no more than 0.15 m²K/W outside it (ISO 6946:1996, 5.3.3)."""
    index = min(ventilated)
    outer = layers[index + 1 :]
    if any(layer.bridges for layer in outer) or len(ventilated) > 1:
        raise OutOfScope(
            "the 1996 rule for slightly ventilated air layers needs plain layers outside the air layer",
            field="edition",
            value="1996",
            limit="no bridges outside it, and one slightly ventilated air layer",
            clause="ISO 6946:1996, 5.3.3",
        )
    outer_m2k_w = sum(layer.resistance_m2k_w for layer in outer)
    air_m2k_w, capped_m2k_w = iso_6946.slightly_ventilated_1996(layers[index].resistance_m2k_w, outer_m2k_w)
    counted = [
        *layers[:index],
        layers[index]._replace(resistance_m2k_w=air_m2k_w),
        *(_scaled(layer, capped_m2k_w, outer_m2k_w) for layer in outer),
    ]
    return _totals(counted, {}, internal, external, edition_1996=True)


def _scaled(layer: iso_6946.Layer, part: float, whole: float) -> iso_6946.Layer:
    return iso_6946.Layer(layer.resistance_m2k_w * part / whole if whole else 0.0)


def _taper(
    layer: TaperedLayer, totals: Totals, ventilated: Ventilated, findings: Findings, at: Place
) -> float:
    """Return the U-value with a tapered layer, W/(m²·K)."""
    if ventilated:
        raise OutOfScope(
            "a tapered layer together with a ventilated air layer",
            field="layers",
            value=len(ventilated),
            limit="unventilated air layers beside a tapered layer",
            clause="ISO 6946:2017, annex on tapered layers",
        )
    conductivity_w_mk = conductivity(layer, findings, at)

    def above_thinnest(thickness_mm: float) -> float:
        return (thickness_mm - layer.minimum_thickness_mm) / 1000.0 / conductivity_w_mk

    middle = layer.intermediate_thickness_mm
    return iso_6946.tapered_u_value(
        layer.shape,
        totals.total_m2k_w,
        above_thinnest(layer.maximum_thickness_mm),
        None if middle is None else above_thinnest(middle),
    )
