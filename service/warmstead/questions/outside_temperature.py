"""Which outside temperature is a house at this place and altitude designed for?"""

from __future__ import annotations

from typing import Annotated, NotRequired

from pydantic import Field, StringConstraints
from typing_extensions import TypedDict

from warmstead.building.annex import UNSEEN, number
from warmstead.building.climate import external_temperature_at, find_place
from warmstead.building.findings import Findings, Warning
from warmstead.building.house import default_annex
from warmstead.building.statements import Basis, Step, basis
from warmstead.building.steps import Steps
from warmstead.survey.document import Document, MayBeAbsent
from warmstead.survey.quantities import Altitude, Exceedance, stated
from warmstead.tables import Row

TITLE = "Outside design temperature"
DESCRIPTION = (
    "Outside design temperature of a place by the table `outside-design-temperatures`, at the altitude of the house, and the "
    "place's annual mean."
)


class OutsideTemperatureRequest(Document):
    """A place, and how high the house stands."""

    place: Annotated[str, StringConstraints(min_length=1, max_length=64)] = Field(
        description="Place of the table `outside-design-temperatures`, or the id of one of its rows."
    )
    altitude_m: MayBeAbsent[Altitude] = Field(
        None, description="Altitude of the house above the sea; the table's own where absent."
    )
    exceedance_percent: MayBeAbsent[Exceedance] = Field(
        None,
        description="Share of the year's hours at this temperature or warmer, where a place has several; the greatest where absent.",
    )


class OutsideTemperatureResult(TypedDict):
    """The temperature and the row that it comes from."""

    external_temperature_c: Annotated[float, stated("Cel", "Outside design temperature at the altitude.")]
    altitude_correction_k: Annotated[
        float, stated("K", "Within it: the change from the table's altitude to the altitude of the house.")
    ]
    annual_mean_external_temperature_c: NotRequired[
        Annotated[
            float, stated("Cel", "Annual mean of the place, without correction, where the table has it.")
        ]
    ]
    table_altitude_m: NotRequired[
        Annotated[float, stated("m", "Altitude that the table's temperature holds for, where it says.")]
    ]
    exceedance_percent: NotRequired[
        Annotated[float, stated("%", "Share of the year's hours at this temperature or warmer.")]
    ]
    row: Annotated[str, Field(description="Id of the row of the table `outside-design-temperatures`.")]
    source: Annotated[str, Field(description="Publication that the row names.")]
    provenance: Annotated[str, Field(description="How the row is known, as in the table.")]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: OutsideTemperatureRequest, *, workings: bool = False) -> OutsideTemperatureResult:
    """Return the outside design temperature of a place at an altitude.

    Args:
        request: the place, and how high the house stands.
        workings: whether to list each step.

    Raises:
        Refused: the table has no such place, or does not say which altitude its temperature holds for.
    """
    findings = Findings()
    row = find_place(request.place, request.exceedance_percent, findings)
    findings.stop_if_refused()
    assert row is not None, "a place that is not found is refused"
    plain_c = number(row, "external_temperature_c")
    at_the_house_c = _at_the_house_c(request, row, findings)
    findings.stop_if_refused()
    if row["provenance"] in UNSEEN:
        findings.warn_of_memory("outside-design-temperatures", "/place")
    result: OutsideTemperatureResult = {
        "external_temperature_c": at_the_house_c,
        "altitude_correction_k": at_the_house_c - plain_c,
        "row": str(row["id"]),
        "source": str(row["source"]),
        "provenance": str(row["provenance"]),
        "basis": basis(default_annex()),
        "warnings": findings.warnings(),
    }
    if "annual_mean_external_temperature_c" in row:
        result["annual_mean_external_temperature_c"] = number(row, "annual_mean_external_temperature_c")
    if "altitude_m" in row:
        result["table_altitude_m"] = number(row, "altitude_m")
    if "exceedance_percent" in row:
        result["exceedance_percent"] = number(row, "exceedance_percent")
    if workings:
        result["workings"] = _workings(row, result)
    return result


def _at_the_house_c(request: OutsideTemperatureRequest, row: Row, findings: Findings) -> float:
    """Return the temperature at the altitude of the house, °C."""
    if request.altitude_m is None:
        own = f"the table's {number(row, 'altitude_m'):g} m" if "altitude_m" in row else "no correction"
        findings.warn("default.altitude", "/altitude_m", f"{own} taken")
        return number(row, "external_temperature_c")
    if "altitude_m" not in row:
        detail = f"the row {row['id']} does not say which altitude it holds for: leave altitude_m out, or name a place"
        findings.refuse("not_covered", "/altitude_m", detail)
        return number(row, "external_temperature_c")
    return external_temperature_at(row, request.altitude_m)


def _workings(row: Row, result: OutsideTemperatureResult) -> list[Step]:
    steps = Steps(str(row["id"]))
    plain_c = number(row, "external_temperature_c")
    clause = f"table outside-design-temperatures: {row['source']}"
    steps.add("temperature of the table", "θ_e,0", plain_c, "°C", "by the table", clause)
    if "altitude_m" in row:
        rate = number(row, "altitude_correction_k_per_100m")
        equation = f"{rate:g}·(altitude − {number(row, 'altitude_m'):g})/100"
        correction_k = result["altitude_correction_k"]
        steps.add("correction for altitude", "Δθ", correction_k, "K", equation, clause)
    at_the_house = result["external_temperature_c"]
    steps.add("outside design temperature", "θ_e", at_the_house, "°C", "θ_e,0 + Δθ", clause)
    return steps.steps
