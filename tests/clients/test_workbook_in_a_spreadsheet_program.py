"""LibreOffice opens the workbook, a person fills it, the program saves it, and the service reads what it was."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest

Json = dict[str, Any]

SCRIPT = Path(__file__).parent / "office" / "fill_and_save.py"
TYPES = {
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "ods": "application/vnd.oasis.opendocument.spreadsheet",
}


class Saved(NamedTuple):
    content: bytes
    formulas: dict[str, float]
    """What each cell with a formula held, by `sheet.cell`."""


class Office(NamedTuple):
    python: str
    folder: Path

    def saves(self, content: bytes, form: str, as_form: str, entries: dict[str, str]) -> Saved:
        number = len(list(self.folder.iterdir()))
        given, saved = self.folder / f"{number}-given.{form}", self.folder / f"{number}-saved.{as_form}"
        typed, profile = self.folder / f"{number}-entries.json", self.folder / f"{number}-profile"
        given.write_bytes(content)
        typed.write_text(json.dumps(entries), encoding="utf-8")
        command = [self.python, str(SCRIPT), *map(str, (given, profile, saved, typed))]
        run = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
        assert run.returncode == 0, run.stderr
        return Saved(saved.read_bytes(), json.loads(run.stdout))


@pytest.fixture(scope="module")
def office(office_python: str, tmp_path_factory: pytest.TempPathFactory) -> Office:
    return Office(office_python, tmp_path_factory.mktemp("office"))


@pytest.fixture(scope="module")
def client(service: str) -> Any:
    with httpx.Client(base_url=service, timeout=120) as client:
        yield client


@pytest.fixture(scope="module")
def survey(client: httpx.Client) -> Json:
    document: Json = client.get("/v1/workbook?content=demo&format=json").json()
    return document


def posted(client: httpx.Client, content: bytes, form: str, query: str = "") -> httpx.Response:
    return client.post(f"/v1/workbook{query}", content=content, headers={"content-type": TYPES[form]})


@pytest.mark.parametrize("as_form", ["xlsx", "ods"])
@pytest.mark.parametrize("form", ["xlsx", "ods"])
def test_a_workbook_with_results_is_saved_and_says_the_same(
    office: Office, client: httpx.Client, survey: Json, form: str, as_form: str
) -> None:
    answered = client.post(f"/v1/workbook?format={form}", json=survey)
    assert answered.status_code == 200
    saved = office.saves(answered.content, form, as_form, {})
    read = posted(client, saved.content, as_form, "?format=json").json()
    assert read["survey"] == survey
    assert read["warnings"] == []
    again = posted(client, saved.content, as_form)
    assert again.status_code == 200
    assert again.content == client.post(f"/v1/workbook?format={as_form}", json=survey).content


def test_the_program_recalculates_the_totals_to_the_same(
    office: Office, client: httpx.Client, survey: Json
) -> None:
    answered = client.post("/v1/workbook", json=survey)
    saved = office.saves(answered.content, "xlsx", "xlsx", {})
    loss = client.post("/v1/house-loss", json={"house": survey["house"]}).json()
    total = f"Room results.I{len(loss['rooms']) + 2}"
    # The program keeps fifteen digits.
    assert saved.formulas[total] == pytest.approx(loss["design_heat_load_w"], rel=1e-14)


def test_an_empty_workbook_is_filled_as_a_person_would(office: Office, client: httpx.Client) -> None:
    entries = {
        "Conditions.B7": "-3",
        "Constructions.A2": "wall",
        "Constructions.B2": "declared",
        "Constructions.C2": "1.6",
        "Constructions.D2": "certificate, invented",
        "Rooms.A2": "101",
        "Rooms.D2": "21",
        "Rooms.E2": "=4*3.5",
        "Rooms.F2": "2.5",
        "Rooms.H2": "0.5",
        "Elements.A2": "101",
        "Elements.C2": "front",
        "Elements.E2": "wall",
        "Elements.F2": "=10*2.5",
        "Elements.I2": "outside",
    }
    saved = office.saves(client.get("/v1/workbook").content, "xlsx", "xlsx", entries)
    read = posted(client, saved.content, "xlsx", "?format=json").json()
    assert read["survey"] == {
        "house": {
            "conditions": {"external_temperature_c": -3},
            "constructions": {
                "wall": {"kind": "declared", "u_value_w_m2k": 1.6, "source": "certificate, invented"}
            },
            "rooms": [
                {
                    "id": "101",
                    "design_temperature_c": 21,
                    "floor_area_m2": 14,
                    "height_m": 2.5,
                    "ventilation": {"air_changes": 0.5},
                    "elements": [
                        {"id": "front", "construction": "wall", "area_m2": 25, "boundary": {"to": "outside"}}
                    ],
                }
            ],
        }
    }
    assert [(warning["code"], warning["pointer"]) for warning in read["warnings"]] == [
        ("assumption.formula_value", "/house/rooms/0/floor_area_m2"),
        ("assumption.formula_value", "/house/rooms/0/elements/0/area_m2"),
    ]
    assert posted(client, saved.content, "xlsx").status_code == 200


def test_an_error_is_told_at_the_cell_where_a_person_sees_it(
    office: Office, client: httpx.Client, survey: Json
) -> None:
    made = client.post("/v1/workbook?results=false", json=survey).content
    saved = office.saves(made, "xlsx", "ods", {"Rooms.E3": "about 15", "Elements.E2": "brick"})
    told = posted(client, saved.content, "ods").json()["errors"]
    assert [(error["cell"], error["code"]) for error in told] == [("Rooms!E3", "not_a_number")]
