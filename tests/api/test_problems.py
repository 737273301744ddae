"""Every refusal: its status, its shape (RFC 9457), its JSON pointers (RFC 6901), and that nothing sent comes back."""

from __future__ import annotations

import copy
import json
import os
import subprocess
import sys
from collections.abc import Callable
from typing import Any, get_args

import httpx
import pytest

from warmstead.api.settings import SETTINGS
from warmstead.building.findings import ProblemCode
from warmstead.exchange.cells.questions import CELL_QUESTIONS
from warmstead.questions.registry import QUESTIONS

Send = Callable[..., httpx.Response]
Json = dict[str, Any]
Refusal = Callable[..., list[tuple[str, str]]]

CODES = set(get_args(ProblemCode))


def solid(**changes: Any) -> Json:
    layer = {"kind": "solid", "thickness_mm": 100, "conductivity_w_mk": 0.5} | changes
    return {"construction": {"kind": "layered", "heat_flow": "horizontal", "layers": [layer]}}


def room(id: str = "a", **changes: Any) -> Json:
    wall = {"id": "wall", "construction": "wall", "area_m2": 10, "boundary": {"to": "outside"}}
    return {"id": id, "floor_area_m2": 12, "height_m": 2.5, "elements": [wall]} | changes


def house(*rooms: Json, **changes: Any) -> Json:
    wall = {"kind": "declared", "u_value_w_m2k": 0.5, "source": "an invented certificate"}
    return {
        "conditions": {"external_temperature_c": -3},
        "constructions": {"wall": wall},
        "rooms": list(rooms) or [room()],
    } | changes


def check_shape(response: httpx.Response, status: int) -> list[Json]:
    """Check a problem document's shape and return its errors."""
    assert response.status_code == status, response.text
    assert response.headers["content-type"] == "application/problem+json"
    document = response.json()
    assert set(document) == {"type", "title", "status", "detail", "errors"}
    assert document["status"] == status
    assert document["type"].startswith("urn:warmstead:problem:")
    assert document["title"]
    assert document["detail"]
    for error in document["errors"]:
        assert set(error) in ({"pointer", "code", "detail"}, {"parameter", "code", "detail"})
        assert error["code"] in CODES
        assert error["detail"]
        assert error.get("pointer", "") == "" or error["pointer"].startswith("/")
    assert "null" not in response.text.replace("null is no value", "").replace("null_value", "")
    errors: list[Json] = document["errors"]
    return errors


# --- Statuses -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"   ",
        b"{",
        b'{"construction": }',
        b'{"construction": 1} and more',
        b"{'construction': 1}",
        b'{"construction": .5}',
        b'{"construction": 01}',
        b'{"construction": "\xff\xfe"}',
        b'{"constr\xc3": 1}',
        b'{"construction": "\\ud800"}',
        b'{"construction": undefined}',
        '{"construction": 1}'.encode("utf-16"),
        b"[" * 100_000,
        b'{"construction":' + b"[" * 5_000 + b"]" * 5_000 + b"}",
        b'{"a":' * 5_000 + b"1" + b"}" * 5_000,
    ],
    ids=[
        "empty",
        "blank",
        "cut off",
        "no value",
        "more after it",
        "single quotes",
        "number without its zero",
        "number with a zero too many",
        "no UTF-8 in a value",
        "no UTF-8 in a name",
        "half a character",
        "a word of another language",
        "UTF-16",
        "deep and cut off",
        "deep lists",
        "deep objects",
    ],
)
def test_what_is_not_json_is_malformed(body: bytes, ask: Send) -> None:
    (error,) = check_shape(ask("u-value", body), 400)
    assert (error["pointer"], error["code"]) == ("", "invalid_json")


def test_a_path_that_is_not_there(send: Send) -> None:
    for path in ("/", "/v1", "/v1/u_value", "/v1/u-value/", "/v2/u-value", "/v1/tables/", "/v1/tables/a/b"):
        assert check_shape(send("GET", path), 404) == []
        assert check_shape(send("POST", path), 404) == []


@pytest.mark.parametrize(
    ("path", "taken"),
    [(f"/v1/{name}", {"POST", "GET", "HEAD"} if name in CELL_QUESTIONS else {"POST"}) for name in QUESTIONS]
    + [("/v1/tables", {"GET", "HEAD"}), ("/v1/tables/materials", {"GET", "HEAD"})],
)
def test_a_method_that_a_path_does_not_take(path: str, taken: set[str], send: Send) -> None:
    for method in {"GET", "PUT", "PATCH", "DELETE", "POST"} - taken:
        response = send(method, path)
        assert check_shape(response, 405) == []
        allowed = {name.strip() for name in response.headers["allow"].split(",")}
        assert taken <= allowed
        assert method not in allowed


