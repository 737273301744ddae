"""The flat table: read in the ways that programs write it, refused by line and column, given back with losses."""

from __future__ import annotations

import csv
from io import StringIO
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import warmstead
from warmstead.demo import house
from warmstead.exchange import element_table
from warmstead.exchange.element_table import TableRefused, dialect
from warmstead.exchange.element_table.columns import COLUMNS

CONDITIONS = {"conditions": {"external_temperature_c": -3.0}, "thermal_bridges": {"surcharge_w_m2k": 0.0}}
TABLE = (
    "room,floor_area_m2,room_height_m,room_temperature_c,air_changes,element,opening_of,construction,u_value_w_m2k,area_m2,"
    "boundary,temperature_reduction_factor\n"
    "lounge,16,2.5,21,0.5,front,,wall,1.6,12.5,outside,\n"
    "lounge,,,,,window,front,glazing,2.8,2.4,,\n"
    "lounge,,,,,ceiling,,,0.25,16,unheated_space,0.9\n"
    "store,4,2.5,15,0,,,,,,,\n"
)


def read(text: str | bytes) -> Any:
    return element_table.read_table(text.encode() if isinstance(text, str) else text, CONDITIONS)


def refused(text: str | bytes) -> list[tuple[int, str, str]]:
    with pytest.raises(TableRefused) as error:
        element_table.answered(read(text))
    return [(problem.line, problem.column, problem.code) for problem in error.value.problems]


def rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(StringIO(content.decode("utf-8-sig"), newline="")))


def test_a_table_is_a_house() -> None:
    lounge, store = read(TABLE).house["rooms"]
    assert lounge["floor_area_m2"] == 16
    assert [element["id"] for element in lounge["elements"]] == ["front", "ceiling"]
    assert lounge["elements"][0]["openings"] == [{"id": "window", "construction": "glazing", "area_m2": 2.4}]
    assert lounge["elements"][1]["boundary"] == {"to": "unheated_space", "temperature_reduction_factor": 0.9}
    assert store == {
        "id": "store",
        "floor_area_m2": 4,
        "height_m": 2.5,
        "design_temperature_c": 15,
        "ventilation": {"air_changes": 0},
        "elements": [],
    }


def test_losses_by_hand() -> None:
    table = read(TABLE)
    answer = rows(element_table.stated(table.house, element_table.answered(table)))
    losses = [float(row["heat_loss_w"]) for row in answer if row["heat_loss_w"]]
    # By hand, no surcharge: (12.5 − 2.4) · 1.6 · 24 = 387.84; 2.4 · 2.8 · 24 = 161.28; 16 · 0.25 · 0.9 · 24 = 86.4
    assert losses == pytest.approx([387.84, 161.28, 86.4], abs=0.005)
    first = answer[0]
    # 635.52; 0.33 · 0.5 · 16 · 2.5 · 24 = 158.4; together 793.92
    assert float(first["room_transmission_w"]) == pytest.approx(635.52, abs=0.005)
    assert float(first["room_ventilation_w"]) == pytest.approx(158.4, abs=0.05)
    assert float(first["room_design_heat_load_w"]) == pytest.approx(793.92, abs=0.05)
    assert "default.national_annex" in first["warnings"]
    assert [row["kind"] for row in answer] == ["element", "opening", "element", "room"]


@pytest.mark.parametrize(
    "text",
    [
        TABLE.replace("\n", "\r\n"),
        "\ufeff" + TABLE,
        TABLE.replace(",", ";"),
        TABLE.replace(",", "\t"),
        TABLE.replace(",", ";").replace(".", ","),
        TABLE.replace(",", "\t").replace(".", ","),
        TABLE.replace("lounge", '"lounge"').replace(",0.9", ',"0.9"'),
        TABLE.replace("\nstore", "\n,,,\n\nstore"),
        TABLE.rstrip("\n"),
        TABLE.replace("room,", " Room ,", 1),
    ],
)
def test_ways_of_writing_it_mean_the_same(text: str) -> None:
    assert read(text).house == read(TABLE).house


