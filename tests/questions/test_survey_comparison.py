"""Two surveys of one house: errors planted in the demonstration house, maps, refusals, and the split on published games."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any, NamedTuple

import pytest

import warmstead
from warmstead.building.comparison import causes, units
from warmstead.building.comparison.owen import shares
from warmstead.demo import house, requests

Json = dict[str, Any]


# --- The split on games of the literature ------------------------------------------------------------


def test_the_glove_game() -> None:
    # Two right-hand gloves and one left-hand glove; a pair is worth 1. Seen in an encyclopaedia's article on the Shapley value
    # (a copy of it): 1/6, 1/6, 4/6.
    def pairs(members: int) -> float:
        return float(bool(members & 0b100) and bool(members & 0b011))

    assert shares((1, 1, 1), pairs) == pytest.approx([1 / 6, 1 / 6, 4 / 6], abs=1e-15)


def test_a_dummy_and_two_equals() -> None:
    # Seen in course notes of TU Eindhoven on cooperative games (wiskundeoptiu.nl): worths of {1}, {2}, {3}, {1,2}, {1,3}, {2,3} and
    # all are 2, 0, 0, 2, 2, 6 and 8, and the Shapley value is (2, 3, 3).
    worths = {0b000: 0, 0b001: 2, 0b010: 0, 0b100: 0, 0b011: 2, 0b101: 2, 0b110: 6, 0b111: 8}
    assert shares((1, 1, 1), lambda members: float(worths[members])) == pytest.approx([2, 3, 3], abs=1e-14)


def test_unions_of_the_glove_game() -> None:
    # Derived by hand from Owen's rule (from memory): the right-hand gloves in one union. Of the orders with them together,
    # left glove last (half of all): it gets all. Left glove first: whichever right glove follows gets it, a quarter each.
    def pairs(members: int) -> float:
        return float(bool(members & 0b100) and bool(members & 0b011))

    assert shares((2, 1), pairs) == pytest.approx([1 / 4, 1 / 4, 1 / 2], abs=1e-15)


def test_every_cause_has_a_group_and_groups_stand_together() -> None:
    groups = list(causes.GROUP_OF.values())
    assert [group for place, group in enumerate(groups) if group not in groups[:place]] == list(
        dict.fromkeys(groups)
    )
    changes = sum(one != other for one, other in pairwise(groups))
    assert changes == len(set(groups)) - 1


# --- Slips in numbers ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other", "rounded"),
    [
        (2.6, 3.0, True),
        (12.48, 12.5, True),
        (0.274, 0.27, True),
        (2.6, 2.6, False),
        (2.6, 4.0, False),
        (3.3, 3.47, False),
    ],
)
def test_rounding_is_told_from_other_differences(one: float, other: float, rounded: bool) -> None:
    assert units.is_rounding(one, other) is rounded
    assert units.is_rounding(other, one) is rounded


# --- Planted errors -----------------------------------------------------------------------------------


def room(survey: Json, name: str) -> Json:
    found: Json = next(room for room in survey["rooms"] if room["id"] == name)
    return found


def element(survey: Json, where: str, name: str) -> Json:
    found: Json = next(element for element in room(survey, where)["elements"] if element["id"] == name)
    return found


def outside_wall(survey: Json) -> None:
    element(survey, "hall", "partition-living").update(
        boundary={"to": "outside"}, construction="wall-solid-bare"
    )


def garage_as_outside(survey: Json) -> None:
    element(survey, "hall", "wall-garage")["boundary"] = {"to": "outside"}


def partition_twice(survey: Json) -> None:
    twin = {
        **element(survey, "hall", "partition-living"),
        "id": "p",
        "boundary": {"to": "room", "room": "hall"},
    }
    room(survey, "living")["elements"].append(twin)


def no_door(survey: Json) -> None:
    del element(survey, "dining", "wall-rear")["openings"]


def window_beside_its_wall(survey: Json) -> None:
    window = element(survey, "living", "wall-front-lined").pop("openings")[0]
    room(survey, "living")["elements"].append({**window, "id": "w", "boundary": {"to": "outside"}})


def wall_left_out(survey: Json) -> None:
    del room(survey, "kitchen")["elements"][0]


def decimal_point(survey: Json) -> None:
    element(survey, "dining", "wall-rear")["length_m"] *= 10


def cool_bathroom(survey: Json) -> None:
    room(survey, "bathroom")["design_temperature_c"] = 18


def one_temperature(survey: Json) -> None:
    for one in survey["rooms"]:
        one["design_temperature_c"] = 21


def rounded(survey: Json) -> None:
    for one in survey["rooms"]:
        for part in one["elements"]:
            for member in ("length_m", "height_m"):
                if member in part:
                    part[member] = float(round(part[member]))


def no_insulation(survey: Json) -> None:
    survey["constructions"]["ceiling-under-loft"]["layers"].pop()


def cold_neighbours(survey: Json) -> None:
    for one in survey["rooms"]:
        for part in one["elements"]:
            if part["boundary"]["to"] == "neighbour":
                part["boundary"] = {"to": "outside"}


def walls_merged(survey: Json) -> None:
    lined = element(survey, "living", "wall-front-lined")
    room(survey, "living")["elements"].remove(lined)
    bare = element(survey, "living", "wall-front-bare")
    bare["length_m"] += lined["length_m"]
    bare["openings"] = [*bare.get("openings", ()), *lined["openings"]]


def no_study(survey: Json) -> None:
    survey["rooms"].remove(room(survey, "study"))
    for one in survey["rooms"]:
        one["elements"] = [part for part in one["elements"] if part["boundary"].get("room") != "study"]


def airy_garage(survey: Json) -> None:
    survey["unheated_spaces"][0]["air_changes"] = 6


def no_air_changes(survey: Json) -> None:
    for one in survey["rooms"]:
        del one["ventilation"]["air_changes"]


def closed_chimney(survey: Json) -> None:
    del room(survey, "living")["flues"]


def external_dimensions(survey: Json) -> None:
    survey["dimensions"] = "external"
    for one in survey["rooms"]:
        for part in one["elements"]:
            if "length_m" in part:
                part["length_m"] += 0.3


class Planted(NamedTuple):
    plant: Callable[[Json], None]
    cause: str
    pattern: str | None
    room: str | None
    element: str | None


PLANTED = [
    Planted(outside_wall, "other_side", "internal_as_external", "hall", "partition-living"),
    Planted(garage_as_outside, "other_side", "unheated_as_outside", "hall", "wall-garage"),
    Planted(partition_twice, "only_in_one", "declared_twice", "living", "p"),
    Planted(no_door, "only_in_one", "missing_opening", "dining", "door-garden"),
    Planted(window_beside_its_wall, "only_in_one", "gross_area", "living", None),
    Planted(wall_left_out, "only_in_one", "missing_element", "kitchen", None),
    Planted(decimal_point, "area", "mixed_units", "dining", "wall-rear"),
    Planted(cool_bathroom, "room_temperature", None, "bathroom", None),
    Planted(one_temperature, "room_temperature", "one_room_temperature", None, None),
    Planted(rounded, "area", "rounding", None, None),
    Planted(no_insulation, "u_value", None, None, None),
    Planted(cold_neighbours, "other_side", "internal_as_external", None, None),
    Planted(walls_merged, "only_in_one", "worst_wall", "living", None),
    Planted(no_study, "only_in_one", "missing_room", "study", None),
    Planted(airy_garage, "space_temperature", None, None, None),
    Planted(no_air_changes, "air_changes", "default_taken", None, None),
    Planted(closed_chimney, "flues", None, "living", None),
    Planted(external_dimensions, "area", "dimension_basis", None, None),
]


@pytest.mark.parametrize("planted", PLANTED, ids=[planted.plant.__name__ for planted in PLANTED])
def test_a_planted_error_is_the_only_statement_and_worth_the_difference(planted: Planted) -> None:
    second = house()
    planted.plant(second)
    result = warmstead.survey_comparison({"first": house(), "second": second})
    # The difference as house-loss has it, which knows nothing of the comparison.
    loads = [warmstead.house_loss({"house": survey})["design_heat_load_w"] for survey in (house(), second)]
    (statement,) = result["statements"]
    assert statement["difference_w"] == pytest.approx(loads[1] - loads[0], abs=1e-8)
    assert (statement["cause"], statement.get("pattern"), statement.get("room")) == planted[1:4]
    if planted.element is not None:
        assert planted.element in {part["element"] for part in statement["elements"]}
    assert statement["in_words"].endswith(".")


def test_the_demo_s_four_errors_are_its_four_statements() -> None:
    result = warmstead.survey_comparison(requests()["survey-comparison"])
    told = {(statement["cause"], statement["pattern"]) for statement in result["statements"]}
    assert told == {
        ("air_changes", "one_air_change_rate"),
        ("outside_temperature", "outside_temperature"),
        ("area", "gross_area"),
        ("u_value", "worst_wall"),
    }
    assert next(s["room"] for s in result["statements"] if s["pattern"] == "worst_wall") == "living"


# --- What belongs together ------------------------------------------------------------------------------


def renamed() -> Json:
    """Return the demonstration house with other ids for all elements and two rooms."""
    survey = house()
    names = {"living": "lounge", "study": "box-room"}
    for one in survey["rooms"]:
        one["id"] = names.get(one["id"], one["id"])
        for part in one["elements"]:
            part["id"] = f"x-{part['id']}"
            if part["boundary"]["to"] == "room":
                part["boundary"]["room"] = names.get(part["boundary"]["room"], part["boundary"]["room"])
    return survey


def test_a_suggestion_sent_back_makes_the_surveys_equal() -> None:
    asked = {"first": house(), "second": renamed()}
    answered = warmstead.survey_comparison(asked)
    assert set(answered["unmatched"]["first_rooms"]) == {"living", "study"}
    again = warmstead.survey_comparison({**asked, **answered["suggestion"]})
    assert again["statements"] == []
    assert "suggestion" not in again
    assert all(math.isclose(room["difference_w"], 0.0, abs_tol=1e-9) for room in again["by_room"])


def test_what_is_not_matched_is_not_taken_for_one() -> None:
    answered = warmstead.survey_comparison({"first": house(), "second": renamed()})
    listed = {room["room"]: room for room in answered["by_room"]}
    assert "second_w" not in listed["living"]
    assert "first_w" not in listed["lounge"]
    assert {cause["cause"] for cause in listed["living"]["causes"]} == {"only_in_one"}


def test_the_same_map_twice_changes_nothing() -> None:
    asked: Json = {"first": house(), "second": house()}
    same = {"room": "living", "element": "wall-party"}
    once = warmstead.survey_comparison({**asked, "elements": [{"first": same, "second": same}]})
    assert once["statements"] == []


@pytest.mark.parametrize(
    ("more", "pointer", "code"),
    [
        ({"rooms": [{"first": "nowhere", "second": "hall"}]}, "/rooms/0/first", "not_found"),
        (
            {
                "elements": [
                    {"first": {"room": "x", "element": "y"}, "second": {"room": "hall", "element": "floor"}}
                ]
            },
            "/elements/0/first/room",
            "not_found",
        ),
        (
            {
                "elements": [
                    {
                        "first": {"room": "hall", "element": "floor"},
                        "second": {"room": "hall", "element": "nothing"},
                    }
                ]
            },
            "/elements/0/second/element",
            "not_found",
        ),
        (
            {
                "elements": [
                    {
                        "first": {"room": "hall", "element": name},
                        "second": {"room": "hall", "element": "floor"},
                    }
                    for name in ("floor", "wall-front")
                ]
            },
            "/elements/1",
            "contradiction",
        ),
    ],
)
def test_a_map_that_leads_nowhere_is_refused(more: Json, pointer: str, code: str) -> None:
    with pytest.raises(warmstead.Refused) as refused:
        warmstead.survey_comparison({"first": house(), "second": house(), **more})
    assert (pointer, code) in {(problem.pointer, problem.code) for problem in refused.value.problems}


def test_the_same_answer_each_time() -> None:
    asked = requests()["survey-comparison"]
    assert warmstead.survey_comparison(copy.deepcopy(asked)) == warmstead.survey_comparison(asked)


def test_workings_are_the_shares_of_the_rows() -> None:
    asked = requests()["survey-comparison"]
    result = warmstead.survey_comparison(asked, workings=True)
    assert math.fsum(step["value"] for step in result["workings"]) == pytest.approx(
        result["difference_w"], abs=1e-8
    )
    assert {step["unit"] for step in result["workings"]} == {"W"}