def test_a_body_of_another_media_type(send: Send) -> None:
    for media_type in ("text/plain", "application/xml", "application/x-www-form-urlencoded", "text/json", ""):
        response = send("POST", "/v1/u-value", content=b"{}", headers={"content-type": media_type})
        assert check_shape(response, 415) == []


def test_a_body_that_is_too_large(ask: Send) -> None:
    at_the_limit = b" " * SETTINGS.maximum_body_bytes
    check_shape(ask("u-value", at_the_limit), 400)  # read, and found to be no JSON
    assert check_shape(ask("u-value", at_the_limit + b" "), 413) == []


def test_a_body_without_end_is_not_read_to_its_end(send: Send) -> None:
    sent = 0

    async def endless() -> Any:
        nonlocal sent
        piece = b" " * 1_000_000
        while sent < 20 * SETTINGS.maximum_body_bytes:
            sent += len(piece)
            yield piece

    response = send("POST", "/v1/u-value", content=endless(), headers={"content-type": "application/json"})
    check_shape(response, 413)
    assert sent <= SETTINGS.maximum_body_bytes + 2_000_000


def test_an_error_of_ours_tells_no_reason(send: Send, monkeypatch: pytest.MonkeyPatch) -> None:
    from warmstead.api import questions

    def fail(*_: Any) -> None:
        raise RuntimeError("a secret of the request")

    monkeypatch.setattr(questions, "read", fail)
    response = send("POST", "/v1/u-value", content=b"{}", raising=False)
    assert check_shape(response, 500) == []
    assert "secret" not in response.text


# --- Strictness -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "code"),
    [
        ("NaN", "not_a_number"),
        ("Infinity", "not_a_number"),
        ("-Infinity", "not_a_number"),
        ("1e999", "not_a_number"),
        ("-1e999", "not_a_number"),
        ("1" + "0" * 400, "not_a_number"),
        ('"5"', "not_a_number"),
        ('"NaN"', "not_a_number"),
        ('""', "not_a_number"),
        ("true", "not_a_number"),
        ("false", "not_a_number"),
        ("[]", "not_a_number"),
        ("[5]", "not_a_number"),
        ("{}", "not_a_number"),
        ("null", "null_value"),
        ("0", "out_of_range"),
        ("-0.0", "out_of_range"),
        ("-5", "out_of_range"),
        ("5000.1", "out_of_range"),
        ("1e-400", "out_of_range"),
    ],
)
def test_a_number_is_a_finite_number_within_its_bounds(written: str, code: str, ask: Send) -> None:
    body = json.dumps(solid(thickness_mm="HERE")).replace('"HERE"', written)
    (error,) = check_shape(ask("u-value", body), 422)
    assert (error["pointer"], error["code"]) == ("/construction/layers/0/thickness_mm", code)


@pytest.mark.parametrize("written", ["true", "false", '"1"', "1.5", "3", "-1", "NaN", "null", "[]"])
def test_a_choice_among_numbers_takes_its_numbers_only(written: str, ask: Send) -> None:
    wall = solid()
    wall["construction"]["corrections"] = {"air_gaps": {"layer": 0, "level": "HERE"}}
    body = json.dumps(wall).replace('"HERE"', written)
    (error,) = check_shape(ask("u-value", body), 422)
    assert error["pointer"] == "/construction/corrections/air_gaps/level"


@pytest.mark.parametrize("written", ["true", '"0"', "0.5", "50", "-1", "1e30", "NaN", "null"])
def test_an_index_is_a_whole_number(written: str, ask: Send) -> None:
    body = json.dumps({**solid(), "layer": "HERE", "target_u_value_w_m2k": 0.2}).replace('"HERE"', written)
    (error,) = check_shape(ask("required-thickness", body), 422)
    assert error["pointer"] == "/layer"


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("solids", "unknown_choice"),
        ("Solid", "unknown_choice"),
        ("solid ", "unknown_choice"),
        ("", "unknown_choice"),
        (5, "unknown_choice"),
        (True, "unknown_choice"),
        (["solid"], "unknown_choice"),
        ({}, "unknown_choice"),
        (None, "null_value"),
    ],
)
def test_the_field_that_tells_variants_apart_takes_their_names_only(
    kind: Any, code: str, refusal: Refusal
) -> None:
    assert refusal("u-value", solid(kind=kind)) == [("/construction/layers/0/kind", code)]
    assert refusal("u-value", {"construction": {"kind": kind}}) == [("/construction/kind", code)]
    wall = {"id": "w", "construction": "wall", "area_m2": 1, "boundary": {"to": kind}}
    assert refusal("house-loss", {"house": house(room(elements=[wall]))}) == [
        ("/house/rooms/0/elements/0/boundary/to", code)
    ]
    assert refusal("house-loss", {"house": house(ventilation={"method": kind})}) == [
        ("/house/ventilation/method", code)
    ]


