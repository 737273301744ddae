"""Meter readings of a house that is lived in: the energy of each period and the weather outside, and what the meter counts."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from warmstead.survey.document import Document, MayBeAbsent, whole_number
from warmstead.survey.quantities import CoefficientOfPerformance, DailyEnergy, quantity

Day = Annotated[str, StringConstraints(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$", max_length=10)]
"""A calendar day, ISO 8601."""
Days = Annotated[int, Field(ge=1, le=100, json_schema_extra={"x-unit": "d"}), whole_number]
MeasuredTemperature = Annotated[float, quantity("Cel", ge=-60, le=50)]
DayTemperature = Annotated[MeasuredTemperature, Field(description="Mean outside temperature of one day.")]
MeteredEnergy = Annotated[float, quantity("kW.h", ge=0, le=100_000)]
Irradiation = Annotated[float, quantity("kW.h/m2", ge=0, le=1200)]
Efficiency = Annotated[float, quantity("1", ge=0.1, le=1.2)]
EfficiencyOfOne = Annotated[float, quantity("1", ge=0.1, le=1)]
RelativeUncertainty = Annotated[float, quantity("1", ge=0, le=0.5)]

CalorificValue = Literal["gross", "net"]


class Reading(Document):
    """The energy of one period, and the weather outside."""

    start: Day = Field(description="First day, such as 2024-01-01.")
    days: MayBeAbsent[Days] = Field(None, description="Length of the period; 1 where absent.")
    energy_kwh: MeteredEnergy = Field(description="Energy that the meter counted in the period.")
    external_temperature_c: MayBeAbsent[MeasuredTemperature] = Field(
        None, description="Mean outside temperature of the period; or `external_temperatures_c`."
    )
    external_temperatures_c: MayBeAbsent[list[DayTemperature]] = Field(
        None,
        min_length=1,
        max_length=100,
        description="Mean outside temperature of each day of the period; or `external_temperature_c`.",
    )
    away: MayBeAbsent[bool] = Field(
        None, description="Whether the house stood empty or was heated less: such a period is set aside."
    )
    hot_water_kwh: MayBeAbsent[MeteredEnergy] = Field(
        None, description="What of `energy_kwh` went into hot water, where that was metered; it is taken off."
    )
    solar_irradiation_kwh_m2: MayBeAbsent[Irradiation] = Field(
        None, description="Solar irradiation of the period, on any one plane; in every reading or in none."
    )


class _Uncertain(Document):
    efficiency_standard_uncertainty: MayBeAbsent[RelativeUncertainty] = Field(
        None, description="Standard uncertainty of the efficiency, absolute; absent: it is taken as exact."
    )


class Fuel(_Uncertain):
    """A boiler's fuel."""

    efficiency: Efficiency = Field(description="Seasonal efficiency: heat into the house over fuel energy.")
    calorific_value: MayBeAbsent[CalorificValue] = Field(
        None, description="Calorific value by which the readings count energy; gross where absent."
    )
    efficiency_calorific_value: MayBeAbsent[CalorificValue] = Field(
        None, description="Calorific value on which the efficiency stands; that of the readings where absent."
    )


class Gas(Fuel):
    """Natural gas."""

    kind: Literal["gas"] = Field(description="Tells this variant apart.")


class LiquidGas(Fuel):
    """Propane."""

    kind: Literal["liquid_gas"] = Field(description="Tells this variant apart.")


class Oil(Fuel):
    """Heating oil."""

    kind: Literal["oil"] = Field(description="Tells this variant apart.")


class Electricity(_Uncertain):
    """Direct electric heating."""

    kind: Literal["electricity"] = Field(description="Tells this variant apart.")
    efficiency: MayBeAbsent[EfficiencyOfOne] = Field(
        None, description="Heat into the house over electricity; 1 where absent."
    )


class OtherEnergy(_Uncertain):
    """Anything else that is metered, such as pellets or district heat before its station."""

    kind: Literal["other"] = Field(description="Tells this variant apart.")
    efficiency: Efficiency = Field(description="Heat into the house over the energy read.")


class MeteredHeat(Document):
    """Heat itself, by a heat meter."""

    kind: Literal["heat"] = Field(description="Tells this variant apart.")


class PerformanceAt(Document):
    """Coefficient of performance at one outside temperature."""

    external_temperature_c: MeasuredTemperature = Field(description="Outside temperature.")
    coefficient_of_performance: CoefficientOfPerformance = Field(description="Heat out over electricity in.")


class HeatPumpElectricity(Document):
    """Electricity of a heat pump."""

    kind: Literal["heat_pump"] = Field(description="Tells this variant apart.")
    coefficient_of_performance: MayBeAbsent[CoefficientOfPerformance] = Field(
        None, description="Seasonal coefficient of performance; or `performance`."
    )
    performance: MayBeAbsent[list[PerformanceAt]] = Field(
        None,
        min_length=2,
        max_length=100,
        description="Coefficient of performance by outside temperature, the coldest first; straight lines between.",
    )
    relative_standard_uncertainty: MayBeAbsent[RelativeUncertainty] = Field(
        None, description="Of the coefficient of performance, as a share of it; absent: it is taken as exact."
    )


Energy = Annotated[
    Gas | LiquidGas | Oil | Electricity | OtherEnergy | MeteredHeat | HeatPumpElectricity,
    Field(discriminator="kind"),
]


class FromSummer(Document):
    """Base use from the warm days, on which nothing is heated."""

    kind: Literal["from_summer"] = Field(description="Tells this variant apart.")


class GivenBaseUse(Document):
    """Base use as it is known, such as from a meter for hot water."""

    kind: Literal["given"] = Field(description="Tells this variant apart.")
    energy_kwh_per_day: DailyEnergy = Field(
        description="Hot water, cooking and other use beside heating, as the meter counts it; 0 for none."
    )


class NotSeparated(Document):
    """Base use is left within: a straight line through readings of the heating season alone."""

    kind: Literal["not_separated"] = Field(description="Tells this variant apart.")


BaseUse = Annotated[FromSummer | GivenBaseUse | NotSeparated, Field(discriminator="kind")]


class LikeBasis(Document):
    """How the survey's coefficient is brought to what a meter can see."""

    mean_air_changes: MayBeAbsent[Annotated[float, quantity("/h", ge=0, le=20)]] = Field(
        None,
        description="Mean air changes per hour of the whole house in the season, without mechanical air and flues. Absent: a twentieth "
        "of those at 50 Pa (method `airtightness`), else the survey's own.",
    )
    ground_response: MayBeAbsent[Annotated[float, quantity("1", ge=0, le=1)]] = Field(
        None,
        description="Share of the steady loss to the ground that follows the outside temperature within the season. Absent: anything "
        "from none to all of it is taken as equally likely.",
    )
    relative_standard_uncertainty: MayBeAbsent[RelativeUncertainty] = Field(
        None,
        description="Of the survey's coefficient, as a share of it; absent: the survey is taken as exact.",
    )
