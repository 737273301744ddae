"""All questions of the service, in the order in which a surveyor asks them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from warmstead.questions import (
    element_loss,
    emitter_check,
    heat_pump_sizing,
    house_loss,
    improvements,
    measured_heat_loss,
    outside_temperature,
    radiator_output,
    required_thickness,
    room_loss,
    survey_comparison,
    u_value,
    uncertainty,
)
from warmstead.survey.document import Document, described_later


class Question(NamedTuple):
    """One question: its name in URLs, what it takes, what it gives, and how it is answered."""

    name: str
    title: str
    description: str
    request: type[Document]
    result: Any
    answer: Callable[..., Any]
    """`answer(request, workings=False) -> result`; raises Refused."""
    long: bool
    """Whether it takes more than a millisecond or so, and must not hold up others: its module says `LONG = True`."""

    @property
    def python_name(self) -> str:
        """Its name in Python: `house_loss` for `house-loss`."""
        return self.name.replace("-", "_")


def _question(module: Any, request: type[Document], result: Any) -> Question:
    name = module.__name__.rpartition(".")[2].replace("_", "-")
    long = getattr(module, "LONG", False)
    described = described_later(result)
    return Question(name, module.TITLE, module.DESCRIPTION, request, described, module.answer, long)


QUESTIONS: dict[str, Question] = {
    question.name: question
    for question in (
        _question(u_value, u_value.UValueRequest, u_value.UValueResult),
        _question(
            required_thickness,
            required_thickness.RequiredThicknessRequest,
            required_thickness.RequiredThicknessResult,
        ),
        _question(room_loss, room_loss.RoomLossRequest, room_loss.RoomLossResult),
        _question(house_loss, house_loss.HouseLossRequest, house_loss.HouseLossResult),
        _question(emitter_check, emitter_check.EmitterCheckRequest, emitter_check.EmitterCheckResult),
        _question(
            heat_pump_sizing, heat_pump_sizing.HeatPumpSizingRequest, heat_pump_sizing.HeatPumpSizingResult
        ),
        _question(improvements, improvements.ImprovementsRequest, improvements.ImprovementsResult),
        _question(
            survey_comparison,
            survey_comparison.SurveyComparisonRequest,
            survey_comparison.SurveyComparisonResult,
        ),
        _question(uncertainty, uncertainty.UncertaintyRequest, uncertainty.UncertaintyResult),
        _question(
            measured_heat_loss,
            measured_heat_loss.MeasuredHeatLossRequest,
            measured_heat_loss.MeasuredHeatLossResult,
        ),
        _question(
            radiator_output, radiator_output.RadiatorOutputRequest, radiator_output.RadiatorOutputResult
        ),
        _question(element_loss, element_loss.ElementLossRequest, element_loss.ElementLossResult),
        _question(
            outside_temperature,
            outside_temperature.OutsideTemperatureRequest,
            outside_temperature.OutsideTemperatureResult,
        ),
    )
}
"""Questions by name."""
