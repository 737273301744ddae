"""What holds for every row of every table: complete, inside the column's range, and cited."""

from __future__ import annotations

import math
import re
from collections import Counter
from itertools import pairwise

import pytest

from warmstead.tables import Table, table, table_names

PROVENANCES = {"published_table", "from_memory", "common_practice", "derived"}
IDENTIFIER = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,63}")

# What tells one row of a table from another.
KEYS = {
    "materials": ("id",),
    "air-layers": ("heat_flow", "thickness_mm"),
    "surface-resistances": ("heat_flow",),
    "typical-constructions": ("id",),
    "room-defaults": ("national_annex", "use"),
    "national-annexes": ("national_annex", "parameter"),
    "shielding": ("national_annex", "shielding", "exposed_openings"),
    "height-factors": ("from_height_m",),
    "flues": ("kind",),
    "outside-design-temperatures": ("id",),
    "temperature-reduction-factors": ("id",),
    "calorific-values": ("fuel",),
    "uncertainty-classes": ("quantity", "class"),
}

# The suffix of a name and the UCUM unit it stands for, the longest suffix first.
UNITS = {
    "_w_m2k_per_mm": "W/(m2.K.mm)",
    "_k_per_100m": "K",
    "_m2_per_m": "m2/m",
    "_wh_m3k": "W.h/(m3.K)",
    "_kg_m3": "kg/m3",
    "_j_kgk": "J/(kg.K)",
    "_w_m2k": "W/(m2.K)",
    "_m2k_w": "m2.K/W",
    "_w_mk": "W/(m.K)",
    "_w_m2": "W/m2",
    "_m3_h": "m3/h",
    "_l_s": "L/s",
    "_m_s": "m/s",
    "air_changes": "/h",
    "_percent": "%",
    "_mm": "mm",
    "_m": "m",
    "_c": "Cel",
    "age_from": "a",
    "age_to": "a",
}


def unit_of(name: str) -> str:
    """Return the UCUM unit that a name stands for."""
    return next((unit for suffix, unit in UNITS.items() if name.endswith(suffix)), "1")


@pytest.fixture(params=table_names())
def any_table(request: pytest.FixtureRequest) -> Table:
    return table(request.param)


def test_every_table_has_a_title_a_description_and_described_columns(any_table: Table) -> None:
    assert any_table.title
    assert any_table.description.endswith(".")
    assert all(column.description for column in any_table.columns)
    names = [column.name for column in any_table.columns]
    assert len(names) == len(set(names))
    assert names[-3:] == ["source", "locator", "provenance"]
    assert any_table.rows


def test_every_number_has_a_unit_and_a_range_and_text_has_neither(any_table: Table) -> None:
    for column in any_table.columns:
        if column.kind == "text":
            assert (column.unit, column.minimum, column.maximum) == ("", None, None), column
        else:
            assert column.minimum is not None
            assert column.maximum is not None
            assert column.minimum < column.maximum
            assert column.unit == unit_of(column.name)


def test_every_value_is_inside_its_column(any_table: Table) -> None:
    for row in any_table.rows:
        for column in any_table.columns:
            value = row.get(column.name)
            if isinstance(value, float):
                assert column.minimum is not None
                assert column.maximum is not None
                assert math.isfinite(value)
                assert column.minimum <= value <= column.maximum, (row, column)
            elif value is not None and column.values:
                assert value in column.values, (row, column)


def test_every_listed_value_of_a_column_is_used(any_table: Table) -> None:
    for column in any_table.columns:
        if column.values and column.name not in ("provenance", "nation"):
            assert {row[column.name] for row in any_table.rows} == set(column.values), column


def test_every_row_is_cited(any_table: Table) -> None:
    for row in any_table.rows:
        assert row["provenance"] in PROVENANCES
        for name in ("source", "locator"):
            text = str(row[name])
            assert len(text) > 3, row
            assert text == text.strip(), row
            assert not re.search(r"https?:|www\.", text), row


def test_a_row_seen_by_nobody_says_so_in_its_locator(any_table: Table) -> None:
    for row in any_table.rows:
        if row["provenance"] == "from_memory":
            assert re.search("memory|remembered", f"{row['source']} {row['locator']}"), row


def test_no_two_rows_answer_the_same_question(any_table: Table) -> None:
    keys = KEYS[any_table.name]
    count = Counter(tuple(row[key] for key in keys) for row in any_table.rows)
    assert [key for key, times in count.items() if times > 1] == []


def test_ids_are_of_the_pattern_and_never_a_bare_name() -> None:
    for name in (name for name, keys in KEYS.items() if keys == ("id",)):
        for row in table(name).rows:
            assert IDENTIFIER.fullmatch(str(row["id"])), row
            assert "-" in str(row["id"])


def test_the_tables_are_as_long_as_an_old_house_needs() -> None:
    assert len(table("materials").rows) >= 80
    assert len(table("typical-constructions").rows) >= 60
    places = {(row["place"], row["nation"]) for row in table("outside-design-temperatures").rows}
    assert len(places) >= 24
    assert {nation for _, nation in places} >= {"England", "Wales", "Scotland", "Northern Ireland"}


def test_a_typical_construction_has_a_u_value_or_a_formula() -> None:
    formula = {"intercept_w_m2k", "slope_w_m2k_per_mm", "minimum_thickness_mm", "maximum_thickness_mm"}
    for row in table("typical-constructions").rows:
        given = formula & set(row)
        assert ("u_value_w_m2k" in row) != bool(given), row
        if not given:
            continue
        assert given == formula, row
        assert float(row["minimum_thickness_mm"]) < float(row["maximum_thickness_mm"])
        thickest = float(row["maximum_thickness_mm"])
        assert float(row["intercept_w_m2k"]) + float(row["slope_w_m2k_per_mm"]) * thickest > 0.2


def test_the_years_of_a_typical_construction_are_in_order() -> None:
    for row in table("typical-constructions").rows:
        assert float(row.get("age_from", 0)) <= float(row.get("age_to", 9999)), row


def test_every_annex_has_the_same_parameters_in_the_unit_of_their_name() -> None:
    rows = table("national-annexes").rows
    of_annex = {
        annex: [(row["parameter"], row["unit"]) for row in rows if row["national_annex"] == annex]
        for annex in ("GB", "EN")
    }
    assert sorted(map(str, of_annex["GB"])) == sorted(map(str, of_annex["EN"]))
    for row in rows:
        assert row["unit"] == unit_of(str(row["parameter"])), row


@pytest.mark.parametrize("name", ["room-defaults", "shielding"])
def test_every_annex_answers_every_question(name: str) -> None:
    rows = table(name).rows
    keys = KEYS[name][1:]
    of_annex = {
        annex: {tuple(row[key] for key in keys) for row in rows if row["national_annex"] == annex}
        for annex in ("GB", "EN")
    }
    assert of_annex["GB"] == of_annex["EN"]
    assert len(of_annex["GB"]) * 2 == len(rows)


def test_height_factors_follow_one_another_without_a_gap() -> None:
    rows = table("height-factors").rows
    assert rows[0]["from_height_m"] == 0
    assert all(above["from_height_m"] == below["to_height_m"] for below, above in pairwise(rows))


def test_every_direction_of_heat_flow_has_the_same_air_layers() -> None:
    rows = table("air-layers").rows
    thicknesses = {
        flow: [row["thickness_mm"] for row in rows if row["heat_flow"] == flow]
        for flow in ("horizontal", "upwards", "downwards")
    }
    assert all(value == [0, 5, 7, 10, 15, 25, 50, 100, 300] for value in thicknesses.values())
