"""What the demonstration house promises: its plan, its fabric, its emitters, and a decision that is a real one."""

from __future__ import annotations

import json
import re
from collections import Counter
from itertools import combinations, pairwise
from typing import Any, NamedTuple

import pytest

from warmstead import demo
from warmstead.exchange.asking import ask
from warmstead.questions.registry import QUESTIONS
from warmstead.tables import table

PARTITION_M = 0.1
OLD_WALL_M = 0.235  # plaster 15 mm and brick 220 mm


class Rectangle(NamedTuple):
    """A room on the plan, in metres."""

    west: float
    east: float
    south: float
    north: float
    height: float

    @property
    def area(self) -> float:
        return (self.east - self.west) * (self.north - self.south)

    @property
    def perimeter(self) -> float:
        return 2.0 * (self.east - self.west + self.north - self.south)


# The plan in the docstring of warmstead.demo, row by row.
GROUND = {
    "hall": Rectangle(0, 2.0, 0, 3.8, 2.6),
    "living": Rectangle(2.1, 6.2, 0, 3.8, 2.6),
    "dining": Rectangle(2.1, 6.2, 3.9, 7.3, 2.6),
    "utility": Rectangle(0, 2.0, 3.9, 7.3, 2.6),
    "kitchen": Rectangle(0, 4.0, 7.535, 11.135, 2.6),
    "garage": Rectangle(-2.835, -0.235, 0, 5.0, 2.6),
}
FIRST = {
    "landing": Rectangle(0, 2.0, 2.3, 5.0, 2.5),
    "bedroom-1": Rectangle(2.1, 6.2, 0, 3.8, 2.5),
    "bedroom-2": Rectangle(2.1, 6.2, 3.9, 7.3, 2.5),
    "study": Rectangle(0, 2.0, 0, 2.2, 2.5),
    "bathroom": Rectangle(0, 2.0, 5.1, 7.3, 2.5),
    "bedroom-3": Rectangle(-2.835, -0.235, 0, 5.0, 2.5),
}
PLAN = GROUND | FIRST
ROOMS = [name for name in PLAN if name != "garage"]
STAIRWELL = frozenset({"hall", "landing"})


@pytest.fixture(scope="module")
def answers() -> dict[str, Any]:
    """The answer to each request of the demo."""
    return {name: ask(name, request) for name, request in demo.requests().items()}


@pytest.fixture(scope="module")
def loss(answers: dict[str, Any]) -> dict[str, Any]:
    """The rooms of the demo house by id, as the house's loss states them."""
    return {room["id"]: room for room in answers["house-loss"]["rooms"]}


def surveyed() -> dict[str, dict[str, Any]]:
    return {room["id"]: room for room in demo.house()["rooms"]}


def gross(element: dict[str, Any]) -> float:
    area: float = element["area_m2"] if "area_m2" in element else element["length_m"] * element["height_m"]
    return area


def other_side(boundary: dict[str, Any]) -> str | None:
    name: str | None = boundary.get("room") or boundary.get("space")
    return name


def is_wall(element: dict[str, Any]) -> bool:
    return "length_m" in element  # walls go by length and height, floors and ceilings by area


def sides() -> list[tuple[str, dict[str, Any]]]:
    """Every element with each room that it bounds: between two rooms it counts for both."""
    found = []
    for room, survey in surveyed().items():
        for element in survey["elements"]:
            found.append((room, element))
            if element["boundary"]["to"] == "room":
                found.append((element["boundary"]["room"], element))
    return found


def overlap(low: float, high: float, other_low: float, other_high: float) -> float:
    return min(high, other_high) - max(low, other_low)


def shared_wall_m(one: Rectangle, other: Rectangle) -> float:
    """Length over which two rooms of a storey stand back to back, a wall of known thickness between them."""
    along_x = overlap(one.west, one.east, other.west, other.east)
    along_y = overlap(one.south, one.north, other.south, other.north)
    length, gap = (along_x, -along_y) if along_x > 0 else (along_y, -along_x)
    walls = (PARTITION_M, OLD_WALL_M)
    return length if length > 0 and any(gap == pytest.approx(thickness) for thickness in walls) else 0.0


