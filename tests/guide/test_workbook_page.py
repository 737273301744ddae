"""The guide's page of workbook and flat table names every sheet and column, and its example is answered as it says."""

from __future__ import annotations

import re
from textwrap import dedent

import pytest

from warmstead.api import guide
from warmstead.api.element_table import ElementTableQuery
from warmstead.exchange import element_table
from warmstead.exchange.element_table.columns import COLUMNS, RESULT_NAMES
from warmstead.exchange.element_table.reading import MAXIMUM_ROWS as TABLE_ROWS
from warmstead.exchange.workbook import bounds, layout, results
from warmstead.exchange.workbook.archive import MAXIMUM_BYTES

PAGE = guide.markdown("workbook")


def test_every_sheet_is_on_the_page() -> None:
    first_cells = {
        name.strip() for row in re.findall(r"^\| ([^|`]+) \|", PAGE, re.MULTILINE) for name in row.split(",")
    }
    assert {sheet.title for sheet in layout.SHEETS} <= first_cells
    text = " ".join(PAGE.split())
    for title in results.RESULT_TITLES:
        assert title in text


def test_every_column_and_parameter_of_the_table_is_on_the_page() -> None:
    named = set(re.findall(r"`([a-z0-9_]+)`", PAGE))
    assert {column.name for column in COLUMNS} | set(RESULT_NAMES) <= named
    assert set(ElementTableQuery.model_fields) - {"format"} <= named


def test_the_example_loses_what_the_page_says() -> None:
    block = dedent("\n".join(re.findall(r"^    .*$", PAGE[PAGE.index("## The flat table") :], re.MULTILINE)))
    table = element_table.read_table(block.encode(), {"conditions": {"external_temperature_c": -3}})
    window = element_table.answered(table)["rooms"][0]["elements"][1]
    # By hand: 2.4 · (2.8 + 0.1) · (21 + 3) = 167.04, as on the page
    assert window["heat_loss_w"] == pytest.approx(167.04, abs=0.005)
    assert "= 167.04 W" in PAGE


def test_limits_are_those_that_hold() -> None:
    assert f"At most {bounds.MAXIMUM_ROWS - 1:,} rows on a sheet and {bounds.MAXIMUM_CELLS:,} cells" in PAGE
    assert f"columns after the {bounds.MAXIMUM_COLUMNS}th" in PAGE
    assert f"a file may have {MAXIMUM_BYTES // 2**20} MiB" in PAGE
    assert f"At most {TABLE_ROWS:,} rows." in PAGE