def test_the_field_that_tells_variants_apart_has_no_default(refusal: Refusal) -> None:
    wall = solid()
    del wall["construction"]["kind"]
    assert refusal("u-value", wall) == [("/construction/kind", "missing_field")]
    assert refusal("u-value", {"construction": {"kind": "ground_floor"}}) == [
        ("/construction/floor", "missing_field")
    ]


@pytest.mark.parametrize("value", [5, "x", [], True])
def test_what_has_variants_is_an_object(value: Any, refusal: Refusal) -> None:
    assert refusal("u-value", {"construction": value}) == [("/construction", "wrong_type")]


@pytest.mark.parametrize("body", ["[]", "5", '"x"', "true", "null"])
def test_a_request_is_an_object(body: str, refusal: Refusal) -> None:
    ((pointer, code),) = refusal("u-value", body)
    assert pointer == ""
    assert code in ("wrong_type", "null_value")


def test_null_is_no_value_wherever_it_stands(refusal: Refusal, requests: dict[str, Json]) -> None:
    """Each member of each request in turn: with null it is refused at its own pointer."""
    tried = 0
    for name, request in requests.items():
        for pointer, holder, key in members(request):
            if read_elsewhere(name, pointer):
                continue
            kept = holder[key]
            holder[key] = None
            errors = refusal(name, request)
            holder[key] = kept
            assert (pointer, "null_value") in errors, (name, pointer, errors)
            tried += 1
    assert tried > 300


def test_an_unknown_field_is_refused_wherever_it_stands(refusal: Refusal, requests: dict[str, Json]) -> None:
    """In each object of each request in turn; where names are free (constructions), its value is refused."""
    for name, request in requests.items():
        for pointer, node in objects(request):
            if read_elsewhere(name, pointer):
                continue
            node["surprise"] = 1
            errors = refusal(name, request)
            del node["surprise"]
            code = "wrong_type" if pointer.endswith("/constructions") else "unknown_field"
            assert errors == [(f"{pointer}/surprise", code)]


def members(node: Any, at: str = "") -> list[tuple[str, Any, Any]]:
    """List every member and item of a document: its pointer, what holds it, its key there."""
    items = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    found: list[tuple[str, Any, Any]] = []
    for key, value in list(items):
        found.append((f"{at}/{key}", node, key))
        found += members(value, f"{at}/{key}")
    return found


def read_elsewhere(question: str, pointer: str) -> bool:
    """Say whether a place is in a house that is read by the same model as that of house-loss, where it is tried."""
    return question != "house-loss" and pointer.startswith("/house/")


def objects(node: Any, at: str = "") -> list[tuple[str, Json]]:
    """List every object of a document with its pointer."""
    found = [(at, node)] if isinstance(node, dict) else []
    return found + [
        (pointer, holder[key]) for pointer, holder, key in members(node, at) if isinstance(holder[key], dict)
    ]


@pytest.mark.parametrize(
    ("changes", "pointer", "code"),
    [
        ({"id": "-a"}, "/house/rooms/0/id", "invalid_text"),
        ({"id": "a b"}, "/house/rooms/0/id", "invalid_text"),
        ({"id": "a\n"}, "/house/rooms/0/id", "invalid_text"),
        ({"id": ""}, "/house/rooms/0/id", "invalid_text"),
        ({"id": "a" * 65}, "/house/rooms/0/id", "invalid_text"),
        ({"id": "é"}, "/house/rooms/0/id", "invalid_text"),
        ({"id": 5}, "/house/rooms/0/id", "wrong_type"),
        ({"name": "a" * 201}, "/house/rooms/0/name", "invalid_text"),
        ({"elements": {}}, "/house/rooms/0/elements", "wrong_type"),
        ({"elements": "none"}, "/house/rooms/0/elements", "wrong_type"),
        ({"use": "livingroom"}, "/house/rooms/0/use", "unknown_choice"),
    ],
)
def test_texts_and_lists_are_what_they_are_meant_to_be(
    changes: Json, pointer: str, code: str, refusal: Refusal
) -> None:
    assert refusal("house-loss", {"house": house(room(**changes))}) == [(pointer, code)]


def test_an_id_may_have_64_characters(ask: Send) -> None:
    answer = ask("house-loss", {"house": house(room("a" * 64))}).json()
    assert answer["rooms"][0]["id"] == "a" * 64


