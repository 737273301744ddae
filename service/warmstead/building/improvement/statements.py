"""How measures, sets of them and their effects are stated."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.house import ResolvedHouse
from warmstead.building.improvement.added_layers import is_wall, thickness_m
from warmstead.building.improvement.choice import Chosen
from warmstead.building.improvement.goals import Loads
from warmstead.building.improvement.parts import Part, Place, owner_of, surface_of
from warmstead.building.improvement.study import Study
from warmstead.survey.constructions import ExternalSide
from warmstead.survey.house import Element
from warmstead.survey.measures import AddLayers
from warmstead.survey.quantities import stated


class SurfaceStatement(TypedDict):
    """A surface before and after a measure, taken alone."""

    room: NotRequired[Annotated[str, Field(description="Id of the room that it is declared in.")]]
    space: NotRequired[Annotated[str, Field(description="Id of the unheated space that it is declared in.")]]
    element: Annotated[str, Field(description="Id of the element or opening.")]
    u_value_before_w_m2k: Annotated[float, stated("W/(m2.K)", "U-value now.")]
    u_value_after_w_m2k: Annotated[float, stated("W/(m2.K)", "U-value with the measure alone.")]


class RoomSaving(TypedDict):
    """What a measure saves in one room; negative where the room then needs more."""

    id: Annotated[str, Field(description="Id of the room.")]
    saving_alone_w: Annotated[float, stated("W", "Less load with the measure alone.")]
    saving_after_others_w: Annotated[float, stated("W", "Less load once the `others` are taken.")]


class MeasureStatement(TypedDict):
    """What one measure does."""

    id: Annotated[str, Field(description="Id of the measure.")]
    cost: NotRequired[Annotated[float, stated("1", "As sent.")]]
    life_years: NotRequired[Annotated[float, stated("a", "As sent.")]]
    saving_alone_w: Annotated[float, stated("W", "Less load of the house with this measure alone.")]
    saving_after_others_w: Annotated[
        float, stated("W", "Less load of the house once the `others` are taken: by no means the same.")
    ]
    others: Annotated[
        list[str],
        Field(
            description="In the order sent, each further measure that can stand with this one and those before it."
        ),
    ]
    cost_per_watt_saved: NotRequired[
        Annotated[float, stated("W-1", "Cost for each watt saved alone; absent where it saves none.")]
    ]
    rooms: Annotated[list[RoomSaving], Field(description="Rooms whose load changes.")]
    surfaces: Annotated[list[SurfaceStatement], Field(description="Surfaces whose construction changes.")]
    sufficient_rooms: NotRequired[
        Annotated[
            list[str],
            Field(description="Rooms whose emitters carry the load with this measure alone, and do not now."),
        ]
    ]
    floor_area_lost_m2: NotRequired[
        Annotated[
            float,
            stated("m2", "Length of walls times thickness of layers on their inside, where both are known."),
        ]
    ]


class RoomLoad(TypedDict):
    """A room with a set of measures."""

    id: Annotated[str, Field(description="Id of the room.")]
    design_heat_load_w: Annotated[float, stated("W", "Design heat load.")]
    available_w: NotRequired[
        Annotated[float, stated("W", "Output of its emitters, where water temperatures are given.")]
    ]


class SetStatement(TypedDict):
    """The house with a set of measures."""

    measures: Annotated[list[str], Field(description="Ids, in the order sent.")]
    cost: NotRequired[Annotated[float, stated("1", "Their costs together, where given.")]]
    design_heat_load_w: Annotated[float, stated("W", "Design heat load of the house with all of them.")]
    saving_w: Annotated[float, stated("W", "Less load than now.")]
    margin_w: NotRequired[
        Annotated[float, stated("W", "Watts to spare in the goal's closest condition; negative: missing.")]
    ]
    rooms: Annotated[list[RoomLoad], Field(description="The rooms, in the order sent.")]
    sufficient_rooms: NotRequired[
        Annotated[
            list[str],
            Field(description="Rooms whose emitters carry the load, where water temperatures are given."),
        ]
    ]
    suitable_candidates: NotRequired[
        Annotated[
            list[str], Field(description="Candidates that are suitable, where there are any to choose from.")
        ]
    ]


class AllMeasures(SetStatement):
    """The house with every measure that can stand with those before it."""

    left_out: Annotated[list[str], Field(description="Measures that could not stand with those before them.")]


class ReachingSet(SetStatement):
    """A set of measures that reaches the goal."""

    proved_optimal: Annotated[
        bool,
        Field(
            description="Whether it is proved that no set reaches the goal for less, those before it aside."
        ),
    ]


class RoomShortfall(TypedDict):
    """A room that is not carried."""

    id: Annotated[str, Field(description="Id of the room.")]
    shortfall_w: Annotated[float, stated("W", "Load beyond the output of its emitters.")]


class Shortfall(SetStatement):
    """The set that comes nearest to a goal that none reaches."""

    shortfall_w: Annotated[
        float, stated("W", "Watts by which the goal is missed; by flow temperature the sum over the rooms.")
    ]
    proved_unreachable: Annotated[
        bool, Field(description="Whether it is proved that no set reaches the goal.")
    ]
    proved_nearest: Annotated[bool, Field(description="Whether it is proved that no set comes nearer.")]
    short_rooms: Annotated[
        list[RoomShortfall], Field(description="Rooms that are not carried then; empty for other goals.")
    ]


class LeastThicknessStatement(TypedDict):
    """The least thickness of a layer, or why there is none."""

    measures: Annotated[
        list[str], Field(description="The measures that are taken with it, its own included.")
    ]
    thickness_mm: NotRequired[
        Annotated[
            float,
            stated("mm", "Least thickness, unrounded; 0 where the rest suffices; absent where none does."),
        ]
    ]
    nearest_thickness_mm: NotRequired[
        Annotated[float, stated("mm", "Where none reaches the goal: the thickness tried that comes nearest.")]
    ]
    shortfall_w: NotRequired[Annotated[float, stated("W", "Watts by which the goal is missed there.")]]
    design_heat_load_w: Annotated[float, stated("W", "Design heat load of the house with that thickness.")]
    surfaces: Annotated[
        list[SurfaceStatement], Field(description="The measure's surfaces with that thickness.")
    ]


class FrontierPoint(TypedDict):
    """A set of measures than which none is both cheaper and better."""

    measures: Annotated[list[str], Field(description="Ids, in the order sent.")]
    cost: NotRequired[Annotated[float, stated("1", "Their costs together, where given.")]]
    design_heat_load_w: Annotated[float, stated("W", "Design heat load of the house with all of them.")]


class ConflictStatement(TypedDict):
    """Measures that cannot stand together."""

    measures: Annotated[list[str], Field(description="Ids, in the order sent.")]
    reason: Annotated[str, Field(description="Why not.")]


def ids_of(study: Study, chosen: Chosen | Sequence[int]) -> list[str]:
    """Return the ids of some measures, in the order sent."""
    return [study.measures[index].id for index in sorted(chosen)]


def measure_statement(study: Study, index: int) -> MeasureStatement:
    """State one measure alone and after the others."""
    measure = study.measures[index]
    everything = study.together([index])
    others = everything - {index}
    now, alone = study.loads_now, study.loads(frozenset({index}))
    before, after = study.loads(others), study.loads(everything)
    saving = now.house_w - alone.house_w
    statement: MeasureStatement = {
        "id": measure.id,
        "saving_alone_w": saving,
        "saving_after_others_w": before.house_w - after.house_w,
        "others": ids_of(study, others),
        "rooms": _rooms(study, now, alone, before, after),
        "surfaces": surfaces(study, index, study.alone[index]),
    }
    if measure.cost is not None:
        statement["cost"] = measure.cost
        if saving > 0.0 and measure.cost <= LARGEST_RATIO * saving:
            statement["cost_per_watt_saved"] = measure.cost / saving
    if measure.life_years is not None:
        statement["life_years"] = measure.life_years
    if now.outputs_w:
        carried_now = set(carried(study, now))
        statement["sufficient_rooms"] = [room for room in carried(study, alone) if room not in carried_now]
    lost = _floor_area_lost(study, index)
    if lost is not None:
        statement["floor_area_lost_m2"] = lost
    return statement


LARGEST_RATIO = 1e15
"""Costs for each watt beyond this come from savings that are rounding, and mean nothing."""


def _rooms(study: Study, now: Loads, alone: Loads, before: Loads, after: Loads) -> list[RoomSaving]:
    return [
        {"id": room.id, "saving_alone_w": n - a, "saving_after_others_w": b - w}
        for room, n, a, b, w in zip(
            study.now.rooms, now.rooms_w, alone.rooms_w, before.rooms_w, after.rooms_w, strict=True
        )
        if n != a or b != w
    ]


def surfaces(study: Study, index: int, after: ResolvedHouse) -> list[SurfaceStatement]:
    """State every surface of a measure with its U-value now and in another state of the house."""
    rows: list[SurfaceStatement] = []
    for place in dict.fromkeys(part.place for part in study.parts if part.measure == index):
        if not place.kind.endswith("_surface"):
            continue
        name = surface_of(study.now.house, place).id
        where = owner_of(study.now.house, place).id
        row: SurfaceStatement = {
            "element": name,
            "u_value_before_w_m2k": _u_value(study.now, place),
            "u_value_after_w_m2k": _u_value(after, place),
        }
        rows.append({"room": where, **row} if place.kind == "room_surface" else {"space": where, **row})
    return rows


def _u_value(house: ResolvedHouse, place: Place) -> float:
    surface = surface_of(house.house, place)
    if place.kind == "room_surface":
        return next(
            face.u_value_w_m2k
            for face in house.rooms[place.owner].faces
            if face.id == surface.id and face.declared_in is None and face.kind != "junction"
        )
    boundary = owner_of(house.house, place).elements[place.element].boundary
    side: ExternalSide = "outside" if boundary.to in ("outside", "ground") else "internal"
    transmittance = house.constructions.resolved(surface.construction, side)
    assert transmittance is not None, "every surface was resolved"
    return transmittance.u_value_w_m2k


def carried(study: Study, loads: Loads) -> list[str]:
    """Return the rooms whose emitters carry their load; a room that needs nothing is carried by nothing."""
    return [
        room.id
        for room, load, output in zip(study.now.rooms, loads.rooms_w, loads.outputs_w, strict=True)
        if load <= output * (1.0 + ROUNDING) or load <= 0.0
    ]


ROUNDING = 1e-9
"""The last digits of a load do not decide whether it is carried."""


def _floor_area_lost(study: Study, index: int) -> float | None:
    """Return the floor area under new layers on the inside of walls, m²; None where nothing is known of any."""
    lost: float | None = None
    for part in study.parts:
        area = _lost_by(study, part) if part.measure == index else None
        if area is not None:
            lost = (lost or 0.0) + area
    return lost


def _lost_by(study: Study, part: Part) -> float | None:
    action = study.derivation.action(part)
    house, place = study.now.house, part.place
    if not isinstance(action, AddLayers) or action.side != "inside" or place.kind != "room_surface":
        return None
    surface = surface_of(house, place)
    if not isinstance(surface, Element) or surface.length_m is None:
        return None
    thickness = thickness_m(action)
    if thickness is None or not is_wall(house.constructions[surface.construction]):
        return None
    return surface.length_m * thickness
