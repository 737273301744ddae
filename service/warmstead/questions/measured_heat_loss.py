"""What do meter readings say of the heat loss coefficient, and how does the survey's compare?"""

from __future__ import annotations

from typing import Annotated, Literal, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.findings import Findings, Warning
from warmstead.building.house import annex_of, default_annex, resolve_house
from warmstead.building.measured import estimate as measuring
from warmstead.building.measured import workings as worked
from warmstead.building.measured.estimate import Asked, Measured, measure
from warmstead.building.measured.like_basis import LikeForLike, like_for_like
from warmstead.building.measured.readings import HeatReadings, resolve_readings
from warmstead.building.statements import Basis, Step, basis
from warmstead.standards.energy_signature import Uncertainty, combined, implied_gains_w
from warmstead.survey.document import Document, MayBeAbsent
from warmstead.survey.house import House
from warmstead.survey.meter_readings import BaseUse, Energy, FromSummer, GivenBaseUse, LikeBasis, Reading
from warmstead.survey.quantities import AreaOrNone, RoomTemperature, quantity, stated

TITLE = "Heat loss from meter readings"
DESCRIPTION = (
    "Heat loss coefficient and base temperature of a house that is lived in, from its meter readings and the outside temperature, "
    "with confidence intervals; and how likely the survey's coefficient lies above it."
)

ACCEPTED_HALF_WIDTH = 0.25
"""An interval of ± a quarter still tells a leaky house from a sound one (our own limit)."""
SURE = 0.995
"""From here on a probability is said as more than 99 %."""
EVEN = 0.6
"""Under this the readings are said not to decide."""


class MeasuredHeatLossRequest(Document):
    """Readings, what the meter counts, and the house if it was surveyed."""

    readings: list[Reading] = Field(
        min_length=1, max_length=5000, description="Readings in order of time; gaps between them are no harm."
    )
    energy: Energy = Field(description="What the meter counts, and how it becomes heat.")
    base_use: MayBeAbsent[BaseUse] = Field(
        None, description="Use that is not heating; from_summer where absent."
    )
    regression: MayBeAbsent[Literal["robust", "least_squares"]] = Field(
        None, description="How outlying readings count: little (robust), or in full. robust where absent."
    )
    solar_aperture_m2: MayBeAbsent[AreaOrNone] = Field(
        None,
        description="Solar aperture where it is known; with irradiation in the readings it is fitted where absent.",
    )
    internal_temperature_c: MayBeAbsent[RoomTemperature] = Field(
        None,
        description="Mean inside temperature of the heating season, for the gains that the readings imply.",
    )
    accepted_half_width: MayBeAbsent[Annotated[float, quantity("1", ge=0.01, le=10)]] = Field(
        None,
        description="Half width of the coefficient's interval, as a share of it, over which the answer is refused; 0.25 where absent.",
    )
    house: MayBeAbsent[House] = Field(None, description="The surveyed house, to compare with.")
    like_basis: MayBeAbsent[LikeBasis] = Field(
        None, description="How the survey's coefficient is brought to what a meter sees; with `house` only."
    )


def _estimated(what: str) -> object:
    return Field(description=what, json_schema_extra={"x-unit": "as the member's name says"})


class EstimateStatement(TypedDict):
    """An estimated quantity with its interval, in the unit of the member that holds it."""

    value: Annotated[float, _estimated("Best estimate.")]
    standard_uncertainty: Annotated[float, _estimated("Standard uncertainty.")]
    low: Annotated[float, _estimated("Lower end of the interval.")]
    high: Annotated[float, _estimated("Upper end of the interval.")]
    degrees_of_freedom: NotRequired[
        Annotated[float, stated("1", "Degrees of freedom of Student's t; absent where the value is exact.")]
    ]


class SetAsideStatement(TypedDict):
    """A reading that was left out."""

    start: Annotated[str, Field(description="Its first day.")]
    reason: Annotated[str, Field(description="Why: `away`.")]