def test_lists_have_a_least_and_a_greatest_length(refusal: Refusal) -> None:
    wall: dict[str, Any] = {"kind": "layered", "heat_flow": "horizontal", "layers": []}
    assert refusal("u-value", {"construction": wall}) == [("/construction/layers", "wrong_count")]
    wall["layers"] = [{"kind": "resistance", "resistance_m2k_w": 0.1}] * 51
    assert refusal("u-value", {"construction": wall}) == [("/construction/layers", "wrong_count")]
    assert refusal("house-loss", {"house": house(rooms=[])}) == [("/house/rooms", "wrong_count")]


def test_a_key_of_constructions_is_an_id(refusal: Refusal) -> None:
    wall = {"kind": "declared", "u_value_w_m2k": 0.5, "source": "x"}
    survey = house(constructions={"wall": wall, "bad key": wall})
    ((pointer, code),) = refusal("house-loss", {"house": survey})
    assert pointer == "/house/constructions/bad key"
    assert code == "invalid_text"


def test_a_name_that_stands_twice_in_an_object_is_not_dropped(ask: Send) -> None:
    wall = '{"kind": "declared", "u_value_w_m2k": 0.5, "source": "x"}'
    text = json.dumps({"house": house(constructions="HERE")}).replace(
        '"HERE"', f'{{"wall": {wall}, "wall": {wall.replace("0.5", "2.0")}}}'
    )
    assert ask("house-loss", text).status_code in (400, 422)


# --- Pointers, codes and guesses ------------------------------------------------------------------


def test_pointers_escape_tilde_and_slash(refusal: Refusal) -> None:
    body = {**solid(), "a/b": 1, "c~d": 1, "~1": 1, "": 1, "é": 1}
    assert {pointer for pointer, _ in refusal("u-value", body)} == {
        "/a~1b",
        "/c~0d",
        "/~01",
        "/",
        "/é",
    }


def test_a_missing_member_has_the_pointer_that_it_would_have(refusal: Refusal) -> None:
    assert refusal("u-value", {}) == [("/construction", "missing_field")]
    survey = house()
    del survey["conditions"]["external_temperature_c"]
    del survey["rooms"][0]["elements"][0]["boundary"]
    assert sorted(refusal("house-loss", {"house": survey})) == [
        ("/house/conditions/external_temperature_c", "missing_field"),
        ("/house/rooms/0/elements/0/boundary", "missing_field"),
    ]


USE_A_HOUSE = ("emitter-check", "heat-pump-sizing")
"""Questions that need of a house what house-loss does not; the others need no more than these."""


def test_each_member_that_is_required_is_missed(
    refusal: Refusal, ask: Send, requests: dict[str, Json]
) -> None:
    """Each member of each request in turn left out: either nobody misses it, or it is missed at its pointer."""
    missed = 0
    for name, request in requests.items():
        for pointer, holder, key in members(request):
            if isinstance(holder, list) or (name not in USE_A_HOUSE and read_elsewhere(name, pointer)):
                continue
            kept = holder.pop(key)
            response = ask(name, request)
            holder[key] = kept
            if response.status_code == 200:
                continue
            errors = {(error["pointer"], error["code"]) for error in check_shape(response, 422)}
            if (pointer, "missing_field") in errors:
                assert len(errors) == 1
                missed += 1
            else:  # one of several ways to say it, or something else refers to it
                assert {code for _, code in errors} <= {
                    "incomplete",
                    "not_found",
                    "ambiguous",
                    "contradiction",
                    "insufficient_data",
                }
    assert missed > 100


def test_a_misspelt_field_is_answered_with_the_nearest_name(ask: Send) -> None:
    survey = house(room(heigth_m=2.4))
    (error,) = check_shape(ask("house-loss", {"house": survey}), 422)
    assert error["pointer"] == "/house/rooms/0/heigth_m"
    assert error["code"] == "unknown_field"
    assert "did you mean height_m?" in error["detail"]


def test_a_field_like_no_other_is_answered_with_all_names(ask: Send) -> None:
    (error,) = check_shape(ask("u-value", {**solid(), "zzz": 1}), 422)
    assert "construction" in error["detail"]
    assert "national_annex" in error["detail"]


def test_a_misspelt_field_of_a_variant_is_answered_from_that_variant(ask: Send) -> None:
    (error,) = check_shape(ask("u-value", solid(conductivty_w_mk=1)), 422)
    assert error["pointer"] == "/construction/layers/0/conductivty_w_mk"
    assert "did you mean conductivity_w_mk?" in error["detail"]


