"""What is wrong in a workbook is told at its cell, with what would be accepted, and all at once."""

from __future__ import annotations

import re
import zipfile
from datetime import date
from io import BytesIO
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook

from warmstead.demo import survey
from warmstead.exchange import workbook
from warmstead.exchange.workbook import CellProblem, Unreadable

FILE = workbook.written(survey(), "xlsx")


def changed(cells: dict[str, Any]) -> bytes:
    """Return the demonstration workbook with other values in some cells, as another program would save it."""
    book = load_workbook(BytesIO(FILE))
    for address, value in cells.items():
        sheet, _, cell = address.rpartition("!")
        book[sheet.strip("'")][cell] = value
    return saved(book)


def saved(book: Workbook) -> bytes:
    file = BytesIO()
    book.save(file)
    return file.getvalue()


def with_part(part: str, pattern: bytes, by: bytes, file: bytes = FILE) -> bytes:
    """Return a workbook with something else in one part of its file."""
    made = BytesIO()
    with zipfile.ZipFile(BytesIO(file)) as before, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            content = before.read(name)
            if name == part:
                content, count = re.subn(pattern, by, content, count=1)
                assert count == 1, f"{pattern!r} is not in {part}"
            after.writestr(name, content)
    return made.getvalue()


def part_of(title: str) -> str:
    book = load_workbook(BytesIO(FILE), read_only=True)
    return str(book[title]._worksheet_path).lstrip("/")


def refused(file: bytes) -> list[CellProblem]:
    with pytest.raises(Unreadable) as error:
        workbook.read(file)
    return error.value.problems


def test_every_error_is_told_at_once_with_its_cell() -> None:
    problems = refused(
        changed(
            {
                "Rooms!E2": "7,6",
                "Rooms!F3": True,
                "Rooms!G4": date(2024, 1, 2),
                "Rooms!C5": "kitchenn",
                "Elements!A3": "nowhere",
                "Elements!F4": -1,
                "Layers!A2": "wall-solid-barre",
                "Conditions!B7": None,
                "Windows!B2": "#REF!",
            }
        )
    )
    told = {problem.cell: (problem.code, problem.detail) for problem in problems}
    assert told["Rooms!E2"] == (
        "not_a_number",
        "a number from 0.0001 to 100000 m²; this cell holds text, here with a comma: enter it as a number",
    )
    assert told["Rooms!F3"][0] == "not_a_number"
    assert told["Rooms!G4"][0] == "wrong_type"
    assert "date" in told["Rooms!G4"][1]
    assert told["Rooms!C5"][0] == "unknown_choice"
    assert "did you mean kitchen?" in told["Rooms!C5"][1]
    assert told["Elements!A3"][0] == "not_found"
    assert told["Elements!F4"] == ("out_of_range", "must be a finite number from 0.0001 up to 100000 (m2)")
    assert told["Layers!A2"][0] == "not_found"
    assert "wall-solid-bare" in told["Layers!A2"][1]
    assert told["Conditions!B7"][0] == "missing_field"
    assert told["Windows!B2"][0] == "wrong_type"
    assert len(problems) == len(told), "each once"


def test_pointers_stand_beside_cells() -> None:
    (problem,) = refused(changed({"Rooms!E3": 0}))
    assert (problem.cell, problem.pointer) == ("Rooms!E3", "/house/rooms/1/floor_area_m2")


def test_a_missing_value_is_told_where_it_belongs() -> None:
    cells = {"Rooms!E3": None, "Elements!I2": None, "Windows!C2": None, "'Ground floors'!B2": None}
    assert {problem.cell: problem.code for problem in refused(changed(cells))} == {
        "Rooms!E3": "missing_field",
        "Elements!I2": "missing_field",
        "Windows!C2": "missing_field",
        "'Ground floors'!B2": "missing_field",
    }


def test_a_contradiction_that_only_the_question_sees_has_a_cell() -> None:
    reading = workbook.read(changed({"Elements!E2": "no-such-construction"}))
    with pytest.raises(Unreadable) as error:
        workbook.answered(reading, "xlsx")
    told = {problem.cell: problem.code for problem in error.value.problems}
    assert told["Elements!E2"] == "not_found"


def test_names_used_twice() -> None:
    problems = refused(changed({"Constructions!A3": "wall-solid-bare"}))
    assert ("Constructions!A3", "duplicate_id") in [(problem.cell, problem.code) for problem in problems]


