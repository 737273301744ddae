"""Small questions by GET: each form of the answer, refusals, caching, and the same answer as the POST."""

from __future__ import annotations

import csv
import io
import json
import statistics
import time
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode
from xml.etree import ElementTree

import httpx
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from warmstead.api.app import app
from warmstead.api.cells_described import EXAMPLES
from warmstead.exchange.cells.numbers import plain
from warmstead.exchange.cells.query import LONGEST_QUERY, split
from warmstead.exchange.cells.questions import CELL_QUESTIONS, ask

Send = Callable[..., httpx.Response]
Json = dict[str, Any]

LOSS = "/v1/element-loss?area_m2=10&u_value_w_m2k=0.5&internal_temperature_c=20&external_temperature_c=-5"
WALL = "/v1/u-value?heat_flow=horizontal&layer_1_thickness_mm=215&layer_1_conductivity_w_mk=0.77"
RESISTANCE = "/v1/tables/surface-resistances/upwards/internal_m2k_w"
ADDRESSES = [*(f"/v1/{name}?{query}" for name, query in EXAMPLES.items()), RESISTANCE]


def with_option(address: str, option: str) -> str:
    return f"{address}{'&' if '?' in address else '?'}{option}"


# --- The form of the answer -----------------------------------------------------------------------


def test_what_says_nothing_gets_one_bare_number(send: Send) -> None:
    # What a spreadsheet program sends, and no more
    response = send("GET", LOSS, headers={"accept": "*/*"})
    assert response.headers["content-type"] == "text/plain; charset=utf-8"
    assert response.content == b"125"


@pytest.mark.parametrize(
    ("option", "accept", "media_type"),
    [
        ("", "text/plain", "text/plain; charset=utf-8"),
        ("", "application/json", "application/json"),
        ("", "text/csv", "text/csv; charset=utf-8"),
        ("", "application/xml", "application/xml; charset=utf-8"),
        ("format=text", "application/json", "text/plain; charset=utf-8"),
        ("format=json", "*/*", "application/json"),
        ("format=csv", "application/json", "text/csv; charset=utf-8"),
        ("format=xml", "text/plain", "application/xml; charset=utf-8"),
    ],
)
@pytest.mark.parametrize("address", [LOSS, RESISTANCE])
def test_the_address_wins_over_accept(
    address: str, option: str, accept: str, media_type: str, send: Send
) -> None:
    response = send("GET", with_option(address, option) if option else address, headers={"accept": accept})
    assert response.status_code == 200
    assert response.headers["content-type"] == media_type
    assert "accept" in response.headers["vary"].lower()


@pytest.mark.parametrize("address", ADDRESSES)
def test_all_forms_hold_the_same_number(address: str, send: Send) -> None:
    text = send("GET", with_option(address, "format=text")).text
    document = send("GET", with_option(address, "format=json")).json()
    name = address.partition("?")[0].removeprefix("/v1/")
    member = CELL_QUESTIONS[name].value if name in CELL_QUESTIONS else "number"
    tag = member if name in CELL_QUESTIONS else document["column"]
    assert text == plain(document[member])
    (names, values) = csv.reader(
        io.StringIO(send("GET", with_option(address, "format=csv")).text, newline="")
    )
    assert dict(zip(names, values, strict=True))[tag] == text
    root = ElementTree.fromstring(send("GET", with_option(address, "format=xml")).content)
    assert root.findtext(tag) == text
    element = root.find(tag)
    assert element is not None
    assert element.get("unit")


def test_csv_has_the_same_columns_whatever_the_answer_has(send: Send) -> None:
    plain_wall = send("GET", f"{WALL}&format=csv").text.partition("\r\n")[0]
    bridged = f"{WALL}&layer_1_bridge_fraction=0.1&layer_1_bridge_conductivity_w_mk=0.2&format=csv"
    assert send("GET", bridged).text.partition("\r\n")[0] == plain_wall


def test_another_value_can_be_asked_for(send: Send) -> None:
    assert send("GET", f"{LOSS}&value=temperature_difference_k").text == "25"
    assert send("GET", f"{WALL}&value=stated").text == "2.23"  # by hand: 1/(0.17 + 0.215/0.77) = 2.226
    missing = send("GET", f"{WALL}&value=upper_limit_m2k_w")
    assert missing.status_code == 422
    assert missing.json()["errors"][0]["parameter"] == "value"