def test_the_answer_is_written_as_the_table_was() -> None:
    table = read("\ufeff" + TABLE.replace(",", ";").replace(".", ","))
    answer = element_table.stated(table.house, element_table.answered(table), table.dialect).decode()
    assert answer.startswith("\ufeffroom;")
    assert answer.count("\r\n") == answer.count("\n") == 5
    assert ";387,8" in answer
    assert answer.isascii() or answer[1:].isascii()


def test_an_answer_can_be_sent_again() -> None:
    table = read(TABLE)
    answer = element_table.stated(table.house, element_table.answered(table))
    again = read(answer)
    assert again.house["rooms"] == table.house["rooms"]
    assert element_table.stated(again.house, element_table.answered(again)) == answer


def test_a_comma_that_could_part_thousands_is_refused() -> None:
    semicolons = TABLE.replace(",", ";")
    assert refused(semicolons.replace("16;", "1,600;", 1)) == [(2, "floor_area_m2", "ambiguous")]
    clear = TABLE.replace(",", ";").replace(".", ",").replace("lounge;16;", "lounge;1,600;", 1)
    assert read(clear).house["rooms"][0]["floor_area_m2"] == 1.6
    assert refused(TABLE.replace("lounge,16,", 'lounge,"1,6",', 1)) == [(2, "floor_area_m2", "ambiguous")]
    assert {code for *_, code in refused(semicolons.replace("12.5", "12,5"))} == {"ambiguous"}


def test_errors_by_line_and_column() -> None:
    assert refused(TABLE.replace("2.8,2.4,", "2.8,broad,")) == [(3, "area_m2", "not_a_number")]
    assert refused(TABLE.replace("outside", "outsid")) == [(2, "boundary", "unknown_choice")]
    assert refused(TABLE.replace("lounge,16", "lounge,")) == [(2, "floor_area_m2", "missing_field")]
    assert refused(TABLE.replace("window,front", "window,back")) == [(3, "opening_of", "not_found")]
    assert refused(TABLE.replace("store,4", ",4")) == [(5, "room", "missing_field")]
    assert refused(TABLE.replace("glazing,2.8", "wall,2.8")) == [(3, "u_value_w_m2k", "contradiction")]
    assert refused(TABLE.replace("lounge,,,,,ceiling", "lounge,17,,,,ceiling")) == [
        (4, "floor_area_m2", "contradiction")
    ]
    assert refused(TABLE.replace("glazing,2.8", "glazing,")) == [(3, "u_value_w_m2k", "missing_field")]
    assert refused(TABLE.replace("2.4,,", "24,,")) == [(2, "element", "contradiction")]
    assert refused(TABLE.replace("construction", "constuction"))[0] == (1, "8", "unknown_field")
    assert refused(TABLE.replace("air_changes", "room"))[0] == (1, "room", "duplicate_id")
    assert refused(TABLE.replace("16,unheated_space", '1"6"x,unheated_space'))[0][:2] == (4, "area_m2")
    assert refused(TABLE.replace("lounge,,,,,ceiling", '"lounge"x,,,,,ceiling'))[0] == (4, "", "invalid_text")
    assert refused(TABLE.replace("unheated_space,0.9", "unheated_space,0.9,7")) == [(4, "", "unknown_field")]


def test_errors_are_told_at_once() -> None:
    text = TABLE.replace("outside", "outsid").replace("2.8,2.4", "2.8,x").replace("store,4", "store,-4")
    assert sorted(refused(text)) == [
        (2, "boundary", "unknown_choice"),
        (3, "area_m2", "not_a_number"),
        (5, "floor_area_m2", "out_of_range"),
    ]


def test_lines_are_counted_through_quoted_line_ends() -> None:
    text = TABLE.replace("room,floor", "room_name,room,floor", 1).replace("\nlounge,16", '\n"a\nb",lounge,16')
    text = text.replace("\nlounge,,", "\n,lounge,,").replace("\nstore", "\n,store")
    assert read(text).house["rooms"][0]["name"] == "a\nb"
    assert refused(text.replace("2.8,2.4", "2.8,x")) == [(4, "area_m2", "not_a_number")]


