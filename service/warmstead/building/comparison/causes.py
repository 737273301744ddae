"""The closed list of causes by which two surveys of one house may differ, and the unions in which they stand."""

from __future__ import annotations

from typing import Literal, NamedTuple

Cause = Literal[
    "area",
    "opening_area",
    "volume",
    "floor_area",
    "u_value",
    "thermal_bridges",
    "room_temperature",
    "outside_temperature",
    "annual_mean_temperature",
    "other_side_temperature",
    "space_temperature",
    "other_side",
    "reduction_factor",
    "ground_rule",
    "air_changes",
    "airtightness",
    "mechanical_air",
    "heat_recovery",
    "flues",
    "ventilation_method",
    "air_heat_capacity",
    "reheat",
    "only_in_one",
]

Group = Literal[
    "dimensions",
    "constructions",
    "thermal_bridges",
    "temperatures",
    "other_side",
    "air",
    "method",
    "only_in_one",
]

GROUP_OF: dict[Cause, Group] = {
    "area": "dimensions",
    "opening_area": "dimensions",
    "volume": "dimensions",
    "floor_area": "dimensions",
    "u_value": "constructions",
    "thermal_bridges": "thermal_bridges",
    "room_temperature": "temperatures",
    "outside_temperature": "temperatures",
    "annual_mean_temperature": "temperatures",
    "other_side_temperature": "temperatures",
    "space_temperature": "temperatures",
    "other_side": "other_side",
    "reduction_factor": "other_side",
    "ground_rule": "other_side",
    "air_changes": "air",
    "airtightness": "air",
    "mechanical_air": "air",
    "heat_recovery": "air",
    "flues": "air",
    "ventilation_method": "method",
    "air_heat_capacity": "method",
    "reheat": "method",
    "only_in_one": "only_in_one",
}
"""Every cause with its union; the causes of one union stand together."""

_ORDER = {cause: place for place, cause in enumerate(GROUP_OF)}


class Player(NamedTuple):
    """One factor that differs: what it is, and whose (a room or a space), where that matters."""

    cause: Cause
    subject: str = ""


def in_unions(players: set[Player]) -> tuple[list[Player], tuple[int, ...]]:
    """Return players in the order of their unions, and how many each union has."""
    ordered = sorted(players, key=lambda player: (_ORDER[player.cause], player.subject))
    sizes: dict[Group, int] = {}
    for player in ordered:
        group = GROUP_OF[player.cause]
        sizes[group] = sizes.get(group, 0) + 1
    return ordered, tuple(sizes.values())


def in_order(cause: Cause) -> int:
    """Return a cause's place in the list."""
    return _ORDER[cause]