class FitStatement(TypedDict):
    """How well the fit holds."""

    residual_kwh_per_day: Annotated[
        float, stated("kW.h/d", "Robust standard deviation of the readings about the fit, as heat.")
    ]
    autocorrelation: Annotated[float, stated("1", "Of neighbouring readings' deviations.")]
    interval_by: Annotated[
        str,
        Field(description="What made the wider interval: `independent` or `correlated` deviations."),
    ]
    readings_uncertainty_w_k: Annotated[
        float, stated("W/K", "Standard uncertainty of the coefficient by the scatter of the readings.")
    ]
    efficiency_uncertainty_w_k: Annotated[
        float, stated("W/K", "Standard uncertainty of the coefficient by that of the efficiency.")
    ]


class PartStatement(TypedDict):
    """One part of the survey's coefficient on its way to a like basis."""

    part: Annotated[
        str,
        Field(
            description="`outside`, `unheated_spaces`, `suspended_floors`, `ground`, `neighbour` or `air`.",
        ),
    ]
    survey_w_k: Annotated[float, stated("W/K", "In the survey's coefficient.")]
    like_basis_w_k: Annotated[float, stated("W/K", "On a like basis.")]
    standard_uncertainty_w_k: Annotated[float, stated("W/K", "Of the part on a like basis.")]
    why: Annotated[str, Field(description="Why it changes, or does not.")]


class ComparisonStatement(TypedDict):
    """The survey's coefficient against the measured one."""

    survey_coefficient_w_k: Annotated[float, stated("W/K", "The survey's, as house-loss states it.")]
    on_like_basis_w_k: Annotated[float, stated("W/K", "The survey's on a like basis: the sum of the parts.")]
    standard_uncertainty_w_k: Annotated[float, stated("W/K", "Of the survey's on a like basis.")]
    parts: Annotated[list[PartStatement], Field(description="The steps to the like basis.")]
    difference_w_k: Annotated[float, stated("W/K", "The survey's on a like basis less the measured one.")]
    probability_survey_higher: Annotated[
        float, stated("1", "Probability that the survey's coefficient lies above the true one.")
    ]
    in_words: Annotated[str, Field(description="The same in words.")]


class MeasuredHeatLossResult(TypedDict):
    """What the readings say."""

    heat_loss_coefficient_w_k: Annotated[EstimateStatement, Field(description="Heat loss coefficient, W/K.")]
    base_temperature_c: NotRequired[
        Annotated[
            EstimateStatement,
            Field(description="Outside temperature from which nothing is heated, without sun; °C."),
        ]
    ]
    base_use_kwh_per_day: NotRequired[
        Annotated[
            EstimateStatement, Field(description="Base use as the meter counts it, where it was fitted.")
        ]
    ]
    solar_aperture_m2: NotRequired[
        Annotated[EstimateStatement, Field(description="Solar aperture, where it was fitted.")]
    ]
    implied_gains_w: NotRequired[
        Annotated[
            float,
            stated(
                "W",
                "Mean gains that inside and base temperature imply; without the sun, where it was fitted.",
            ),
        ]
    ]
    probability: Annotated[float, stated("1", "Probability of each interval.")]
    model: Annotated[str, Field(description="`change_point` or `straight_line`.")]
    readings_used: Annotated[int, stated("1", "Readings in the fit.")]
    days_used: Annotated[int, stated("d", "Days that they cover.")]
    heated_days: NotRequired[
        Annotated[
            int, stated("d", "Days of them in readings of more than 1 K·d a day; absent for a straight line.")
        ]
    ]
    set_aside: Annotated[list[SetAsideStatement], Field(description="Readings left out.")]
    outlying: Annotated[
        list[str], Field(description="First days of readings over three standard deviations from the fit.")
    ]
    fit: Annotated[FitStatement, Field(description="How well the fit holds.")]
    comparison: NotRequired[
        Annotated[ComparisonStatement, Field(description="The survey against it, where a house was sent.")]
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: MeasuredHeatLossRequest, *, workings: bool = False) -> MeasuredHeatLossResult:
    """Return what readings say of the heat loss coefficient.

    Args:
        request: the readings.
        workings: whether to list each step.

    Raises:
        Refused: the readings contradict themselves or do not carry an answer, or the house is refused.
    """
    findings = Findings()
    _check_alone(request, findings)
    base_use = _base_use(request, findings)
    known_base = base_use.energy_kwh_per_day if isinstance(base_use, GivenBaseUse) else 0.0
    on_a_line = base_use.kind == "not_separated"
    heat = resolve_readings(request.readings, request.energy, known_base, on_a_line, findings)
    survey = None
    if request.house is not None:
        house = resolve_house(request.house, findings)
        survey = like_for_like(house, request.like_basis or LikeBasis(), findings)
    findings.stop_if_refused()
    _assumptions(request, on_a_line, findings)
    found = measure(heat.used, heat.relative_uncertainty, _asked(request, base_use.kind, findings), findings)
    annex = default_annex()
    if request.house is not None:
        annex = annex_of(request.house.conditions, Findings(), "")
    result = _result(request, heat, found, basis(annex), findings.warnings())
    if survey is not None:
        result["comparison"] = _comparison(survey, found)
    if workings:
        result["workings"] = worked.measured_steps(found) + (
            worked.comparison_steps(survey, result["comparison"]) if survey is not None else []
        )
    return result


