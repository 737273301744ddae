"""The workbook over HTTP."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import httpx
import pytest

from warmstead.api.replies import JSON
from warmstead.api.workbook import ODS, XLSX
from warmstead.demo import survey
from warmstead.exchange import workbook
from warmstead.exchange.documents import MOST_LISTED

Send = Callable[..., httpx.Response]
TYPES = {"xlsx": XLSX, "ods": ODS, "json": JSON}


def post(send: Send, content: Any, media_type: str = XLSX, query: str = "") -> httpx.Response:
    return send("POST", f"/v1/workbook{query}", content=content, headers={"content-type": media_type})


@pytest.mark.parametrize("form", ["xlsx", "ods", "json"])
@pytest.mark.parametrize("content", ["empty", "demo"])
def test_a_workbook_to_fill_in(send: Send, form: str, content: str) -> None:
    response = send("GET", f"/v1/workbook?content={content}&format={form}")
    assert response.status_code == 200
    assert response.headers["content-type"] == TYPES[form]
    again = send(
        "GET",
        f"/v1/workbook?content={content}&format={form}",
        headers={"if-none-match": response.headers["etag"]},
    )
    assert again.status_code == 304
    if form != "json":
        assert response.headers["content-disposition"] == f'attachment; filename="survey.{form}"'
    if content == "demo":
        read = response.json() if form == "json" else workbook.read(response.content).document
        assert read == survey()


def test_without_parameters_it_is_an_empty_xlsx(send: Send) -> None:
    response = send("GET", "/v1/workbook")
    assert response.content == workbook.written(workbook.blank(), "xlsx")
    assert send("HEAD", "/v1/workbook").headers["content-type"] == XLSX


@pytest.mark.parametrize("form", ["xlsx", "ods"])
def test_a_filled_workbook_comes_back_with_results_in_its_own_format(send: Send, form: Any) -> None:
    response = post(send, workbook.written(survey(), form), TYPES[form])
    assert response.status_code == 200
    assert response.headers["content-type"] == TYPES[form]
    assert response.content == workbook.answered(workbook.read(workbook.written(survey(), form)), form)


def test_json_becomes_a_workbook_and_a_workbook_json(send: Send) -> None:
    made = send("POST", "/v1/workbook?results=false", json=survey())
    assert made.headers["content-type"] == XLSX
    assert made.content == workbook.written(survey(), "xlsx")
    read = post(send, made.content, query="?format=json").json()
    assert read["survey"] == survey()
    assert read["warnings"] == []
    assert read["basis"]["national_annex"] == "GB"


def test_the_format_can_be_changed(send: Send) -> None:
    response = post(send, workbook.written(survey(), "xlsx"), "application/octet-stream", "?format=ods")
    assert response.headers["content-type"] == ODS
    assert workbook.read(response.content).document == survey()


def test_errors_carry_cell_and_pointer(send: Send) -> None:
    response = post(send, workbook.written(workbook.blank(), "xlsx"))
    assert response.status_code == 422
    assert response.headers["content-type"] == "application/problem+json"
    first, second = response.json()["errors"]
    assert (first["cell"], first["pointer"]) == ("Conditions!B7", "/house/conditions/external_temperature_c")
    assert (second["cell"], second["pointer"]) == ("Rooms", "/house/rooms")


def test_refusals(send: Send) -> None:
    assert post(send, b"no workbook").status_code == 422
    assert post(send, b"{", JSON).status_code == 400
    assert post(send, b"{}", JSON).json()["errors"][0]["pointer"] == "/house"
    assert post(send, b"a,b", "text/csv").status_code == 415
    assert post(send, bytes(9 * 2**20)).status_code == 413
    told = post(send, b"", query="?form=ods&results=perhaps").json()["errors"]
    assert {(error["parameter"], error["code"]) for error in told} == {
        ("form", "unknown_field"),
        ("results", "unknown_choice"),
    }
    assert "format" in next(error["detail"] for error in told if error["parameter"] == "form")


def test_a_question_refuses_json_by_pointer_and_cell(send: Send) -> None:
    document = survey()
    document["house"]["rooms"][0]["elements"][0]["construction"] = "none-such"
    (error, *_) = send("POST", "/v1/workbook", json=document).json()["errors"]
    assert error["pointer"] == "/house/rooms/0/elements/0/construction"
    assert error["cell"] == "Elements!E2"


def test_at_most_so_many_errors_are_told(send: Send) -> None:
    document = survey()
    for room in document["house"]["rooms"]:
        room["elements"] = [
            {"id": f"e{n}", "construction": "none-such", "area_m2": 1, "boundary": {"to": "outside"}}
            for n in range(100)
        ]
    response = post(send, workbook.written(document, "xlsx"))
    assert response.status_code == 422
    refusal = response.json()
    assert len(refusal["errors"]) == MOST_LISTED
    total = 100 * len(document["house"]["rooms"])
    assert refusal["detail"] == f"{total} things to mend; errors lists the first {MOST_LISTED}"
