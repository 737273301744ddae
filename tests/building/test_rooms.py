"""Rooms: their volume, their temperature, reheat, and the sums of a house that loses little or nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead

Json = dict[str, Any]
Make = Callable[..., Any]


def test_a_volume_is_floor_area_by_height(house: Make, room: Make, loss: Make) -> None:
    survey = house(room("a", height_m=2.4))
    del survey["rooms"][0]["volume_m3"]
    assert loss(survey)["rooms"][0]["volume_m3"] == pytest.approx(24 * 2.4)


@pytest.mark.parametrize(
    ("volume_m3", "unusual"), [(57.6, False), (60, False), (55, False), (50, True), (80, True)]
)
def test_a_volume_that_height_does_not_bear_out_is_unusual(
    volume_m3: float, unusual: bool, house: Make, room: Make, loss: Make, warned: Make
) -> None:
    answer = loss(house(room("a", height_m=2.4, volume_m3=volume_m3)))  # 24 · 2.4 = 57.6 m³
    assert answer["rooms"][0]["volume_m3"] == volume_m3
    assert warned(answer, "unusual.volume") == (["/house/rooms/0/volume_m3"] if unusual else [])


def test_a_room_without_height_and_volume_is_incomplete(house: Make, room: Make, refused: Make) -> None:
    survey = house(room("a"), room("b"))
    for one in survey["rooms"]:
        del one["volume_m3"]
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/rooms/0/height_m", "incomplete"),
        ("/house/rooms/1/height_m", "incomplete"),
    ]


@pytest.mark.parametrize(("inside", "unusual"), [(12, False), (26, False), (11.9, True), (26.1, True)])
def test_temperatures_of_rooms_that_are_rare(
    inside: float, unusual: bool, house: Make, room: Make, loss: Make, warned: Make
) -> None:
    answer = loss(house(room("a", design_temperature_c=inside)))
    pointers = ["/house/rooms/0/design_temperature_c"] if unusual else []
    assert warned(answer, "unusual.room_temperature") == pointers


@pytest.mark.parametrize("inside", [0, 5])
def test_a_room_is_warmer_than_outside(inside: float, house: Make, room: Make, refused: Make) -> None:
    survey = house(room("a", design_temperature_c=inside))
    survey["conditions"]["external_temperature_c"] = 5
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/rooms/0/design_temperature_c", "contradiction")
    ]


def test_reheat_goes_by_floor_area(house: Make, room: Make, element: Make, loss: Make) -> None:
    answer = loss(house(room("a", element("w", 10, "outside")), room("b", floor_area_m2=6), reheat_w_m2=11))
    assert [one["reheat_w"] for one in answer["rooms"]] == pytest.approx([264, 66])
    assert answer["reheat_w"] == pytest.approx(330)
    assert answer["design_heat_load_w"] == pytest.approx(630)
    assert answer["specific_heat_load_w_m2"] == pytest.approx(630 / 30)
    # extra capacity is no loss
    assert answer["heat_loss_coefficient_w_k"] == pytest.approx(10)


def test_the_coefficient_counts_each_room_by_its_own_difference(
    house: Make, room: Make, element: Make, loss: Make
) -> None:
    answer = loss(
        house(
            room("a", element("w", 10, "outside"), element("i", 8, {"to": "room", "room": "b"})),
            room("b", element("w", 6, "outside"), design_temperature_c=14, ventilation={"air_changes": 1}),
        )
    )
    assert [one["heat_loss_coefficient_w_k"] for one in answer["rooms"]] == pytest.approx([10, 6 + 0.34 * 60])
    assert answer["heat_loss_coefficient_w_k"] == pytest.approx(16 + 0.34 * 60)


def test_a_house_that_loses_nothing_has_no_shares(house: Make, room: Make, element: Make, loss: Make) -> None:
    answer = loss(house(room("a", element("w", 10, {"to": "neighbour", "temperature_c": 20}))))
    assert answer["design_heat_load_w"] == 0
    (group,) = answer["by_construction"]
    assert "share" not in group


def test_a_room_may_have_no_elements(house: Make, room: Make, loss: Make) -> None:
    answer = loss(house(room("a")))
    assert answer["design_heat_load_w"] == 0
    assert answer["rooms"][0]["elements"] == []
    assert answer["by_construction"] == []


def test_a_house_that_needs_no_heat_has_nothing_to_size(
    house: Make, room: Make, element: Make, refused: Make
) -> None:
    survey = house(room("a", element("w", 10, {"to": "neighbour", "temperature_c": 25})))
    row = {"external_temperature_c": -10, "flow_temperature_c": 35, "capacity_w": 5e3}
    candidate = {"id": "unit", "performance": [{**row, "coefficient_of_performance": 3}]}
    question = {"house": survey, "flow_temperature_c": 35, "candidates": [candidate]}
    assert refused(warmstead.heat_pump_sizing, question) == [("/house", "contradiction")]


def test_a_room_question_about_no_room_names_the_nearest(house: Make, room: Make) -> None:
    with pytest.raises(warmstead.Refused, match="did you mean 'lounge'") as caught:
        warmstead.room_loss({"house": house(room("lounge"), room("kitchen")), "room": "loungue"})
    assert [(problem.pointer, problem.code) for problem in caught.value.problems] == [("/room", "not_found")]