def codes(answer: dict[str, Any], prefix: str) -> Counter[str]:
    return Counter(w["code"] for w in answer["warnings"] if w["code"].startswith(prefix))


def uses(house: dict[str, Any], kind: str) -> int:
    return sum(emitter["kind"] == kind for room in house["rooms"] for emitter in room["emitters"])


# ---- the documents


def test_every_core_question_has_a_request_and_answers_it(answers: dict[str, Any]) -> None:
    # The six of the contract that are asked in process.
    core = {
        "u-value",
        "required-thickness",
        "room-loss",
        "house-loss",
        "emitter-check",
        "heat-pump-sizing",
    }
    assert core <= set(demo.requests())
    assert set(demo.requests()) <= set(QUESTIONS)
    assert all(answer["basis"] for answer in answers.values())


@pytest.mark.parametrize("name", sorted(demo.requests()))
def test_a_request_is_the_same_as_json_text(name: str, answers: dict[str, Any]) -> None:
    assert ask(name, json.dumps(demo.requests()[name])) == answers[name]


def test_copies_are_the_callers_own() -> None:
    demo.house()["rooms"].clear()
    demo.candidates().clear()
    demo.requests()["house-loss"]["house"]["rooms"].clear()
    assert len(demo.house()["rooms"]) == len(ROOMS)
    assert len(demo.candidates()) == 3
    assert demo.requests()["house-loss"] == {"house": demo.house()}


def test_no_nulls() -> None:
    assert "null" not in json.dumps([demo.house(), demo.candidates()])


def test_it_says_that_it_is_invented() -> None:
    assert demo.__doc__ is not None
    assert "All of it is invented" in demo.__doc__
    assert demo.house()["name"] == "Demonstration house (invented)"
    assert all("(invented)" in candidate["name"] for candidate in demo.candidates())


def test_material_rows_were_read_in_their_source() -> None:
    rows = {
        part["material"]
        for construction in demo.house()["constructions"].values()
        for layer in construction.get("layers", ())
        for part in (layer, *layer.get("bridges", ()))
        if "material" in part
    }
    assert len(rows) >= 3
    for row in rows:
        found = table("materials").by_id(row)
        assert found is not None
        assert found["provenance"] == "published_table", row


# ---- the plan


def test_the_rooms_are_those_of_the_plan() -> None:
    assert sorted(surveyed()) == sorted(ROOMS)
    assert len(ROOMS) >= 9


@pytest.mark.parametrize("name", ROOMS)
def test_floor_area_and_height_follow_from_the_plan(name: str) -> None:
    room = surveyed()[name]
    # Printed to a hundredth of a square metre.
    assert room["floor_area_m2"] == pytest.approx(PLAN[name].area, abs=0.005)
    assert room["height_m"] == PLAN[name].height


def test_the_storeys_are_about_equal() -> None:
    ground = sum(PLAN[name].area for name in GROUND if name != "garage")
    first = sum(room.area for room in FIRST.values())
    assert ground == pytest.approx(first, rel=0.05)


@pytest.mark.parametrize("storey", [GROUND, FIRST], ids=["ground", "first"])
def test_walls_between_spaces_have_the_plans_lengths(storey: dict[str, Rectangle]) -> None:
    declared: dict[frozenset[str], float] = {}
    for room, survey in surveyed().items():
        for element in survey["elements"]:
            other = other_side(element["boundary"])
            if room in storey and other in storey and is_wall(element):
                pair = frozenset({room, other})
                assert pair not in declared, f"{pair} is declared twice"
                declared[pair] = element["length_m"]
    for one, other in combinations(storey, 2):
        expected = shared_wall_m(storey[one], storey[other])
        if expected == 0.0:
            assert frozenset({one, other}) not in declared
        else:
            assert declared[frozenset({one, other})] == pytest.approx(expected), (one, other)