@pytest.mark.parametrize(
    ("changes", "guess"),
    [({"heat_flow": "horizontl"}, "horizontal"), ({"external_side": "out-side"}, "outside")],
)
def test_a_misspelt_choice_is_answered_with_the_nearest(changes: Json, guess: str, ask: Send) -> None:
    wall = solid()
    wall["construction"] |= changes
    (error,) = check_shape(ask("u-value", wall), 422)
    assert error["code"] == "unknown_choice"
    assert f"did you mean {guess}?" in error["detail"]


def test_a_misspelt_variant_is_answered_with_the_nearest(ask: Send) -> None:
    (error,) = check_shape(ask("u-value", solid(kind="sollid")), 422)
    assert "did you mean solid?" in error["detail"]


def test_a_reference_that_leads_nowhere_is_answered_with_the_nearest_name(ask: Send) -> None:
    def element(id: str, construction: str, boundary: Json) -> Json:
        return {"id": id, "construction": construction, "area_m2": 5, "boundary": boundary}

    survey = house(
        room(
            "lounge",
            elements=[
                element("a", "wal", {"to": "outside"}),
                element("b", "wall", {"to": "room", "room": "kitchn"}),
                element("c", "wall", {"to": "unheated_space", "space": "lof"}),
                element("d", "wall", {"to": "room", "room": "loft"}),
            ],
        ),
        room("kitchen"),
        unheated_spaces=[{"id": "loft", "volume_m3": 20, "elements": []}],
        thermal_bridges={"junctions": [{"id": "j", "room": "loung", "psi_w_mk": 0.1, "length_m": 1}]},
    )
    errors = check_shape(ask("house-loss", {"house": survey}), 422)
    at = "/house/rooms/0/elements"
    by_pointer = {error["pointer"]: error for error in errors}
    assert set(by_pointer) == {
        f"{at}/0/construction",
        f"{at}/1/boundary/room",
        f"{at}/2/boundary/space",
        f"{at}/3/boundary/room",
        "/house/thermal_bridges/junctions/0/room",
    }
    assert {error["code"] for error in errors} == {"not_found"}
    assert "'wall'" in by_pointer[f"{at}/0/construction"]["detail"]
    assert "'kitchen'" in by_pointer[f"{at}/1/boundary/room"]["detail"]
    assert "'loft'" in by_pointer[f"{at}/2/boundary/space"]["detail"]
    assert "unheated space" in by_pointer[f"{at}/3/boundary/room"]["detail"]
    assert "'lounge'" in by_pointer["/house/thermal_bridges/junctions/0/room"]["detail"]


def test_a_bound_is_told_with_its_unit(ask: Send) -> None:
    (error,) = check_shape(ask("u-value", solid(thickness_mm=6000)), 422)
    assert "5000" in error["detail"]
    assert "mm" in error["detail"]


# --- All at once ----------------------------------------------------------------------------------


def test_all_structural_errors_are_told_together(refusal: Refusal, house: Json) -> None:
    house["conditions"]["external_temperature_c"] = "cold"
    house["constructions"]["wall"]["layers"][1]["bridges"][0]["fraction"] = 1.5
    house["constructions"]["slab"]["floor"] = "slab"
    house["rooms"][0]["elements"][0]["openings"][0]["area_m2"] = None
    house["rooms"][1]["elements"][1]["boundary"]["reduction"] = 0.5
    house["rooms"][1]["emitters"][0]["area_m2"] = -1
    del house["rooms"][2]["floor_area_m2"]
    house["thermal_bridges"]["junctions"][0]["psi_w_mk"] = True
    house["unheated_spaces"][0]["elements"] = None
    assert sorted(refusal("room-loss", {"house": house})) == [
        ("/house/conditions/external_temperature_c", "not_a_number"),
        ("/house/constructions/slab/floor", "unknown_choice"),
        ("/house/constructions/wall/layers/1/bridges/0/fraction", "out_of_range"),
        ("/house/rooms/0/elements/0/openings/0/area_m2", "null_value"),
        ("/house/rooms/1/elements/1/boundary/reduction", "unknown_field"),
        ("/house/rooms/1/emitters/0/area_m2", "out_of_range"),
        ("/house/rooms/2/floor_area_m2", "missing_field"),
        ("/house/thermal_bridges/junctions/0/psi_w_mk", "not_a_number"),
        ("/house/unheated_spaces/0/elements", "null_value"),
        ("/room", "missing_field"),
    ]


def test_structural_errors_come_before_contradictions(refusal: Refusal) -> None:
    survey = house(room(use="cellar"), room())  # the second has the id of the first
    assert refusal("house-loss", {"house": survey}) == [("/house/rooms/0/use", "unknown_choice")]


