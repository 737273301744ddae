"""A room's emitters at their water temperatures against its load."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, NamedTuple, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.emitters import (
    Circuit,
    Emission,
    ResolvedEmitter,
    lowest_shift_k,
    pointer_of,
    resolve_emitter,
    standard_output_needed_w,
)
from warmstead.building.findings import Findings, code_of
from warmstead.building.house import ResolvedHouse
from warmstead.building.names import refuse_repeated, refuse_unknown
from warmstead.building.rooms import ResolvedRoom
from warmstead.standards import en_442, water
from warmstead.standards.errors import MethodError
from warmstead.survey.house import House
from warmstead.survey.quantities import stated

Circuits = dict[str | None, Circuit]
"""Water temperatures by circuit; those of the question itself under None."""


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


class Fed(NamedTuple):
    """An emitter with its water and what it then gives."""

    emitter: ResolvedEmitter
    water: Circuit
    emission: Emission


def check_order(flow_c: float, return_c: float, at: str, findings: Findings) -> None:
    """Refuse a return above its flow, and warn of one that equals it.

    Args:
        flow_c: flow temperature, °C.
        return_c: return temperature, °C.
        at: JSON pointer of what holds `return_temperature_c`.
        findings: where problems and warnings go.
    """
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


def check_emitters(house: House, circuits: Circuits, findings: Findings, house_at: str = "/house") -> None:
    """Refuse repeated ids of emitters, and circuits that are not there."""
    known = [name for name in circuits if name is not None]
    for index, room in enumerate(house.rooms):
        at = f"{house_at}/rooms/{index}/emitters"
        emitters = room.emitters or ()
        refuse_repeated(findings, ((f"{at}/{i}/id", emitter.id) for i, emitter in enumerate(emitters)))
        for which, emitter in enumerate(emitters):
            if emitter.circuit not in circuits:
                refuse_unknown(findings, f"{at}/{which}/circuit", "circuit", str(emitter.circuit), known)


def feed(room: ResolvedRoom, house: ResolvedHouse, circuits: Circuits, findings: Findings) -> list[Fed]:
    """Resolve a room's emitters, and let water flow through those that it can heat with.

    Args:
        room: the room.
        house: its house.
        circuits: water temperatures by circuit, the question's own under None.
        findings: where problems and warnings go.
    """
    fed: list[Fed] = []
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
                fed.append(Fed(resolved, water_of, resolved.emission(water_of)))
            except MethodError as error:
                findings.refuse(code_of(error), pointer_of(error, emitter, at), str(error))
    return fed


def room_check(room: ResolvedRoom, fed: Sequence[Fed], main: Circuit) -> RoomCheck:
    """Return a room's load beside what its emitters give, and the lowest flow temperature that carries it.

    Args:
        room: the room.
        fed: its emitters with their water.
        main: the question's own temperatures, for a room without emitters.
    """
    required = room.design_heat_load_w
    available = sum((item.emission.output_w for item in fed), 0.0)
    check: RoomCheck = {
        "id": room.id,
        "required_w": required,
        "available_w": available,
        "emitters": [_emitter_statement(item) for item in fed],
    }
    coverage = available / required if required > 0.0 else math.inf
    if coverage == math.inf:
        return check  # nothing is required, or so little that no number is large enough for the coverage
    check["coverage"] = coverage
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


def _emitter_statement(item: Fed) -> EmitterStatement:
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