def test_warnings_that_a_number_has_no_place_for_stand_in_a_header(send: Send) -> None:
    assert send("GET", LOSS).headers["warmstead-warnings"] == "default.thermal_bridges"
    assert "warmstead-warnings" not in send("GET", f"{LOSS}&surcharge_w_m2k=0").headers


def test_a_table_s_value_is_looked_up(send: Send) -> None:
    # EN ISO 6946, surface resistances: 0.10 m²K/W inside for upward heat flow
    assert send("GET", RESISTANCE).text == "0.1"
    assert send("GET", "/v1/tables/air-layers/horizontal:25/resistance_m2k_w").text == "0.18"
    document = send("GET", f"{RESISTANCE}?format=json").json()
    assert (document["number"], document["unit"], document["row"]) == (0.1, "m2.K/W", "upwards")
    assert send("GET", "/v1/tables/air-layers/horizontal:25/provenance").text == "published_table"


# --- The same answer as the POST ------------------------------------------------------------------


@pytest.mark.parametrize("name", ["radiator-output", "element-loss", "outside-temperature"])
def test_a_flat_question_is_answered_as_by_post(name: str, send: Send, requests: dict[str, Json]) -> None:
    posted = send("POST", f"/v1/{name}", content=json.dumps(requests[name]))
    got = send("GET", f"/v1/{name}?{urlencode(requests[name])}&format=json")
    assert got.content == posted.content


amounts = st.floats(0.5, 300).map(lambda value: round(value, 3))
conductivities = st.floats(0.02, 3).map(lambda value: round(value, 4))
bridges = st.fixed_dictionaries(
    {"fraction": st.sampled_from([0.06, 0.125, 0.15]), "conductivity_w_mk": conductivities}
)
solids = st.fixed_dictionaries(
    {"kind": st.just("solid"), "thickness_mm": amounts, "conductivity_w_mk": conductivities},
    optional={"bridges": bridges.map(lambda bridge: [bridge])},
)
resistances = st.fixed_dictionaries(
    {"kind": st.just("resistance"), "resistance_m2k_w": st.sampled_from([0.0, 0.18, 1.5])}
)
air_layers = st.fixed_dictionaries(
    {
        "kind": st.just("air"),
        "thickness_mm": amounts,
        "ventilation": st.sampled_from(["unventilated", "slightly_ventilated", "well_ventilated"]),
    },
    optional={"emissivity": st.sampled_from([0.05, 0.9])},
)
constructions = st.fixed_dictionaries(
    {
        "kind": st.just("layered"),
        "heat_flow": st.sampled_from(["horizontal", "upwards", "downwards"]),
        "layers": st.lists(solids | resistances | air_layers, min_size=1, max_size=8),
    },
    optional={"external_side": st.sampled_from(["outside", "sheltered", "internal"])},
)


def flat(construction: Json) -> dict[str, Any]:
    """Write a construction as parameters, without the help of the service."""
    parameters = {
        name: value for name, value in construction.items() if name in ("heat_flow", "external_side")
    }
    for number, layer in enumerate(construction["layers"], start=1):
        for name, value in layer.items():
            if name == "bridges":
                parameters |= {f"layer_{number}_bridge_{part}": given for part, given in value[0].items()}
            elif name != "kind":
                parameters[f"layer_{number}_{name}"] = value
    return parameters


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(construction=constructions, comma=st.booleans())
def test_any_layers_are_answered_as_by_post(construction: Json, comma: bool, send: Send) -> None:
    posted = send("POST", "/v1/u-value", content=json.dumps({"construction": construction}))
    parameters = flat(construction)
    if comma:
        parameters = {
            name: str(value).replace(".", ",") if isinstance(value, float) and not ambiguous(value) else value
            for name, value in parameters.items()
        }
    got = send("GET", f"/v1/u-value?{urlencode(parameters)}&format=json")
    assert got.status_code == posted.status_code, got.text
    if posted.status_code == 200:
        assert got.content == posted.content
    else:
        assert sorted(error["code"] for error in got.json()["errors"]) == sorted(
            error["code"] for error in posted.json()["errors"]
        )
        assert all(error["parameter"] in parameters for error in got.json()["errors"])


