"""What does this radiator give at these water temperatures?"""

from __future__ import annotations

from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.cautions import caution
from warmstead.building.emitters import DEFAULT_EXPONENT, HOT_SURFACE_C, STANDARD_EXCESS_K
from warmstead.building.findings import Findings, Warning
from warmstead.building.house import default_annex
from warmstead.building.room_emitters import check_order
from warmstead.building.statements import Basis, Step, basis
from warmstead.building.steps import Steps
from warmstead.standards import en_442, water
from warmstead.survey.document import Document, MayBeAbsent
from warmstead.survey.quantities import (
    ExcessTemperature,
    Exponent,
    OutputFactor,
    Power,
    RoomTemperature,
    WaterTemperature,
    stated,
)

TITLE = "Output of a radiator"
DESCRIPTION = (
    "What a radiator or convector of known standard output gives at a flow, return and room temperature (EN 442), and how much "
    "water it needs for that."
)


class RadiatorOutputRequest(Document):
    """A radiator, its water and its room."""

    standard_output_w: Power = Field(description="Output at the standard excess temperature.")
    flow_temperature_c: WaterTemperature = Field(description="Water entering.")
    return_temperature_c: WaterTemperature = Field(description="Water leaving; above the room's temperature.")
    room_temperature_c: RoomTemperature = Field(description="The room.")
    standard_excess_temperature_k: MayBeAbsent[ExcessTemperature] = Field(
        None,
        description="Mean water temperature above the room's at which the standard output holds; 50 K (EN 442) where absent.",
    )
    exponent: MayBeAbsent[Exponent] = Field(None, description="The maker's exponent; 1.3 where absent.")
    output_factor: MayBeAbsent[OutputFactor] = Field(
        None, description="Factor for covers, shelves, paint or connection; absent: no such effect."
    )


class RadiatorOutputResult(TypedDict):
    """What the radiator gives, and how that follows."""

    output_w: Annotated[float, stated("W", "Output at these temperatures.")]
    excess_temperature_k: Annotated[float, stated("K", "Excess of the water over the room.")]
    mean: Annotated[en_442.Mean, Field(description="Mean by which the excess temperature was taken.")]
    output_share: Annotated[
        float, stated("1", "Output over standard output: the correction factor, `output_factor` included.")
    ]
    flow_l_s: NotRequired[
        Annotated[float, stated("L/s", "Water flow; absent where flow and return are equal.")]
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: RadiatorOutputRequest, *, workings: bool = False) -> RadiatorOutputResult:
    """Return what a radiator gives.

    Args:
        request: the radiator, its water and its room.
        workings: whether to list each step.

    Raises:
        Refused: the return is above the flow, or not above the room.
    """
    findings = Findings()
    flow_c, return_c, room_c = (
        request.flow_temperature_c,
        request.return_temperature_c,
        request.room_temperature_c,
    )
    check_order(flow_c, return_c, "", findings)
    if return_c <= room_c:
        findings.refuse(
            "contradiction",
            "/return_temperature_c",
            f"a return of {return_c:g} °C does not heat a room at {room_c:g} °C",
        )
    findings.stop_if_refused()
    exponent, standard_excess_k = _characteristic(request, findings)
    excess = en_442.excess_temperature(flow_c, return_c, room_c)
    factor = 1.0 if request.output_factor is None else request.output_factor
    output_w = factor * en_442.output(request.standard_output_w, standard_excess_k, exponent, excess.excess_k)
    if flow_c >= HOT_SURFACE_C:
        caution(findings, "caution.hot_surface", "/flow_temperature_c")
    result: RadiatorOutputResult = {
        "output_w": output_w,
        "excess_temperature_k": excess.excess_k,
        "mean": excess.mean,
        "output_share": output_w / request.standard_output_w,
        "basis": basis(default_annex()),
        "warnings": findings.warnings(),
    }
    if flow_c > return_c:
        result["flow_l_s"] = water.flow_l_s(output_w, flow_c - return_c)
    if workings:
        result["workings"] = _workings(request, result, exponent, standard_excess_k)
    return result


def _characteristic(request: RadiatorOutputRequest, findings: Findings) -> tuple[float, float]:
    """Return exponent and standard excess temperature, with a warning for each that was not sent."""
    if request.exponent is None:
        findings.warn("default.exponent", "/exponent", f"{DEFAULT_EXPONENT:g} taken")
    if request.standard_excess_temperature_k is None:
        findings.warn(
            "default.standard_excess_temperature",
            "/standard_excess_temperature_k",
            f"{STANDARD_EXCESS_K:g} K (EN 442) taken",
        )
    return (
        request.exponent or DEFAULT_EXPONENT,
        request.standard_excess_temperature_k or STANDARD_EXCESS_K,
    )


def _workings(
    request: RadiatorOutputRequest, result: RadiatorOutputResult, exponent: float, standard_excess_k: float
) -> list[Step]:
    steps = Steps("radiator")
    mean = result["mean"]
    steps.add(
        f"excess temperature, {mean} mean",
        "ΔT",
        result["excess_temperature_k"],
        "K",
        "(θ_V − θ_R)/ln((θ_V − θ_i)/(θ_R − θ_i))" if mean == "logarithmic" else "(θ_V + θ_R)/2 − θ_i",
        "EN 442-2:2014; DIN 4703-3 for the mean",
    )
    factor = "" if request.output_factor is None else f"·{request.output_factor:g}"
    steps.add(
        "output",
        "Φ",
        result["output_w"],
        "W",
        f"{request.standard_output_w:g}·(ΔT/{standard_excess_k:g})^{exponent:g}{factor}",
        "EN 442-2:2014, characteristic equation",
    )
    if "flow_l_s" in result:
        steps.add(
            "water flow", "q", result["flow_l_s"], "l/s", "Φ/(ρ·c·(θ_V − θ_R))", "energy balance of the water"
        )
    return steps.steps
