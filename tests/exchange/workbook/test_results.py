"""The workbook that comes back: the answers of the questions, unrounded, with totals that are formulas, and charts."""

from __future__ import annotations

import zipfile
from io import BytesIO
from typing import Any

import pytest
from openpyxl import load_workbook

import warmstead
from warmstead.demo import survey
from warmstead.exchange import workbook

SURVEY = survey()
FILE = workbook.answered(workbook.read(workbook.written(SURVEY, "xlsx")), "xlsx")
HOUSE = warmstead.house_loss({"house": SURVEY["house"]})
EMITTERS = warmstead.emitter_check(
    {"house": SURVEY["house"], "flow_temperature_c": 45, "return_temperature_c": 40}
)
CANDIDATES = warmstead.heat_pump_sizing({n: v for n, v in SURVEY.items() if n != "return_temperature_c"})


def table(title: str, *, values: bool = True) -> list[dict[str, Any]]:
    """Return the rows of a sheet by its headings."""
    sheet = load_workbook(BytesIO(FILE), data_only=values)[title]
    headings, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(headings, row, strict=True)) for row in rows]


def test_rooms_are_those_of_the_answer() -> None:
    rows = table("Room results")
    for row, room in zip(rows, HOUSE["rooms"], strict=False):
        assert row["Room"] == room["id"]
        assert row["Transmission, W"] == room["transmission_w"]
        assert row["Ventilation, W"] == room["ventilation_w"]
        assert row["Design heat load, W"] == room["design_heat_load_w"]
    assert rows[len(HOUSE["rooms"])]["Room"] == "Total"
    assert rows[len(HOUSE["rooms"])]["Design heat load, W"] == pytest.approx(HOUSE["design_heat_load_w"])


def test_totals_are_formulas_with_their_value_stored() -> None:
    total = next(row for row in table("Room results", values=False) if row["Room"] == "Total")
    assert total["Design heat load, W"] == f"=SUM(I2:I{len(HOUSE['rooms']) + 1})"
    assert total["Name"] is None


def test_elements_are_those_of_the_answer() -> None:
    rows = [row for row in table("Element results") if row["Room"] != "Total"]
    wanted = [(room["id"], element) for room in HOUSE["rooms"] for element in room["elements"]]
    assert len(rows) == len(wanted)
    for row, (room, element) in zip(rows, wanted, strict=True):
        assert (row["Room"], row["Element"]) == (room, element["id"])
        assert row["Net area, m²"] == element["area_m2"]
        assert row["Heat loss, W"] == element["heat_loss_w"]
        assert row["Opening of"] == element.get("opening_of")


def test_emitters_and_candidates_are_those_of_the_answers() -> None:
    for row, room in zip(table("Emitter results"), EMITTERS["rooms"], strict=False):
        assert (row["Room"], row["Needed, W"], row["Available, W"]) == (
            room["id"],
            room["required_w"],
            room["available_w"],
        )
        assert row["Carries the room"] == ("yes" if room["coverage"] >= 1 else "no")
    for row, candidate in zip(table("Candidate results"), CANDIDATES["candidates"], strict=True):
        assert (row["Candidate"], row["Verdict"], row["Margin, W"]) == (
            candidate["id"],
            candidate["verdict"],
            candidate["margin_w"],
        )


def test_every_warning_has_its_cell_which_is_where_the_value_belongs() -> None:
    rows = table("Warnings")
    pointers = {
        (warning["code"], warning["pointer"]): warning["detail"]
        for answer in (HOUSE, EMITTERS, CANDIDATES)
        for warning in answer["warnings"]
    }
    assert sorted((row["Code"], row["What to know"]) for row in rows) == sorted(
        (code, detail) for (code, _), detail in pointers.items()
    )
    cells = {row["Code"]: row["Cell"] for row in rows}
    assert cells["default.ground_water"] == "Conditions!B11"  # the line Ground water
    assert cells["default.flue_air"].startswith("Flues!C")  # the column Air
    exponents = [row["Cell"] for row in rows if row["Code"] == "default.exponent"]
    assert exponents
    assert all(cell.startswith("Emitters!G") for cell in exponents)


def test_three_charts_are_drawn_from_the_sheets() -> None:
    archive = zipfile.ZipFile(BytesIO(FILE))
    charts = [archive.read(name) for name in archive.namelist() if name.startswith("xl/charts/chart")]
    assert len(charts) == 3
    for title in (b"'Room results'!", b"'Construction results'!", b"'Emitter results'!"):
        assert sum(title in chart for chart in charts) == 1


def test_sheets_can_be_filled_and_headings_cannot_be_changed() -> None:
    book = load_workbook(BytesIO(FILE))
    for sheet in book:
        assert sheet.protection.sheet, sheet.title
        assert not sheet.protection.password, sheet.title
        assert sheet.print_area or sheet.title == "Empty members", sheet.title
    rooms = book["Rooms"]
    assert rooms["A1"].protection.locked
    assert not rooms["A2"].protection.locked
    assert not rooms.protection.insertRows  # False: not forbidden
    assert rooms.freeze_panes == "B2"
    assert rooms["E1"].comment is not None
    lists = {str(rule.sqref): rule for rule in rooms.data_validations.dataValidation}
    assert "living_room" in lists["C2:C2001"].formula1
    assert (float(lists["E2:E2001"].formula1), float(lists["E2:E2001"].formula2)) == (0.0001, 100_000)


def test_a_survey_without_emitters_and_candidates_has_the_house_alone() -> None:
    reading = workbook.read(workbook.written({"house": SURVEY["house"]}, "xlsx"))
    book = load_workbook(BytesIO(workbook.answered(reading, "xlsx")))
    assert "Room results" in book.sheetnames
    assert not {"Emitter results", "Candidate results"} & set(book.sheetnames)


@pytest.mark.parametrize("left_out", ["flow_temperature_c", "return_temperature_c"])
def test_a_temperature_without_its_partner_is_refused_at_its_cell(left_out: str) -> None:
    document = {name: value for name, value in SURVEY.items() if name != left_out}
    reading = workbook.read(workbook.written(document, "xlsx"))
    with pytest.raises(workbook.Unreadable) as error:
        workbook.answered(reading, "xlsx")
    cell = {
        "flow_temperature_c": "'Water and hot water'!B3",
        "return_temperature_c": "'Water and hot water'!B4",
    }
    assert [(p.cell, p.code) for p in error.value.problems] == [(cell[left_out], "incomplete")]
