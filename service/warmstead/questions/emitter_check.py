"""Which emitters carry their room's load at these water temperatures, and how low may the flow go?"""

from __future__ import annotations

from typing import Annotated, NamedTuple, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building import emitter_workings as worked
from warmstead.building.cautions import caution
from warmstead.building.emitters import (
    Circuit,
    Emission,
    ResolvedEmitter,
    lowest_shift_k,
    pointer_of,
    resolve_emitter,
    standard_output_needed_w,
)
from warmstead.building.findings import Findings, Warning, code_of
from warmstead.building.house import ResolvedHouse, resolve_house
from warmstead.building.names import refuse_repeated, refuse_unknown
from warmstead.building.rooms import ResolvedRoom
from warmstead.building.statements import Basis, Step, basis
from warmstead.standards import en_442, water
from warmstead.standards.errors import MethodError
from warmstead.survey.document import Document, Identifier, MayBeAbsent
from warmstead.survey.house import House
from warmstead.survey.quantities import WaterTemperature, stated

TITLE = "Emitters at a flow temperature"
DESCRIPTION = (
    "Output of every radiator (EN 442), underfloor panel (EN 1264) and fan convector at the given water temperatures, against "
    "the room's load; the lowest flow temperature, the governing room, and the standard output that replacements need."
)
HOT_SURFACE_C = 55.0
"""Flow temperature from which radiators can burn skin (common practice)."""


class CircuitTemperatures(Document):
    """A circuit with temperatures of its own, behind a mixer."""

    id: Identifier = Field(description="Named by the emitters that it feeds.")
    flow_temperature_c: WaterTemperature = Field(description="Flow temperature.")
    return_temperature_c: WaterTemperature = Field(description="Return temperature.")


class EmitterCheckRequest(Document):
    """A surveyed house and the water temperatures."""

    house: House = Field(description="The house, with emitters in its rooms.")
    flow_temperature_c: WaterTemperature = Field(description="Flow temperature on the design day.")
    return_temperature_c: WaterTemperature = Field(description="Return temperature on the design day.")
    circuits: MayBeAbsent[list[CircuitTemperatures]] = Field(
        None, max_length=20, description="Circuits with temperatures of their own."
    )


class EmitterStatement(TypedDict):
    """What one emitter gives."""

    id: Annotated[str, Field(description="Id of the emitter.")]
    output_w: Annotated[float, stated("W", "Heat to its room.")]
    excess_temperature_k: Annotated[float, stated("K", "Mean excess of the water over the room.")]
    mean: Annotated[en_442.Mean, Field(description="Which mean the excess is.")]
    flow_l_s: NotRequired[
        Annotated[
            float,
            stated("L/s", "Water flow, downward loss included; absent where flow and return are equal."),
        ]
    ]
    downward_loss_w: NotRequired[
        Annotated[float, stated("W", "Heat that a panel loses downwards; not part of its output.")]
    ]
    circuit: NotRequired[Annotated[str, Field(description="Id of its circuit, where it has one.")]]


class RoomCheck(TypedDict):
    """One room's load and emitters."""

    id: Annotated[str, Field(description="Id of the room.")]
    required_w: Annotated[float, stated("W", "Design heat load of the room.")]
    available_w: Annotated[float, stated("W", "Output of all its emitters.")]
    coverage: NotRequired[
        Annotated[float, stated("1", "Available over required; absent where nothing is required.")]
    ]
    lowest_flow_temperature_c: NotRequired[
        Annotated[
            float,
            stated(
                "Cel", "Lowest flow temperature, at the same difference to the return, that carries the load."
            ),
        ]
    ]
    standard_output_needed_w: NotRequired[
        Annotated[
            float, stated("W", "Standard output (50 K) that the room's radiators need at these temperatures.")
        ]
    ]
    emitters: Annotated[list[EmitterStatement], Field(description="The emitters, in the order sent.")]


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


class _Fed(NamedTuple):
    """An emitter with its water and what it then gives."""

    emitter: ResolvedEmitter
    water: Circuit
    emission: Emission


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
    _check_emitters(request.house, circuits, findings)
    house = resolve_house(request.house, findings)
    fed = {room.id: _feed(room, house, circuits, findings) for room in house.rooms}
    _check_returns(request, house, circuits, findings)
    findings.stop_if_refused()
    main = circuits[None]
    rooms = [_room_check(room, fed[room.id], main) for room in house.rooms]
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