def test_floors_between_storeys_have_the_plans_areas() -> None:
    declared: dict[frozenset[str], float] = {}
    for room, survey in surveyed().items():
        for element in survey["elements"]:
            other = other_side(element["boundary"])
            if other is not None and not is_wall(element):
                pair = frozenset({room, other})
                assert pair not in declared, f"{pair} is declared twice"
                declared[pair] = gross(element)
    expected = {}
    for low in GROUND:
        for high in FIRST:
            a, b = GROUND[low], FIRST[high]
            wide, deep = (
                overlap(a.west, a.east, b.west, b.east),
                overlap(a.south, a.north, b.south, b.north),
            )
            if wide > 0 and deep > 0 and {low, high} != STAIRWELL:
                expected[frozenset({low, high})] = wide * deep
    assert declared == pytest.approx(expected)


@pytest.mark.parametrize("name", ROOMS)
def test_every_room_is_closed_by_walls(name: str) -> None:
    walls = sum(gross(element) for room, element in sides() if room == name and is_wall(element))
    gap_m = PLAN[name].perimeter - walls / PLAN[name].height
    # At most the end of one partition is left out.
    assert -1e-9 <= gap_m <= PARTITION_M + 1e-9


def flat_m2(name: str, *identifiers: str) -> float:
    return sum(gross(e) for e in surveyed()[name]["elements"] if e["id"] in identifiers)


@pytest.mark.parametrize("name", [name for name in GROUND if name != "garage"])
def test_every_ground_floor_room_stands_on_the_ground(name: str) -> None:
    assert flat_m2(name, "floor") == pytest.approx(PLAN[name].area)


@pytest.mark.parametrize("name", [*FIRST, "kitchen"])
def test_every_room_under_the_sky_has_its_ceiling(name: str) -> None:
    assert flat_m2(name, "ceiling", "roof") == pytest.approx(PLAN[name].area)


def test_the_whole_suspended_floor_follows_from_the_plan() -> None:
    floor = demo.house()["constructions"]["floor-suspended"]
    east, north = GROUND["dining"].east, GROUND["dining"].north
    assert floor["area_m2"] == pytest.approx(east * north)
    # Front, flank, and the rear beside the extension; next door and the extension are heated.
    assert floor["exposed_perimeter_m"] == pytest.approx(east + north + (east - GROUND["kitchen"].east))


@pytest.mark.parametrize(
    ("construction", "space"), [("floor-slab-extension", "kitchen"), ("floor-slab-garage", "garage")]
)
def test_the_slabs_follow_from_the_plan(construction: str, space: str) -> None:
    floor = demo.house()["constructions"][construction]
    plan = GROUND[space]
    # Each adjoins the house along one side: the kitchen along its width, the garage along its depth.
    inner = plan.east - plan.west if space == "kitchen" else plan.north - plan.south
    assert floor["area_m2"] == pytest.approx(plan.area)
    assert floor["exposed_perimeter_m"] == pytest.approx(plan.perimeter - inner)


def test_the_garage_follows_from_the_plan() -> None:
    (garage,) = demo.house()["unheated_spaces"]
    plan = GROUND["garage"]
    assert garage["volume_m3"] == pytest.approx(plan.area * plan.height)
    outside = sum(gross(e) for e in garage["elements"] if e["boundary"]["to"] == "outside")
    inner_m = plan.north - plan.south
    assert outside == pytest.approx((plan.perimeter - inner_m) * plan.height)


def test_openings_fit_in_their_walls() -> None:
    house = demo.house()
    places = [*house["rooms"], *house["unheated_spaces"]]
    walls = [element for place in places for element in place["elements"] if "openings" in element]
    assert len(walls) >= 10
    for wall in walls:
        openings = sum(opening["area_m2"] for opening in wall["openings"])
        assert openings < 0.8 * gross(wall), wall["id"]


# ---- the fabric


def outside_walls(room: dict[str, Any]) -> list[dict[str, Any]]:
    return [e for e in room["elements"] if e["boundary"] == "outside" and e["id"].startswith("wall-")]


