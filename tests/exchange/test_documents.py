"""JSON read into a request, or refused with pointers."""

from __future__ import annotations

import json
from typing import Any

import pytest

from warmstead.building.findings import Refused
from warmstead.exchange.documents import MOST_LISTED, Malformed, read
from warmstead.questions.house_loss import HouseLossRequest
from warmstead.questions.u_value import UValueRequest

DECLARED = '{"construction": {"kind": "declared", "u_value_w_m2k": 1.4, "source": "invented"}}'


def problems(text: str | bytes, model: Any = UValueRequest) -> list[tuple[str, str]]:
    with pytest.raises(Refused) as refused:
        read(model, text)
    return [(problem.pointer, problem.code) for problem in refused.value.problems]


def test_a_byte_order_mark_is_no_part_of_the_document() -> None:
    assert read(UValueRequest, b"\xef\xbb\xbf" + DECLARED.encode()) == read(UValueRequest, DECLARED)


@pytest.mark.parametrize("text", ["", "{", "hello", '{"a": 1} x', b"\xff", '{"construction": 01}'])
def test_what_is_not_json_is_malformed(text: str | bytes) -> None:
    with pytest.raises(Malformed):
        read(UValueRequest, text)


def test_a_name_twice_in_an_object_is_refused_at_its_place() -> None:
    wall = json.loads(DECLARED)["construction"]
    house = {"conditions": {"external_temperature_c": -3}, "constructions": {"a": wall, "b": wall}}
    text = json.dumps(
        {"house": house | {"rooms": [{"id": "r", "floor_area_m2": 1, "height_m": 1, "elements": []}]}}
    )
    assert read(HouseLossRequest, text).house.constructions.keys() == {"a", "b"}
    assert problems(text.replace('"b":', '"a":'), HouseLossRequest) == [
        ("/house/constructions/a", "duplicate_id")
    ]


@pytest.mark.parametrize("text", ['"a\\": b"', '"\\u0022: x"', '"x": "y'])
def test_texts_that_look_like_names_are_no_repetition(text: str) -> None:
    source = json.dumps(text)
    document = DECLARED.replace('"invented"', source)
    assert read(UValueRequest, document).construction.kind == "declared"


def test_variants_of_unions_are_no_part_of_a_pointer() -> None:
    layer = {"kind": "solid", "thickness_mm": 1, "conductivity_w_mk": 1, "bridges": [{"fraction": 2}]}
    construction = {"kind": "layered", "heat_flow": "horizontal", "layers": [layer]}
    assert problems(json.dumps({"construction": construction})) == [
        ("/construction/layers/0/bridges/0/fraction", "out_of_range")
    ]


def test_a_member_may_be_called_as_the_mark_of_a_wrong_name_is() -> None:
    assert problems('{"[key]": true}') == [("/construction", "missing_field"), ("/[key]", "unknown_field")]
    house = {
        "conditions": {"external_temperature_c": -3},
        "rooms": [],
        "constructions": {"[key]": {}, "a b": {}},
    }
    assert set(problems(json.dumps({"house": house}), HouseLossRequest)) >= {
        ("/house/constructions/[key]", "invalid_text"),
        ("/house/constructions/a b", "invalid_text"),
    }


def test_a_pointer_escapes_what_rfc_6901_asks_for() -> None:
    assert problems('{"a/b~c": 1, ' + DECLARED[1:]) == [("/a~1b~0c", "unknown_field")]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            '{"construction": {"kind": "declared", "u_value_w_m2k": null, "source": "x"}}',
            "give a finite number",
        ),
        (
            '{"construction": {"kind": "declared", "u_value_w_m2k": 1, "source": "x"}, "national_annex": null}',
            "leave",
        ),
    ],
)
def test_a_null_is_answered_by_whether_the_field_may_be_left_out(text: str, said: str) -> None:
    with pytest.raises(Refused) as refused:
        read(UValueRequest, text)
    assert said in refused.value.problems[0].detail


def test_of_many_problems_the_first_are_told_and_the_others_counted() -> None:
    fields = ",".join(f'"u{index}":1' for index in range(MOST_LISTED + 50))
    with pytest.raises(Refused) as refused:
        read(HouseLossRequest, f'{{"house":{{{fields}}}}}')
    assert len(refused.value.problems) == MOST_LISTED
    # and three members of a house that are missing
    assert refused.value.unlisted == 50 + 3
