"""What does the house lose on the design day, room by room and row by row?"""

from __future__ import annotations

from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building import workings as worked
from warmstead.building.findings import Findings, Warning
from warmstead.building.house import ResolvedHouse, resolve_house
from warmstead.building.statements import Basis, RoomStatement, Step, basis, room_statement
from warmstead.survey.document import Document
from warmstead.survey.house import House
from warmstead.survey.quantities import stated

TITLE = "Heat loss of a house"
DESCRIPTION = (
    "Design heat load of a whole house (EN 12831): every room with a row for each element, opening and junction, and the "
    "losses by construction."
)


class HouseLossRequest(Document):
    """A surveyed house."""

    house: House = Field(description="The house.")


class ConstructionLoss(TypedDict):
    """All rows of one construction towards one kind of boundary."""

    construction: Annotated[str, Field(description="Id of the construction; `junction` for junctions.")]
    boundary: Annotated[str, Field(description="What is on the other side.")]
    area_m2: Annotated[float, stated("m2", "Area; between rooms counted once.")]
    heat_loss_w: Annotated[float, stated("W", "Heat loss; between rooms it cancels.")]
    share: NotRequired[
        Annotated[
            float,
            stated("1", "Share of the house's transmission; absent where that is zero. Shares sum to 1."),
        ]
    ]


class SpaceStatement(TypedDict):
    """An unheated space by its balance."""

    id: Annotated[str, Field(description="Id of the space.")]
    temperature_c: Annotated[float, stated("Cel", "Temperature on the design day.")]


class HouseLossResult(TypedDict):
    """The house's heat load and where it comes from."""

    design_heat_load_w: Annotated[float, stated("W", "Transmission, ventilation and reheat of the house.")]
    transmission_w: Annotated[float, stated("W", "Transmission of the house: the sum of the rooms'.")]
    ventilation_w: Annotated[
        float,
        stated("W", "Ventilation of the house: the sum of the rooms' by air_changes, less by airtightness."),
    ]
    reheat_w: Annotated[float, stated("W", "Extra capacity to warm up again.")]
    heat_loss_coefficient_w_k: Annotated[float, stated("W/K", "Sum of the rooms' coefficients.")]
    specific_heat_load_w_m2: Annotated[float, stated("W/m2", "Heat load for each square metre of floor.")]
    floor_area_m2: Annotated[float, stated("m2", "Floor area of all rooms.")]
    dimensions: Annotated[str, Field(description="How areas were measured.")]
    rooms: Annotated[list[RoomStatement], Field(description="The rooms, in the order sent.")]
    unheated_spaces: Annotated[
        list[SpaceStatement], Field(description="Unheated spaces with their temperature.")
    ]
    by_construction: Annotated[
        list[ConstructionLoss], Field(description="Losses by construction, the largest first.")
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: HouseLossRequest, *, workings: bool = False) -> HouseLossResult:
    """Return the design heat load of a house.

    Args:
        request: the house.
        workings: whether to list each step.

    Raises:
        Refused: the survey contradicts itself, or needs what is not covered.
    """
    findings = Findings()
    house = resolve_house(request.house, findings)
    load = house.design_heat_load_w
    result: HouseLossResult = {
        "design_heat_load_w": load,
        "transmission_w": house.transmission_w,
        "ventilation_w": house.ventilation_w,
        "reheat_w": house.reheat_w,
        "heat_loss_coefficient_w_k": house.heat_loss_coefficient_w_k,
        "specific_heat_load_w_m2": load / house.floor_area_m2,
        "floor_area_m2": house.floor_area_m2,
        "dimensions": house.dimensions,
        "rooms": [room_statement(room) for room in house.rooms],
        "unheated_spaces": [
            {"id": name, "temperature_c": temperature}
            for name, temperature in house.space_temperatures_c.items()
        ],
        "by_construction": _by_construction(house),
        "basis": basis(house.annex),
        "warnings": findings.warnings(),
    }
    if workings:
        result["workings"] = worked.house_steps(house)
    return result


def _by_construction(house: ResolvedHouse) -> list[ConstructionLoss]:
    groups: dict[tuple[str, str, str], ConstructionLoss] = {}
    for room in house.rooms:
        for face in room.faces:
            key = ((face.kind == "junction" and "junction") or "", face.construction, face.boundary)
            group = groups.get(key)
            if group is None:
                group = {
                    "construction": face.construction,
                    "boundary": face.boundary,
                    "area_m2": 0.0,
                    "heat_loss_w": 0.0,
                }
                groups[key] = group
            if face.declared_in is None:
                group["area_m2"] += face.area_m2
            group["heat_loss_w"] += face.heat_loss_w
    if house.transmission_w != 0.0:
        for group in groups.values():
            group["share"] = group["heat_loss_w"] / house.transmission_w
    return sorted(groups.values(), key=lambda group: -group["heat_loss_w"])
