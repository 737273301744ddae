"""The tables over HTTP: JSON and CSV, entity tags, altitude, and what is refused."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

import httpx
import pytest

from warmstead.tables import TABLES_VERSION, csv_text, table, table_names

Send = Callable[..., httpx.Response]
Json = dict[str, Any]

PLACES = "/v1/tables/outside-design-temperatures"
PROVENANCES = {"published_table", "from_memory", "common_practice", "derived"}


def test_the_index_lists_every_table(send: Send) -> None:
    answer = send("GET", "/v1/tables").json()
    assert answer["tables_version"] == TABLES_VERSION
    assert [entry["name"] for entry in answer["tables"]] == list(table_names())
    for entry in answer["tables"]:
        assert entry["title"]
        assert entry["row_count"] == len(table(entry["name"]).rows) > 0


@pytest.mark.parametrize("name", table_names())
def test_a_table_gives_its_columns_and_rows(name: str, send: Send) -> None:
    response = send("GET", f"/v1/tables/{name}")
    assert response.status_code == 200
    assert response.headers["content-type"] == "application/json"
    answer = response.json()
    assert answer["name"] == name
    assert answer["tables_version"] == TABLES_VERSION
    columns = {column["name"]: column for column in answer["columns"]}
    assert {"source", "locator", "provenance"} <= set(columns)
    assert answer["rows"]
    for row in answer["rows"]:
        assert set(row) <= set(columns)
        assert row["source"]
        assert row["locator"]
        assert row["provenance"] in PROVENANCES
        for member, value in row.items():
            kind = float | int if columns[member]["kind"] == "number" else str
            assert isinstance(value, kind)
            assert not isinstance(value, bool)
    for column in columns.values():
        assert column["description"]
        assert ("unit" in column) == (column["kind"] == "number")
    assert "null" not in response.text


@pytest.mark.parametrize("name", table_names())
def test_csv_holds_the_same_cells_as_json(name: str, send: Send) -> None:
    response = send("GET", f"/v1/tables/{name}?format=csv")
    assert response.headers["content-type"] == "text/csv; charset=utf-8"
    assert response.content.decode("utf-8") == csv_text(name)
    text = response.content.decode("utf-8")
    assert text.count("\r\n") == text.count("\n")
    lines = list(csv.DictReader(io.StringIO(text)))
    rows = send("GET", f"/v1/tables/{name}").json()["rows"]
    assert len(lines) == len(rows)
    for line, row in zip(lines, rows, strict=True):
        for member, cell in line.items():
            if cell == "":
                assert member not in row
            elif isinstance(row[member], str):
                assert cell.removeprefix("'") == row[member]
                assert not cell.startswith(("=", "+", "-", "@"))
            else:
                assert float(cell) == row[member]


@pytest.mark.parametrize(
    ("query", "accept", "media_type"),
    [
        ("", None, "application/json"),
        ("", "*/*", "application/json"),
        ("", "application/json", "application/json"),
        ("", "text/csv", "text/csv; charset=utf-8"),
        ("", "text/csv; q=1, application/json; q=0.5", "text/csv; charset=utf-8"),
        ("", "application/json, text/csv", "application/json"),
        ("?format=json", "text/csv", "application/json"),
        ("?format=csv", "application/json", "text/csv; charset=utf-8"),
        ("?format=csv", "*/*", "text/csv; charset=utf-8"),
    ],
)
def test_format_wins_over_accept(query: str, accept: str | None, media_type: str, send: Send) -> None:
    headers = {} if accept is None else {"accept": accept}
    response = send("GET", f"/v1/tables/air-layers{query}", headers=headers)
    assert response.headers["content-type"] == media_type
    assert "accept" in response.headers["vary"].lower()


@pytest.mark.parametrize("path", ["/v1/tables", "/v1/tables/materials", "/v1/tables/materials?format=csv"])
def test_head_says_what_get_would_send(
    path: str, send: Send, lasting_headers: Callable[..., dict[str, str]]
) -> None:
    got, asked = send("GET", path), send("HEAD", path)
    assert asked.status_code == 200
    assert asked.content == b""
    assert lasting_headers(asked) == lasting_headers(got)
    assert int(asked.headers["content-length"]) == len(got.content)


@pytest.mark.parametrize("path", ["/v1/tables", "/v1/tables/materials", "/v1/tables/materials?format=csv"])
@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_what_has_not_changed_is_not_sent_again(path: str, method: str, send: Send) -> None:
    tag = send("GET", path).headers["etag"]
    assert tag.startswith('"')
    assert tag.endswith('"')
    for sent in (tag, f"W/{tag}", f'"other", {tag}', f'"other" , W/{tag}', "*"):
        response = send(method, path, headers={"if-none-match": sent})
        assert response.status_code == 304, sent
        assert response.content == b""
        assert response.headers["etag"] == tag
        assert "cache-control" in response.headers
    for sent in ('"other"', tag.strip('"'), tag[:-2] + '"', '""'):
        assert send(method, path, headers={"if-none-match": sent}).status_code == 200, sent


def test_each_representation_has_its_own_tag(send: Send) -> None:
    paths = [
        "/v1/tables",
        "/v1/tables/materials",
        "/v1/tables/materials?format=csv",
        "/v1/tables/air-layers",
        PLACES,
        f"{PLACES}?altitude_m=100",
        f"{PLACES}?altitude_m=200",
    ]
    assert len({send("GET", path).headers["etag"] for path in paths}) == len(paths)


def test_an_altitude_corrects_each_temperature(send: Send) -> None:
    rows = send("GET", f"{PLACES}?altitude_m=250").json()["rows"]
    plain = send("GET", PLACES).json()["rows"]
    corrected = 0
    for row, before in zip(rows, plain, strict=True):
        added = row.pop("corrected_external_temperature_c", None)
        assert row == before
        if "altitude_m" not in row or "altitude_correction_k_per_100m" not in row:
            assert added is None
            continue
        # so many kelvin for each 100 m above the altitude that the temperature holds for, as the columns say
        by_hand = row["external_temperature_c"] + row["altitude_correction_k_per_100m"] * (
            (250 - row["altitude_m"]) / 100
        )
        assert added == pytest.approx(by_hand, abs=1e-9)
        corrected += 1
    assert corrected > 10


def test_a_place_at_its_own_altitude_keeps_its_temperature(send: Send) -> None:
    row = next(row for row in send("GET", PLACES).json()["rows"] if row.get("altitude_m"))
    again = send("GET", f"{PLACES}?altitude_m={row['altitude_m']}").json()["rows"]
    at_its_own = next(other for other in again if other["id"] == row["id"])
    assert at_its_own["corrected_external_temperature_c"] == pytest.approx(row["external_temperature_c"])


def test_the_column_that_an_altitude_adds_is_described(send: Send) -> None:
    answer = send("GET", f"{PLACES}?altitude_m=250").json()
    names = {column["name"] for column in answer["columns"]}
    assert {name for row in answer["rows"] for name in row} <= names


def test_altitudes_below_the_sea_and_above_the_hills(send: Send) -> None:
    for altitude in ("-100", "0", "2000"):
        assert send("GET", f"{PLACES}?altitude_m={altitude}").status_code == 200
    for altitude in ("-100.1", "2000.1", "nan", "inf", "-inf", "1e999"):
        response = send("GET", f"{PLACES}?altitude_m={altitude}")
        assert response.status_code == 422, altitude
        (error,) = response.json()["errors"]
        assert error["parameter"] == "altitude_m"
        assert error["code"] in ("out_of_range", "not_a_number")


@pytest.mark.parametrize(
    ("path", "parameter", "code"),
    [
        (f"{PLACES}?altitude_m=high", "altitude_m", "not_a_number"),
        (f"{PLACES}?altitude_m=", "altitude_m", "not_a_number"),
        (f"{PLACES}?format=csv&altitude_m=100", "altitude_m", "not_allowed_here"),
        ("/v1/tables/materials?altitude_m=100", "altitude_m", "not_allowed_here"),
        ("/v1/tables/materials?format=xml", "format", "unknown_choice"),
        ("/v1/tables/materials?format=", "format", "unknown_choice"),
        ("/v1/tables/materials?formatt=csv", "formatt", "unknown_field"),
        ("/v1/tables/materials?page=2", "page", "unknown_field"),
    ],
)
def test_a_wrong_query_is_refused_by_parameter(path: str, parameter: str, code: str, send: Send) -> None:
    response = send("GET", path)
    assert response.status_code == 422
    assert response.headers["content-type"] == "application/problem+json"
    (error,) = response.json()["errors"]
    assert (error["parameter"], error["code"]) == (parameter, code)
    assert "pointer" not in error


def test_a_misspelt_parameter_is_answered_with_the_nearest_name(send: Send) -> None:
    (error,) = send("GET", "/v1/tables/materials?formatt=csv").json()["errors"]
    assert "did you mean format?" in error["detail"]


def test_all_wrong_parameters_are_told_together(send: Send) -> None:
    errors = send("GET", "/v1/tables/materials?format=xml&altitude_m=high&page=2").json()["errors"]
    assert sorted(error["parameter"] for error in errors) == ["altitude_m", "format", "page"]


@pytest.mark.parametrize("name", ["nothing", "materials.csv", "Materials", "..", "x" * 64, "x" * 500])
def test_a_table_that_is_not_there(name: str, send: Send) -> None:
    response = send("GET", f"/v1/tables/{name.replace('.', '%2E')}")
    assert response.status_code == 404
    assert response.headers["content-type"] == "application/problem+json"
    document = response.json()
    assert document["status"] == 404
    assert document["errors"] == []


def test_a_table_that_is_not_there_is_answered_with_those_that_are(send: Send) -> None:
    detail = send("GET", "/v1/tables/nothing").json()["detail"]
    assert all(name in detail for name in table_names())
