"""Elements, openings and junctions: areas, boundaries, what is declared where, and on which dimensions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead

Json = dict[str, Any]
Make = Callable[..., Any]

# one layer of 0.5 m²K/W; surfaces of ISO 6946:2017 table 7 (from memory): inside 0.13 horizontal, 0.10 upwards,
# 0.17 downwards; outside 0.04
LAYER: Json = {"kind": "resistance", "resistance_m2k_w": 0.5}
INSIDE = {"horizontal": 0.13, "upwards": 0.10, "downwards": 0.17}
BOUNDARIES: list[Json] = [
    {"to": "outside"},
    {"to": "unheated_space", "temperature_c": 5},
    {"to": "unheated_space", "temperature_reduction_factor": 0.5},
    {"to": "neighbour", "temperature_c": 15},
    {"to": "room", "room": "b"},
]


def layered(heat_flow: str, **changes: Any) -> Json:
    return {"kind": "layered", "heat_flow": heat_flow, "layers": [LAYER], **changes}


# --- Surfaces by boundary -------------------------------------------------------------------------


@pytest.mark.parametrize("heat_flow", INSIDE)
@pytest.mark.parametrize("boundary", BOUNDARIES, ids=lambda boundary: "-".join(map(str, boundary.values())))
def test_the_far_side_of_an_inner_boundary_is_an_inner_surface(
    heat_flow: str, boundary: Json, house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    survey = house(
        room("a", element("w", 10, boundary, "layers")),
        room("b"),
        constructions={"layers": layered(heat_flow)},
    )
    inside = INSIDE[heat_flow]
    far = 0.04 if boundary["to"] == "outside" else inside
    assert row(loss(survey), "a", "w")["u_value_w_m2k"] == pytest.approx(1 / (inside + 0.5 + far))


def test_one_construction_may_face_both_sides(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    faces = [
        element("out", 10, "outside", "layers"),
        element("in", 10, {"to": "room", "room": "b"}, "layers"),
    ]
    answer = loss(house(room("a", *faces), room("b"), constructions={"layers": layered("horizontal")}))
    assert row(answer, "a", "out")["u_value_w_m2k"] == pytest.approx(1 / 0.67)
    assert row(answer, "a", "in")["u_value_w_m2k"] == pytest.approx(1 / 0.76)


@pytest.mark.parametrize(
    ("changes", "far"),
    [
        ({"external_side": "outside"}, 0.04),
        ({"external_side": "sheltered"}, 0.13),
        ({"external_side": "internal"}, 0.13),
        ({"external_surface_resistance_m2k_w": 0.08}, 0.08),
        ({"external_surface_resistance_m2k_w": 0}, 0),
        ({"external_side": "sheltered", "external_surface_resistance_m2k_w": 0.08}, 0.08),
    ],
)
def test_what_a_construction_says_of_its_far_side_wins_over_the_boundary(
    changes: Json, far: float, house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    for boundary in ({"to": "outside"}, {"to": "neighbour", "temperature_c": 15}):
        survey = house(
            room("a", element("w", 10, boundary, "layers")),
            constructions={"layers": layered("horizontal", **changes)},
        )
        assert row(loss(survey), "a", "w")["u_value_w_m2k"] == pytest.approx(1 / (0.13 + 0.5 + far))


# --- Areas ----------------------------------------------------------------------------------------


def test_an_area_may_be_given_by_length_and_height(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    wall = element("w", 0, "outside") | {"length_m": 4, "height_m": 2.5}
    del wall["area_m2"]
    assert row(loss(house(room("a", wall))), "a", "w")["area_m2"] == pytest.approx(10)


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({}, "incomplete"),
        ({"length_m": 4}, "incomplete"),
        ({"height_m": 4}, "incomplete"),
        ({"area_m2": 10, "length_m": 4}, "ambiguous"),
        ({"area_m2": 10, "length_m": 4, "height_m": 2.5}, "ambiguous"),
    ],
)
def test_an_area_is_given_in_one_way(
    given: Json, code: str, house: Make, room: Make, element: Make, refused: Make
) -> None:
    wall = element("w", 0, "outside")
    del wall["area_m2"]
    assert refused(warmstead.house_loss, {"house": house(room("a", wall | given))}) == [
        ("/house/rooms/0/elements/0/area_m2", code)
    ]


def test_openings_may_fill_their_wall_and_no_more(
    house: Make, room: Make, element: Make, loss: Make, row: Make, refused: Make
) -> None:
    openings = [
        {"id": "o", "construction": "half", "area_m2": 4},
        {"id": "p", "construction": "half", "area_m2": 6},
    ]
    survey = house(room("a", element("w", 10, "outside", openings=openings)))
    answer = loss(survey)
    assert row(answer, "a", "w")["area_m2"] == 0
    assert answer["design_heat_load_w"] == pytest.approx(0.5 * 10 * 30)
    openings[0]["area_m2"] = 4.01
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/rooms/0/elements/0/openings", "contradiction")
    ]


def test_openings_that_fill_their_wall_but_for_rounding_are_taken(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    openings = [
        {"id": f"o{i}", "construction": "half", "area_m2": 0.1} for i in range(3)
    ]  # 0.30000000000000004
    answer = loss(house(room("a", element("w", 0.3, "outside", openings=openings))))
    assert row(answer, "a", "w")["area_m2"] == 0


# --- Rooms beside rooms ---------------------------------------------------------------------------


def test_an_element_between_rooms_shows_in_both(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    door = {"id": "door", "construction": "half", "area_m2": 2}
    wall = element("w", 10, {"to": "room", "room": "b"}, openings=[door])
    answer = loss(house(room("a", wall), room("b", design_temperature_c=16)))
    own, other = row(answer, "a", "w"), row(answer, "b", "w")
    assert own["heat_loss_w"] == pytest.approx(1.0 * 8 * 4)
    assert other == {
        **own,
        "adjoins": "a",
        "declared_in": "a",
        "temperature_difference_k": -4,
        "heat_loss_w": -own["heat_loss_w"],
    }
    assert own["adjoins"] == "b"
    assert "declared_in" not in own
    assert row(answer, "b", "door")["opening_of"] == "w"
    assert row(answer, "b", "door")["heat_loss_w"] == pytest.approx(-0.5 * 2 * 4)
    assert answer["transmission_w"] == pytest.approx(0)
    # counted once
    (group,) = [group for group in answer["by_construction"] if group["construction"] == "wall"]
    assert group["area_m2"] == pytest.approx(8)
    assert group["heat_loss_w"] == pytest.approx(0)


@pytest.mark.parametrize(
    ("area_m2", "looks_so"), [(10, True), (10.1, True), (9.9, True), (10.5, False), (5, False)]
)
def test_a_pair_of_one_area_looks_declared_twice(
    area_m2: float, looks_so: bool, house: Make, room: Make, element: Make, loss: Make, warned: Make
) -> None:
    survey = house(
        room("a", element("w", 10, {"to": "room", "room": "b"})),
        room("b", element("v", area_m2, {"to": "room", "room": "a"})),
    )
    pointers = warned(loss(survey), "unusual.declared_twice")
    assert len(pointers) == looks_so
    assert all(pointer.endswith("/elements/0/boundary") for pointer in pointers)


def test_several_elements_of_one_room_to_another_are_not_declared_twice(
    house: Make, room: Make, element: Make, loss: Make, warned: Make
) -> None:
    towards = {"to": "room", "room": "b"}
    survey = house(room("a", element("w", 10, towards), element("v", 10, towards)), room("b"), room("c"))
    survey["rooms"][2]["elements"] = [element("w", 10, towards)]
    assert warned(loss(survey), "unusual.declared_twice") == []


def test_a_neighbour_counts_in_the_house(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    answer = loss(house(room("a", element("w", 10, {"to": "neighbour", "temperature_c": 15}))))
    assert row(answer, "a", "w")["heat_loss_w"] == pytest.approx(50)
    assert answer["design_heat_load_w"] == pytest.approx(50)


def test_a_warmer_neighbour_gives_heat(house: Make, room: Make, element: Make, loss: Make, row: Make) -> None:
    answer = loss(house(room("a", element("w", 10, {"to": "neighbour", "temperature_c": 22}))))
    assert row(answer, "a", "w")["heat_loss_w"] == pytest.approx(-20)
    assert answer["design_heat_load_w"] == pytest.approx(-20)


# --- Thermal bridges ------------------------------------------------------------------------------


def test_the_surcharge_is_on_what_faces_outside_and_unheated_spaces(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    window = {"id": "o", "construction": "half", "area_m2": 2}
    faces = [element(f"e{i}", 10, boundary) for i, boundary in enumerate(BOUNDARIES)]
    faces[0]["openings"] = [window]
    faces.append(element("ground", 10, "ground"))
    answer = loss(house(room("a", *faces), room("b"), thermal_bridges={"surcharge_w_m2k": 0.1}))
    bridges = {found["id"]: found["thermal_bridge_w_k"] for found in answer["rooms"][0]["elements"]}
    assert bridges == pytest.approx({"e0": 0.8, "o": 0.2, "e1": 1, "e2": 1, "e3": 0, "e4": 0, "ground": 0})
    assert row(answer, "a", "e0")["heat_loss_w"] == pytest.approx((8 * 1.0 + 0.8) * 30)


def test_a_junction_is_a_row_of_its_own(
    house: Make, room: Make, element: Make, loss: Make, row: Make
) -> None:
    junctions = [
        {"id": "corner", "room": "a", "psi_w_mk": 0.1, "length_m": 2.5},
        {"id": "inner", "room": "a", "psi_w_mk": -0.05, "length_m": 4, "boundary": {"to": "outside"}},
        {"id": "slab", "room": "a", "psi_w_mk": 0.2, "length_m": 5, "boundary": {"to": "room", "room": "b"}},
    ]
    survey = house(
        room("a", element("w", 10, "outside")),
        room("b", design_temperature_c=15),
        thermal_bridges={"junctions": junctions},
    )
    answer = loss(survey)
    corner = row(answer, "a", "corner")
    assert corner["kind"] == corner["construction"] == "junction"
    assert (corner["area_m2"], corner["u_value_w_m2k"]) == (0, 0)
    assert corner["thermal_bridge_w_k"] == pytest.approx(0.25)
    assert corner["heat_loss_w"] == pytest.approx(0.25 * 30)
    assert row(answer, "a", "inner")["heat_loss_w"] == pytest.approx(-0.2 * 30)
    assert row(answer, "a", "slab")["heat_loss_w"] == pytest.approx(1.0 * 5)
    assert row(answer, "b", "slab")["heat_loss_w"] == pytest.approx(-1.0 * 5)
    assert row(answer, "a", "w")["thermal_bridge_w_k"] == 0  # junctions take the place of the surcharge
    assert answer["transmission_w"] == pytest.approx(300 + 7.5 - 6)


def test_a_construction_may_be_called_junction(house: Make, room: Make, element: Make, loss: Make) -> None:
    survey = house(
        room("a", element("w", 10, "outside", "junction")),
        constructions={"junction": {"kind": "declared", "u_value_w_m2k": 2, "source": "this test"}},
        thermal_bridges={"junctions": [{"id": "j", "room": "a", "psi_w_mk": 0.1, "length_m": 10}]},
    )
    groups = loss(survey)["by_construction"]
    assert [group["heat_loss_w"] for group in groups] == pytest.approx([600, 30])


@pytest.mark.parametrize(
    ("of_house", "of_bridges", "differs"),
    [
        ("internal", "internal", False),
        (None, "internal", False),
        (None, "external", True),
        ("external", "external", False),
        ("external", "internal", True),
        ("overall_internal", "internal", True),
        ("overall_internal", "overall_internal", False),
        ("external", None, True),  # nothing says that the values are made for external areas
        ("internal", None, False),
    ],
)
@pytest.mark.parametrize("values", [{"surcharge_w_m2k": 0.05}, {"junctions": []}])
def test_bridges_for_other_dimensions_are_unusual(
    of_house: str | None,
    of_bridges: str | None,
    differs: bool,
    values: Json,
    house: Make,
    room: Make,
    loss: Make,
    warned: Make,
) -> None:
    survey = house(room("a"), thermal_bridges=dict(values))
    del survey["dimensions"]
    if of_house is not None:
        survey["dimensions"] = of_house
    if of_bridges is not None:
        survey["thermal_bridges"]["dimensions"] = of_bridges
    answer = loss(survey)
    assert answer["dimensions"] == (of_house or "internal")
    wanted = ["/house/thermal_bridges/dimensions"] if differs else []
    assert warned(answer, "unusual.dimension_basis") == wanted


def test_dimensions_change_no_number(house: Make, room: Make, element: Make, loss: Make) -> None:
    loads = set()
    for dimensions in ("internal", "overall_internal", "external"):
        survey = house(room("a", element("w", 10, "outside")), dimensions=dimensions)
        loads.add(loss(survey)["design_heat_load_w"])
    assert loads == {300.0}
