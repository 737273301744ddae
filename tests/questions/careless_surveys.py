"""Further errors of a careless second survey, each planted alone into a copy of the demonstration house.

Unlike `planted_surveys`, these were written by people who know the answer's code, to look at what its sentences say. What a
sentence must say is derived from the edit and the house by hand; the line above each says how. All of it is invented.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

Json = dict[str, Any]


class Careless(NamedTuple):
    """One error: what was done, and what the first sentence has to say."""

    edit: Callable[[Json], None]
    cause: str
    pattern: str | None
    says: tuple[str, ...]
    before: Callable[[Json], None] | None = None
    """What both surveys have that the demonstration house has not."""


def room(survey: Json, name: str) -> Json:
    found: Json = next(room for room in survey["rooms"] if room["id"] == name)
    return found


def element(survey: Json, where: str, name: str) -> Json:
    found: Json = next(element for element in room(survey, where)["elements"] if element["id"] == name)
    return found


def feet_in_one_length(survey: Json) -> None:
    element(survey, "kitchen", "wall-north")["length_m"] = 13.12


def loft_as_outside(survey: Json) -> None:
    element(survey, "bedroom-1", "ceiling")["boundary"] = {"to": "outside"}


def wall_entered_twice(survey: Json) -> None:
    wall = {**element(survey, "bedroom-1", "wall-front"), "id": "wall-front-again"}
    del wall["openings"]
    room(survey, "bedroom-1")["elements"].append(wall)


def party_wall_left_out(survey: Json) -> None:
    room(survey, "dining")["elements"].remove(element(survey, "dining", "wall-party"))


def with_recovery(survey: Json) -> None:
    for name in ("living", "bedroom-1", "bedroom-2"):
        room(survey, name)["ventilation"] |= {"supply_l_s": 8, "heat_recovery_efficiency": 0.85}


def no_recovery(survey: Json) -> None:
    for one in survey["rooms"]:
        one["ventilation"].pop("heat_recovery_efficiency", None)


def flow_in_other_unit(survey: Json) -> None:
    # 8 l/s are 28.8 m³/h, entered as if in l/s.
    room(survey, "living")["ventilation"]["supply_l_s"] = 28.8


def no_fans(survey: Json) -> None:
    for one in survey["rooms"]:
        one["ventilation"].pop("supply_l_s", None)
        one["ventilation"].pop("heat_recovery_efficiency", None)


def windows_single(survey: Json) -> None:
    for one in survey["rooms"]:
        for part in one["elements"]:
            for opening in part.get("openings", ()):
                if opening["construction"] in ("window-1995", "window-2005"):
                    opening["construction"] = "window-single"


def garage_heated(survey: Json) -> None:
    (garage,) = survey["unheated_spaces"]
    survey["unheated_spaces"] = []
    for one in survey["rooms"]:
        for part in one["elements"]:
            if part["boundary"].get("space") == "garage":
                part["boundary"] = {"to": "room", "room": "garage"}
    survey["rooms"].append(
        {
            "id": "garage",
            "name": "Garage",
            "design_temperature_c": 18,
            "floor_area_m2": 13.0,
            "height_m": 2.6,
            "ventilation": {"air_changes": 1.5},
            "elements": garage["elements"],
        }
    )


def no_surcharge(survey: Json) -> None:
    survey["thermal_bridges"]["surcharge_w_m2k"] = 0


def area_for_perimeter(survey: Json) -> None:
    survey["constructions"]["floor-suspended"]["exposed_perimeter_m"] = 45.26


def measured_outside(survey: Json) -> None:
    """Measure every room to the outer faces, and say nothing of it."""
    for one in survey["rooms"]:
        one["floor_area_m2"] *= 1.12
        one["height_m"] += 0.2
        for part in one["elements"]:
            if "length_m" in part:
                part["length_m"] += 0.3
                part["height_m"] += 0.2
            else:
                part["area_m2"] *= 1.12


def rooms_thrown_together(survey: Json) -> None:
    living, dining = room(survey, "living"), room(survey, "dining")
    survey["rooms"].remove(dining)
    living["floor_area_m2"] += dining["floor_area_m2"]
    living["elements"] = [part for part in living["elements"] if part["id"] != "partition-dining"]
    living["elements"] += [{**part, "id": f"dining-{part['id']}"} for part in dining["elements"]]
    for one in survey["rooms"]:
        for part in one["elements"]:
            if part["boundary"].get("room") == "dining":
                part["boundary"] = {"to": "room", "room": "living"}


def layer_forgotten(survey: Json) -> None:
    survey["constructions"]["wall-timber-frame"]["layers"].pop(1)


def conductivity_slip(survey: Json) -> None:
    survey["constructions"]["wall-cavity-filled"]["layers"][2]["conductivity_w_mk"] = 0.4


CARELESS = [
    # 13.12 ft are 4.0 m.
    Careless(feet_in_one_length, "area", "mixed_units", ("wall-north", "13.12 m for 4 m", "feet for metres")),
    Careless(
        loft_as_outside,
        "other_side",
        "unheated_as_outside",
        ("outside air", "ceiling in Front bedroom", "unheated"),
    ),
    # 4.1 m by 2.5 m.
    Careless(
        wall_entered_twice,
        "only_in_one",
        "declared_twice",
        ("wall-front in Front bedroom twice", "wall-front-again", "(10.25 m²)"),
    ),
    # 3.4 m by 2.6 m.
    Careless(
        party_wall_left_out, "only_in_one", "missing_element", ("wall-party (8.84 m² with", "Dining room")
    ),
    # Three rooms of 8 l/s.
    Careless(
        no_recovery,
        "heat_recovery",
        None,
        ("no heat recovery in Living room, Front bedroom and Rear bedroom", "85 % on 24 l/s of supply"),
        with_recovery,
    ),
    # 28.8 / 8 = 3.6.
    Careless(
        flow_in_other_unit,
        "mechanical_air",
        "mixed_units",
        ("28.8 l/s of supply", "in Living room", "8 l/s", "m³/h for l/s"),
        with_recovery,
    ),
    # Three rooms of 8 l/s.
    Careless(
        no_fans,
        "mechanical_air",
        None,
        ("no mechanical air in Living room", "24 l/s of supply together", "85 %"),
        with_recovery,
    ),
    # One window-2005 and seven window-1995 in the house.
    Careless(
        windows_single,
        "u_value",
        None,
        ("window-single with", "8 elements in", "window-2005 with", "window-1995 with"),
    ),
    Careless(
        garage_heated, "only_in_one", "space_as_room", ("Garage as a heated room at 18 °C", "unheated space")
    ),
    Careless(no_surcharge, "thermal_bridges", None, ("thermal bridges of 0 W/(m²·K)", "0.1 W/(m²·K)")),
    Careless(
        area_for_perimeter,
        "u_value",
        None,
        ("floor-suspended", "exposed perimeter 45.26 m against 15.7 m", "the number of its area"),
    ),
    # Floors and ceilings by 1.12, which is the least; the garage wall of the utility room by 1.4 · 2.8 / (1.1 · 2.6) = 1.37.
    Careless(
        measured_outside, "area", "dimension_basis", ("11 rooms", "12 to 37 % larger", "to their outer faces")
    ),
    # 15.58 and 13.94 m² of floor.
    Careless(
        rooms_thrown_together,
        "only_in_one",
        "merged_rooms",
        ("Living room and Dining room as one room (29.52 m²)", "as two (15.58 and 13.94 m²)"),
    ),
    Careless(
        layer_forgotten,
        "u_value",
        None,
        ("wall-timber-frame", "layer 2 from the inside", "140 mm of 0.035 W/(m·K)"),
    ),
    Careless(
        conductivity_slip,
        "u_value",
        "mixed_units",
        (
            "wall-cavity-filled",
            "conductivity of layer 3",
            "0.4 W/(m·K) against 0.04 W/(m·K)",
            "decimal point",
        ),
    ),
]
