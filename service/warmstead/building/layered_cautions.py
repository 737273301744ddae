"""Cautions that a layered construction calls for: where its method ends, and where damp can do harm."""

from __future__ import annotations

from collections.abc import Sequence

from warmstead.building.cautions import caution
from warmstead.building.findings import Findings
from warmstead.building.pointers import Place
from warmstead.standards import iso_6946
from warmstead.survey.constructions import Layer, Layered

LARGEST_LIMIT_RATIO = 1.5
"""Upper over lower limit up to which the method holds (ISO 6946:2017, 6.7.2)."""
METAL_CONDUCTIVITY_W_MK = 10.0
"""At or over this a bridge counts as metal, for which the two limits are no bounds (ISO 6946:2017, 6.7.2)."""
INSULATION_CONDUCTIVITY_W_MK = 0.065
"""At or under this a solid layer counts as insulation, for cautions only (common practice)."""
INSULATION_RESISTANCE_M2K_W = 0.3
MASONRY_CONDUCTIVITY_W_MK = 0.1
"""At or over this, and as thick as the next number, a layer counts as masonry: aerated blocks begin there."""
MASONRY_THICKNESS_MM = 75.0


def warn_of_method_limits(
    construction: Layered,
    layers: Sequence[iso_6946.Layer],
    upper_m2k_w: float,
    lower_m2k_w: float,
    findings: Findings,
    at: Place,
) -> None:
    """Warn where the two limits are too far apart, or a bridge is of metal.

    Args:
        construction: as sent.
        layers: the same layers in numbers.
        upper_m2k_w: upper limit of the total resistance.
        lower_m2k_w: lower limit.
        findings: where warnings go.
        at: JSON pointer of the construction.
    """
    if upper_m2k_w > LARGEST_LIMIT_RATIO * lower_m2k_w:
        findings.warn(
            "caution.method_limit",
            str(at),
            "upper and lower limit differ by more than 1.5: a numerical calculation (ISO 10211) is needed",
        )
    for index, layer in enumerate(layers):
        if not layer.bridges:
            continue
        thickness_m = getattr(construction.layers[index], "thickness_mm", 0.0) / 1000.0
        for which, bridge in enumerate(layer.bridges):
            if thickness_m >= METAL_CONDUCTIVITY_W_MK * bridge.resistance_m2k_w:
                findings.warn(
                    "caution.method_limit",
                    f"{at}/layers/{index}/bridges/{which}",
                    "metal bridges are outside this method: a numerical calculation (ISO 10211) is needed",
                )


def warn_of_damp(construction: Layered, layers_m2k_w: Sequence[float], findings: Findings, at: Place) -> None:
    """Warn where insulation stands on the inside of a wall's masonry, or fills its cavity.

    Args:
        construction: as sent.
        layers_m2k_w: resistance of each layer.
        findings: where warnings go.
        at: JSON pointer of the construction.
    """
    if max(layers_m2k_w) < INSULATION_RESISTANCE_M2K_W:
        return
    kinds = [
        _sort(layer, resistance) for layer, resistance in zip(construction.layers, layers_m2k_w, strict=True)
    ]
    for index, kind in enumerate(kinds):
        if kind != "insulation":
            continue
        next_outwards = next((other for other in kinds[index + 1 :] if other != "other"), "other")
        if next_outwards == "masonry":
            fills_cavity = "masonry" in kinds[:index]
            caution(
                findings, "caution.filled_cavity" if fills_cavity else "caution.internal_insulation", str(at)
            )


def _sort(layer: Layer, resistance_m2k_w: float) -> str:
    if layer.kind == "air":
        return "air"
    if layer.kind != "solid" or resistance_m2k_w <= 0.0:
        return "other"
    conductivity = layer.thickness_mm / 1000.0 / resistance_m2k_w
    if conductivity <= INSULATION_CONDUCTIVITY_W_MK and resistance_m2k_w >= INSULATION_RESISTANCE_M2K_W:
        return "insulation"
    if conductivity >= MASONRY_CONDUCTIVITY_W_MK and layer.thickness_mm >= MASONRY_THICKNESS_MM:
        return "masonry"
    return "other"
