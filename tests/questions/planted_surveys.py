"""Ten errors of a careless second survey, each planted alone into a copy of the demonstration house.

Written by someone who had read only the contract and had not seen the code that has to find them; the errors, the sentences and
what must be named are theirs, unchanged. Every `edit` takes a deep copy of the house and returns the edited one. `loads_w` is the
design heat load, before and after, as the house-loss question answered it on the day the errors were made. All of it is invented,
like the house.
"""

from __future__ import annotations

import math
from typing import Any

Json = dict[str, Any]

FIRST_STOREY = ("landing", "bedroom-1", "bedroom-2", "study", "bathroom", "bedroom-3")

# U-values of the untouched demo house as house-loss answers them, stated with two decimals. Each of these
# constructions meets one kind of boundary only, so one number is enough. Ground floors are left alone: a declared
# value on ground would follow another rule, which is no harmless noise.
STATED_U_VALUES = {
    "wall-solid-bare": 2.11,
    "wall-solid-lined": 0.49,
    "wall-cavity-filled": 0.57,
    "wall-timber-frame": 0.30,
    "wall-brick-plastered": 1.72,
    "partition-block": 2.04,
    "floor-between-storeys": 1.69,
    "floor-between-storeys-down": 1.25,
    "floor-over-garage": 0.50,
    "ceiling-under-loft": 0.46,
    "roof-flat-extension": 0.19,
    "window-1995": 2.77,
    "window-2005": 1.53,
    "window-single": 4.47,
    "door-front": 3.28,
}


def _room(house: Json, room_id: str) -> Json:
    found: Json = next(room for room in house["rooms"] if room["id"] == room_id)
    return found


def _element(house: Json, room_id: str, element_id: str) -> Json:
    found: Json = next(
        element for element in _room(house, room_id)["elements"] if element["id"] == element_id
    )
    return found


def _tenth(value: float) -> float:
    """Rounded to 0.1, halves up, as a person rounds."""
    return math.floor(value * 10 + 0.5 + 1e-9) / 10


def _add_noise(house: Json) -> Json:
    """Areas to 0.1 m2 (lengths and heights multiplied out), U-values to two decimals (as declared values)."""
    for place in house["rooms"] + house["unheated_spaces"]:
        if "floor_area_m2" in place:
            place["floor_area_m2"] = _tenth(place["floor_area_m2"])
        for element in place["elements"]:
            if "length_m" in element:
                element["area_m2"] = element.pop("length_m") * element.pop("height_m")
            element["area_m2"] = _tenth(element["area_m2"])
            for opening in element.get("openings", []):
                opening["area_m2"] = _tenth(opening["area_m2"])
    for construction_id, u_value in STATED_U_VALUES.items():
        house["constructions"][construction_id] = {
            "kind": "declared",
            "u_value_w_m2k": u_value,
            "source": "second survey, two decimals (invented)",
        }
    return house


def noise_only(house: Json) -> Json:
    """The noise without an error (+9.5 W, no room more than 4 W). Not one of the ten."""
    return _add_noise(house)


def bathroom_by_worst_wall(house: Json) -> Json:
    _element(house, "bathroom", "wall-rear")["construction"] = "wall-solid-bare"
    return _add_noise(house)


def lining_in_centimetres(house: Json) -> Json:
    lining = house["constructions"]["wall-solid-lined"]["layers"][1]
    assert lining["thickness_mm"] == 60
    lining["thickness_mm"] = 6
    return house


def openings_not_taken_off(house: Json) -> Json:
    for room in house["rooms"]:
        elements = []
        for element in room["elements"]:
            openings = element.pop("openings", [])
            elements.append(element)
            elements.extend({**opening, "boundary": dict(element["boundary"])} for opening in openings)
        room["elements"] = elements
    return house


def party_wall_to_outside(house: Json) -> Json:
    _element(house, "dining", "wall-party")["boundary"] = {"to": "outside"}
    return house


def kitchen_air_changes(house: Json) -> Json:
    _room(house, "kitchen")["ventilation"]["air_changes"] = 2.0
    return house


def bedroom_as_living_room(house: Json) -> Json:
    _room(house, "bedroom-1")["design_temperature_c"] = 21
    return _add_noise(house)


def floor_over_garage_missing(house: Json) -> Json:
    room = _room(house, "bedroom-3")
    room["elements"] = [element for element in room["elements"] if element["id"] != "floor"]
    return house


def suspended_floor_as_slab(house: Json) -> Json:
    whole = house["constructions"].pop("floor-suspended")
    house["constructions"]["floor-slab-house"] = {
        "kind": "ground_floor",
        "floor": "slab_on_ground",
        "area_m2": whole["area_m2"],
        "exposed_perimeter_m": whole["exposed_perimeter_m"],
        "wall_thickness_mm": whole["wall_thickness_mm"],
        "soil_conductivity_w_mk": whole["soil_conductivity_w_mk"],
        "floor_resistance_m2k_w": whole["floor_resistance_m2k_w"],
    }
    for room in house["rooms"]:
        for element in room["elements"]:
            if element["construction"] == "floor-suspended":
                element["construction"] = "floor-slab-house"
    return house


