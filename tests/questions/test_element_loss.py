"""What one element loses, and that it is the row of a room."""

from __future__ import annotations

from typing import Any

import pytest

import warmstead

ELEMENT = {"area_m2": 12, "u_value_w_m2k": 0.5, "internal_temperature_c": 20, "external_temperature_c": -4}


def ask(**more: Any) -> dict[str, Any]:
    request = {name: value for name, value in (ELEMENT | more).items() if value is not None}
    answer: dict[str, Any] = warmstead.element_loss(request)
    return answer


def test_an_element_on_outside_by_hand() -> None:
    # By hand: (12 · 0.5 + 12 · 0.1) · 24 = 172.8 W
    answer = ask(surcharge_w_m2k=0.1)
    assert answer["heat_loss_w"] == pytest.approx(172.8, abs=1e-9)
    assert answer["heat_loss_coefficient_w_k"] == pytest.approx(7.2, abs=1e-12)
    assert answer["warnings"] == []


@pytest.mark.parametrize(
    ("boundary", "asked"),
    [
        ({"to": "outside"}, {}),
        (
            {"to": "unheated_space", "temperature_reduction_factor": 0.4},
            {"temperature_reduction_factor": 0.4},
        ),
        (
            {"to": "unheated_space", "temperature_c": 6},
            {"adjacent_temperature_c": 6, "external_temperature_c": None},
        ),
        (
            {"to": "neighbour", "temperature_c": 23},
            {"adjacent_temperature_c": 23, "external_temperature_c": None},
        ),
    ],
)
def test_an_element_is_the_row_of_a_room(boundary: dict[str, Any], asked: dict[str, Any]) -> None:
    surcharge = 0.0 if boundary["to"] == "neighbour" else 0.05
    house = {
        "conditions": {"external_temperature_c": -4},
        "constructions": {"wall": {"kind": "declared", "u_value_w_m2k": 0.5, "source": "invented"}},
        "thermal_bridges": {"surcharge_w_m2k": surcharge},
        "rooms": [
            {
                "id": "a",
                "design_temperature_c": 20,
                "floor_area_m2": 10,
                "height_m": 2.5,
                "elements": [{"id": "w", "construction": "wall", "area_m2": 12, "boundary": boundary}],
            }
        ],
    }
    row = warmstead.room_loss({"house": house, "room": "a"})["elements"][0]
    answer = ask(surcharge_w_m2k=surcharge, **asked)
    for member in ("heat_loss_w", "thermal_bridge_w_k", "temperature_difference_k"):
        assert answer[member] == pytest.approx(row[member], abs=1e-12), member


def test_nothing_is_lost_where_it_is_as_warm_or_lets_nothing_through() -> None:
    assert ask(external_temperature_c=20)["heat_loss_w"] == 0
    assert ask(u_value_w_m2k=0)["heat_loss_w"] == 0
    assert ask(temperature_reduction_factor=0)["heat_loss_w"] == 0


@pytest.mark.parametrize(
    ("more", "problems"),
    [
        ({"external_temperature_c": None}, [("/external_temperature_c", "incomplete")]),
        (
            {"external_temperature_c": None, "temperature_reduction_factor": 0.5},
            [("/external_temperature_c", "incomplete")],
        ),
        ({"adjacent_temperature_c": 5}, [("/external_temperature_c", "ambiguous")]),
        (
            {"adjacent_temperature_c": 5, "temperature_reduction_factor": 0.5},
            [("/external_temperature_c", "ambiguous"), ("/temperature_reduction_factor", "ambiguous")],
        ),
    ],
)
def test_exactly_one_thing_is_behind_an_element(
    more: dict[str, Any], problems: list[tuple[str, str]]
) -> None:
    with pytest.raises(warmstead.Refused) as caught:
        ask(**more)
    assert [(problem.pointer, problem.code) for problem in caught.value.problems] == problems


def test_workings_end_in_the_loss() -> None:
    answer = warmstead.element_loss(ELEMENT | {"temperature_reduction_factor": 0.5}, workings=True)
    assert [step["symbol"] for step in answer["workings"]] == ["Δθ", "H_tb", "Φ"]
    assert answer["workings"][-1]["value"] == answer["heat_loss_w"]
    assert answer["workings"][0]["equation"] == "0.5 · (θ_i − θ_e)"
