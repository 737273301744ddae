"""Documents in other names and units, and back."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmstead.corpus.mapping import FieldRule
from warmstead.corpus.rewrite import Rewriter, UnmappableError, add


def _rules(*rules: dict[str, Any]) -> list[FieldRule]:
    return [FieldRule.model_validate(rule) for rule in rules]


def _both_ways(rules: list[FieldRule], ours: Any, theirs: Any) -> None:
    assert Rewriter(rules).document(ours) == theirs
    assert Rewriter(rules, back=True).document(theirs) == ours


@pytest.mark.parametrize("document", [{}, [], {"a": []}, {"a": [{}, [1, [True, "x"]], {"b": None}]}, 3, "x"])
def test_without_rules_a_document_stays_as_it_is(document: Any) -> None:
    _both_ways([], document, document)


def test_a_name_is_replaced_wherever_it_stands() -> None:
    rules = _rules({"ours": "thickness_mm", "theirs": "d"})
    _both_ways(rules, {"thickness_mm": 1, "l": [{"thickness_mm": 2}]}, {"d": 1, "l": [{"d": 2}]})


def test_a_name_of_an_object_is_replaced_too() -> None:
    rules = _rules({"ours": "rooms", "theirs": "spaces"}, {"ours": "id", "theirs": "name"})
    _both_ways(rules, {"rooms": [{"id": "hall"}]}, {"spaces": [{"name": "hall"}]})


def test_a_pointer_moves_what_it_leads_to_and_all_beneath() -> None:
    rules = _rules({"ours": "/house/rooms/*/emitters", "theirs": "/plan/*/heat/list"})
    ours = {"house": {"rooms": [{"emitters": [{"w": 1}, {"w": 2}]}, {"emitters": []}]}}
    _both_ways(rules, ours, {"plan": [{"heat": {"list": [{"w": 1}, {"w": 2}]}}, {"heat": {"list": []}}]})


def test_an_envelope_is_taken_off_and_put_around() -> None:
    _both_ways(_rules({"ours": "/construction", "theirs": ""}), {"construction": {"a": [1]}}, {"a": [1]})
    _both_ways(_rules({"ours": "", "theirs": "/data/result"}), {"a": [1]}, {"data": {"result": {"a": [1]}}})


def test_the_longest_pointer_counts_and_names_count_beneath_it() -> None:
    rules = _rules(
        {"ours": "/a", "theirs": "/x"},
        {"ours": "/a/b", "theirs": "/y"},
        {"ours": "c", "theirs": "z", "factor": 2},
    )
    _both_ways(rules, {"a": {"b": {"c": 1.0}, "c": 3.0}}, {"y": {"z": 2.0}, "x": {"z": 6.0}})


def test_of_two_pointers_as_long_the_one_with_fewer_stars_counts() -> None:
    rules = _rules({"ours": "/a/*", "theirs": "/others/*"}, {"ours": "/a/b", "theirs": "/first"})
    _both_ways(rules, {"a": {"b": 1, "c": 2}}, {"first": 1, "others": {"c": 2}})


def test_the_first_of_two_rules_for_one_place_counts() -> None:
    rules = _rules({"ours": "a", "theirs": "mine"}, {"ours": "a", "theirs": "shared"})
    assert Rewriter(rules).document({"a": 1}) == {"mine": 1}


def test_a_star_is_an_index_or_a_name() -> None:
    rules = _rules({"ours": "/constructions/*/u", "theirs": "/types/*/value"})
    _both_ways(rules, {"constructions": {"wall": {"u": 1}}}, {"types": {"wall": {"value": 1}}})


def test_what_is_dropped_is_not_sent_save_what_a_longer_pointer_keeps() -> None:
    rules = _rules(
        {"ours": "/house", "dropped": True},
        {"ours": "/house/rooms/*/id", "theirs": "/rooms/*/name"},
        {"ours": "use", "dropped": True},
    )
    ours = {"house": {"name": "x", "rooms": [{"id": "hall", "area": 3}]}, "use": "y", "flow": 50}
    assert Rewriter(rules).document(ours) == {"rooms": [{"name": "hall"}], "flow": 50}


def test_a_member_of_which_all_is_dropped_keeps_its_place_in_the_list() -> None:
    rules = _rules({"ours": "secret", "dropped": True})
    assert Rewriter(rules).document({"l": [{"secret": 1}, {"a": 2}]}) == {"l": [{}, {"a": 2}]}


def test_units_and_texts_change() -> None:
    rules = _rules(
        {"ours": "/t_c", "theirs": "/fahrenheit", "factor": 1.8, "offset": 32},
        {"ours": "heat_flow", "theirs": "flow", "values": {"upwards": "up"}},
    )
    _both_ways(rules, {"t_c": 20.0, "heat_flow": "upwards"}, {"fahrenheit": 68.0, "flow": "up"})
    _both_ways(rules, {"t_c": "hot", "heat_flow": "sideways"}, {"fahrenheit": "hot", "flow": "sideways"})


def test_a_factor_holds_for_every_number_of_a_list_and_for_no_truth_value() -> None:
    rules = _rules({"ours": "mm", "theirs": "m", "factor": 0.001})
    _both_ways(rules, {"mm": [140.0, 12.5, True]}, {"m": [0.14, 0.0125, True]})


@given(
    value=st.floats(-1e9, 1e9),
    factor=st.sampled_from([0.001, 3.6, 0.29307107, 1.8]),
    offset=st.floats(-300, 300),
)
def test_a_number_comes_back_with_no_more_than_rounding(value: float, factor: float, offset: float) -> None:
    rules = _rules({"ours": "x", "theirs": "y", "factor": factor, "offset": offset})
    there = Rewriter(rules).document({"x": value})
    # Theirs is a double: half a unit in its last place, at the size of its sum, seen through the factor.
    size = (abs(value) * factor + abs(offset)) / factor
    assert Rewriter(rules, back=True).document(there)["x"] == pytest.approx(value, abs=1e-15 * size + 1e-300)


@pytest.mark.parametrize(
    ("rules", "document", "told"),
    [
        ([{"ours": "a", "theirs": "c"}, {"ours": "b", "theirs": "c"}], {"a": 1, "b": 2}, "two values to /c"),
        ([{"ours": "/a", "theirs": "/b/c"}], {"b": 1, "a": 2}, "beneath the value at /b"),
        ([{"ours": "/a", "theirs": "/b/0"}], {"b": {"x": 1}, "a": 2}, "names and indices"),
        (
            [{"ours": "/a", "theirs": ""}, {"ours": "/b", "theirs": ""}],
            {"a": 1, "b": 2},
            "the whole document",
        ),
    ],
)
def test_rules_that_lead_two_things_to_one_place_are_refused(
    rules: list[dict[str, Any]], document: Any, told: str
) -> None:
    with pytest.raises(UnmappableError, match=told):
        Rewriter(_rules(*rules)).document(document)


def test_a_pointer_is_read_back() -> None:
    rules = _rules({"ours": "/construction", "theirs": ""}, {"ours": "layers", "theirs": "skins"})
    back = Rewriter(rules, back=True)
    assert back.pointer("/skins/2/thickness") == "/construction/layers/2/thickness"
    assert back.pointer("/a~1b/c~0d") == "/construction/a~1b/c~0d"
    assert Rewriter(rules).pointer("/construction/layers/0") == "/skins/0"


def test_a_pointer_to_what_was_dropped_stays() -> None:
    assert Rewriter(_rules({"ours": "/x", "dropped": True})).pointer("/x/y") == "/x/y"


def test_members_are_added_where_nothing_stands() -> None:
    document = {"a": {"b": 1}}
    add(document, "/a/c", [2])
    add(document, "/d/e", 3)
    assert document == {"a": {"b": 1, "c": [2]}, "d": {"e": 3}}
    for pointer in ("/a/b", "/a/b/c"):
        with pytest.raises(UnmappableError, match="has something already"):
            add(document, pointer, 4)