def chimney_left_out(house: Json) -> Json:
    del _room(house, "living")["flues"]
    return house


def first_storey_too_high(house: Json) -> Json:
    for room_id in FIRST_STOREY:
        room = _room(house, room_id)
        room["height_m"] = 2.8
        for element in room["elements"]:
            if element.get("height_m") == 2.5:
                element["height_m"] = 2.8
    return house


PLANTED: list[Json] = [
    {
        "id": "bathroom-by-worst-wall",
        "what_happened": (
            "The bathroom was classed by its worst wall: its lined rear wall was entered as bare "
            "solid brick like the flank."
        ),
        "edit": bathroom_by_worst_wall,
        "must_name": {
            "rooms": ["bathroom"],
            "elements": ["wall-rear"],
            "cause_words": ["wall-solid-bare", "bare", "construction", "U-value", "uninsulated", "lined"],
        },
        "noise": True,
        "loads_w": [7965.6, 8141.1],
    },
    {
        "id": "lining-in-centimetres",
        "what_happened": (
            "The insulation of the lined walls was measured as 6 cm and typed as 6 into a field "
            "in millimetres, instead of 60."
        ),
        "edit": lining_in_centimetres,
        "must_name": {
            "rooms": [],
            "elements": [],
            "cause_words": ["wall-solid-lined", "thickness", "thinner", "lining", "millimetre"],
        },
        "noise": False,
        "loads_w": [7965.6, 8328.9],
    },
    {
        "id": "openings-not-taken-off",
        "what_happened": (
            "All windows and outside doors were listed beside their walls, whose areas stayed "
            "gross, so every opening's area counts twice."
        ),
        "edit": openings_not_taken_off,
        "must_name": {
            "rooms": [],
            "elements": [],
            "cause_words": ["gross", "openings", "taken off", "deducted", "net area", "twice"],
        },
        "noise": False,
        "loads_w": [7965.6, 8627.2],
    },
    {
        "id": "party-wall-to-outside",
        "what_happened": (
            "The dining room's party wall was taken as a wall to outside instead of to the heated neighbour."
        ),
        "edit": party_wall_to_outside,
        "must_name": {
            "rooms": ["dining"],
            "elements": ["wall-party"],
            "cause_words": ["neighbour", "outside", "boundary", "other side"],
        },
        "noise": False,
        "loads_w": [7965.6, 8371.5],
    },
    {
        "id": "kitchen-air-changes",
        "what_happened": (
            "The kitchen got 2.0 air changes an hour from a table for old kitchens instead of the "
            "0.8 of this extension."
        ),
        "edit": kitchen_air_changes,
        "must_name": {
            "rooms": ["kitchen"],
            "elements": [],
            "cause_words": ["air changes", "air change", "air_changes", "air-change", "ventilation"],
        },
        "noise": False,
        "loads_w": [7965.6, 8306.6],
    },
    {
        "id": "bedroom-as-living-room",
        "what_happened": "The front bedroom was given a design temperature of 21 °C, a living room's, instead of 18 °C.",
        "edit": bedroom_as_living_room,
        "must_name": {
            "rooms": ["bedroom-1"],
            "elements": [],
            "cause_words": ["temperature", "°C", "warmer", "degrees"],
        },
        "noise": True,
        "loads_w": [7965.6, 8148.1],
    },
    {
        "id": "floor-over-garage-missing",
        "what_happened": "The floor of the bedroom over the garage was left out, as if a heated room lay below it.",
        "edit": floor_over_garage_missing,
        "must_name": {
            "rooms": ["bedroom-3"],
            "elements": ["floor"],
            "cause_words": ["missing", "absent", "left out", "has no", "only in", "not in"],
        },
        "noise": False,
        "loads_w": [7965.6, 7861.0],
    },
    {
        "id": "suspended-floor-as-slab",
        "what_happened": (
            "The ventilated suspended timber floor under the four old ground-storey rooms was "
            "entered as a slab on ground."
        ),
        "edit": suspended_floor_as_slab,
        "must_name": {
            "rooms": [],
            "elements": [],
            "cause_words": ["slab", "suspended", "slab_on_ground", "floor class", "kind of floor"],
        },
        "noise": False,
        "loads_w": [7965.6, 7690.6],
    },
    {
        "id": "chimney-left-out",
        "what_happened": "The open chimney of the living room was not noted, so the air that it draws is missing.",
        "edit": chimney_left_out,
        "must_name": {
            "rooms": ["living"],
            "elements": [],
            "cause_words": ["chimney", "flue", "fireplace"],
        },
        "noise": False,
        "loads_w": [7965.6, 7332.0],
    },
    {
        "id": "first-storey-too-high",
        "what_happened": (
            "The first storey was taken 2.8 m high, joists included, instead of 2.5 m, in the "
            "walls and the air of all six rooms."
        ),
        "edit": first_storey_too_high,
        "must_name": {
            "rooms": [],
            "elements": [],
            "cause_words": ["height", "storey", "higher", "taller"],
        },
        "noise": False,
        "loads_w": [7965.6, 8251.0],
    },
]
