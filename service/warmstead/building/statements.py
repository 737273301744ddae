"""How results are stated: the basis of an answer, rooms and their rows, steps of the workings."""

from __future__ import annotations

from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.annex import NationalAnnex
from warmstead.building.rooms import Face, ResolvedRoom
from warmstead.survey.quantities import stated
from warmstead.tables import TABLES_VERSION
from warmstead.version import __version__

CONTRACT = "v1"
EDITIONS = {
    "EN 12831": "2003",
    "EN 1264": "2021",
    "EN 14825": "2022",
    "EN 442-2": "2014",
    "ISO 10077-1": "2017",
    "ISO 13370": "2017",
    "ISO 6946": "2017",
}


class Basis(TypedDict):
    """What an answer stands on, so that an archived one can be checked again."""

    service_version: Annotated[str, Field(description="Version of this service.")]
    contract: Annotated[str, Field(description="Version of this contract.")]
    national_annex: Annotated[str, Field(description="National annex whose defaults applied.")]
    editions: Annotated[
        dict[str, str], Field(description="Edition of each standard, where the request names no other.")
    ]
    tables_version: Annotated[str, Field(description="Fingerprint of the tables' content.")]


class Step(TypedDict):
    """One step of the workings, in the order a person checks by hand."""

    of: Annotated[str, Field(description="What the step belongs to: construction, room, element, candidate.")]
    quantity: Annotated[str, Field(description="The quantity in words.")]
    symbol: Annotated[str, Field(description="Its symbol in the standard.")]
    value: Annotated[
        float, Field(description="Its value, unrounded.", json_schema_extra={"x-unit": "as `unit` says"})
    ]
    unit: Annotated[str, Field(description="Its unit.")]
    equation: Annotated[str, Field(description="How it follows, in words and symbols.")]
    clause: Annotated[str, Field(description="Where the method is written.")]


class ElementLoss(TypedDict):
    """One row of a room: `heat_loss_w` = (`area_m2` · `u_value_w_m2k` + `thermal_bridge_w_k`) · `temperature_difference_k`."""

    id: Annotated[str, Field(description="Id of the element, opening or junction.")]
    kind: Annotated[str, Field(description="`element`, `opening` or `junction`.")]
    construction: Annotated[str, Field(description="Id of the construction; `junction` for a junction.")]
    boundary: Annotated[str, Field(description="What is on the other side, as `boundary.to`.")]
    area_m2: Annotated[float, stated("m2", "Area, openings taken off.")]
    u_value_w_m2k: Annotated[float, stated("W/(m2.K)", "U-value.")]
    thermal_bridge_w_k: Annotated[float, stated("W/K", "Thermal bridges of this row.")]
    temperature_difference_k: Annotated[
        float, stated("K", "Effective difference, after factor or ground rule.")
    ]
    heat_loss_w: Annotated[float, stated("W", "Heat loss; negative where heat comes in.")]
    opening_of: NotRequired[Annotated[str, Field(description="Id of the element in which this opening is.")]]
    adjoins: NotRequired[
        Annotated[str, Field(description="Id of the room or unheated space on the other side.")]
    ]
    declared_in: NotRequired[
        Annotated[str, Field(description="Id of the room in which this row was declared.")]
    ]


class RoomStatement(TypedDict):
    """A room's heat load."""

    id: Annotated[str, Field(description="Id of the room.")]
    design_temperature_c: Annotated[float, stated("Cel", "Design temperature.")]
    floor_area_m2: Annotated[float, stated("m2", "Floor area.")]
    volume_m3: Annotated[float, stated("m3", "Air volume.")]
    transmission_w: Annotated[float, stated("W", "Sum of the rows.")]
    ventilation_w: Annotated[float, stated("W", "Ventilation heat loss.")]
    reheat_w: Annotated[float, stated("W", "Extra capacity to warm up again.")]
    design_heat_load_w: Annotated[float, stated("W", "Transmission, ventilation and reheat together.")]
    heat_loss_coefficient_w_k: Annotated[
        float,
        stated("W/K", "Transmission without rows to rooms, and ventilation, for each kelvin to outside."),
    ]
    elements: Annotated[
        list[ElementLoss], Field(description="One row for each element, opening and junction.")
    ]


def basis(annex: NationalAnnex) -> Basis:
    """Return what an answer stands on."""
    return {
        "service_version": __version__,
        "contract": CONTRACT,
        "national_annex": annex.name,
        "editions": dict(EDITIONS),
        "tables_version": TABLES_VERSION,
    }


def element_loss(face: Face) -> ElementLoss:
    """State one face of a room."""
    row: ElementLoss = {
        "id": face.id,
        "kind": face.kind,
        "construction": face.construction,
        "boundary": face.boundary,
        "area_m2": face.area_m2,
        "u_value_w_m2k": face.u_value_w_m2k,
        "thermal_bridge_w_k": face.bridge_w_k,
        "temperature_difference_k": face.difference_k,
        "heat_loss_w": face.heat_loss_w,
    }
    if face.opening_of is not None:
        row["opening_of"] = face.opening_of
    if face.adjoins is not None:
        row["adjoins"] = face.adjoins
    if face.declared_in is not None:
        row["declared_in"] = face.declared_in
    return row


def room_statement(room: ResolvedRoom) -> RoomStatement:
    """State one room."""
    return {
        "id": room.id,
        "design_temperature_c": room.temperature_c,
        "floor_area_m2": room.floor_area_m2,
        "volume_m3": room.volume_m3,
        "transmission_w": room.transmission_w,
        "ventilation_w": room.ventilation_w,
        "reheat_w": room.reheat_w,
        "design_heat_load_w": room.design_heat_load_w,
        "heat_loss_coefficient_w_k": room.coefficient_w_k,
        "elements": [element_loss(face) for face in room.faces],
    }
