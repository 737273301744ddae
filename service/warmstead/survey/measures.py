"""Measures that could be taken in a house, told apart by what they do, and the goal that a choice of them is to reach."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from warmstead.survey.constructions import Construction, Layer
from warmstead.survey.document import Document, Identifier, MayBeAbsent, Text, whole_number
from warmstead.survey.emitters import Emitter
from warmstead.survey.house import ExposedOpenings
from warmstead.survey.quantities import (
    AirChanges,
    AirFlow,
    PowerOrNone,
    Share,
    Surcharge,
    WaterTemperature,
    quantity,
)

Cost = Annotated[float, quantity("1", ge=0, le=1_000_000_000)]
Years = Annotated[float, quantity("a", ge=0.1, le=500)]
ActionIndex = Annotated[int, Field(ge=0, le=49, json_schema_extra={"x-unit": "1"}), whole_number]
NewLayerIndex = Annotated[int, Field(ge=0, le=19, json_schema_extra={"x-unit": "1"}), whole_number]


class Surface(Document):
    """An element or an opening of a room, or of an unheated space."""

    room: MayBeAbsent[Identifier] = Field(
        None, description="Id of the room in which it is declared; or `space`."
    )
    space: MayBeAbsent[Identifier] = Field(
        None, description="Id of the unheated space in which it is declared; or `room`."
    )
    element: Identifier = Field(description="Id of the element or opening there.")


class AddLayers(Document):
    """New layers on one side of what is there, on given surfaces only."""

    kind: Literal["add_layers"] = Field(description="Tells this variant apart.")
    surfaces: list[Surface] = Field(min_length=1, max_length=200, description="Where.")
    side: Literal["inside", "outside"] = Field(
        description="On which side: `inside` is the room's, or the unheated space's for its own elements."
    )
    layers: list[Layer] = Field(
        min_length=1, max_length=20, description="The new layers alone, from inside to outside."
    )


class ReplaceConstruction(Document):
    """Another construction in place of what is there: a new window, a rebuilt roof."""

    kind: Literal["replace_construction"] = Field(description="Tells this variant apart.")
    surfaces: list[Surface] = Field(min_length=1, max_length=200, description="Where.")
    construction: Construction = Field(description="What stands there afterwards.")


class ChangeAir(Document):
    """Other air in rooms: what is given replaces the room's own, what is absent stays."""

    kind: Literal["change_air"] = Field(description="Tells this variant apart.")
    rooms: list[Identifier] = Field(min_length=1, max_length=200, description="Ids of the rooms.")
    air_changes: MayBeAbsent[AirChanges] = Field(None, description="As in a room's `ventilation`.")
    supply_l_s: MayBeAbsent[AirFlow] = Field(None, description="Mechanical supply to each of these rooms.")
    extract_l_s: MayBeAbsent[AirFlow] = Field(
        None, description="Mechanical extract from each of these rooms."
    )
    heat_recovery_efficiency: MayBeAbsent[Share] = Field(
        None, description="Temperature efficiency of heat recovery on the supply of these rooms."
    )
    exposed_openings: MayBeAbsent[ExposedOpenings] = Field(
        None, description="Windows and doors to outside (method `airtightness`)."
    )
    close_flues: MayBeAbsent[bool] = Field(
        None,
        description="true: chimneys and flues that draw air from these rooms are closed off; room-sealed ones stay.",
    )


class ChangeAirtightness(Document):
    """Another airtightness of the whole house, whose ventilation goes by `airtightness`."""

    kind: Literal["change_airtightness"] = Field(description="Tells this variant apart.")
    air_changes_at_50pa: AirChanges = Field(description="n50 afterwards.")


class ChangeThermalBridges(Document):
    """Another surcharge for thermal bridges of the whole house."""

    kind: Literal["change_thermal_bridges"] = Field(description="Tells this variant apart.")
    surcharge_w_m2k: Surcharge = Field(description="Surcharge afterwards.")


class SwapEmitter(Document):
    """Another emitter in place of one that is there. The load stays."""

    kind: Literal["swap_emitter"] = Field(description="Tells this variant apart.")
    room: Identifier = Field(description="Id of the room.")
    emitter: Identifier = Field(description="Id of the emitter that goes.")
    replacement: Emitter = Field(description="The emitter that comes; it may keep the id.")


Action = Annotated[
    AddLayers | ReplaceConstruction | ChangeAir | ChangeAirtightness | ChangeThermalBridges | SwapEmitter,
    Field(discriminator="kind"),
]


class Measure(Document):
    """A measure: what is done together or not at all."""

    id: Identifier = Field(description="Unique among the measures.")
    name: MayBeAbsent[Text] = Field(None, description="A name for people.")
    actions: list[Action] = Field(min_length=1, max_length=50, description="What it does.")
    cost: MayBeAbsent[Cost] = Field(
        None, description="What it costs, in one currency and on one basis for all measures."
    )
    life_years: MayBeAbsent[Years] = Field(
        None, description="How long it lasts; repeated in the answer, not weighed."
    )
    disruption: MayBeAbsent[Text] = Field(
        None, description="What it means for those who live there; kept with the survey, never interpreted."
    )
    excludes: MayBeAbsent[list[Identifier]] = Field(
        None, max_length=39, description="Ids of measures that cannot be taken with it; one side suffices."
    )


class HouseLoadGoal(Document):
    """The house needs no more than a load."""

    kind: Literal["house_load"] = Field(description="Tells this variant apart.")
    design_heat_load_w: PowerOrNone = Field(description="Greatest design heat load of the house.")


class CandidateGoal(Document):
    """One of the `candidates` is suitable: neither too small nor too large."""

    kind: Literal["candidate"] = Field(description="Tells this variant apart.")
    candidate: Identifier = Field(description="Id of the candidate.")


class FlowTemperatureGoal(Document):
    """The emitters of every room carry its load at these temperatures."""

    kind: Literal["flow_temperature"] = Field(description="Tells this variant apart.")
    flow_temperature_c: WaterTemperature = Field(description="Flow temperature on the design day.")
    return_temperature_c: WaterTemperature = Field(description="Return temperature on the design day.")


Goal = Annotated[HouseLoadGoal | CandidateGoal | FlowTemperatureGoal, Field(discriminator="kind")]


class LeastThickness(Document):
    """The layer whose least thickness is sought."""

    measure: Identifier = Field(description="Id of the measure that adds the layer.")
    action: MayBeAbsent[ActionIndex] = Field(
        None, description="Index of its `add_layers` action; needed where it has several."
    )
    layer: MayBeAbsent[NewLayerIndex] = Field(
        None, description="Index of the solid layer among that action's; needed where there are several."
    )
    with_measures: MayBeAbsent[list[Identifier]] = Field(
        None, max_length=39, description="Ids of measures taken with it; absent: none."
    )
