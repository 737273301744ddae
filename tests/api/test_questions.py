"""Every question over HTTP: what it answers, with which status, and what never is in an answer."""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

import pytest

import warmstead
from warmstead.api.app import app
from warmstead.api.cells_described import EXAMPLES
from warmstead.questions.registry import QUESTIONS

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import httpx

    Send = Callable[..., httpx.Response]
    Json = dict[str, Any]

NAMES = list(QUESTIONS)


def values(node: Any, at: str = "") -> Iterator[tuple[str, Any]]:
    """Walk through everything in a document that is neither object nor list."""
    if isinstance(node, dict):
        for name, value in node.items():
            yield from values(value, f"{at}/{name}")
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from values(value, f"{at}/{index}")
    else:
        yield at, node


@pytest.mark.parametrize("name", NAMES)
def test_a_question_is_answered_as_json(name: str, ask: Send, requests: dict[str, Json]) -> None:
    response = ask(name, requests[name])
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "application/json"
    assert int(response.headers["content-length"]) == len(response.content)


@pytest.mark.parametrize("workings", [False, True])
@pytest.mark.parametrize("name", NAMES)
def test_no_answer_holds_a_null_or_what_is_no_number(
    name: str, workings: bool, ask: Send, requests: dict[str, Json]
) -> None:
    response = ask(name, requests[name], query=f"?workings={str(workings).lower()}")
    found = list(values(response.json()))
    assert [at for at, value in found if value is None] == []
    assert any(isinstance(value, float) for _, value in found)
    assert not any(word in response.text for word in ("NaN", "Infinity"))


@pytest.mark.parametrize("name", NAMES)
def test_every_answer_says_what_it_stands_on(name: str, ask: Send, requests: dict[str, Json]) -> None:
    answer = ask(name, requests[name]).json()
    basis = answer["basis"]
    assert set(basis) == {"service_version", "contract", "national_annex", "editions", "tables_version"}
    assert basis["service_version"] == warmstead.__version__
    assert basis["contract"] == "v1"
    assert basis["national_annex"] == "GB"
    assert basis["editions"]["ISO 6946"] == "2017"
    assert all(set(warning) == {"code", "pointer", "detail"} for warning in answer["warnings"])


def test_the_national_annex_of_the_house_is_the_one_that_is_stated(ask: Send, house: Json) -> None:
    house["conditions"]["national_annex"] = "EN"
    assert ask("house-loss", {"house": house}).json()["basis"]["national_annex"] == "EN"


@pytest.mark.parametrize("name", NAMES)
def test_an_answer_over_http_is_the_answer_in_python(name: str, ask: Send, requests: dict[str, Json]) -> None:
    asked = getattr(warmstead, QUESTIONS[name].python_name)
    assert ask(name, requests[name]).json() == json.loads(json.dumps(asked(requests[name])))


@pytest.mark.parametrize("name", NAMES)
def test_the_same_request_has_the_same_bytes_in_answer(
    name: str, ask: Send, requests: dict[str, Json]
) -> None:
    first, second = (ask(name, requests[name], query="?workings=true").content for _ in range(2))
    assert first == second


@pytest.mark.parametrize("name", NAMES)
def test_workings_come_only_where_they_are_asked_for(name: str, ask: Send, requests: dict[str, Json]) -> None:
    assert "workings" not in ask(name, requests[name]).json()
    assert "workings" not in ask(name, requests[name], query="?workings=false").json()
    steps = ask(name, requests[name], query="?workings=true").json()["workings"]
    assert steps
    wanted = {"of", "quantity", "symbol", "value", "unit", "equation", "clause"}
    assert all(set(step) == wanted for step in steps)
    assert all(isinstance(step["value"], float | int) for step in steps)


@pytest.mark.parametrize("name", NAMES)
def test_workings_change_no_number_of_the_answer(name: str, ask: Send, requests: dict[str, Json]) -> None:
    plain = ask(name, requests[name]).json()
    worked = ask(name, requests[name], query="?workings=true").json()
    assert {key: worked[key] for key in plain if key != "warnings"} == {
        key: value for key, value in plain.items() if key != "warnings"
    }


@pytest.mark.parametrize(
    "media_type",
    [
        "application/json",
        "application/json; charset=utf-8",
        "Application/JSON",
        "application/vnd.survey+json",
    ],
)
def test_media_types_of_json_are_read(media_type: str, ask: Send, requests: dict[str, Json]) -> None:
    assert ask("u-value", requests["u-value"], headers={"content-type": media_type}).status_code == 200


