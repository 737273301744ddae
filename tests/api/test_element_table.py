"""The flat table over HTTP."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import httpx
import pytest

import warmstead
from warmstead.api.element_table import EXAMPLE
from warmstead.demo import house

Send = Callable[..., httpx.Response]
COLD = "?external_temperature_c=-3"


def post(send: Send, content: str | bytes, query: str = COLD, **headers: str) -> httpx.Response:
    sent = {"content-type": "text/csv"} | {name.replace("_", "-"): value for name, value in headers.items()}
    return send("POST", f"/v1/element-table{query}", content=content, headers=sent)


def test_a_table_comes_back_with_losses(send: Send) -> None:
    response = post(send, EXAMPLE)
    assert response.status_code == 200
    assert response.headers["content-type"] == "text/csv; charset=utf-8"
    assert response.headers["content-disposition"] == 'attachment; filename="elements.csv"'
    assert response.text.count("\r\n") == 3
    assert post(send, response.content).content == response.content


def test_the_form_of_the_answer_can_be_chosen(send: Send) -> None:
    whole = post(send, EXAMPLE, f"{COLD}&format=json").json()
    assert whole == post(send, EXAMPLE, accept="application/json").json()
    read = post(send, EXAMPLE, f"{COLD}&format=house").json()
    assert whole["design_heat_load_w"] == warmstead.house_loss({"house": read["house"]})["design_heat_load_w"]
    assert read["warnings"] == whole["warnings"]
    assert read["basis"] == whole["basis"]
    assert post(send, EXAMPLE, f"{COLD}&format=csv", accept="application/json").text.startswith("room,")


def test_parameters_are_members_of_the_house(send: Send) -> None:
    query = (
        "?external_temperature_c=-3,2&annual_mean_external_temperature_c=10.1&national_annex=EN&dimensions=external"
        "&thermal_bridge_surcharge_w_m2k=0,05&reheat_w_m2=5&format=house"
    )
    read: dict[str, Any] = post(send, EXAMPLE, query).json()["house"]
    assert read["conditions"] == {
        "external_temperature_c": -3.2,
        "annual_mean_external_temperature_c": 10.1,
        "national_annex": "EN",
    }
    assert (read["dimensions"], read["reheat_w_m2"]) == ("external", 5)
    assert read["thermal_bridges"] == {"surcharge_w_m2k": 0.05}


def test_a_house_as_json_becomes_a_table(send: Send) -> None:
    response = send("POST", "/v1/element-table", json={"house": house()})
    assert response.status_code == 200
    assert response.text.startswith("room,")
    refused = send("POST", f"/v1/element-table{COLD}", json={"house": house()})
    assert refused.json()["errors"][0]["parameter"] == "external_temperature_c"


@pytest.mark.parametrize("content", ["empty", "demo"])
def test_a_table_to_fill_in(send: Send, content: str) -> None:
    response = send("GET", f"/v1/element-table?content={content}")
    assert response.status_code == 200
    assert response.text.startswith("room,room_name,")
    assert send("HEAD", "/v1/element-table").headers["content-type"] == "text/csv; charset=utf-8"


def test_refusals(send: Send) -> None:
    (error,) = post(send, EXAMPLE.replace("2.4", "x")).json()["errors"]
    assert (error["line"], error["column"], error["code"]) == (3, "area_m2", "not_a_number")
    (error,) = post(send, EXAMPLE, "").json()["errors"]
    assert (error["parameter"], error["code"]) == ("external_temperature_c", "missing_field")
    (error,) = post(send, EXAMPLE, f"{COLD}&colour=red").json()["errors"]
    assert (error["parameter"], error["code"]) == ("colour", "unknown_field")
    (error,) = post(send, EXAMPLE.replace("outside", "ground")).json()["errors"]
    assert error["parameter"] == "annual_mean_external_temperature_c"
    assert post(send, "{", content_type="application/json", query="").status_code == 400
    assert post(send, EXAMPLE, content_type="application/xml").status_code == 415
    assert post(send, bytes(9 * 2**20)).status_code == 413


def test_what_was_sent_is_not_repeated(send: Send) -> None:
    secret = "a-name-of-somebody"
    response = post(send, EXAMPLE.replace("area_m2,", f"{secret},", 1).replace("outside", secret))
    assert response.status_code == 422
    assert secret not in response.text
