"""Cautions of work on a house, each at the action that calls for it."""

from __future__ import annotations

from collections.abc import Sequence

from warmstead.building.cautions import caution
from warmstead.building.findings import Findings, WarningCode
from warmstead.building.house import ResolvedHouse
from warmstead.building.improvement.added_layers import is_wall
from warmstead.building.improvement.parts import Part, owner_of, surface_of
from warmstead.building.ventilation import DRAWING_FLUES
from warmstead.survey.house import House
from warmstead.survey.measures import (
    AddLayers,
    ChangeAir,
    ChangeAirtightness,
    Measure,
    ReplaceConstruction,
)

FABRIC: tuple[WarningCode, ...] = ("caution.asbestos", "caution.listed_building", "caution.fire_behaviour")
"""What any work on walls, roofs, floors and windows may meet."""


def warn_of_work(
    house: ResolvedHouse, measures: Sequence[Measure], parts: Sequence[Part], findings: Findings
) -> None:
    """Put the cautions of all measures beside the answer.

    What follows from layers (damp, filled cavities, cold lofts, floors) is told where they are resolved.

    Args:
        house: the house as it is.
        measures: the measures.
        parts: their parts.
        findings: where warnings go.
    """
    survey = house.house
    for index, measure in enumerate(measures):
        for which, action in enumerate(measure.actions):
            at = f"/measures/{index}/actions/{which}"
            mine = [part for part in parts if part.measure == index and part.action == which]
            if isinstance(action, AddLayers | ReplaceConstruction):
                for code in FABRIC:
                    caution(findings, code, at)
            if isinstance(action, AddLayers):
                caution(findings, "caution.cables_in_insulation", at)
                if action.side == "inside" and any(_wall_of_unknown_layers(survey, part) for part in mine):
                    caution(findings, "caution.internal_insulation", at)
            if isinstance(action, ChangeAir) and action.close_flues:
                caution(findings, "caution.closed_chimney", at)
            if _less_air(house, action, mine):
                caution(findings, "caution.background_ventilation", at)
                if any(flue.kind in DRAWING_FLUES for room in survey.rooms for flue in room.flues or ()):
                    caution(findings, "caution.open_flue", at)


def _wall_of_unknown_layers(house: House, part: Part) -> bool:
    construction = house.constructions[surface_of(house, part.place).construction]
    upright = is_wall(construction) or construction.kind == "declared"
    return upright and construction.kind != "layered" and part.place.kind == "room_surface"


def _less_air(house: ResolvedHouse, action: object, parts: Sequence[Part]) -> bool:
    """Whether an action leaves rooms with less outside air than they have now."""
    if isinstance(action, ChangeAirtightness):
        return True
    if isinstance(action, ReplaceConstruction):
        # New windows and doors are tighter than old ones.
        return any(part.place.opening >= 0 for part in parts)
    if not isinstance(action, ChangeAir):
        return False
    if action.close_flues:
        return True
    rooms = [owner_of(house.house, part.place).id for part in parts if part.place.member == "air_changes"]
    return any((action.air_changes or 0.0) < house.ventilation.air_changes[room] for room in rooms)
