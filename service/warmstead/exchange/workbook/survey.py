"""The document that a workbook carries: the house, and beside it what the questions about it ask for."""

from __future__ import annotations

from pydantic import Field

from warmstead.survey.document import Document, MayBeAbsent
from warmstead.survey.emitters import CircuitTemperatures
from warmstead.survey.heat_pumps import Candidate, HotWater, Thresholds
from warmstead.survey.house import House
from warmstead.survey.quantities import RoomTemperature, WaterTemperature


class SurveyDocument(Document):
    """A house with the options of three questions. Members are named as in the questions' own requests."""

    house: House = Field(description="The house.")
    flow_temperature_c: MayBeAbsent[WaterTemperature] = Field(
        None, description="Flow temperature on the design day. Emitters and candidates are judged at it."
    )
    return_temperature_c: MayBeAbsent[WaterTemperature] = Field(
        None, description="Return temperature on the design day. Emitters are judged at it."
    )
    circuits: MayBeAbsent[list[CircuitTemperatures]] = Field(
        None, max_length=20, description="Circuits with temperatures of their own."
    )
    candidates: MayBeAbsent[list[Candidate]] = Field(
        None, max_length=100, description="The heat pumps to compare."
    )
    base_temperature_c: MayBeAbsent[RoomTemperature] = Field(
        None,
        description="Outside temperature at which no heat is needed; the loss-weighted room temperature where absent.",
    )
    hot_water: MayBeAbsent[HotWater] = Field(
        None, description="Hot water that the same unit makes; absent: none."
    )
    thresholds: MayBeAbsent[Thresholds] = Field(None, description="Limits of the verdict on candidates.")
