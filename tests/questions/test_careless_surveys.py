"""What sentences of a comparison say: the right thing first, and no number that the surveys do not bear out."""

from __future__ import annotations

import copy
import math
import re
from typing import Any

import pytest

import warmstead
from warmstead.demo import house, requests

from .careless_surveys import CARELESS, Careless, Json, element, room


def compared(first: Json, second: Json) -> Json:
    result: Json = warmstead.survey_comparison({"first": first, "second": second})
    return result


def area_m2(part: Json) -> float:
    gross: float = part["area_m2"] if "area_m2" in part else part["length_m"] * part["height_m"]
    return gross - math.fsum(opening["area_m2"] for opening in part.get("openings", ()))


def rows() -> list[tuple[str, str]]:
    return [(one["id"], part["id"]) for one in house()["rooms"] for part in one["elements"]]


@pytest.mark.parametrize("careless", CARELESS, ids=[careless.edit.__name__ for careless in CARELESS])
def test_a_careless_survey_is_one_statement_that_says_what_was_done(careless: Careless) -> None:
    first = house()
    if careless.before is not None:
        careless.before(first)
    second = copy.deepcopy(first)
    careless.edit(second)
    # The difference as house-loss has it, which knows nothing of the comparison.
    loads = [warmstead.house_loss({"house": survey})["design_heat_load_w"] for survey in (first, second)]
    (statement,) = compared(first, second)["statements"]
    assert (statement["cause"], statement.get("pattern")) == (careless.cause, careless.pattern)
    for words in careless.says:
        assert words in statement["in_words"]
    assert statement["difference_w"] == pytest.approx(loads[1] - loads[0], abs=1e-6)


@pytest.mark.parametrize(("where", "name"), rows())
def test_a_missing_element_is_told_with_its_own_area(where: str, name: str) -> None:
    second = house()
    part = element(second, where, name)
    room(second, where)["elements"].remove(part)
    statements = compared(house(), second)["statements"]
    if not statements:
        # Between two rooms, or a room and a neighbour, of one temperature: worth nothing anywhere.
        assert part["boundary"]["to"] in ("room", "neighbour")
        return
    (statement,) = statements
    assert statement["pattern"] == "missing_element"
    told = re.findall(r"([\w-]+) \(([\d.]+) m² with", statement["in_words"])
    # From the document: length by height, or the area, less openings; four digits are told.
    expected = [(name, area_m2(part)), *((one["id"], one["area_m2"]) for one in part.get("openings", ()))]
    assert [one for one, _ in told] == [one for one, _ in expected]
    assert [float(area) for _, area in told] == pytest.approx([area for _, area in expected], rel=5e-4)


@pytest.mark.parametrize(
    ("where", "name"), [(r, e) for r, e in rows() if element(house(), r, e).get("openings")]
)
def test_openings_left_out_are_told_with_their_own_area(where: str, name: str) -> None:
    second = house()
    openings = element(second, where, name).pop("openings")
    (statement,) = compared(house(), second)["statements"]
    told = re.search(r"counts the ([\d.]+) m² as wall", statement["in_words"])
    assert told is not None
    assert float(told[1]) == pytest.approx(math.fsum(one["area_m2"] for one in openings), rel=5e-4)


def test_constructions_are_told_with_the_number_of_their_elements() -> None:
    # Each construction's U-value raised by itself: all its rows, counted in the document, and no others.
    for name, construction in house()["constructions"].items():
        if construction["kind"] != "layered":
            continue
        second = house()
        second["constructions"][name]["layers"].append({"kind": "resistance", "resistance_m2k_w": 0.3})
        parts = [
            part
            for one in second["rooms"]
            for part in one["elements"]
            if part["construction"] == name
            # Between equal temperatures a U-value is worth nothing, and the row is told with the others all the same.
        ]
        for statement in compared(house(), second)["statements"]:
            counted = re.search(r"(\d+) elements in", statement["in_words"])
            if statement["cause"] == "u_value" and counted is not None:
                assert int(counted[1]) == len(parts), statement["in_words"]


def all_statements() -> list[tuple[str, Json]]:
    pairs: list[tuple[Any, Any]] = []
    for careless in CARELESS:
        first = house()
        if careless.before is not None:
            careless.before(first)
        second = copy.deepcopy(first)
        careless.edit(second)
        pairs += [(first, second), (second, first)]
    demo = requests()["survey-comparison"]
    pairs.append((demo["first"], demo["second"]))
    return [
        (statement["in_words"], statement) for pair in pairs for statement in compared(*pair)["statements"]
    ]


def test_every_sentence_ends_with_what_it_is_worth() -> None:
    for words, statement in all_statements():
        told = re.search(r": ([+−]?[\d,.]+) W\.$", words)
        if told is None:
            assert ": 0 W in the house, but " in words
            assert abs(statement["difference_w"]) < 0.05
            continue
        number = float(told[1].replace(",", "").replace("−", "-"))
        # Whole watts from 10 W, tenths below.
        close = 0.5 if abs(statement["difference_w"]) >= 9.95 else 0.05
        assert number == pytest.approx(statement["difference_w"], abs=close + 1e-9)
