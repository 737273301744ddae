"""Which emitters carry their room's load at these water temperatures, and how low may the flow go?"""

from __future__ import annotations

from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building import emitter_workings as worked
from warmstead.building.cautions import caution
from warmstead.building.emitters import HOT_SURFACE_C, Circuit
from warmstead.building.findings import Findings, Warning
from warmstead.building.house import ResolvedHouse, resolve_house
from warmstead.building.names import refuse_repeated
from warmstead.building.room_emitters import (
    Circuits,
    Fed,
    RoomCheck,
    check_emitters,
    check_order,
    feed,
    room_check,
)
from warmstead.building.rooms import ResolvedRoom
from warmstead.building.statements import Basis, Step, basis
from warmstead.survey.document import Document, MayBeAbsent
from warmstead.survey.emitters import CircuitTemperatures
from warmstead.survey.house import House
from warmstead.survey.quantities import WaterTemperature, stated

TITLE = "Emitters at a flow temperature"
DESCRIPTION = (
    "Output of every radiator (EN 442), underfloor panel (EN 1264) and fan convector at the given water temperatures, against "
    "the room's load; the lowest flow temperature, the governing room, and the standard output that replacements need."
)


class EmitterCheckRequest(Document):
    """A surveyed house and the water temperatures."""

    house: House = Field(description="The house, with emitters in its rooms.")
    flow_temperature_c: WaterTemperature = Field(description="Flow temperature on the design day.")
    return_temperature_c: WaterTemperature = Field(description="Return temperature on the design day.")
    circuits: MayBeAbsent[list[CircuitTemperatures]] = Field(
        None, max_length=20, description="Circuits with temperatures of their own."
    )


class EmitterCheckResult(TypedDict):
    """Every room's emitters, and what governs the flow temperature."""

    rooms: Annotated[list[RoomCheck], Field(description="The rooms, in the order sent.")]
    governing_room: NotRequired[
        Annotated[str, Field(description="Room that needs the highest flow temperature.")]
    ]
    lowest_flow_temperature_c: NotRequired[
        Annotated[
            float,
            stated(
                "Cel", "Lowest flow temperature that carries every room; absent where one cannot be carried."
            ),
        ]
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each step, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: EmitterCheckRequest, *, workings: bool = False) -> EmitterCheckResult:
    """Return what each emitter gives, and how low the flow temperature may go.

    Args:
        request: the house and the water temperatures.
        workings: whether to list each step.

    Raises:
        Refused: the survey or the temperatures contradict themselves, or an emitter is not covered.
    """
    findings = Findings()
    circuits = _circuits(request, findings)
    check_emitters(request.house, circuits, findings)
    house = resolve_house(request.house, findings)
    fed = {room.id: feed(room, house, circuits, findings) for room in house.rooms}
    _check_returns(request, house, circuits, findings)
    findings.stop_if_refused()
    main = circuits[None]
    rooms = [room_check(room, fed[room.id], main) for room in house.rooms]
    for room in house.rooms:
        _warn(room, fed[room.id], findings)
    if max(circuit.flow_c for circuit in circuits.values()) >= HOT_SURFACE_C:
        caution(findings, "caution.hot_surface", "/flow_temperature_c")
    result: EmitterCheckResult = {
        "rooms": rooms,
        "basis": basis(house.annex),
        "warnings": findings.warnings(),
    }
    _add_governing(result)
    if workings:
        result["workings"] = [
            step
            for room in house.rooms
            for step in worked.emitter_steps(room, [(f.emitter, f.water, f.emission) for f in fed[room.id]])
        ]
    return result


def _circuits(request: EmitterCheckRequest, findings: Findings) -> Circuits:
    """Return the circuits by id, the question's own temperatures under None."""
    circuits: Circuits = {None: Circuit(request.flow_temperature_c, request.return_temperature_c)}
    check_order(request.flow_temperature_c, request.return_temperature_c, "", findings)
    for index, circuit in enumerate(request.circuits or ()):
        check_order(circuit.flow_temperature_c, circuit.return_temperature_c, f"/circuits/{index}", findings)
        circuits[circuit.id] = Circuit(circuit.flow_temperature_c, circuit.return_temperature_c)
    refuse_repeated(findings, ((f"/circuits/{i}/id", c.id) for i, c in enumerate(request.circuits or ())))
    return circuits


def _check_returns(
    request: EmitterCheckRequest,
    house: ResolvedHouse,
    circuits: Circuits,
    findings: Findings,
) -> None:
    """Refuse water that comes, or comes back, no warmer than a room it is to heat."""
    places = {circuit.id: f"/circuits/{index}" for index, circuit in enumerate(request.circuits or ())}
    for room in house.rooms:
        named = {emitter.circuit for emitter in room.room.emitters or ()} or {None}
        for name in sorted(named.intersection(circuits), key=str):
            at = places.get(name, "") if name is not None else ""
            for member, temperature in zip(
                ("flow_temperature_c", "return_temperature_c"), circuits[name], strict=True
            ):
                if temperature <= room.temperature_c:
                    findings.refuse(
                        "contradiction",
                        f"{at}/{member}",
                        f"{temperature:g} °C does not heat {room.id!r} at {room.temperature_c:g} °C; "
                        "it must be above that",
                    )


def _add_governing(result: EmitterCheckResult) -> None:
    """Name the room that governs: one that no temperature carries, else the one that needs the highest."""
    loaded = [room for room in result["rooms"] if "coverage" in room]
    if not loaded:
        return
    hopeless = [room for room in loaded if "lowest_flow_temperature_c" not in room]
    if hopeless:
        result["governing_room"] = max(hopeless, key=lambda room: room["required_w"] - room["available_w"])[
            "id"
        ]
        return
    governing = max(loaded, key=lambda room: room["lowest_flow_temperature_c"])
    result["governing_room"] = governing["id"]
    result["lowest_flow_temperature_c"] = governing["lowest_flow_temperature_c"]


def _warn(room: ResolvedRoom, fed: list[Fed], findings: Findings) -> None:
    if len({item.water for item in fed}) > 1:
        findings.warn(
            "assumption.circuits_move_together",
            f"{room.at}/emitters",
            "for the lowest flow temperature all circuits of this room move by the same amount; the warmest flow is stated",
        )
    for index, item in enumerate(fed):
        if item.emission.at_surface_limit:
            findings.warn(
                "caution.surface_limit",
                f"{room.at}/emitters/{index}",
                "at these temperatures the floor would pass its highest surface temperature: its output is counted at that "
                "limit, and its water has to be mixed down",
            )