def ambiguous(value: float) -> bool:
    whole, _, rest = str(value).partition(".")
    return len(rest) == 3 and len(whole) <= 3 and not whole.startswith("0")


# --- Refusals -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("address", "parameter", "code"),
    [
        (f"{LOSS}&surchage_w_m2k=0.1", "surchage_w_m2k", "unknown_field"),
        (f"{LOSS}&area_m2=12", "area_m2", "duplicate_id"),
        (f"{LOSS}&surcharge_w_m2k=", "surcharge_w_m2k", "invalid_text"),
        (f"{LOSS}&surcharge_w_m2k=%zz", "surcharge_w_m2k", "invalid_text"),
        (f"{LOSS}&surcharge_w_m2k=9", "surcharge_w_m2k", "out_of_range"),
        (f"{LOSS}&surcharge_w_m2k=1,234", "surcharge_w_m2k", "not_a_number"),
        (f"{LOSS}&adjacent_temperature_c=5", "external_temperature_c", "ambiguous"),
        (f"{LOSS}&format=pdf", "format", "unknown_choice"),
        (f"{LOSS}&errors=none", "errors", "unknown_choice"),
        (f"{LOSS}&value=warnings", "value", "unknown_choice"),
        (f"{LOSS}&format=", "format", "invalid_text"),
        (f"{RESISTANCE}?value=number", "value", "unknown_field"),
        (f"{RESISTANCE}?format=json&format=json", "format", "duplicate_id"),
    ],
)
def test_a_refusal_is_a_problem_document(address: str, parameter: str, code: str, send: Send) -> None:
    response = send("GET", address)
    assert response.status_code == 422, response.text
    assert response.headers["content-type"] == "application/problem+json"
    (error,) = response.json()["errors"]
    assert (error["parameter"], error["code"]) == (parameter, code)
    assert "pointer" not in error


def test_a_misspelt_parameter_is_answered_with_the_nearest_name(send: Send) -> None:
    (error,) = send("GET", f"{LOSS}&surchage_w_m2k=0.1").json()["errors"]
    assert "did you mean surcharge_w_m2k?" in error["detail"]


@pytest.mark.parametrize(
    ("address", "part"),
    [
        ("/v1/tables/nothing/a/b", "table"),
        ("/v1/tables/air-layers/horizontal/resistance_m2k_w", "row"),
        ("/v1/tables/air-layers/horizontal:25/resistance", "column"),
        ("/v1/tables/outside-design-temperatures/united-kingdom-nhbc/altitude_m", "column"),
    ],
)
def test_a_value_that_is_not_there_is_a_404(address: str, part: str, send: Send) -> None:
    response = send("GET", address)
    assert response.status_code == 404
    assert response.headers["content-type"] == "application/problem+json"
    assert [error["parameter"] for error in response.json()["errors"]] == [part]


def test_a_query_may_not_be_endless(send: Send) -> None:
    assert send("GET", f"{LOSS}&{'a' * LONGEST_QUERY}=1").status_code == 414


@pytest.mark.parametrize("form", ["", "&format=xml", "&format=csv", "&format=json"])
@pytest.mark.parametrize(
    ("address", "status", "start"),
    [
        (f"{LOSS}&surcharge_w_m2k=9&errors=in_cell", "422", "#ERR surcharge_w_m2k: must be"),
        (f"{LOSS}&adjacent_temperature_c=5&errors=in_cell", "422", "#ERR external_temperature_c: give"),
        ("/v1/u-value?errors=in_cell", "422", "#ERR layer_1_thickness_mm: no layer"),
        ("/v1/tables/nothing/a/b?errors=in_cell", "404", "#ERR table: no such table"),
    ],
)
def test_an_error_can_be_shown_in_a_cell(
    address: str, status: str, start: str, form: str, send: Send
) -> None:
    response = send("GET", address + form)
    assert response.status_code == 200
    assert response.headers["content-type"] == "text/plain; charset=utf-8"
    assert response.headers["warmstead-status"] == status
    assert response.headers["cache-control"] == "no-store"
    assert response.text.startswith(start)
    assert len(response.text) < 120
    assert "\n" not in response.text