def test_other_encodings_and_no_table_at_all() -> None:
    assert refused(TABLE.replace("wall", "mür").encode("latin-1")) == [(2, "", "invalid_text")]
    assert refused(TABLE.encode("utf-16"))[0][2] == "invalid_text"
    assert refused(b"") == [(1, "room", "missing_field")]
    assert refused(b"a,b\n1,2\n")[-1] == (1, "room", "missing_field")


def test_too_many_rows_are_refused() -> None:
    line = "lounge,16,2.5,21,0.5,e,,wall,1.6,1,outside,\n"
    assert (20_002, "", "wrong_count") in refused(TABLE.split("\n")[0] + "\n" + line * 20_100)


def test_what_is_no_table_is_not_read_to_its_end() -> None:
    assert len(refused("x," * 100_000)) <= 2000
    assert len(refused(TABLE + "lounge," + "x," * 100_000)) <= 2000


def test_texts_that_a_program_could_run_are_guarded_and_numbers_are_not() -> None:
    table = read(
        TABLE.replace("room,", "room_name,room,", 1)
        .replace("\nlounge,16", "\n=SUM(A1),lounge,16")
        .replace("\nlounge,,", "\n,lounge,,")
        .replace("\nstore", "\n@x,store")
        .replace(",15,0,", ",25,0,")
    )
    answer = element_table.stated(table.house, element_table.answered(table))
    named = {row["room"]: row["room_name"] for row in rows(answer) if row["room_name"]}
    assert named == {"lounge": "'=SUM(A1)", "store": "'@x"}
    assert [room["name"] for room in read(answer).house["rooms"]] == ["=SUM(A1)", "@x"]
    assert dialect.written([["-5", -5.0, "+1", "'=1"]], dialect.PLAIN) == b"'-5,-5.0,'+1,''=1\r\n"
    assert dialect.unguarded("''=1") == "'=1"


def test_the_demonstration_house_as_a_table_loses_what_the_house_does_but_for_chimney_and_suspended_floor() -> (
    None
):
    """A flat table has no column for air through flues, and takes a floor over a ventilated space for one on ground."""
    without = house()
    for room in without["rooms"]:
        room.pop("flues", None)
    content = element_table.surveyed(house())
    conditions = {name: house()[name] for name in ("conditions", "thermal_bridges", "dimensions")}
    table = element_table.read_table(content, conditions)
    told = element_table.answered(table)
    wanted = warmstead.house_loss({"house": without})
    assert told["ventilation_w"] == pytest.approx(wanted["ventilation_w"])

    def above_ground(answer: Any) -> float:
        losses = [
            e["heat_loss_w"] for r in answer["rooms"] for e in r["elements"] if e["boundary"] != "ground"
        ]
        return sum(losses)

    assert above_ground(told) == pytest.approx(above_ground(wanted))


def test_rows_between_rooms_and_junctions_show_in_an_answer_and_are_not_read_again() -> None:
    answer = element_table.stated(house(), warmstead.house_loss({"house": house()}))
    told = rows(answer)
    assert sum(float(row["heat_loss_w"]) for row in told) == pytest.approx(
        warmstead.house_loss({"house": house()})["transmission_w"]
    )
    assert any(row["declared_in"] for row in told)
    again = element_table.read_table(
        answer, {name: house()[name] for name in ("conditions", "thermal_bridges")}
    )
    assert [len(room["elements"]) for room in again.house["rooms"]] == [
        len(room["elements"]) for room in house()["rooms"]
    ]


def test_the_first_line_names_every_column_in_ascii() -> None:
    names = element_table.empty().decode("ascii").rstrip("\r\n").split(",")
    assert names == [column.name for column in COLUMNS]
    assert all(column.meaning for column in COLUMNS)


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet='room,element;\t"\n\r=-+.,0123456789áéx\x00', max_size=80) | st.binary(max_size=60))
def test_any_text_is_read_or_refused(content: str | bytes) -> None:
    with pytest.raises(TableRefused):
        element_table.answered(read(content))
