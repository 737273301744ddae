"""How thick must one layer be for the construction to reach a U-value?"""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building import construction_workings as worked
from warmstead.building.cautions import caution
from warmstead.building.constructions import Transmittance, resolve
from warmstead.building.findings import Findings, Warning, WarningCode
from warmstead.building.house import default_annex
from warmstead.building.search import first_reached
from warmstead.building.statements import Basis, Step, basis
from warmstead.standards import iso_6946
from warmstead.survey.constructions import Layered, LayerIndex, SolidLayer
from warmstead.survey.document import Document
from warmstead.survey.quantities import UValue, stated

TITLE = "Thickness of a layer that reaches a U-value"
DESCRIPTION = (
    "The inverse of the U-value (ISO 6946): the least thickness of one solid layer with which the construction reaches a target, "
    "or a refusal that says what can be reached."
)
WORK_CAUTIONS: tuple[WarningCode, ...] = (
    "caution.fire_behaviour",
    "caution.cables_in_insulation",
    "caution.asbestos",
    "caution.listed_building",
)
GREATEST_THICKNESS_MM = 5000.0
SMALLEST_THICKNESS_MM = 1e-6
"""Stands for a layer left out: a thickness of 0 is no layer."""
SEARCH_WIDTH_MM = 1e-9


class RequiredThicknessRequest(Document):
    """A construction, one of its layers, and the U-value to reach."""

    construction: Layered = Field(description="The construction; the layer's own thickness does not matter.")
    layer: LayerIndex = Field(
        description="Index of the solid layer whose thickness is sought, from 0 at the inside."
    )
    target_u_value_w_m2k: UValue = Field(description="U-value to reach.")


class RequiredThicknessResult(TypedDict):
    """The least thickness, and the U-value with it."""

    thickness_mm: Annotated[float, stated("mm", "Least thickness, unrounded; 0 where the rest suffices.")]
    u_value_w_m2k: Annotated[float, stated("W/(m2.K)", "U-value with that thickness.")]
    stated: Annotated[str, Field(description="That U-value with two decimals.")]
    u_value_without_layer_w_m2k: Annotated[float, stated("W/(m2.K)", "U-value without the layer.")]
    workings: NotRequired[
        Annotated[list[Step], Field(description="Each step with that thickness, where asked for.")]
    ]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: RequiredThicknessRequest, *, workings: bool = False) -> RequiredThicknessResult:
    """Return the least thickness of a layer that reaches a U-value.

    Args:
        request: construction, layer and target.
        workings: whether to list each step with that thickness.

    Raises:
        Refused: the construction is refused, the layer is not a solid one, or no thickness reaches the target.
    """
    findings = Findings()
    annex = default_annex()
    layers = request.construction.layers
    if request.layer >= len(layers) or not isinstance(layers[request.layer], SolidLayer):
        solid = [index for index, layer in enumerate(layers) if isinstance(layer, SolidLayer)]
        findings.refuse("not_found", "/layer", f"no solid layer {request.layer}; solid layers here: {solid}")
        findings.stop_if_refused()

    def with_thickness(thickness_mm: float, into: Findings) -> Transmittance | None:
        return resolve(_resized(request, thickness_mm), "outside", annex, into, "/construction")

    def u_value(thickness_mm: float) -> float:
        found = Findings()
        transmittance = with_thickness(thickness_mm, found)
        found.stop_if_refused()
        assert transmittance is not None
        return transmittance.u_value_w_m2k

    without = u_value(SMALLEST_THICKNESS_MM)
    steadily = request.construction.corrections is None
    thickness = _least_thickness(u_value, request.target_u_value_w_m2k, steadily, without, findings)
    findings.stop_if_refused()
    transmittance = with_thickness(max(thickness, SMALLEST_THICKNESS_MM), findings)
    assert transmittance is not None, "it was resolved before"
    for code in WORK_CAUTIONS:
        caution(findings, code, f"/construction/layers/{request.layer}")
    result: RequiredThicknessResult = {
        "thickness_mm": thickness,
        "u_value_w_m2k": transmittance.u_value_w_m2k,
        "stated": iso_6946.stated(transmittance.u_value_w_m2k),
        "u_value_without_layer_w_m2k": without,
        "basis": basis(annex),
        "warnings": findings.warnings(),
    }
    if workings:
        resized = _resized(request, max(thickness, SMALLEST_THICKNESS_MM))
        result["workings"] = worked.construction_steps("construction", resized, transmittance)
    return result


def _resized(request: RequiredThicknessRequest, thickness_mm: float) -> Layered:
    """Return the construction with the layer at a thickness; fasteners through it then go right through."""
    construction = request.construction
    layers = list(construction.layers)
    layers[request.layer] = layers[request.layer].model_copy(update={"thickness_mm": thickness_mm})
    corrections = construction.corrections
    if corrections is not None and corrections.fasteners:
        fasteners = [
            fastener.model_copy(update={"penetration_mm": None})
            if fastener.layer == request.layer
            else fastener
            for fastener in corrections.fasteners
        ]
        corrections = corrections.model_copy(update={"fasteners": fasteners})
    return construction.model_copy(update={"layers": layers, "corrections": corrections})


def _least_thickness(
    u_value: Callable[[float], float], target: float, steadily: bool, without: float, findings: Findings
) -> float:
    """Return the least thickness in mm: a walk to the first place that reaches the target, then a search before it.

    A walk, since corrections that are left out under 3 % make the U-value jump up a little where they come in; one step of it is
    enough where the U-value falls steadily.
    """
    if without <= target:
        findings.warn(
            "unusual.already_reached",
            "/target_u_value_w_m2k",
            f"{without:.4g} W/(m²·K) is reached without the layer",
        )
        return 0.0

    def excess(thickness_mm: float) -> float:
        value = u_value(thickness_mm)
        return (target - value) / value  # all but straight, as a resistance is

    below, below_by = SMALLEST_THICKNESS_MM, (target - without) / without
    nearest = below_by
    for thickness in _WALK_MM[-1:] if steadily else _WALK_MM:
        reached_by = excess(thickness)
        if reached_by >= 0.0:
            return first_reached(excess, below, thickness, below_by, reached_by, SEARCH_WIDTH_MM)
        nearest = max(nearest, reached_by)
        below, below_by = thickness, reached_by
    findings.refuse(
        "unreachable",
        "/target_u_value_w_m2k",
        f"no thickness of this layer reaches it: {target / (1.0 + nearest):.4g} W/(m²·K) is the lowest up to {GREATEST_THICKNESS_MM:g} mm",
    )
    return 0.0


_STEPS = 60
_WALK_MM = [GREATEST_THICKNESS_MM ** (step / _STEPS) for step in range(_STEPS + 1)]
"""Thicknesses from 1 mm to the greatest, evenly spaced in their logarithm."""