def test_four_different_outside_walls(loss: dict[str, Any]) -> None:
    walls = {e["construction"]: e["u_value_w_m2k"] for room in loss.values() for e in outside_walls(room)}
    assert len(walls) == 4
    values = sorted(walls.values())
    assert all(higher > 1.1 * lower for lower, higher in pairwise(values))


def test_a_room_with_one_bare_and_one_insulated_wall(loss: dict[str, Any]) -> None:
    walls = {e["id"]: e["u_value_w_m2k"] for e in outside_walls(loss["bathroom"])}
    assert walls["wall-flank"] > 3.0 * walls["wall-rear"]


def test_a_wall_insulated_over_part_of_its_length(loss: dict[str, Any]) -> None:
    front = {e["id"]: e for e in surveyed()["living"]["elements"] if e["id"].startswith("wall-front")}
    plan = PLAN["living"]
    assert sum(e["length_m"] for e in front.values()) == pytest.approx(plan.east - plan.west)
    values = {e["id"]: e["u_value_w_m2k"] for e in outside_walls(loss["living"])}
    assert values["wall-front-bare"] > 3.0 * values["wall-front-lined"]


def test_a_suspended_timber_floor_and_a_slab() -> None:
    constructions = demo.house()["constructions"]
    floors = {
        constructions[e["construction"]]["floor"]
        for survey in surveyed().values()
        for e in survey["elements"]
        if e["boundary"]["to"] == "ground"
    }
    assert floors == {"suspended", "slab_on_ground"}


def test_the_garage_is_colder_than_the_rooms_and_warmer_than_outside(loss: dict[str, Any]) -> None:
    outside_c = demo.house()["conditions"]["external_temperature_c"]
    rows = [
        (room["design_temperature_c"], e)
        for room in loss.values()
        for e in room["elements"]
        if e["boundary"] == "unheated_space" and (e["id"] == "wall-garage" or room["id"] == "bedroom-3")
    ]
    temperatures = [room_c - e["temperature_difference_k"] for room_c, e in rows]
    assert len(rows) == 3
    assert temperatures == pytest.approx([temperatures[0]] * 3)
    assert outside_c + 2.0 < temperatures[0] < 10.0


def test_neighbour_loft_and_chimney_are_there(loss: dict[str, Any]) -> None:
    boundaries = {e["boundary"] for room in loss.values() for e in room["elements"]}
    assert boundaries == {"outside", "ground", "room", "unheated_space", "neighbour"}
    flues = [flue["kind"] for survey in surveyed().values() for flue in survey.get("flues", ())]
    assert flues == ["open_chimney"]


def test_heat_between_rooms_cancels(loss: dict[str, Any]) -> None:
    between = [e for room in loss.values() for e in room["elements"] if e["boundary"] == "room"]
    assert max(abs(e["heat_loss_w"]) for e in between) > 50.0
    assert sum(e["heat_loss_w"] for e in between) == pytest.approx(0.0, abs=1e-9)


# ---- the warnings


def test_two_defaults_are_left_in_the_house(answers: dict[str, Any]) -> None:
    expected = {"default.flue_air": 1, "default.ground_water": 1}
    assert codes(answers["house-loss"], "default.") == expected
    assert codes(answers["emitter-check"], "default.") == {**expected, "default.exponent": 1}


def test_nothing_in_the_demo_is_unusual_or_beyond_its_method(answers: dict[str, Any]) -> None:
    for name, answer in answers.items():
        assert not codes(answer, "unusual."), name
        assert not codes(answer, "caution.method_limit"), name
        assert sum(codes(answer, "default.").values()) <= 4, name


def test_memory_is_told_of_where_the_demo_rests_on_it(answers: dict[str, Any]) -> None:
    named = {
        table
        for answer in answers.values()
        for warning in answer["warnings"]
        if warning["code"] == "memory.table_row"
        for table in re.findall(r"table ([a-z-]+) ", warning["detail"])
    }
    # No material and no typical construction: the demo takes those from rows that were seen.
    assert named == {"flues", "national-annexes", "outside-design-temperatures", "surface-resistances"}


# ---- the emitters


