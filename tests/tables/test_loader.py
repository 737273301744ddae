"""The loader, on the real tables and on a small table made up here."""

from __future__ import annotations

import csv
import importlib.util
import io
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from warmstead import tables

if TYPE_CHECKING:
    from collections.abc import Iterator

HERE = Path(tables.__file__).parent


@pytest.mark.parametrize("name", tables.table_names())
def test_each_table_has_its_file_and_each_file_its_table(name: str) -> None:
    assert (HERE / f"{name}.csv").is_file()
    assert {file.stem for file in HERE.glob("*.csv")} == set(tables.table_names())


def test_a_table_is_read_once() -> None:
    assert tables.table("materials") is tables.table("materials")


@pytest.mark.parametrize("read", [tables.table, tables.csv_text])
def test_an_unknown_table_is_a_key_error(read: object) -> None:
    assert callable(read)
    with pytest.raises(KeyError, match="no-such-table"):
        read("no-such-table")


@pytest.mark.parametrize("name", tables.table_names())
def test_a_row_has_text_and_numbers_and_never_an_empty_cell(name: str) -> None:
    table = tables.table(name)
    kinds = {column.name: str if column.kind == "text" else float for column in table.columns}
    for row in table.rows:
        assert all(type(value) is kinds[key] for key, value in row.items()), row
        assert "" not in row.values()
        required = {column.name for column in table.columns if not column.optional}
        assert required <= set(row), row


@pytest.mark.parametrize("name", tables.table_names())
def test_rows_are_found_by_their_id(name: str) -> None:
    table = tables.table(name)
    if "id" not in {column.name for column in table.columns}:
        with pytest.raises(LookupError, match="no id column"):
            table.by_id("anything")
        return
    for row in table.rows:
        assert table.by_id(str(row["id"])) is row
    assert table.by_id("no-such-row") is None


@pytest.mark.parametrize("name", tables.table_names())
def test_the_csv_handed_out_reads_back_as_the_table(name: str) -> None:
    text = tables.csv_text(name)
    assert text.endswith("\r\n")
    assert text.count("\n") == text.count("\r\n")
    table = tables.table(name)
    header, *lines = csv.reader(io.StringIO(text, newline=""), strict=True)
    assert header == [column.name for column in table.columns]
    numbers = {column.name for column in table.columns if column.kind == "number"}
    read_back = [
        {key: float(cell) if key in numbers else cell for key, cell in zip(header, line, strict=True) if cell}
        for line in lines
    ]
    assert read_back == list(table.rows)


def test_importing_the_loader_reads_nothing() -> None:
    spec = importlib.util.spec_from_file_location("fresh_tables", HERE / "__init__.py")
    assert spec
    assert spec.loader
    fresh = importlib.util.module_from_spec(spec)
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "fresh_tables", fresh)  # dataclasses look their module up by name
        spec.loader.exec_module(fresh)
    assert fresh._catalogue.cache_info().currsize == 0
    assert fresh.table.cache_info().currsize == 0
    assert "TABLES_VERSION" not in vars(fresh)


# --- a table made up here ---

CATALOGUE = {
    "made-up": {
        "title": "Made up",
        "description": "Cells that are hard to hand out.",
        "columns": [
            {"name": "id", "kind": "text", "unit": "", "description": "Identifier"},
            {"name": "text", "kind": "text", "unit": "", "description": "Text", "optional": True},
            {"name": "value", "kind": "number", "unit": "1", "description": "A", "minimum": -9, "maximum": 9},
        ],
    }
}
CELLS = (
    "id,text,value\n"
    'a,"=1+1",-3.20\nb,+b,1\nc,-c,1\nd,@d,1\n'
    'e,"comma, ""quote"" and\nnew line",0.10\nf,,5\ng,a-b=c@d+e,5\n'
)


class MadeUp:
    """The files that the loader sees in place of its own."""

    def __init__(self) -> None:
        self.files = {"catalogue.json": json.dumps(CATALOGUE).encode(), "made-up.csv": CELLS.encode()}

    def forget(self) -> None:
        """Make the loader read again."""
        for cached in (tables._catalogue, tables.table, tables.csv_text):
            cached.cache_clear()
        vars(tables).pop("TABLES_VERSION", None)


@pytest.fixture
def made_up(monkeypatch: pytest.MonkeyPatch) -> Iterator[MadeUp]:
    fake = MadeUp()
    monkeypatch.setattr(tables, "_read", lambda file: fake.files[file])
    fake.forget()
    yield fake
    fake.forget()


@pytest.mark.usefixtures("made_up")
def test_an_empty_cell_is_an_absent_key() -> None:
    assert tables.table("made-up").by_id("f") == {"id": "f", "value": 5.0}


@pytest.mark.usefixtures("made_up")
def test_only_text_that_a_spreadsheet_would_run_is_guarded() -> None:
    lines = list(csv.reader(io.StringIO(tables.csv_text("made-up"), newline="")))
    assert lines[0] == ["id", "text", "value"]
    assert lines[1:] == [
        ["a", "'=1+1", "-3.20"],
        ["b", "'+b", "1"],
        ["c", "'-c", "1"],
        ["d", "'@d", "1"],
        ["e", 'comma, "quote" and\nnew line', "0.10"],
        ["f", "", "5"],
        ["g", "a-b=c@d+e", "5"],
    ]


@pytest.mark.parametrize(
    ("cells", "message"),
    [
        ("id,value,text\na,1,b\n", "columns"),
        ("id,text,value\na,b,\n", "leaves value empty"),
        ("id,text,value\na,b,much\n", "could not convert"),
        ("id,text,value\na,b\n", "shorter"),
    ],
)
def test_a_file_that_contradicts_the_catalogue_is_refused(made_up: MadeUp, cells: str, message: str) -> None:
    made_up.files["made-up.csv"] = cells.encode()
    with pytest.raises(ValueError, match=message):
        tables.table("made-up")


@pytest.mark.parametrize("file", ["made-up.csv", "catalogue.json"])
def test_the_version_changes_with_any_byte_of_any_file(made_up: MadeUp, file: str) -> None:
    before = tables.TABLES_VERSION
    del tables.TABLES_VERSION
    assert before == tables.TABLES_VERSION
    del tables.TABLES_VERSION
    made_up.files[file] = made_up.files[file].replace(b"quote", b"Quote").replace(b"Cells", b"cells")
    assert before != tables.TABLES_VERSION


def test_the_version_is_short_and_known_to_importers() -> None:
    from warmstead.tables import TABLES_VERSION

    assert len(TABLES_VERSION) == 12
    assert set(TABLES_VERSION) <= set("0123456789abcdef")


def test_other_missing_names_are_still_missing() -> None:
    with pytest.raises(AttributeError, match="no_such_name"):
        _ = tables.no_such_name
