"""The least thickness of one layer of a measure with which a goal is reached."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from warmstead.building.findings import Findings
from warmstead.building.improvement.choice import AGREEMENT
from warmstead.building.improvement.derivation import Derivation
from warmstead.building.improvement.goals import Goal, Loads, reached
from warmstead.building.improvement.study import Study
from warmstead.building.names import nearest
from warmstead.survey.constructions import SolidLayer
from warmstead.survey.house import House
from warmstead.survey.measures import AddLayers, LeastThickness, Measure

GREATEST_THICKNESS_MM = 5000.0
"""As for a layer that is sent."""
SMALLEST_THICKNESS_MM = 1e-6
"""Stands for a layer left out: a thickness of 0 is no layer."""
_STEPS = 24
_WALK_MM = [GREATEST_THICKNESS_MM ** (step / _STEPS) for step in range(_STEPS + 1)]
"""Thicknesses from 1 mm to the greatest, evenly spaced in their logarithm."""
SEARCH_WIDTH_MM = 1e-9


class Layer(NamedTuple):
    """The layer in question."""

    measure: int
    action: int
    layer: int
    chosen: frozenset[int]
    """Its measure and those taken with it."""


class Thickness(NamedTuple):
    """What was found."""

    thickness_mm: float | None
    """None where no thickness reaches the goal."""
    loads: Loads
    """With that thickness; with the best one that was tried where none reaches the goal."""
    tried_mm: float
    """The thickness of those loads."""
    house: House
    """The house with that thickness."""


def layer_in_question(asked: LeastThickness, study: Study, findings: Findings) -> Layer | None:
    """Return the layer whose thickness is sought, or None with problems noted.

    Args:
        asked: the request's `/least_thickness`.
        study: the house and its measures.
        findings: where problems go.
    """
    at = "/least_thickness"
    index_of = {measure.id: index for index, measure in enumerate(study.measures)}
    wanted = [("measure", asked.measure)]
    wanted += [(f"with_measures/{index}", name) for index, name in enumerate(asked.with_measures or ())]
    unknown = [(place, name) for place, name in wanted if name not in index_of]
    for place, name in unknown:
        findings.refuse("not_found", f"{at}/{place}", f"no measure {name!r}; {nearest(name, index_of)}")
    if unknown:
        return None
    measure = index_of[asked.measure]
    chosen = frozenset(index_of[name] for _, name in wanted)
    if not study.possible(chosen):
        findings.refuse("contradiction", f"{at}/with_measures", "these measures cannot stand together")
        return None
    actions = study.measures[measure].actions
    adding = [index for index, action in enumerate(actions) if isinstance(action, AddLayers)]
    action = _only(asked.action, adding, "add_layers action", f"{at}/action", findings)
    if action is None:
        return None
    adds = actions[action]
    assert isinstance(adds, AddLayers), "one of those"
    solid = [index for index, layer in enumerate(adds.layers) if isinstance(layer, SolidLayer)]
    layer = _only(asked.layer, solid, "solid layer", f"{at}/layer", findings)
    return None if layer is None else Layer(measure, action, layer, chosen)


def _only(asked: int | None, known: list[int], what: str, at: str, findings: Findings) -> int | None:
    """Return the one that is asked for, or the only one there is."""
    if asked is None:
        if len(known) == 1:
            return known[0]
        findings.refuse("incomplete", at, f"say which {what}: there are {known}")
    elif asked in known:
        return asked
    else:
        findings.refuse("not_found", at, f"no {what} {asked}; there are {known}")
    return None


def least_thickness(layer: Layer, study: Study, goal: Goal) -> Thickness:
    """Return the least thickness that reaches a goal.

    A walk from thin to thick to the first step that reaches it, then a search within that step. Loads rise or fall
    steadily with a thickness unless one action insulates towards colder and towards warmer neighbours at once.

    Args:
        layer: the layer.
        study: the house and its measures.
        goal: what is to be reached.

    Raises:
        Refused: the method does not cover some thickness.
    """

    def tried(thickness_mm: float) -> tuple[House, Loads]:
        findings = Findings()
        measures = _resized(study.measures, layer, thickness_mm)
        derivation = Derivation(study.now.house, measures, study.now.annex)
        house = derivation.house_with(study.parts_of(layer.chosen), findings).house
        return house, study.loads_of_house(house, findings)

    def missed_by(thickness_mm: float) -> float:
        conditions = goal.conditions(tried(thickness_mm)[1])
        return max(condition.excess_w / max(condition.scale_w, 1e-3) for condition in conditions)

    below = SMALLEST_THICKNESS_MM
    house, loads = tried(below)
    if reached(goal, loads, AGREEMENT):
        return Thickness(0.0, loads, 0.0, house)
    best = Thickness(None, loads, 0.0, house)
    for thickness in _WALK_MM:
        house, loads = tried(thickness)
        if reached(goal, loads, AGREEMENT):
            least = _between(missed_by, below, thickness)
            house, loads = tried(least)
            return Thickness(least, loads, least, house)
        if shortfall_w(goal, loads) < shortfall_w(goal, best.loads):
            best = Thickness(None, loads, thickness, house)
        below = thickness
    return best


def shortfall_w(goal: Goal, loads: Loads) -> float:
    """Return by how much a goal is missed, W, over all its conditions."""
    return sum(max(0.0, condition.excess_w) for condition in goal.conditions(loads))


def _between(missed_by: Callable[[float], float], below: float, enough: float) -> float:
    """Return where a goal begins to be reached, from the side that reaches it."""
    from scipy.optimize import brentq  # slow to import, and no other question needs it

    if missed_by(enough) >= 0.0:
        return enough  # reached within rounding only
    least: float = brentq(missed_by, below, enough, xtol=SEARCH_WIDTH_MM)
    step = SEARCH_WIDTH_MM
    while least < enough and missed_by(least) > 0.0:
        least, step = min(least + step, enough), 2.0 * step
    return least


def _resized(measures: Sequence[Measure], layer: Layer, thickness_mm: float) -> list[Measure]:
    """Return the measures with the layer at a thickness."""
    resized = list(measures)
    measure = resized[layer.measure]
    actions = list(measure.actions)
    action = actions[layer.action]
    assert isinstance(action, AddLayers), "the layer in question is one of those"
    layers = list(action.layers)
    layers[layer.layer] = layers[layer.layer].model_copy(update={"thickness_mm": thickness_mm})
    actions[layer.action] = action.model_copy(update={"layers": layers})
    resized[layer.measure] = measure.model_copy(update={"actions": actions})
    return resized
