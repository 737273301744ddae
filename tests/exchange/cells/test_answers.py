"""Answers as bare values, CSV and XML."""

from __future__ import annotations

import csv
import io
from xml.etree import ElementTree

import pytest

from warmstead.exchange.cells.answers import Cell, as_csv, as_xml, bare, error_in_cell

CELLS = [
    Cell("output_w", -3.5, "W"),
    Cell("absent_k", None, "K"),
    Cell("share", 0.25, "1"),
    Cell("text", 'a "b", <c> & d'),
]


def test_a_bare_value_has_neither_unit_nor_line_end() -> None:
    assert bare(1.5) == "1.5"
    assert bare("0.30") == "0.30"


def test_csv_is_a_line_of_names_and_a_line_of_values() -> None:
    text = as_csv(CELLS)
    assert text.count("\r\n") == 2
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    names, values = csv.reader(io.StringIO(text, newline=""))
    assert names == ["output_w", "absent_k", "share", "text"]
    assert values == ["-3.5", "", "0.25", 'a "b", <c> & d']


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_text_is_guarded_against_being_run(start: str) -> None:
    (_, values) = csv.reader(io.StringIO(as_csv([Cell("text", f"{start}1+1")]), newline=""))
    assert values == [f"'{start}1+1"]


def test_a_negative_number_is_no_formula() -> None:
    assert as_csv([Cell("loss_w", -3.5, "W")]) == "loss_w\r\n-3.5\r\n"


def test_xml_is_flat_with_units_as_attributes() -> None:
    root = ElementTree.fromstring(as_xml("answer", CELLS))
    assert [(element.tag, element.text, element.attrib) for element in root] == [
        ("output_w", "-3.5", {"unit": "W"}),
        ("share", "0.25", {"unit": "1"}),
        ("text", 'a "b", <c> & d', {}),
    ]
    assert all(len(element) == 0 for element in root)


def test_an_error_in_a_cell_is_one_short_line() -> None:
    assert error_in_cell("area_m2", "empty") == "#ERR area_m2: empty"
    long = error_in_cell("area_m2", "word\r\n" * 100)
    assert len(long) < 120
    assert long.endswith("…")
    assert "\n" not in long