def _check_alone(request: MeasuredHeatLossRequest, findings: Findings) -> None:
    """Refuse members that nothing makes use of."""
    if request.like_basis is not None and request.house is None:
        findings.refuse("incomplete", "/house", "like_basis is for a house: send it too")
    irradiated = any(reading.solar_irradiation_kwh_m2 is not None for reading in request.readings)
    if request.solar_aperture_m2 is not None and not irradiated:
        detail = "a solar aperture needs solar_irradiation_kwh_m2 in every reading"
        findings.refuse("incomplete", "/readings/0/solar_irradiation_kwh_m2", detail)


def _base_use(request: MeasuredHeatLossRequest, findings: Findings) -> BaseUse:
    if request.base_use is not None:
        return request.base_use
    findings.warn("default.base_use", "/base_use", "from_summer taken: base use from the warm days")
    return FromSummer(kind="from_summer")


def _asked(request: MeasuredHeatLossRequest, base_use: str, findings: Findings) -> Asked:
    irradiated = any(reading.solar_irradiation_kwh_m2 for reading in request.readings)
    accepted = request.accepted_half_width
    if accepted is None:
        accepted = ACCEPTED_HALF_WIDTH
        detail = f"a half width of up to {accepted:.0%} of the coefficient is accepted"
        findings.warn("default.accepted_half_width", "/accepted_half_width", detail)
    if request.regression is None:
        findings.warn("default.regression", "/regression", "robust taken: outlying readings count little")
    return Asked(
        base_use=base_use,
        solar_aperture_m2=request.solar_aperture_m2 if irradiated else 0.0,
        robust=request.regression != "least_squares",
        accepted_half_width=accepted,
    )


def _assumptions(request: MeasuredHeatLossRequest, on_a_line: bool, findings: Findings) -> None:
    findings.warn(
        "assumption.constant_inside_temperature",
        "/readings",
        "the inside temperature is taken to be the same on cold and mild days; where it falls in the cold, or rooms are left "
        "unheated, the coefficient comes out low",
    )
    findings.warn(
        "assumption.all_heat_metered",
        "/readings",
        "all heating is taken to be in the readings; a stove or heater beside them makes the coefficient come out low",
    )
    if not on_a_line:
        findings.warn(
            "assumption.constant_base_use",
            "/base_use",
            "base use is taken to be the same all year, as the meter counts it; hot water takes more in winter, and makes the "
            "coefficient come out high",
        )
    if not any(reading.solar_irradiation_kwh_m2 for reading in request.readings):
        findings.warn(
            "assumption.solar_not_separated",
            "/readings",
            "without solar_irradiation_kwh_m2 the sun's share, which is larger on mild days, is within the coefficient: it comes "
            "out high",
        )
    if on_a_line:
        warmest = max(_mean_temperature(reading) for reading in request.readings)
        findings.warn(
            "assumption.heating_season_only",
            "/base_use",
            f"every reading is taken to be heated in full, up to the warmest of {warmest:g} °C; leave out those that are not",
        )


