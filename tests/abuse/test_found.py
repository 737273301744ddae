"""What fuzzing has found in equations and questions, kept from coming back. Refusals of files are with the files' own tests."""

from __future__ import annotations

import copy
import math
from typing import Any

import pytest

from warmstead import demo, emitter_check, heat_pump_sizing, house_loss, room_loss, uncertainty
from warmstead.building.findings import Refused

AIRTIGHT: dict[str, Any] = {
    "conditions": {"external_temperature_c": 0},
    "constructions": {},
    "reheat_w_m2": 0,
    "ventilation": {"method": "air_changes"},
    "rooms": [
        {
            "id": "a",
            "design_temperature_c": 20,
            "floor_area_m2": 10,
            "height_m": 2.5,
            "ventilation": {"air_changes": 1e-310},
            "elements": [],
            "emitters": [{"id": "r", "kind": "radiator", "standard_output_w": 1000}],
        }
    ],
}
"""A house whose load is above zero, and so small that anything divided by it is beyond all numbers."""


def test_a_load_next_to_nothing_has_no_coverage() -> None:
    assert house_loss({"house": AIRTIGHT})["design_heat_load_w"] > 0.0
    asked: dict[str, Any] = {"house": AIRTIGHT, "flow_temperature_c": 45, "return_temperature_c": 40}
    answer = emitter_check(asked)
    assert "coverage" not in answer["rooms"][0]
    assert "governing_room" not in answer
    usual = copy.deepcopy(asked)
    usual["house"]["rooms"][0]["ventilation"]["air_changes"] = 0.5
    assert math.isfinite(emitter_check(usual)["rooms"][0]["coverage"])


@pytest.mark.parametrize("ask", [heat_pump_sizing, uncertainty])
def test_a_load_next_to_nothing_is_nothing_to_size_for(ask: Any) -> None:
    name = ask.__name__.replace("_", "-")
    request = demo.requests()[name] | {"house": AIRTIGHT}
    request.pop("inputs", None)
    with pytest.raises(Refused) as refused:
        ask(request)
    assert ("/house", "contradiction") in {(p.pointer, p.code) for p in refused.value.problems}


def test_a_room_as_warm_as_outside_but_for_the_last_digit_is_refused() -> None:
    house = copy.deepcopy(AIRTIGHT)
    house["conditions"]["external_temperature_c"] = -1e-310
    room = house["rooms"][0]
    room |= {"design_temperature_c": 0, "ventilation": {"air_changes": 0.5}}
    room["elements"] = [
        {
            "id": "wall",
            "construction": "wall",
            "area_m2": 10,
            "boundary": {"to": "unheated_space", "temperature_c": 5},
        }
    ]
    house["constructions"] = {"wall": {"kind": "declared", "u_value_w_m2k": 0.5, "source": "invented"}}
    with pytest.raises(Refused) as refused:
        room_loss({"house": house, "room": "a"})
    assert [(p.pointer, p.code) for p in refused.value.problems] == [
        ("/house/rooms/0/design_temperature_c", "contradiction")
    ]
    house["conditions"]["external_temperature_c"] = -0.01
    assert math.isfinite(room_loss({"house": house, "room": "a"})["heat_loss_coefficient_w_k"])
