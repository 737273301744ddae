"""What one request may hold, where less is allowed than the contract does; and that the contract is what is stated."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from warmstead.building.findings import Refused
from warmstead.demo import requests
from warmstead.exchange.documents import Malformed, read
from warmstead.exchange.holding import CONTRACT, Most
from warmstead.questions.registry import QUESTIONS
from warmstead.standards.iso_6946 import MAXIMUM_SECTIONS


def _read(question: str, document: Any, most: Most) -> Any:
    return read(QUESTIONS[question].request, json.dumps(document), most)


def _refused(question: str, document: Any, most: Most) -> list[tuple[str, str]]:
    with pytest.raises(Refused) as refused:
        _read(question, document, most)
    return [(problem.pointer, problem.code) for problem in refused.value.problems]


def _layered(*bridges: list[str | None]) -> dict[str, Any]:
    layers = []
    for paths in bridges:
        pieces = [
            {"fraction": 0.1, "conductivity_w_mk": 0.13} | ({"path": path} if path else {}) for path in paths
        ]
        layer = {"kind": "solid", "thickness_mm": 20, "conductivity_w_mk": 0.04}
        layers.append(layer | ({"bridges": pieces} if pieces else {}))
    return {"construction": {"kind": "layered", "heat_flow": "horizontal", "layers": layers}}


def _depth(value: Any) -> int:
    if not isinstance(value, dict | list):
        return 0
    return 1 + max(map(_depth, value.values() if isinstance(value, dict) else value), default=0)


def test_a_document_as_deep_as_is_allowed_is_read_and_a_deeper_one_is_not() -> None:
    document = requests()["house-loss"]
    depth = _depth(document)
    assert _read("house-loss", document, CONTRACT._replace(json_depth=depth)).house.rooms
    with pytest.raises(Malformed, match=f"more than {depth - 1} levels"):
        _read("house-loss", document, CONTRACT._replace(json_depth=depth - 1))


def test_a_list_and_an_object_as_long_as_is_allowed_are_read_and_longer_ones_are_told() -> None:
    document = requests()["house-loss"]
    rooms = document["house"]["rooms"]
    longest = max(len(rooms), len(document["house"]["constructions"]), *(len(r["elements"]) for r in rooms))
    assert _read("house-loss", document, CONTRACT._replace(list_length=longest)).house.rooms
    rooms.extend([rooms[0] | {"id": f"room-{number}"} for number in range(longest)])
    assert _refused("house-loss", document, CONTRACT._replace(list_length=longest)) == [
        ("/house/rooms", "wrong_count")
    ]
    short = CONTRACT._replace(list_length=3)
    assert ("/house", "wrong_count") in _refused("house-loss", document, short)


@pytest.mark.parametrize(
    ("bridges", "ways"),
    [
        ([[None], [], [None, None]], 6),
        ([["stud"], ["stud"]], 2),
        ([["stud"], ["stud", None], [None]], 8),
    ],
)
def test_ways_through_bridged_layers_are_counted(bridges: list[list[str | None]], ways: int) -> None:
    document = _layered(*bridges)
    assert _read("u-value", document, CONTRACT._replace(combinations=ways)).construction.layers
    assert _refused("u-value", document, CONTRACT._replace(combinations=ways - 1)) == [
        ("/construction/layers", "not_covered")
    ]


def test_fewer_draws_than_the_contract_allows() -> None:
    document = requests()["uncertainty"] | {"draws": 5000}
    assert _read("uncertainty", document, CONTRACT._replace(draws=5000)).draws == 5000
    assert _refused("uncertainty", document, CONTRACT._replace(draws=4999)) == [("/draws", "out_of_range")]


def test_what_has_a_wrong_form_is_left_to_the_model() -> None:
    tight = Most(json_depth=20, list_length=20, combinations=2, draws=1000)
    documents: list[Any] = [
        {"construction": {"layers": {"bridges": 3}}},
        {"construction": {"layers": [{"bridges": [{"path": []}, {"path": {}}, 3]}, 4]}},
        {"draws": "many"},
        [],
        3,
        None,
    ]
    for document in documents:
        assert _refused("u-value", document, tight)
    with pytest.raises(Malformed):
        read(QUESTIONS["u-value"].request, b"{", tight)


def _bounds(node: Any) -> Iterator[int]:
    if isinstance(node, dict):
        yield from (node[key] for key in ("maxItems", "maxProperties") if key in node)
        for value in node.values():
            yield from _bounds(value)
    elif isinstance(node, list):
        for value in node:
            yield from _bounds(value)


def test_the_contract_is_what_the_schemas_allow() -> None:
    schemas = {name: question.request.model_json_schema() for name, question in QUESTIONS.items()}
    assert CONTRACT.list_length == max(bound for schema in schemas.values() for bound in _bounds(schema))
    assert CONTRACT.combinations == MAXIMUM_SECTIONS
    assert CONTRACT.draws == schemas["uncertainty"]["properties"]["draws"]["maximum"]