def test_all_contradictions_of_a_house_are_told_together(refusal: Refusal, house: Json) -> None:
    lounge, kitchen, bedroom = house["rooms"]
    lounge["elements"][0]["area_m2"] = 13
    lounge["elements"][1]["id"] = "front"
    lounge["elements"][2]["boundary"]["room"] = "lounge"
    lounge["elements"][0]["openings"][0]["area_m2"] = 90
    kitchen["elements"][1]["boundary"]["temperature_c"] = 5
    kitchen["elements"][2]["boundary"] = {"to": "unheated_space"}
    kitchen["elements"][0]["construction"] = "slab"
    del kitchen["volume_m3"]
    bedroom["design_temperature_c"] = 0
    bedroom["elements"][0]["construction"] = "celing"
    house["conditions"]["external_temperature_c"] = 1
    house["thermal_bridges"]["surcharge_w_m2k"] = 0.05
    house["thermal_bridges"]["junctions"][1]["room"] = "attic"
    house["unheated_spaces"][0]["elements"][0]["construction"] = "slates"
    del house["conditions"]["annual_mean_external_temperature_c"]
    at = "/house/rooms"
    assert sorted(refusal("house-loss", {"house": house})) == [
        ("/house/conditions/annual_mean_external_temperature_c", "missing_field"),
        (f"{at}/0/elements/0/area_m2", "ambiguous"),
        (f"{at}/0/elements/0/openings", "contradiction"),
        (f"{at}/0/elements/1/id", "duplicate_id"),
        (f"{at}/0/elements/2/boundary/room", "contradiction"),
        (f"{at}/1/elements/0/construction", "contradiction"),
        (f"{at}/1/elements/1/boundary", "ambiguous"),
        (f"{at}/1/elements/2/boundary", "incomplete"),
        (f"{at}/1/height_m", "incomplete"),
        (f"{at}/2/design_temperature_c", "contradiction"),
        (f"{at}/2/elements/0/construction", "not_found"),
        ("/house/thermal_bridges/junctions", "ambiguous"),
        ("/house/thermal_bridges/junctions/1/room", "not_found"),
        ("/house/unheated_spaces/0/elements/0/construction", "not_found"),
    ]


def test_contradictions_of_rooms_with_one_id_are_told_for_each(refusal: Refusal) -> None:
    def broken(construction: str) -> list[Json]:
        return [{"id": "w", "construction": construction, "area_m2": 1, "boundary": {"to": "outside"}}]

    survey = house(room("a", elements=broken("roof")), room("a", elements=broken("floor")))
    assert sorted(refusal("house-loss", {"house": survey})) == [
        ("/house/rooms/0/elements/0/construction", "not_found"),
        ("/house/rooms/1/elements/0/construction", "not_found"),
        ("/house/rooms/1/id", "duplicate_id"),
    ]


def test_contradictions_of_house_and_question_are_told_together(refusal: Refusal) -> None:
    survey = house(
        room(elements=[{"id": "w", "construction": "x", "area_m2": 1, "boundary": {"to": "outside"}}])
    )
    in_the_house = ("/house/rooms/0/elements/0/construction", "not_found")
    assert sorted(refusal("room-loss", {"house": survey, "room": "b"})) == [
        in_the_house,
        ("/room", "not_found"),
    ]
    temperatures = {"flow_temperature_c": 40, "return_temperature_c": 50}
    assert sorted(refusal("emitter-check", {"house": survey, **temperatures})) == [
        in_the_house,
        ("/return_temperature_c", "contradiction"),
    ]
    row = {"external_temperature_c": -5, "flow_temperature_c": 35, "capacity_w": 5e3}
    candidate = {"id": "unit", "performance": [{**row, "coefficient_of_performance": 3}] * 2}
    sizing = {"house": survey, "flow_temperature_c": 35, "candidates": [candidate]}
    assert sorted(refusal("heat-pump-sizing", sizing)) == [
        ("/candidates/0/performance/1", "contradiction"),
        in_the_house,
    ]


