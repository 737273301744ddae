"""The questions that a survey document answers, asked together: their answers, and every reason to refuse it at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from warmstead.building.findings import Problem, Refused, Warning
from warmstead.exchange.workbook.survey import SurveyDocument
from warmstead.questions import emitter_check, heat_pump_sizing, house_loss
from warmstead.questions.emitter_check import EmitterCheckRequest, EmitterCheckResult
from warmstead.questions.heat_pump_sizing import HeatPumpSizingRequest, HeatPumpSizingResult
from warmstead.questions.house_loss import HouseLossRequest, HouseLossResult


class Answers(NamedTuple):
    """What the questions say."""

    house: HouseLossResult
    emitters: EmitterCheckResult | None
    candidates: HeatPumpSizingResult | None
    warnings: list[Warning]
    """Of all answers, each once."""


def answers(survey: SurveyDocument) -> Answers:
    """Ask every question for which the survey has what it needs.

    The house's loss always; its emitters where there are some and both water temperatures; the candidates where there are
    some and a flow temperature.

    Raises:
        Refused: a question refuses the survey; the reasons of all questions are in it.
    """
    problems: list[Problem] = []
    house = _asked(house_loss.answer, HouseLossRequest.model_construct(house=survey.house), problems)
    emitters = candidates = None
    if (
        has_emitters(survey)
        and survey.flow_temperature_c is not None
        and survey.return_temperature_c is not None
    ):
        request = EmitterCheckRequest.model_construct(
            house=survey.house,
            flow_temperature_c=survey.flow_temperature_c,
            return_temperature_c=survey.return_temperature_c,
            circuits=survey.circuits,
        )
        emitters = _asked(emitter_check.answer, request, problems)
    if survey.candidates and survey.flow_temperature_c is not None:
        sizing = HeatPumpSizingRequest.model_construct(
            house=survey.house,
            design_heat_load_w=None,
            external_temperature_c=None,
            base_temperature_c=survey.base_temperature_c,
            flow_temperature_c=survey.flow_temperature_c,
            candidates=survey.candidates,
            hot_water=survey.hot_water,
            thresholds=survey.thresholds,
        )
        candidates = _asked(heat_pump_sizing.answer, sizing, problems)
    _check_what_is_alone(survey, problems)
    if problems:
        raise Refused(list(dict.fromkeys(problems)))
    assert house is not None, "an answer or a problem"
    return Answers(house, emitters, candidates, _warnings(house, emitters, candidates))


def has_emitters(survey: SurveyDocument) -> bool:
    """Whether any room has an emitter."""
    return any(room.emitters for room in survey.house.rooms)


def _asked(answer: Callable[..., Any], request: Any, problems: list[Problem]) -> Any:
    try:
        return answer(request)
    except Refused as error:
        problems += error.problems
        return None


def _check_what_is_alone(survey: SurveyDocument, problems: list[Problem]) -> None:
    """Refuse what would be left out in silence: a temperature that lacks its partner, candidates without any."""
    flow, back = survey.flow_temperature_c, survey.return_temperature_c
    if flow is None and (back is not None or survey.candidates):
        problems.append(
            Problem(
                "/flow_temperature_c", "incomplete", "needed with a return temperature, and with candidates"
            )
        )
    if back is None and flow is not None and has_emitters(survey):
        problems.append(
            Problem("/return_temperature_c", "incomplete", "needed with a flow temperature and emitters")
        )


def _warnings(*asked: Any) -> list[Warning]:
    told: dict[tuple[str, str], Warning] = {}
    for answer in asked:
        for warning in answer["warnings"] if answer is not None else ():
            told.setdefault((warning["code"], warning["pointer"]), warning)
    return list(told.values())