def _circuits(request: EmitterCheckRequest, findings: Findings) -> dict[str | None, Circuit]:
    """Return the circuits by id, the question's own temperatures under None."""
    circuits: dict[str | None, Circuit] = {
        None: Circuit(request.flow_temperature_c, request.return_temperature_c)
    }
    _check_order(request.flow_temperature_c, request.return_temperature_c, "", findings)
    for index, circuit in enumerate(request.circuits or ()):
        _check_order(circuit.flow_temperature_c, circuit.return_temperature_c, f"/circuits/{index}", findings)
        circuits[circuit.id] = Circuit(circuit.flow_temperature_c, circuit.return_temperature_c)
    refuse_repeated(findings, ((f"/circuits/{i}/id", c.id) for i, c in enumerate(request.circuits or ())))
    return circuits


def _check_order(flow_c: float, return_c: float, at: str, findings: Findings) -> None:
    if return_c > flow_c:
        findings.refuse(
            "contradiction",
            f"{at}/return_temperature_c",
            f"a return of {return_c:g} °C is above the flow of {flow_c:g} °C",
        )
    elif return_c == flow_c:
        findings.warn(
            "unusual.no_temperature_drop",
            f"{at}/return_temperature_c",
            "flow and return are equal: no water flow can be given",
        )


def _check_emitters(house: House, circuits: dict[str | None, Circuit], findings: Findings) -> None:
    """Refuse repeated ids of emitters, and circuits that are not there."""
    known = [name for name in circuits if name is not None]
    for index, room in enumerate(house.rooms):
        at = f"/house/rooms/{index}/emitters"
        emitters = room.emitters or ()
        refuse_repeated(findings, ((f"{at}/{i}/id", emitter.id) for i, emitter in enumerate(emitters)))
        for which, emitter in enumerate(emitters):
            if emitter.circuit not in circuits:
                refuse_unknown(findings, f"{at}/{which}/circuit", "circuit", str(emitter.circuit), known)


def _feed(
    room: ResolvedRoom, house: ResolvedHouse, circuits: dict[str | None, Circuit], findings: Findings
) -> list[_Fed]:
    """Resolve a room's emitters, and let water flow through those that it can heat with."""
    fed: list[_Fed] = []
    for index, emitter in enumerate(room.room.emitters or ()):
        at = f"{room.at}/emitters/{index}"
        resolved = resolve_emitter(emitter, room, house, at, findings)
        water_of = circuits.get(emitter.circuit)
        if (
            water_of is not None
            and resolved is not None
            and room.temperature_c < water_of.return_c <= water_of.flow_c
        ):
            try:
                fed.append(_Fed(resolved, water_of, resolved.emission(water_of)))
            except MethodError as error:
                findings.refuse(code_of(error), pointer_of(error, emitter, at), str(error))
    return fed


def _check_returns(
    request: EmitterCheckRequest,
    house: ResolvedHouse,
    circuits: dict[str | None, Circuit],
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


def _room_check(room: ResolvedRoom, fed: list[_Fed], main: Circuit) -> RoomCheck:
    required = room.design_heat_load_w
    available = sum((item.emission.output_w for item in fed), 0.0)
    check: RoomCheck = {
        "id": room.id,
        "required_w": required,
        "available_w": available,
        "emitters": [_emitter_statement(item) for item in fed],
    }
    if required <= 0.0:
        return check
    check["coverage"] = available / required
    shift = lowest_shift_k(required, [(item.emitter, item.water) for item in fed], room.temperature_c)
    if shift is not None:
        check["lowest_flow_temperature_c"] = max(item.water.flow_c for item in fed) + shift
    water_of = fed[0].water if fed else main
    if water_of.return_c > room.temperature_c:
        excess = en_442.excess_temperature(water_of.flow_c, water_of.return_c, room.temperature_c)
        needed = standard_output_needed_w(required, [(i.emitter, i.emission) for i in fed], excess.excess_k)
        if needed is not None:
            check["standard_output_needed_w"] = needed
    return check


def _emitter_statement(item: _Fed) -> EmitterStatement:
    emission = item.emission
    statement: EmitterStatement = {
        "id": item.emitter.emitter.id,
        "output_w": emission.output_w,
        "excess_temperature_k": emission.excess_k,
        "mean": emission.mean,
    }
    difference = item.water.flow_c - item.water.return_c
    if difference > 0.0:
        statement["flow_l_s"] = water.flow_l_s(emission.output_w + emission.downward_w, difference)
    if emission.downward_w:
        statement["downward_loss_w"] = emission.downward_w
    if item.emitter.emitter.circuit is not None:
        statement["circuit"] = item.emitter.emitter.circuit
    return statement


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


def _warn(room: ResolvedRoom, fed: list[_Fed], findings: Findings) -> None:
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