def test_every_loaded_room_has_emitters(answers: dict[str, Any]) -> None:
    for room in answers["emitter-check"]["rooms"]:
        assert room["required_w"] > 0.0
        assert room["emitters"]
    assert uses(demo.house(), "radiator") >= 8
    assert uses(demo.house(), "underfloor") == 1
    assert uses(demo.house(), "fan_convector") == 1


def test_four_rooms_fall_short_at_45_and_the_living_room_governs(answers: dict[str, Any]) -> None:
    check = answers["emitter-check"]
    short = {room["id"] for room in check["rooms"] if room["coverage"] < 1.0}
    assert short == {"hall", "living", "study", "bathroom"}
    assert check["governing_room"] == "living"
    # Within the candidates' tables, so that the flow temperature can be raised instead.
    assert 50.0 < check["lowest_flow_temperature_c"] <= 60.0


# ---- the decision


def test_the_load_lies_a_little_above_the_middle_unit(answers: dict[str, Any]) -> None:
    sizing = answers["heat-pump-sizing"]
    small, middle, large = sizing["candidates"]
    assert [c["verdict"] for c in (small, middle, large)] == ["undersized", "undersized", "suitable"]
    assert sizing["smallest_suitable"] == large["id"] == "unit-11"
    assert small["coverage"] < 0.8
    assert large["coverage"] <= 1.3
    for required in (middle["required_w"], sizing["required_w"]):
        assert 1.02 <= required / middle["capacity_at_design_w"] <= 1.06
    # Hot water aside, the house's own load is above it too.
    assert sizing["design_heat_load_w"] > middle["capacity_at_design_w"]
    assert 0.0 < middle["reduction_needed_w"] < 500.0


def test_closing_the_chimney_makes_the_middle_unit_suffice() -> None:
    request = demo.requests()["heat-pump-sizing"]
    for room in request["house"]["rooms"]:
        for flue in room.get("flues", ()):
            flue["air_l_s"] = 3.0  # a cap and a damper, with what the flue needs to stay dry
    sizing = ask("heat-pump-sizing", request)
    assert sizing["smallest_suitable"] == "unit-8"


def test_lining_one_more_room_does_not_make_it_suffice() -> None:
    request = demo.requests()["heat-pump-sizing"]
    bedroom = next(room for room in request["house"]["rooms"] if room["id"] == "bedroom-1")
    bedroom["elements"][0]["construction"] = "wall-solid-lined"
    _, middle, _ = ask("heat-pump-sizing", request)["candidates"]
    assert middle["verdict"] == "undersized"
    assert middle["coverage"] > 0.96


@pytest.mark.parametrize("index", range(3))
def test_a_candidates_table_is_a_full_plausible_grid(index: int) -> None:
    candidate = demo.candidates()[index]
    grid = {
        (row["external_temperature_c"], row["flow_temperature_c"]): row for row in candidate["performance"]
    }
    outside, flows = (-15, -10, -7, -2, 2, 7, 12, 20), (35, 45, 55)
    assert candidate["rating_basis"] == "integrated"
    assert set(grid) == {(t, f) for t in outside for f in flows}
    assert len(candidate["performance"]) == len(grid)
    for flow in flows:
        efficiency = [grid[t, flow]["coefficient_of_performance"] for t in outside]
        assert efficiency == sorted(efficiency)
        # Defrosting is within integrated ratings: less capacity at 2 °C than on either side of it.
        assert grid[2, flow]["capacity_w"] < min(grid[-2, flow]["capacity_w"], grid[7, flow]["capacity_w"])
        for t in outside:
            assert 0.2 < grid[t, flow]["minimum_capacity_w"] / grid[t, flow]["capacity_w"] < 0.5
    for t in outside:
        for member in ("capacity_w", "coefficient_of_performance", "minimum_capacity_w"):
            assert grid[t, 35][member] > grid[t, 45][member] > grid[t, 55][member]


def test_the_candidates_grow() -> None:
    capacities = [[row["capacity_w"] for row in c["performance"]] for c in demo.candidates()]
    assert all(small < middle < large for small, middle, large in zip(*capacities, strict=True))
