"""One value of a table by row and column."""

from __future__ import annotations

import pytest

from warmstead.exchange.cells.lookup import NotThere, look_up, row_names, value_of
from warmstead.tables import table, table_names


@pytest.mark.parametrize("name", table_names())
def test_every_value_of_every_table_is_found_where_it_stands(name: str) -> None:
    rows = table(name).rows
    names = row_names(name)
    assert len(names) == len(rows)
    for row_name, row in zip(names, rows, strict=True):
        assert not set(row_name) & set("/?#%&")  # stands in an address as it is
        for column in table(name).columns:
            if column.name in row:
                found = look_up(name, row_name, column.name)
                assert value_of(found) == row[column.name]
                assert found["source"] == row["source"]


@pytest.mark.parametrize(
    ("name", "first"),
    [
        ("surface-resistances", "horizontal"),
        ("air-layers", "horizontal:0"),
        ("room-defaults", "GB:living_room"),
        ("shielding", "GB:none:none"),
        ("height-factors", "0"),
        ("flues", "open_chimney"),
        ("national-annexes", "GB:soil_conductivity_w_mk"),
    ],
)
def test_a_row_without_an_id_goes_by_its_first_columns(name: str, first: str) -> None:
    assert row_names(name)[0] == first


def test_a_parameter_of_an_annex_has_its_row_s_unit() -> None:
    assert look_up("national-annexes", "GB:soil_conductivity_w_mk", "value").get("unit") == "W/(m.K)"
    assert look_up("surface-resistances", "upwards", "internal_m2k_w").get("unit") == "m2.K/W"


@pytest.mark.parametrize(
    ("address", "part", "detail"),
    [
        (("air-layer", "horizontal:25", "resistance_m2k_w"), "table", "did you mean air-layers?"),
        (("air-layers", "horizontal:26", "resistance_m2k_w"), "row", "did you mean horizontal:25?"),
        (("air-layers", "horizontal:25", "resistance"), "column", "did you mean resistance_m2k_w?"),
        (("outside-design-temperatures", "united-kingdom-nhbc", "altitude_m"), "column", "empty"),
        (("air-layers", "x" * 10_000, "resistance_m2k_w"), "row", "known: "),
    ],
)
def test_what_is_not_there_is_told_with_the_nearest(
    address: tuple[str, str, str], part: str, detail: str
) -> None:
    with pytest.raises(NotThere) as caught:
        look_up(*address)
    assert caught.value.part == part
    assert detail in caught.value.detail
    assert len(caught.value.detail) < 500