def test_contradictions_of_emitters_are_told_together(refusal: Refusal) -> None:
    radiator = {"kind": "radiator", "standard_output_w": 1000}
    table = [{"excess_temperature_k": 30, "output_w": 900}, {"excess_temperature_k": 20, "output_w": 800}]
    emitters = [
        {"id": "one", **radiator, "circuit": "nowhere"},
        {"id": "one", **radiator},
        {"id": "fan", "kind": "fan_convector", "outputs": table},
        {
            "id": "panel",
            "kind": "underfloor",
            "area_m2": 5,
            "pipe_spacing_mm": 150,
            "covering_resistance_m2k_w": 0.2,
            "screed_thickness_mm": 45,
            "screed_conductivity_w_mk": 1.2,
            "pipe_outside_diameter_mm": 16,
        },
    ]
    circuits = [
        {"id": "low", "flow_temperature_c": 30, "return_temperature_c": 35},
        {"id": "low", "flow_temperature_c": 45, "return_temperature_c": 40},
    ]
    request = {
        "house": house(room(emitters=emitters)),
        "flow_temperature_c": 60,
        "return_temperature_c": 50,
        "circuits": circuits,
    }
    at = "/house/rooms/0/emitters"
    errors = refusal("emitter-check", request)
    assert {
        ("/circuits/0/return_temperature_c", "contradiction"),
        ("/circuits/1/id", "duplicate_id"),
        (f"{at}/0/circuit", "not_found"),
        (f"{at}/1/id", "duplicate_id"),
        (f"{at}/2/outputs/1/excess_temperature_k", "contradiction"),
        (f"{at}/3/covering_resistance_m2k_w", "not_covered"),
    } <= set(errors)


def test_contradictions_of_candidates_are_told_together(refusal: Refusal) -> None:
    def row(outside: float, flow: float, **more: float) -> Json:
        return {
            "external_temperature_c": outside,
            "flow_temperature_c": flow,
            "capacity_w": 5000,
            "coefficient_of_performance": 3,
            **more,
        }

    candidates = [
        {"id": "one", "performance": [row(-5, 35), row(-5, 35), row(7, 35)]},
        {"id": "one", "performance": [row(-5, 35), row(-5, 45), row(7, 35)]},
        {"id": "two", "performance": [row(-5, 35, minimum_capacity_w=6000), row(7, 35)]},
        {"id": "three", "performance": [row(2, 35), row(7, 35)]},
        {"id": "four", "performance": [row(-5, 45), row(7, 45)]},
    ]
    request = {
        "design_heat_load_w": 5000,
        "external_temperature_c": -3,
        "base_temperature_c": 18,
        "flow_temperature_c": 35,
        "candidates": candidates,
        "thresholds": {"minimum_coverage": 1.2, "maximum_coverage": 1.1},
    }
    assert sorted(refusal("heat-pump-sizing", request)) == [
        ("/candidates/0/performance/1", "contradiction"),
        ("/candidates/1/id", "duplicate_id"),
        ("/candidates/1/performance", "incomplete"),
        ("/candidates/2/performance/0/minimum_capacity_w", "contradiction"),
        ("/candidates/2/performance/1/minimum_capacity_w", "incomplete"),
        ("/candidates/3/performance", "not_covered"),
        ("/candidates/4/performance", "not_covered"),
        ("/thresholds/maximum_coverage", "contradiction"),
    ]


def test_a_load_is_given_in_one_way(refusal: Refusal, requests: dict[str, Json]) -> None:
    request = requests["heat-pump-sizing"]
    both = {**request, "design_heat_load_w": 5000, "external_temperature_c": -3}
    assert refusal("heat-pump-sizing", both) == [
        ("/design_heat_load_w", "ambiguous"),
        ("/external_temperature_c", "ambiguous"),
    ]
    del request["house"]
    assert refusal("heat-pump-sizing", request) == [
        ("/design_heat_load_w", "incomplete"),
        ("/external_temperature_c", "incomplete"),
        ("/base_temperature_c", "incomplete"),
    ]


@pytest.mark.parametrize(
    "survey",
    [
        house(room("a"), room("a")),
        house(unheated_spaces=[{"id": "s", "volume_m3": 5, "elements": []}] * 2),
        house(room(elements=[room()["elements"][0]] * 2)),
        house(
            unheated_spaces=[{"id": "s", "volume_m3": 5, "elements": [room()["elements"][0]] * 2}],
        ),
        house(
            thermal_bridges={"junctions": [{"id": "wall", "room": "a", "psi_w_mk": 0.1, "length_m": 1}]},
        ),
        house(
            thermal_bridges={"junctions": [{"id": "j", "room": "a", "psi_w_mk": 0.1, "length_m": 1}] * 2},
        ),
    ],
    ids=["rooms", "spaces", "elements", "elements of a space", "junction and element", "junctions"],
)
def test_an_id_that_is_used_twice_is_refused(survey: Json, refusal: Refusal) -> None:
    ((pointer, code),) = refusal("house-loss", {"house": survey})
    assert code == "duplicate_id"
    assert pointer.endswith("/id")


