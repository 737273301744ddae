"""What stands on ground: the rule by the annual mean, the rule by the outside temperature, and what may stand there."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead

Json = dict[str, Any]
Make = Callable[..., Any]

SLAB: Json = {
    "kind": "ground_floor",
    "floor": "slab_on_ground",
    "area_m2": 48,
    "exposed_perimeter_m": 28,
    "wall_thickness_mm": 300,
    "soil_conductivity_w_mk": 2.0,
    "floor_resistance_m2k_w": 1.0,
}
SUSPENDED: Json = SLAB | {
    "floor": "suspended",
    "height_above_ground_m": 0.3,
    "ventilation_opening_m2_per_m": 0.0015,
    "wind_speed_m_s": 4,
    "wind_shielding": "average",
    "underfloor_wall_u_value_w_m2k": 1.7,
}
BASEMENT_FLOOR: Json = SLAB | {"floor": "basement_floor", "depth_m": 2.0}
BASEMENT_WALL: Json = {
    "kind": "ground_floor",
    "floor": "basement_wall",
    "wall_thickness_mm": 300,
    "soil_conductivity_w_mk": 2.0,
    "floor_resistance_m2k_w": 1.0,
    "wall_resistance_m2k_w": 1.0,
    "depth_m": 2.0,
}
DECLARED: Json = {"kind": "declared", "u_value_w_m2k": 0.4, "source": "the figures of this test"}
FLOORS = {
    "slab": SLAB,
    "suspended": SUSPENDED,
    "basement-floor": BASEMENT_FLOOR,
    "basement-wall": BASEMENT_WALL,
    "declared": DECLARED,
}
# EN 12831:2003 annex D, fg1 and GW (from memory; the contract of this service states both): 1.45, and 1.15 where ground
# water is within 1 m; the room is at 20 °C, the annual mean 10 °C, outside −10 °C
BY_ANNUAL_MEAN_K = 1.45 * (20 - 10)
NEAR_WATER_K = 1.45 * 1.15 * (20 - 10)
TO_OUTSIDE_K = 30


@pytest.mark.parametrize(
    ("floor", "rule", "water", "difference_k"),
    [
        ("slab", "annual_mean", "deeper_than_1_m", BY_ANNUAL_MEAN_K),
        ("slab", "annual_mean", "within_1_m", NEAR_WATER_K),
        ("slab", None, None, BY_ANNUAL_MEAN_K),
        ("slab", None, "within_1_m", NEAR_WATER_K),
        ("slab", "external", "within_1_m", TO_OUTSIDE_K),
        ("basement-floor", "annual_mean", "deeper_than_1_m", BY_ANNUAL_MEAN_K),
        ("basement-wall", "annual_mean", "within_1_m", NEAR_WATER_K),
        ("basement-wall", "external", None, TO_OUTSIDE_K),
        ("declared", "annual_mean", "deeper_than_1_m", BY_ANNUAL_MEAN_K),
        ("declared", "annual_mean", "within_1_m", NEAR_WATER_K),
        ("declared", "external", "deeper_than_1_m", TO_OUTSIDE_K),
        ("suspended", "annual_mean", "deeper_than_1_m", TO_OUTSIDE_K),
        ("suspended", "annual_mean", "within_1_m", TO_OUTSIDE_K),
        ("suspended", "external", None, TO_OUTSIDE_K),
    ],
)
def test_the_difference_to_the_ground(
    floor: str,
    rule: str | None,
    water: str | None,
    difference_k: float,
    house: Make,
    room: Make,
    element: Make,
    loss: Make,
    row: Make,
) -> None:
    survey = house(room("a", element("floor", 24, "ground", floor)), constructions=FLOORS)
    for member, value in (("ground_rule", rule), ("ground_water", water)):
        del survey["conditions"][member]
        if value is not None:
            survey["conditions"][member] = value
    found = row(loss(survey), "a", "floor")
    assert found["temperature_difference_k"] == pytest.approx(difference_k)
    alone = warmstead.u_value({"construction": FLOORS[floor], "national_annex": "GB"})
    assert found["u_value_w_m2k"] == pytest.approx(alone["u_value_w_m2k"])
    assert found["heat_loss_w"] == pytest.approx(24 * alone["u_value_w_m2k"] * difference_k)


def test_no_surcharge_is_put_on_ground(house: Make, room: Make, element: Make, loss: Make, row: Make) -> None:
    survey = house(
        room("a", element("floor", 24, "ground", "declared"), element("w", 10, "outside")),
        constructions=FLOORS,
        thermal_bridges={"surcharge_w_m2k": 0.1},
    )
    answer = loss(survey)
    assert row(answer, "a", "floor")["thermal_bridge_w_k"] == 0
    assert row(answer, "a", "w")["thermal_bridge_w_k"] == pytest.approx(1)


def test_a_floor_has_the_u_value_of_the_whole_floor(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    """The construction holds area and perimeter of the whole floor; an element is the room's share."""
    survey = house(
        room("a", element("floor", 10, "ground", "slab")),
        room("b", element("floor", 38, "ground", "slab")),
        constructions=FLOORS,
    )
    answer = loss(survey)
    assert row(answer, "a", "floor")["u_value_w_m2k"] == row(answer, "b", "floor")["u_value_w_m2k"]


