"""Heat pumps that could be chosen, as their makers' tables state them, and what is asked of them besides."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from warmstead.survey.document import Document, Identifier, MayBeAbsent, Text
from warmstead.survey.quantities import (
    CoefficientOfPerformance,
    Coverage,
    DailyEnergy,
    OutsideTemperature,
    Power,
    PowerOrNone,
    WaterTemperature,
)


class PerformancePoint(Document):
    """Capacity and coefficient of performance at one outside and one flow temperature."""

    external_temperature_c: OutsideTemperature = Field(description="Outside air temperature.")
    flow_temperature_c: WaterTemperature = Field(description="Flow temperature of the water.")
    capacity_w: Power = Field(description="Heating capacity at full output.")
    coefficient_of_performance: CoefficientOfPerformance = Field(description="Heat out over electricity in.")
    minimum_capacity_w: MayBeAbsent[Power] = Field(
        None, description="Heating capacity at lowest modulation; in every row of a candidate or in none."
    )


class Candidate(Document):
    """A heat pump under consideration."""

    id: Identifier = Field(description="Unique among the candidates.")
    name: MayBeAbsent[Text] = Field(None, description="A name for people.")
    performance: list[PerformancePoint] = Field(
        min_length=1,
        max_length=2000,
        description="A full grid: every outside temperature with every flow temperature.",
    )
    backup_heater_w: MayBeAbsent[PowerOrNone] = Field(
        None, description="Built-in electric backup heater; absent: none known."
    )
    rating_basis: MayBeAbsent[Literal["integrated", "peak"]] = Field(
        None,
        description="Whether defrosting is within the capacities (integrated) or not (peak); integrated where absent.",
    )


class HotWater(Document):
    """Hot water that the heat pump makes besides."""

    energy_kwh_per_day: DailyEnergy = Field(
        description="Heat into hot water each day, losses of the store included."
    )
    storage_temperature_c: WaterTemperature = Field(description="Flow temperature while the store is heated.")


class Thresholds(Document):
    """Where a candidate counts as too small or too large; both limits still count as suitable."""

    minimum_coverage: MayBeAbsent[Coverage] = Field(
        None, description="Least capacity over requirement; 1.0 where absent."
    )
    maximum_coverage: MayBeAbsent[Coverage] = Field(
        None, description="Greatest capacity over requirement; 1.3 where absent."
    )
