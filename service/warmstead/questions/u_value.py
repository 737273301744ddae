"""What is the U-value of this construction?"""

from __future__ import annotations

from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building import construction_workings as worked
from warmstead.building.constructions import Transmittance, resolve
from warmstead.building.findings import Findings, Warning
from warmstead.building.house import annex_of
from warmstead.building.layered import LayeredResult, layer_resistances
from warmstead.building.statements import Basis, Step, basis
from warmstead.standards import iso_6946
from warmstead.survey.constructions import Construction, Layered
from warmstead.survey.document import Document, MayBeAbsent
from warmstead.survey.house import NationalAnnexName
from warmstead.survey.quantities import AdjacentTemperature, stated

TITLE = "U-value of a construction"
DESCRIPTION = (
    "Thermal transmittance of one construction: layers (ISO 6946), ground floors (ISO 13370), windows and doors from their "
    "parts (ISO 10077-1), declared and typical values."
)
DEFAULT_TEMPERATURES_C = (20.0, 0.0)


class UValueRequest(Document):
    """One construction."""

    construction: Construction = Field(description="The construction.")
    national_annex: MayBeAbsent[NationalAnnexName] = Field(
        None, description="Whose defaults apply; GB where absent."
    )
    internal_temperature_c: MayBeAbsent[AdjacentTemperature] = Field(
        None, description="For interface temperatures in the workings; 20 °C where absent."
    )
    external_temperature_c: MayBeAbsent[AdjacentTemperature] = Field(
        None, description="For interface temperatures in the workings; 0 °C where absent."
    )


class LayerStatement(TypedDict):
    """One layer as sent, from inside to outside."""

    resistance_m2k_w: Annotated[
        float, stated("m2.K/W", "Thermal resistance; 0 outside a well-ventilated air layer.")
    ]
    share: Annotated[
        float, stated("1", "Share of the total resistance with surfaces (the lower limit's where bridged).")
    ]


class UValueResult(TypedDict):
    """The U-value and what it is made of."""

    u_value_w_m2k: Annotated[float, stated("W/(m2.K)", "U-value, unrounded, corrections included.")]
    stated: Annotated[str, Field(description="U-value as the standard has it stated: two decimals.")]
    total_resistance_m2k_w: NotRequired[
        Annotated[float, stated("m2.K/W", "Total resistance before corrections.")]
    ]
    upper_limit_m2k_w: NotRequired[Annotated[float, stated("m2.K/W", "Upper limit of the total resistance.")]]
    lower_limit_m2k_w: NotRequired[Annotated[float, stated("m2.K/W", "Lower limit of the total resistance.")]]
    relative_error: NotRequired[
        Annotated[float, stated("1", "Greatest error by the two limits, as a share of the total resistance.")]
    ]
    correction_w_m2k: NotRequired[Annotated[float, stated("W/(m2.K)", "Corrections within the U-value.")]]
    layers: NotRequired[Annotated[list[LayerStatement], Field(description="Layers as sent.")]]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: UValueRequest, *, workings: bool = False) -> UValueResult:
    """Return the U-value of a construction.

    Args:
        request: the construction.
        workings: whether to list each step.

    Raises:
        Refused: the construction contradicts itself, or is not covered.
    """
    findings = Findings()
    uses_annex = request.construction.kind == "ground_floor"
    annex = annex_of(request, findings if uses_annex else Findings(), "")
    transmittance = resolve(request.construction, "outside", annex, findings, "/construction")
    findings.stop_if_refused()
    assert transmittance is not None, "a construction without a U-value is refused"
    result: UValueResult = {
        "u_value_w_m2k": transmittance.u_value_w_m2k,
        "stated": iso_6946.stated(transmittance.u_value_w_m2k),
        "basis": basis(annex),
        "warnings": [],
    }
    if isinstance(request.construction, Layered):
        _add_layers(result, request.construction, transmittance)
    if workings:
        result["workings"] = _workings(request, transmittance, findings)
    result["warnings"] = findings.warnings()
    return result


def _add_layers(result: UValueResult, construction: Layered, transmittance: Transmittance) -> None:
    layered = transmittance.calculation
    assert isinstance(layered, LayeredResult), "a layered construction has a layered calculation"
    totals = layered.totals
    resistances = layer_resistances(construction, layered)
    whole = sum(resistances) + totals.internal_surface_m2k_w + totals.external_surface_m2k_w
    taper_u = layered.taper_u_value_w_m2k
    result["total_resistance_m2k_w"] = totals.total_m2k_w if taper_u is None else 1.0 / taper_u
    result["layers"] = [
        {"resistance_m2k_w": resistance, "share": resistance / whole if whole else 0.0}
        for resistance in resistances
    ]
    if len(totals.sections) > 1:
        result["upper_limit_m2k_w"] = totals.upper_m2k_w
        result["lower_limit_m2k_w"] = totals.lower_m2k_w
        result["relative_error"] = (totals.upper_m2k_w - totals.lower_m2k_w) / (2.0 * totals.total_m2k_w)
    if layered.corrected is not None:
        result["correction_w_m2k"] = layered.corrected.taken_w_m2k


def _workings(request: UValueRequest, transmittance: Transmittance, findings: Findings) -> list[Step]:
    steps = worked.construction_steps("construction", request.construction, transmittance)
    if isinstance(request.construction, Layered):
        internal, external = DEFAULT_TEMPERATURES_C
        if request.internal_temperature_c is None or request.external_temperature_c is None:
            findings.warn(
                "default.interface_temperatures",
                "",
                f"interface temperatures for {internal:g} °C inside and {external:g} °C outside where absent",
            )
        steps += worked.interface_steps(
            "construction",
            request.construction,
            transmittance,
            internal if request.internal_temperature_c is None else request.internal_temperature_c,
            external if request.external_temperature_c is None else request.external_temperature_c,
        )
    return steps
