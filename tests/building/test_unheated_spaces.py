"""Unheated spaces: their three ways to be known, and the balance of those that are described."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead

Json = dict[str, Any]
Make = Callable[..., Any]


def towards(**way: Any) -> Json:
    return {"to": "unheated_space", **way}


def test_a_space_of_known_temperature(house: Make, room: Make, element: Make, loss: Make, row: Make) -> None:
    answer = loss(house(room("a", element("w", 10, towards(temperature_c=5)))))
    found = row(answer, "a", "w")
    assert found["temperature_difference_k"] == 15  # 20 − 5
    assert found["heat_loss_w"] == pytest.approx(1.0 * 10 * 15)
    assert "adjoins" not in found
    assert answer["unheated_spaces"] == []


@pytest.mark.parametrize(("factor", "difference_k"), [(0, 0), (0.4, 12), (0.8, 24), (1, 30)])
def test_a_space_of_known_reduction_factor(
    factor: float, difference_k: float, house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    # the contract's b = (θi − θu)/(θi − θe), with θi − θe = 20 + 10
    answer = loss(house(room("a", element("w", 10, towards(temperature_reduction_factor=factor)))))
    assert row(answer, "a", "w")["temperature_difference_k"] == pytest.approx(difference_k)


def test_a_space_by_its_balance(house: Make, room: Make, element: Make, loss: Make, row: Make) -> None:
    garage = {
        "id": "garage",
        "volume_m3": 40,
        "air_changes": 1,
        "elements": [
            element("side", 30, "outside", openings=[{"id": "gate", "construction": "half", "area_m2": 6}])
        ],
    }
    answer = loss(house(room("a", element("w", 20, towards(space="garage"))), unheated_spaces=[garage]))
    # H to the room 1.0 · 20 = 20; to outside 1.0 · 24 + 0.5 · 6 + 0.34 · 1 · 40 = 40.6 W/K;
    # θu = (20 · 20 + 40.6 · (−10))/60.6
    temperature = (20 * 20 - 10 * 40.6) / 60.6
    assert answer["unheated_spaces"] == [{"id": "garage", "temperature_c": pytest.approx(temperature)}]
    found = row(answer, "a", "w")
    assert found["adjoins"] == "garage"
    assert found["heat_loss_w"] == pytest.approx(20 * (20 - temperature))


def test_the_surcharge_weighs_on_both_sides_of_a_space(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    loft = {"id": "loft", "volume_m3": 1, "air_changes": 0, "elements": [element("roof", 30, "outside")]}
    answer = loss(
        house(
            room("a", element("ceiling", 20, towards(space="loft"), "half")),
            unheated_spaces=[loft],
            thermal_bridges={"surcharge_w_m2k": 0.1},
        )
    )
    # (0.5 + 0.1) · 20 = 12 W/K up, (1.0 + 0.1) · 30 = 33 W/K out
    temperature = (12 * 20 - 33 * 10) / 45
    found = row(answer, "a", "ceiling")
    assert found["thermal_bridge_w_k"] == pytest.approx(2)
    assert found["heat_loss_w"] == pytest.approx(12 * (20 - temperature))


def test_a_space_between_rooms_ground_and_neighbour(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    cellar = {
        "id": "cellar",
        "volume_m3": 50,
        "air_changes": 0.5,
        "elements": [
            element("floor", 20, "ground", "half"),
            element("party", 10, {"to": "neighbour", "temperature_c": 12}),
        ],
    }
    answer = loss(
        house(
            room("a", element("door", 2, towards(space="cellar"))),
            room("b", element("over", 18, towards(space="cellar"), "half"), design_temperature_c=16),
            unheated_spaces=[cellar],
        )
    )
    # 2 W/K to 20 °C, 9 to 16 °C, 10 to 12 °C, air 0.34 · 0.5 · 50 = 8.5 to −10 °C; the ground rule weighs the floor with
    # 1.45, EN 12831:2003 annex D (from memory): 0.5 · 20 · 1.45 = 14.5 W/K to the annual mean of 10 °C
    temperature = (2 * 20 + 9 * 16 + 10 * 12 - 8.5 * 10 + 14.5 * 10) / (2 + 9 + 10 + 8.5 + 14.5)
    assert answer["unheated_spaces"][0]["temperature_c"] == pytest.approx(temperature)
    assert row(answer, "a", "door")["heat_loss_w"] == pytest.approx(2 * (20 - temperature))
    assert row(answer, "b", "over")["heat_loss_w"] == pytest.approx(9 * (16 - temperature))


def test_a_junction_takes_part_in_the_balance(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    loft = {"id": "loft", "volume_m3": 1, "air_changes": 0, "elements": [element("roof", 30, "outside")]}
    junction = {
        "id": "eaves",
        "room": "a",
        "psi_w_mk": 0.5,
        "length_m": 10,
        "boundary": towards(space="loft"),
    }
    answer = loss(
        house(
            room("a", element("ceiling", 20, towards(space="loft"), "half")),
            unheated_spaces=[loft],
            thermal_bridges={"junctions": [junction]},
        )
    )
    temperature = ((10 + 5) * 20 - 30 * 10) / 45  # 10 W/K and 5 W/K from the room, 30 to outside
    assert answer["unheated_spaces"][0]["temperature_c"] == pytest.approx(temperature)
    assert row(answer, "a", "eaves")["heat_loss_w"] == pytest.approx(5 * (20 - temperature))


def test_a_junction_that_takes_more_than_all_else_gives_has_no_balance(
    house: Make, room: Make, element: Make, refused: Make
) -> None:
    """−29 W/K beside 30 W/K to outside would make the space −880 °C."""
    space = {"id": "s", "volume_m3": 1, "air_changes": 0, "elements": [element("w", 30, "outside")]}
    junction = {"id": "j", "room": "a", "psi_w_mk": -2.9, "length_m": 10, "boundary": towards(space="s")}
    survey = house(room("a"), unheated_spaces=[space], thermal_bridges={"junctions": [junction]})
    ((_, code),) = refused(warmstead.house_loss, {"house": survey})
    assert code == "contradiction"


def test_a_space_without_air_and_sides_is_as_warm_as_the_room(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    space = {"id": "s", "volume_m3": 5, "air_changes": 0, "elements": []}
    answer = loss(house(room("a", element("w", 10, towards(space="s"))), unheated_spaces=[space]))
    assert answer["unheated_spaces"][0]["temperature_c"] == pytest.approx(20)
    assert row(answer, "a", "w")["heat_loss_w"] == pytest.approx(0)


def test_a_space_that_nothing_adjoins_changes_nothing(
    house: Make, room: Make, element: Make, loss: Make
) -> None:
    with_it = house(room("a", element("w", 10, "outside")))
    with_it["unheated_spaces"] = [{"id": "shed", "volume_m3": 9, "air_changes": 1, "elements": []}]
    answer = loss(with_it)
    assert answer["design_heat_load_w"] == pytest.approx(300)
    assert answer["unheated_spaces"] == [{"id": "shed", "temperature_c": -10}]


@pytest.mark.parametrize(
    ("way", "code"),
    [
        ({}, "incomplete"),
        ({"temperature_c": 5, "temperature_reduction_factor": 0.5}, "ambiguous"),
        ({"space": "s", "temperature_c": 5}, "ambiguous"),
        ({"space": "s", "temperature_c": 0, "temperature_reduction_factor": 0}, "ambiguous"),
    ],
)
def test_a_space_is_known_in_exactly_one_way(
    way: Json, code: str, house: Make, room: Make, element: Make, refused: Make
) -> None:
    survey = house(
        room("a", element("w", 10, towards(**way))),
        unheated_spaces=[{"id": "s", "volume_m3": 5, "air_changes": 1, "elements": []}],
    )
    assert refused(warmstead.house_loss, {"house": survey}) == [("/house/rooms/0/elements/0/boundary", code)]


@pytest.mark.parametrize(
    "boundary", [{"to": "room", "room": "a"}, {"to": "unheated_space", "temperature_c": 5}]
)
def test_a_space_has_no_elements_to_rooms_and_spaces(
    boundary: Json, house: Make, room: Make, element: Make, refused: Make
) -> None:
    space = {"id": "s", "volume_m3": 5, "air_changes": 1, "elements": [element("w", 10, boundary)]}
    survey = house(room("a"), unheated_spaces=[space])
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/unheated_spaces/0/elements/0/boundary/to", "not_allowed_here")
    ]


def test_a_ceiling_under_a_space_warns_of_frost(
    house: Make, room: Make, element: Make, loss: Make, warned: Make
) -> None:
    layer = {"kind": "resistance", "resistance_m2k_w": 5}
    ceiling = {"kind": "layered", "heat_flow": "upwards", "layers": [layer]}
    survey = house(
        room("a", element("c", 10, towards(temperature_c=0), "ceiling")), constructions={"ceiling": ceiling}
    )
    assert warned(loss(survey), "caution.loft_frost") == ["/house/constructions/ceiling"]
    ceiling["heat_flow"] = "horizontal"
    assert warned(loss(survey), "caution.loft_frost") == []
