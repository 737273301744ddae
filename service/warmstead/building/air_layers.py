"""Air layers resolved for ISO 6946: their resistance, and how far they are ventilated."""

from __future__ import annotations

from functools import cache

from warmstead.building.annex import number
from warmstead.building.findings import Findings
from warmstead.building.pointers import Place
from warmstead.standards import iso_6946
from warmstead.survey.constructions import AirLayer, HeatFlow
from warmstead.tables import table

OPENINGS_MM2 = {
    "unventilated": (0.0, 500.0),
    "slightly_ventilated": (500.0, 1500.0),
    "well_ventilated": (1500.0, 1_000_000.0),
}
"""Openings to outside by class of air layer, mm² per metre or square metre (ISO 6946:2017, 6.9.2 to 6.9.4)."""
MIDDLE_OPENINGS_MM2 = 1000.0
"""Of a slightly ventilated layer whose openings nobody measured."""


def unventilated_resistance(layer: AirLayer, heat_flow: HeatFlow, findings: Findings, at: Place) -> float:
    """Return an air layer's resistance as if it were unventilated, m²K/W.

    Args:
        layer: as sent.
        heat_flow: direction of heat flow of the construction.
        findings: where warnings go.
        at: place of the layer.

    Raises:
        OutOfScope: the layer is thicker than the method covers.
    """
    thickness_m = layer.thickness_mm / 1000.0
    if layer.emissivity is not None:
        return iso_6946.emissive_air_layer(thickness_m, heat_flow, layer.emissivity).resistance_m2k_w
    findings.warn(
        "default.air_layer_emissivity",
        f"{at}/emissivity",
        "ordinary faces taken (emissivity 0.9), by the standard's table",
    )
    return iso_6946.tabulated_air_layer(thickness_m, _points(heat_flow))


def openings_mm2(layer: AirLayer, findings: Findings, at: Place) -> float:
    """Return an air layer's openings to outside, mm² per metre or square metre, checked against its class."""
    low, high = OPENINGS_MM2[layer.ventilation]
    member, given = "openings_mm2_per_m", layer.openings_mm2_per_m
    if layer.openings_mm2_per_m2 is not None:
        if given is not None:
            findings.refuse(
                "ambiguous",
                f"{at}/openings_mm2_per_m2",
                "give openings per m (walls) or per m² (roofs, floors)",
            )
        member, given = "openings_mm2_per_m2", layer.openings_mm2_per_m2
    if given is None:
        if layer.ventilation == "slightly_ventilated":
            findings.warn(
                "default.air_layer_openings", f"{at}/{member}", "1000 mm² taken, the middle of the class"
            )
        return MIDDLE_OPENINGS_MM2
    if not low <= given <= high:
        detail = f"a {layer.ventilation} air layer has {low:g} to {high:g} mm² of openings"
        findings.refuse("contradiction", f"{at}/{member}", detail)
    return given


@cache
def _points(heat_flow: HeatFlow) -> tuple[tuple[float, float], ...]:
    return tuple(
        sorted(
            (number(row, "thickness_mm") / 1000.0, number(row, "resistance_m2k_w"))
            for row in table("air-layers").rows
            if row["heat_flow"] == heat_flow
        )
    )