def test_an_answer_is_the_same_whether_errors_are_shown_in_the_cell_or_not(send: Send) -> None:
    shown = send("GET", f"{LOSS}&errors=in_cell")
    assert "warmstead-status" not in shown.headers
    assert shown.content == send("GET", LOSS).content


# --- HEAD, OPTIONS, caching -----------------------------------------------------------------------


@pytest.mark.parametrize("address", ADDRESSES)
def test_what_a_spreadsheet_program_sends_is_answered(
    address: str, send: Send, lasting_headers: Callable[..., dict[str, str]]
) -> None:
    options, head, got = (
        send(method, address, headers={"accept": "*/*"}) for method in ("OPTIONS", "HEAD", "GET")
    )
    assert options.status_code == 204
    assert {"GET", "HEAD", "OPTIONS"} <= set(options.headers["allow"].split(", "))
    assert ("POST" in options.headers["allow"]) == ("tables" not in address)
    assert head.status_code == got.status_code == 200
    assert head.content == b""
    assert lasting_headers(head) == lasting_headers(got)


def test_head_says_the_status_of_a_refusal(send: Send) -> None:
    assert send("HEAD", f"{LOSS}&surcharge_w_m2k=9").status_code == 422


def test_another_method_is_told_which_there_are(send: Send) -> None:
    response = send("DELETE", LOSS)
    assert response.status_code == 405
    assert response.headers["allow"] == "GET, HEAD, OPTIONS, POST"


@pytest.mark.parametrize("method", ["GET", "HEAD"])
@pytest.mark.parametrize("address", ADDRESSES)
def test_what_has_not_changed_is_not_sent_again(address: str, method: str, send: Send) -> None:
    first = send("GET", address)
    assert first.headers["cache-control"].startswith("public, max-age=")
    tag = first.headers["etag"]
    assert tag.startswith('"')
    again = send(method, address, headers={"if-none-match": tag})
    assert (again.status_code, again.content, again.headers["etag"]) == (304, b"", tag)
    assert send(method, address, headers={"if-none-match": '"other"'}).status_code == 200
    assert send("GET", with_option(address, "format=xml")).headers["etag"] != tag


# --- The document, and speed ----------------------------------------------------------------------


@pytest.mark.parametrize("name", CELL_QUESTIONS)
def test_every_parameter_is_published_with_its_bounds(name: str) -> None:
    published = {p["name"]: p for p in app.openapi()["paths"][f"/v1/{name}"]["get"]["parameters"]}
    cell = CELL_QUESTIONS[name]
    assert set(published) == {*cell.parameters, "format", "errors", "value"}
    for parameter in cell.parameters.values():
        assert published[parameter.name]["schema"] == parameter.schema
        assert published[parameter.name]["required"] is parameter.required


@pytest.mark.parametrize(
    "path", [*(f"/v1/{name}" for name in CELL_QUESTIONS), "/v1/tables/{table}/{row}/{column}"]
)
def test_every_form_is_published_with_an_example(path: str) -> None:
    content = app.openapi()["paths"][path]["get"]["responses"]["200"]["content"]
    assert set(content) == {"text/plain", "application/json", "text/csv", "application/xml"}
    assert all(form["example"] for form in content.values())


@pytest.mark.parametrize("name", CELL_QUESTIONS)
def test_the_example_of_the_document_is_what_is_answered(name: str, send: Send) -> None:
    operation = app.openapi()["paths"][f"/v1/{name}"]["get"]
    examples = {p["name"]: p["example"] for p in operation["parameters"] if "example" in p}
    assert {p["name"] for p in operation["parameters"] if p["required"]} <= set(examples)
    for form, media_type in (("text", "text/plain"), ("csv", "text/csv"), ("xml", "application/xml")):
        answer = send("GET", f"/v1/{name}?{urlencode(examples)}&format={form}")
        assert answer.text == operation["responses"]["200"]["content"][media_type]["example"]


def test_a_flat_question_takes_well_under_a_millisecond() -> None:
    cell = CELL_QUESTIONS["u-value"]
    query = EXAMPLES["u-value"].encode()
    seconds = []
    for _ in range(200):
        started = time.perf_counter()
        ask(cell, split(query))
        seconds.append(time.perf_counter() - started)
    # About 0.06 ms where this was written; the bound leaves room for slow machines.
    assert statistics.median(seconds) < 1e-3
