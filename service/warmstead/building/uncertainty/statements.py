"""How an uncertain load is stated: intervals, rooms, candidates, inputs by their share, and what to measure next."""

from __future__ import annotations

from typing import Annotated, Any, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.heat_pumps import Verdict
from warmstead.survey.quantities import stated


def _in_its_unit(description: str) -> Any:
    return Field(description=description, json_schema_extra={"x-unit": "as `unit` says"})


class IntervalStatement(TypedDict):
    """A coverage interval."""

    low_w: Annotated[float, stated("W", "Lower end.")]
    high_w: Annotated[float, stated("W", "Upper end.")]
    width_w: Annotated[float, stated("W", "Upper less lower end.")]


class Intervals(TypedDict):
    """Coverage intervals of the load."""

    symmetric: Annotated[IntervalStatement, Field(description="As likely below it as above.")]
    shortest: Annotated[IntervalStatement, Field(description="The narrowest of that coverage.")]


class Tolerances(TypedDict):
    """How well the numbers of the draws are known: twice their standard errors; more draws narrow them."""

    mean_w: Annotated[float, stated("W", "Of the mean.")]
    standard_uncertainty_w: Annotated[float, stated("W", "Of the standard uncertainty.")]
    low_w: Annotated[float, stated("W", "Of the lower end of the symmetric interval.")]
    high_w: Annotated[float, stated("W", "Of the upper end of the symmetric interval.")]
    probability: Annotated[float, stated("1", "Of any probability, at most.")]


class FirstOrder(TypedDict):
    """The law of propagation of uncertainty beside the draws, as a check."""

    load_w: Annotated[float, stated("W", "Load at the best estimates of all inputs.")]
    standard_uncertainty_w: Annotated[float, stated("W", "Combined standard uncertainty.")]
    low_w: Annotated[float, stated("W", "Lower end of its interval, as of a normal distribution.")]
    high_w: Annotated[float, stated("W", "Upper end of its interval.")]
    tolerance_w: Annotated[
        float, stated("W", "δ: half a unit in the first digit of the standard uncertainty.")
    ]
    agreement: Annotated[
        str,
        Field(
            description="`agrees`: both ends lie within δ of the drawn ones; `differs`: they do not; `too_few_draws` to tell."
        ),
    ]


class RoomUncertainty(TypedDict):
    """A room's load."""

    id: Annotated[str, Field(description="Id of the room.")]
    design_heat_load_w: Annotated[float, stated("W", "By the survey.")]
    mean_w: Annotated[float, stated("W", "Mean of the draws.")]
    standard_uncertainty_w: Annotated[float, stated("W", "Standard deviation of the draws.")]
    low_w: Annotated[float, stated("W", "Lower end of the symmetric interval.")]
    high_w: Annotated[float, stated("W", "Upper end of the symmetric interval.")]


class CandidateProbability(TypedDict):
    """A candidate against all draws."""

    id: Annotated[str, Field(description="Id of the candidate.")]
    verdict: Annotated[Verdict, Field(description="By the survey's own load.")]
    coverage: Annotated[float, stated("1", "Capacity over requirement by the survey's own load.")]
    probability_suitable: Annotated[float, stated("1", "Share of the draws that it suits.")]
    probability_undersized: Annotated[float, stated("1", "Share of the draws for which it is too small.")]
    probability_oversized: Annotated[float, stated("1", "Share of the draws for which it is too large.")]
    outside_table: Annotated[
        float,
        stated("1", "Share of the draws outside its table; the three probabilities are of the others."),
    ]


class ChoiceStatement(TypedDict):
    """The choice of a unit as things stand."""

    best: Annotated[str, Field(description="Id of the candidate that is suitable in most draws.")]
    probability_of_wrong_choice: Annotated[
        float, stated("1", "Share of the draws for which that one is not suitable.")
    ]
    probability_if_all_known: Annotated[
        float, stated("1", "Share of the draws that no candidate suits: what no measurement can mend.")
    ]


class InputStatement(TypedDict):
    """An uncertain input and what it has to do with the load's uncertainty."""

    of: Annotated[str, Field(description="Which quantity, as in the request.")]
    construction: NotRequired[Annotated[str, Field(description="Its construction.")]]
    room: NotRequired[Annotated[str, Field(description="Its room.")]]
    space: NotRequired[Annotated[str, Field(description="Its unheated space.")]]
    element: NotRequired[Annotated[str, Field(description="Its element or opening.")]]
    junction: NotRequired[Annotated[str, Field(description="Its junction.")]]
    pointer: Annotated[str, Field(description="JSON pointer to what made it uncertain.")]
    description: Annotated[str, Field(description="The quantity in words.")]
    unit: Annotated[str, Field(description="Its unit (UCUM); factors are 1 and shifts 0 K in the survey.")]
    value: Annotated[float, _in_its_unit("By the survey.")]
    mean: Annotated[float, _in_its_unit("Best estimate: the mean of its distribution.")]
    standard_uncertainty: Annotated[float, _in_its_unit("Standard uncertainty.")]
    sensitivity_coefficient: Annotated[
        float,
        Field(
            description="Watts of load for one unit of the input.",
            json_schema_extra={"x-unit": "W for one `unit`"},
        ),
    ]
    contribution_w: Annotated[
        float, stated("W", "Sensitivity coefficient times standard uncertainty, without sign.")
    ]
    share_of_variance: Annotated[
        float, stated("1", "Share of the load's variance that it explains by itself, from the draws.")
    ]
    first_order_share: Annotated[float, stated("1", "The same by the law of propagation; these sum to 1.")]
    interval_width_if_known_w: Annotated[
        float, stated("W", "Width of the symmetric interval if this one were known exactly.")
    ]
    narrowing_w: Annotated[float, stated("W", "By how much it would be narrower.")]
    probability_of_wrong_choice_if_known: NotRequired[
        Annotated[float, stated("1", "Probability of a wrong choice if this one were known exactly.")]
    ]


class MeasureNext(TypedDict):
    """What to measure next, and what knowing it would be worth."""

    pointer: Annotated[str, Field(description="JSON pointer to what made it uncertain.")]
    description: Annotated[str, Field(description="The quantity in words.")]
    narrowing_w: Annotated[float, stated("W", "By how much the symmetric interval would be narrower.")]
    drop_in_wrong_choice: NotRequired[
        Annotated[float, stated("1", "By how much a wrong choice would be less likely.")]
    ]
    reason: Annotated[str, Field(description="Why this one, in words.")]