def test_an_opening_stands_below_its_element() -> None:
    (problem,) = refused(changed({"Elements!D3": "wall-rear"}))
    assert (problem.cell, problem.code) == ("Elements!D3", "not_found")


def test_headings_and_sheets_of_other_names() -> None:
    book = load_workbook(BytesIO(FILE))
    book["Rooms"]["E1"] = "Area of the floor"
    book["Layers"].title = "renamed"
    book["renamed"].title = "layers"
    del book["Conditions"]
    told = {(problem.cell, problem.code) for problem in refused(saved(book))}
    assert {("Rooms!E1", "unknown_field"), ("layers", "unknown_field"), ("", "missing_field")} <= told


def test_columns_may_stand_in_another_order_and_rows_be_left_empty() -> None:
    book = load_workbook(BytesIO(FILE))
    book["Rooms"].move_range("E1:E40", cols=20)
    book["Elements"].insert_rows(4, 3)
    assert workbook.read(saved(book)).document == survey()


def test_sheets_of_ones_own_are_left_out_with_a_warning() -> None:
    book = load_workbook(BytesIO(FILE))
    book.create_sheet("My notes")["A1"] = "to be measured again"
    reading = workbook.read(saved(book))
    assert reading.document == survey()
    assert [warning["code"] for warning in reading.warnings] == ["assumption.sheets_left_out"]


def test_merged_cells_are_named() -> None:
    book = load_workbook(BytesIO(FILE))
    book["Elements"].merge_cells("A4:A7")
    problems = refused(saved(book))
    assert [(problem.cell, problem.code) for problem in problems] == [("Elements!A4", "not_allowed_here")]


def test_a_name_that_a_program_took_for_a_number_is_a_name() -> None:
    book = load_workbook(BytesIO(FILE))
    for sheet, column in (("Rooms", "A"), ("Elements", "A"), ("Emitters", "A")):
        for row in range(2, 100):
            if book[sheet][f"{column}{row}"].value == "hall":
                book[sheet][f"{column}{row}"] = 101
    book["Conditions"]["B3"] = 12
    document = workbook.read(saved(book)).document
    assert document["house"]["rooms"][0]["id"] == "101"
    assert document["house"]["name"] == "12"


# --- Formulas -------------------------------------------------------------------------------------


def test_a_formula_never_calculated_has_no_value() -> None:
    (problem,) = refused(changed({"Rooms!E2": "=2*3.8"}))
    assert (problem.cell, problem.code) == ("Rooms!E2", "missing_field")
    assert "without a stored value" in problem.detail


def test_the_stored_value_of_a_formula_is_taken_with_a_warning() -> None:
    cell = rb'(<c r="E2"[^>]*>)<v>7.6</v>'
    reading = workbook.read(with_part(part_of("Rooms"), cell, rb"\1<f>2*3.8</f><v>7.6</v>"))
    assert reading.document == survey()
    assert [(w["code"], w["pointer"]) for w in reading.warnings] == [
        ("assumption.formula_value", "/house/rooms/0/floor_area_m2")
    ]
    answered = load_workbook(BytesIO(workbook.answered(reading, "xlsx")))
    warnings = [row[:2] for row in answered["Warnings"].iter_rows(min_row=2, values_only=True)]
    assert ("Rooms!E2", "assumption.formula_value") in warnings
    assert answered["Rooms"]["E2"].value == 7.6


@pytest.mark.parametrize(
    "formula",
    [
        b"[1]Sheet1!A1",
        b"'https://files.example/[a.xlsx]S'!A1",
        b"WEBSERVICE(&quot;https://files.example&quot;)",
        b"cmd|&apos; /C calc&apos;!A0",
    ],
)
def test_a_formula_that_reaches_outside_is_refused_whatever_it_stored(formula: bytes) -> None:
    cell = rb'(<c r="E2"[^>]*>)<v>7.6</v>'
    (problem,) = refused(with_part(part_of("Rooms"), cell, rb"\1<f>" + formula + rb"</f><v>7.6</v>"))
    assert (problem.cell, problem.code) == ("Rooms!E2", "not_allowed_here")


def test_an_empty_workbook_says_what_it_needs() -> None:
    problems = refused(workbook.written(workbook.blank(), "xlsx"))
    assert [(problem.cell, problem.code) for problem in problems] == [
        ("Conditions!B7", "missing_field"),
        ("Rooms", "wrong_count"),
    ]
