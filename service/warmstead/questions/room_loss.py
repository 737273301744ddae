"""What does one room of the house lose on the design day?"""

from __future__ import annotations

from typing import Annotated, NotRequired, cast

from pydantic import Field

from warmstead.building import workings as worked
from warmstead.building.findings import Findings, Warning
from warmstead.building.house import ResolvedHouse, resolve_house
from warmstead.building.names import refuse_unknown
from warmstead.building.rooms import ResolvedRoom
from warmstead.building.statements import Basis, RoomStatement, Step, basis, room_statement
from warmstead.survey.document import Document, Identifier
from warmstead.survey.house import House

TITLE = "Heat loss of a room"
DESCRIPTION = (
    "Design heat load of one room of a house (EN 12831), with a row for each element, opening and junction."
)


class RoomLossRequest(Document):
    """A surveyed house and one of its rooms."""

    house: House = Field(description="The house; a single room is a house with one room.")
    room: Identifier = Field(description="Id of the room.")


class RoomLossResult(RoomStatement):
    """The room's heat load and where it comes from."""

    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know of this room.")]


def answer(request: RoomLossRequest, *, workings: bool = False) -> RoomLossResult:
    """Return the design heat load of one room.

    Args:
        request: the house and the room.
        workings: whether to list each step.

    Raises:
        Refused: the survey contradicts itself, needs what is not covered, or has no such room.
    """
    findings = Findings()
    names = [room.id for room in request.house.rooms]
    if request.room not in names:
        refuse_unknown(findings, "/room", "room", request.room, names)
    house = resolve_house(request.house, findings)
    findings.stop_if_refused()
    room = next(room for room in house.rooms if room.id == request.room)
    result = cast("RoomLossResult", room_statement(room))
    result["basis"] = basis(house.annex)
    result["warnings"] = _warnings_of(room, house, findings)
    if workings:
        result["workings"] = worked.room_steps(house, room)
    return result


def _warnings_of(room: ResolvedRoom, house: ResolvedHouse, findings: Findings) -> list[Warning]:
    """Leave out what concerns other rooms only; neighbours of this one stay, their temperatures count."""
    neighbours = {face.adjoins for face in room.faces}
    foreign = tuple(
        f"{other.at}/" for other in house.rooms if other is not room and other.id not in neighbours
    )
    return findings.warnings(lambda pointer: not pointer.startswith(foreign))