def test_ground_without_an_annual_mean_is_refused_once(
    house: Make, room: Make, element: Make, refused: Make
) -> None:
    survey = house(
        room("a", element("floor", 10, "ground", "slab"), element("wall", 5, "ground", "basement-wall")),
        room("b", element("floor", 10, "ground", "declared")),
        constructions=FLOORS,
    )
    del survey["conditions"]["annual_mean_external_temperature_c"]
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/conditions/annual_mean_external_temperature_c", "missing_field")
    ]


def test_layers_and_windows_have_no_u_value_on_ground(
    house: Make, room: Make, element: Make, refused: Make
) -> None:
    layered = {
        "kind": "layered",
        "heat_flow": "downwards",
        "layers": [{"kind": "resistance", "resistance_m2k_w": 1}],
    }
    window = {
        "kind": "window",
        "glazing_area_m2": 1,
        "frame_area_m2": 0.2,
        "u_glazing_w_m2k": 1,
        "u_frame_w_m2k": 1,
        "glazing_perimeter_m": 4,
        "psi_glazing_w_mk": 0.05,
    }
    survey = house(
        room("a", element("f", 10, "ground", "layered"), element("g", 10, "ground", "window")),
        constructions={"layered": layered, "window": window},
    )
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/rooms/0/elements/0/construction", "contradiction"),
        ("/house/rooms/0/elements/1/construction", "contradiction"),
    ]


@pytest.mark.parametrize(
    "boundary",
    [
        {"to": "outside"},
        {"to": "neighbour", "temperature_c": 15},
        {"to": "unheated_space", "temperature_c": 5},
        {"to": "room", "room": "b"},
    ],
)
def test_a_ground_floor_stands_on_ground_only(
    boundary: Json, house: Make, room: Make, element: Make, refused: Make
) -> None:
    survey = house(room("a", element("f", 10, boundary, "slab")), room("b"), constructions=FLOORS)
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/rooms/0/elements/0/construction", "contradiction")
    ]


def test_floors_on_ground_warn_of_radon(
    house: Make, room: Make, element: Make, loss: Make, warned: Make
) -> None:
    survey = house(
        room("a", element("f", 10, "ground", "slab"), element("g", 10, "ground", "suspended")),
        constructions=FLOORS,
    )
    answer = loss(survey)
    assert sorted(warned(answer, "caution.radon")) == [
        "/house/constructions/slab",
        "/house/constructions/suspended",
    ]
    assert warned(answer, "caution.suspended_floor") == ["/house/constructions/suspended"]


def test_a_basement_wall_ignores_what_it_shares_with_its_floor() -> None:
    bare = warmstead.u_value({"construction": BASEMENT_WALL, "national_annex": "GB"})
    shared = BASEMENT_WALL | {"area_m2": 48, "exposed_perimeter_m": 28}
    assert warmstead.u_value({"construction": shared, "national_annex": "GB"}) == bare
    floor = warmstead.u_value({"construction": BASEMENT_FLOOR, "national_annex": "GB"})
    shared = BASEMENT_FLOOR | {"wall_resistance_m2k_w": 2.0}
    assert warmstead.u_value({"construction": shared, "national_annex": "GB"}) == floor


def test_soil_is_the_annexs_where_nothing_is_said() -> None:
    bare = {name: value for name, value in SLAB.items() if name != "soil_conductivity_w_mk"}
    # clay or silt 1.5 in the British one, sand or gravel 2.0 in ISO 13370 (from memory)
    for annex, soil in (("GB", 1.5), ("EN", 2.0)):
        taken = warmstead.u_value({"construction": bare, "national_annex": annex})
        said = warmstead.u_value(
            {"construction": bare | {"soil_conductivity_w_mk": soil}, "national_annex": annex}
        )
        assert taken["u_value_w_m2k"] == said["u_value_w_m2k"]