def test_a_body_without_media_type_is_read_as_json(send: Send, requests: dict[str, Json]) -> None:
    response = send("POST", "/v1/u-value", content=json.dumps(requests["u-value"]))
    assert response.status_code == 200


def test_a_body_that_comes_in_pieces_is_read_whole(send: Send, requests: dict[str, Json]) -> None:
    text = json.dumps(requests["house-loss"]).encode()

    async def pieces() -> Any:
        for start in range(0, len(text), 1000):
            yield text[start : start + 1000]

    response = send("POST", "/v1/house-loss", content=pieces(), headers={"content-type": "application/json"})
    assert response.status_code == 200


def test_whole_numbers_serve_as_numbers(ask: Send) -> None:
    layer = {"kind": "solid", "thickness_mm": 200, "conductivity_w_mk": 1}
    wall = {"kind": "layered", "heat_flow": "horizontal", "layers": [layer]}
    # 0.13 + 0.2 + 0.04 = 0.37 m²K/W (surface resistances of ISO 6946:2017, table 7, from memory)
    assert ask("u-value", {"construction": wall}).json()["u_value_w_m2k"] == pytest.approx(1 / 0.37)


def test_a_whole_number_may_be_written_as_a_decimal(ask: Send, requests: dict[str, Json]) -> None:
    plain = json.dumps(requests["required-thickness"])
    decimal = plain.replace('"layer": 1,', '"layer": 1.0,')
    assert decimal != plain
    assert ask("required-thickness", decimal).content == ask("required-thickness", plain).content


def test_the_room_question_gives_the_room_of_the_house_question(ask: Send, requests: dict[str, Json]) -> None:
    whole = ask("house-loss", requests["house-loss"]).json()
    for room in whole["rooms"]:
        alone = ask("room-loss", {**requests["room-loss"], "room": room["id"]}).json()
        assert {name: alone[name] for name in room} == room


def test_warnings_of_a_room_are_its_own(ask: Send, house: Json) -> None:
    for room in house["rooms"]:
        del room["ventilation"]["air_changes"]
    warnings = ask("room-loss", {"house": house, "room": "bedroom"}).json()["warnings"]
    pointers = [warning["pointer"] for warning in warnings if warning["code"] == "default.air_changes"]
    # the bedroom has no wall to another room
    assert pointers == ["/house/rooms/2/ventilation/air_changes"]


def test_every_pointer_of_a_warning_leads_into_the_request(ask: Send, requests: dict[str, Json]) -> None:
    for name, request in requests.items():
        for warning in ask(name, request).json()["warnings"]:
            steps = [step for step in warning["pointer"].split("/")[1:-1] if step]
            node: Any = request
            for step in steps:  # all but the last, which names what may be absent
                node = node[int(step)] if isinstance(node, list) else node[step]
            assert isinstance(node, dict | list), warning


def test_health_says_that_the_service_is_up(send: Send) -> None:
    response = send("GET", "/healthz")
    assert response.status_code == 200
    assert response.json() == {"status": "serving", "service_version": warmstead.__version__}


@pytest.mark.parametrize("path", [path for path, item in app.openapi()["paths"].items() if "get" in item])
def test_what_can_be_got_can_be_asked_for_its_head(
    path: str, send: Send, lasting_headers: Callable[..., dict[str, str]]
) -> None:
    query = EXAMPLES.get(path.removeprefix("/v1/"), "")
    path = (
        path.format(name="air-layers", table="air-layers", row="horizontal:25", column="resistance_m2k_w")
        + f"?{query}"
    )
    got, asked = send("GET", path), send("HEAD", path)
    assert asked.status_code == got.status_code == 200
    assert lasting_headers(asked) == lasting_headers(got)
    assert asked.content == b""


def spoil(node: Any) -> None:
    """Change everything in a document that can be changed."""
    if isinstance(node, dict):
        for value in node.values():
            spoil(value)
        node.clear()
    elif isinstance(node, list):
        for value in node:
            spoil(value)
        node.clear()


@pytest.mark.parametrize("name", NAMES)
def test_what_a_caller_does_to_an_answer_stays_with_the_caller(name: str, requests: dict[str, Json]) -> None:
    asked = getattr(warmstead, QUESTIONS[name].python_name)
    answer = asked(requests[name], workings=True)
    before = copy.deepcopy(answer)
    spoil(answer)
    assert asked(requests[name], workings=True) == before
