"""What does one element of known U-value lose?"""

from __future__ import annotations

from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.findings import Findings, Warning
from warmstead.building.house import default_annex
from warmstead.building.rooms import Face
from warmstead.building.statements import Basis, Step, basis
from warmstead.building.steps import Steps
from warmstead.standards import en_12831
from warmstead.survey.document import Document, MayBeAbsent
from warmstead.survey.quantities import (
    AdjacentTemperature,
    Area,
    OutsideTemperature,
    ReductionFactor,
    RoomTemperature,
    Surcharge,
    UValueOrNone,
    stated,
)

TITLE = "Heat loss of one element"
DESCRIPTION = (
    "What one wall, floor, roof, window or door of known area and U-value loses (EN 12831): to outside, to an unheated space by "
    "its temperature reduction factor, or to a space of known temperature."
)


class ElementLossRequest(Document):
    """One element, what is inside and what is behind it."""

    area_m2: Area = Field(description="Area through which the heat goes, openings taken off.")
    u_value_w_m2k: UValueOrNone = Field(description="U-value.")
    internal_temperature_c: RoomTemperature = Field(description="Design temperature of the room.")
    external_temperature_c: MayBeAbsent[OutsideTemperature] = Field(
        None, description="Outside design temperature; this or `adjacent_temperature_c`."
    )
    temperature_reduction_factor: MayBeAbsent[ReductionFactor] = Field(
        None,
        description="b of an unheated space behind the element, with `external_temperature_c`; absent: the element is on outside.",
    )
    adjacent_temperature_c: MayBeAbsent[AdjacentTemperature] = Field(
        None,
        description="Temperature behind the element, where it is known; in place of `external_temperature_c`.",
    )
    surcharge_w_m2k: MayBeAbsent[Surcharge] = Field(
        None, description="Surcharge for thermal bridges; none where absent."
    )


class ElementLossResult(TypedDict):
    """`heat_loss_w` = (`area_m2` · `u_value_w_m2k` + `thermal_bridge_w_k`) · `temperature_difference_k`."""

    heat_loss_w: Annotated[float, stated("W", "Heat loss; negative where heat comes in.")]
    thermal_bridge_w_k: Annotated[float, stated("W/K", "Thermal bridges: surcharge times area.")]
    temperature_difference_k: Annotated[float, stated("K", "Effective difference, after the factor.")]
    heat_loss_coefficient_w_k: Annotated[
        float, stated("W/K", "Area times U-value, and thermal bridges, for each kelvin of that difference.")
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: ElementLossRequest, *, workings: bool = False) -> ElementLossResult:
    """Return what an element loses.

    Args:
        request: the element, what is inside and what is behind it.
        workings: whether to list each step.

    Raises:
        Refused: nothing, or two different things, are behind the element.
    """
    findings = Findings()
    difference = _difference(request, findings)
    findings.stop_if_refused()
    if request.surcharge_w_m2k is None:
        findings.warn(
            "default.thermal_bridges", "/surcharge_w_m2k", "none taken: the U-value is to hold them already"
        )
    bridge_w_k = (request.surcharge_w_m2k or 0.0) * request.area_m2
    face = Face(
        "element", "element", "", "", request.area_m2, request.u_value_w_m2k, bridge_w_k, opening_of=None
    )
    face.set_difference(difference)
    result: ElementLossResult = {
        "heat_loss_w": face.heat_loss_w,
        "thermal_bridge_w_k": bridge_w_k,
        "temperature_difference_k": difference,
        "heat_loss_coefficient_w_k": face.coefficient_w_k,
        "basis": basis(default_annex()),
        "warnings": findings.warnings(),
    }
    if workings:
        result["workings"] = _workings(request, result)
    return result


def _difference(request: ElementLossRequest, findings: Findings) -> float:
    """Return the effective temperature difference, K."""
    inside, outside = request.internal_temperature_c, request.external_temperature_c
    behind, factor = request.adjacent_temperature_c, request.temperature_reduction_factor
    if behind is not None:
        for member, value in (("external_temperature_c", outside), ("temperature_reduction_factor", factor)):
            if value is not None:
                findings.refuse(
                    "ambiguous", f"/{member}", f"give {member} or adjacent_temperature_c, not both"
                )
        return inside - behind
    if outside is None:
        findings.refuse(
            "incomplete",
            "/external_temperature_c",
            "give external_temperature_c, or adjacent_temperature_c where it is known",
        )
        return 0.0
    return inside - outside if factor is None else en_12831.reduced_difference(inside, outside, factor)


def _workings(request: ElementLossRequest, result: ElementLossResult) -> list[Step]:
    steps = Steps("element")
    if request.adjacent_temperature_c is not None:
        equation, clause = "θ_i − θ behind the element", "EN 12831:2003, 7.1.4"
    elif request.temperature_reduction_factor is not None:
        equation, clause = f"{request.temperature_reduction_factor:g} · (θ_i − θ_e)", "EN 12831:2003, 7.1.2"
    else:
        equation, clause = "θ_i − θ_e", "EN 12831:2003, 7.1.1"
    difference = result["temperature_difference_k"]
    steps.add("effective temperature difference", "Δθ", difference, "K", equation, clause)
    bridges = result["thermal_bridge_w_k"]
    steps.add("thermal bridges", "H_tb", bridges, "W/K", "surcharge · A", "EN 12831:2003, 7.1.1")
    equation = f"({request.area_m2:.6g} · {request.u_value_w_m2k:.6g} + {bridges:.6g}) · {difference:.6g}"
    steps.add("heat loss", "Φ", result["heat_loss_w"], "W", equation, clause)
    return steps.steps
