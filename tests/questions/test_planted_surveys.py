"""Ten survey errors, planted by someone who had not seen the code: the first statement names each, and is worth it."""

from __future__ import annotations

import copy
from typing import Any

import pytest

import warmstead
from warmstead.demo import house

from .planted_surveys import PLANTED

Json = dict[str, Any]
EXACT_W = 1e-6


@pytest.fixture(params=PLANTED, ids=[planted["id"] for planted in PLANTED])
def planted(request: pytest.FixtureRequest) -> Json:
    error: Json = request.param
    return error


def compared(planted: Json) -> Json:
    result: Json = warmstead.survey_comparison(
        {"first": house(), "second": planted["edit"](copy.deepcopy(house()))}
    )
    return result


def load_w(survey: Json) -> float:
    answer: Json = warmstead.house_loss({"house": survey})
    return float(answer["design_heat_load_w"])


def label(name: str) -> str:
    found: str = next(room["name"] for room in house()["rooms"] if room["id"] == name)
    return found


def test_the_error_is_the_planter_s(planted: Json) -> None:
    # Noted by the planter, with one decimal, on the day of planting.
    before, after = planted["loads_w"]
    assert load_w(house()) == pytest.approx(before, abs=0.05)
    assert load_w(planted["edit"](copy.deepcopy(house()))) == pytest.approx(after, abs=0.05)


def test_the_first_statement_names_rooms_elements_and_cause(planted: Json) -> None:
    statement, named = compared(planted)["statements"][0], planted["must_name"]
    words = statement["in_words"]
    assert any(cause.lower() in words.lower() for cause in named["cause_words"]), words
    for room in named["rooms"]:
        assert label(room) in words
        assert statement.get("room") == room
        rows = {part["element"] for part in statement.get("elements", ()) if part["room"] == room}
        assert rows.issuperset(named["elements"])
    for element in named["elements"]:
        assert element in words


def test_the_first_statement_carries_the_whole_difference(planted: Json) -> None:
    statements = compared(planted)["statements"]
    difference = load_w(planted["edit"](copy.deepcopy(house()))) - load_w(house())
    if planted["noise"]:
        # The noise comes on top, and is small beside the error.
        assert abs(statements[0]["difference_w"]) > 0.9 * abs(difference)
        assert sum(abs(other["difference_w"]) for other in statements[1:]) < 0.1 * abs(difference)
    else:
        assert len(statements) == 1
        assert statements[0]["difference_w"] == pytest.approx(difference, abs=EXACT_W)