def test_an_opening_has_an_id_of_its_own_in_the_room(refusal: Refusal) -> None:
    wall = {
        **room()["elements"][0],
        "openings": [{"id": "wall", "construction": "wall", "area_m2": 1}],
    }
    assert refusal("house-loss", {"house": house(room(elements=[wall]))}) == [
        ("/house/rooms/0/elements/0/openings/0/id", "duplicate_id")
    ]


def test_rooms_may_use_the_ids_of_elements_in_other_rooms(ask: Send) -> None:
    assert ask("house-loss", {"house": house(room("a"), room("b"))}).status_code == 200


def test_problems_stand_in_one_order_in_every_process() -> None:
    emitters = [
        {"id": f"r{i}", "kind": "radiator", "standard_output_w": 100, "circuit": f"c{i}"} for i in range(6)
    ]
    circuits = [{"id": f"c{i}", "flow_temperature_c": 30, "return_temperature_c": 10} for i in range(6)]
    request = {
        "house": house(room(emitters=emitters)),
        "flow_temperature_c": 50,
        "return_temperature_c": 40,
        "circuits": circuits,
    }
    program = (
        "import sys, warmstead\n"
        "try: warmstead.emitter_check(sys.stdin.read())\n"
        "except warmstead.Refused as refused: print([problem.pointer for problem in refused.problems])\n"
    )

    def pointers(seed: int) -> str:
        return subprocess.run(
            [sys.executable, "-c", program],
            input=json.dumps(request),
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
            capture_output=True,
            text=True,
            check=True,
        ).stdout

    told = {pointers(seed) for seed in (1, 2, 3)}
    assert len(told) == 1
    assert told.pop().count("/return_temperature_c") == 6


# --- Nothing comes back ---------------------------------------------------------------------------

SECRET = "a private remark"


def test_no_text_that_was_sent_comes_back_in_a_problem(ask: Send, requests: dict[str, Json]) -> None:
    """Each value of each request in turn replaced by a text of ours: the refusal does not quote it."""
    refused = 0
    quoted: set[tuple[str, str]] = set()
    for name, request in requests.items():
        for pointer, holder, key in members(request):
            kept = holder[key]
            if read_elsewhere(name, pointer) and not isinstance(kept, str):
                continue
            holder[key] = SECRET
            response = ask(name, request)
            holder[key] = kept
            if response.status_code != 200:
                check_shape(response, 422)
                assert "private" not in response.text, (name, pointer)
                refused += 1
            elif "private" in response.text:
                quoted.add((name, pointer.rpartition("/")[2]))
    assert refused > 300
    # A comparison names surveys and rooms as they are named: its words are for people.
    assert quoted == {("survey-comparison", member) for member in ("name", "first_name", "second_name")}


def test_names_and_remarks_of_a_refused_survey_do_not_come_back(ask: Send) -> None:
    survey = house(room(name=SECRET), room(name=SECRET), name=SECRET)  # one id twice
    survey["constructions"]["wall"]["source"] = SECRET
    response = ask("house-loss", {"house": survey})
    check_shape(response, 422)
    assert "private" not in response.text


def test_what_is_not_json_does_not_come_back(ask: Send) -> None:
    response = ask("u-value", f'{{"construction": {SECRET}')
    check_shape(response, 400)
    assert "private" not in response.text


def test_numbers_that_were_sent_do_not_come_back(ask: Send) -> None:
    response = ask("u-value", solid(thickness_mm=-123.456789))
    check_shape(response, 422)
    assert "123.456789" not in response.text


# --- Query ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "parameters"),
    [
        ("?workings=True", ["workings"]),
        ("?workings=1", ["workings"]),
        ("?workings", ["workings"]),
        ("?workings=", ["workings"]),
        ("?working=true", ["working"]),
        ("?a=1&b=2", ["a", "b"]),
        ("?workings=maybe&a=1", ["workings", "a"]),
    ],
)
def test_a_wrong_query_is_refused_by_parameter(query: str, parameters: list[str], ask: Send) -> None:
    errors = check_shape(ask("u-value", solid(), query=query), 422)
    assert [error["parameter"] for error in errors] == parameters


def test_every_code_of_a_problem_is_of_the_published_list(send: Send) -> None:
    schema = send("GET", "/openapi.json").json()["components"]["schemas"]["ProblemError"]
    assert set(schema["properties"]["code"]["x-extensible-enum"]) == CODES


def test_a_question_never_changes_what_it_was_asked(requests: dict[str, Json]) -> None:
    import warmstead

    for name, request in requests.items():
        before = copy.deepcopy(request)
        getattr(warmstead, QUESTIONS[name].python_name)(request, workings=True)
        assert request == before