def _mean_temperature(reading: Reading) -> float:
    daily = reading.external_temperatures_c
    if daily is None:
        return reading.external_temperature_c or 0.0
    return sum(daily) / len(daily)


def _result(
    request: MeasuredHeatLossRequest,
    heat: HeatReadings,
    found: Measured,
    stands_on: Basis,
    warnings: list[Warning],
) -> MeasuredHeatLossResult:
    """State what was found, without the comparison."""
    fit = found.fit
    result: MeasuredHeatLossResult = {
        "heat_loss_coefficient_w_k": _statement(found.coefficient_w_k),
        "probability": measuring.PROBABILITY,
        "model": "straight_line" if found.base_temperature_c is None else "change_point",
        "readings_used": len(heat.used),
        "days_used": sum(reading.days for reading in heat.used),
        "set_aside": [{"start": start, "reason": reason} for start, reason in heat.set_aside],
        "outlying": found.outlying,
        "fit": {
            "residual_kwh_per_day": fit.scale_kwh_per_day,
            "autocorrelation": fit.autocorrelation,
            "interval_by": "correlated" if fit.correlated else "independent",
            "readings_uncertainty_w_k": found.of_readings_w_k,
            "efficiency_uncertainty_w_k": found.of_efficiency_w_k,
        },
        "basis": stands_on,
        "warnings": warnings,
    }
    if found.heated_days is not None:
        result["heated_days"] = found.heated_days
    if found.base_use_kwh_per_day is not None:
        result["base_use_kwh_per_day"] = _statement(found.base_use_kwh_per_day)
    if found.solar_aperture_m2 is not None:
        result["solar_aperture_m2"] = _statement(found.solar_aperture_m2)
    if found.base_temperature_c is not None:
        result["base_temperature_c"] = _statement(found.base_temperature_c)
        if request.internal_temperature_c is not None:
            result["implied_gains_w"] = implied_gains_w(
                found.coefficient_w_k.value, request.internal_temperature_c, found.base_temperature_c.value
            )
    return result


def _statement(estimate: measuring.Estimate) -> EstimateStatement:
    statement: EstimateStatement = {
        "value": estimate.value,
        "standard_uncertainty": estimate.uncertainty.standard,
        "low": estimate.low,
        "high": estimate.high,
    }
    if estimate.uncertainty.degrees_of_freedom < 1e9:
        statement["degrees_of_freedom"] = estimate.uncertainty.degrees_of_freedom
    return statement


def _comparison(survey: LikeForLike, found: Measured) -> ComparisonStatement:
    from warmstead.standards.student_t import probability_below

    coefficient = found.coefficient_w_k
    difference = survey.like_basis_w_k - coefficient.value
    together = combined([coefficient.uncertainty, Uncertainty(survey.standard_uncertainty_w_k, float("inf"))])
    probability = probability_below(difference, *together)
    return {
        "survey_coefficient_w_k": survey.survey_w_k,
        "on_like_basis_w_k": survey.like_basis_w_k,
        "standard_uncertainty_w_k": survey.standard_uncertainty_w_k,
        "parts": [
            {
                "part": part.part,
                "survey_w_k": part.survey_w_k,
                "like_basis_w_k": part.like_basis_w_k,
                "standard_uncertainty_w_k": part.standard_uncertainty_w_k,
                "why": part.why,
            }
            for part in survey.parts
        ],
        "difference_w_k": difference,
        "probability_survey_higher": probability,
        "in_words": in_words(probability),
    }


def in_words(probability_survey_higher: float) -> str:
    """Say how likely the true coefficient lies below or above the survey's, as a probability and not a verdict."""
    side, probability = "below", probability_survey_higher
    if probability < 0.5:
        side, probability = "above", 1.0 - probability
    if probability < EVEN:
        return "the meter readings do not say whether the true coefficient lies above or below the survey's on a like basis"
    likely = "more than 99 %" if probability >= SURE else f"{100.0 * probability:.0f} %"
    return f"the meter readings make it {likely} likely that the true coefficient lies {side} the survey's on a like basis"
