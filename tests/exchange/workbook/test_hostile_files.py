"""Files made to harm: refused, quickly, and without being unpacked or believed."""

from __future__ import annotations

import contextlib
import struct
import time
import tracemalloc
import zipfile
from collections.abc import Iterator
from io import BytesIO
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from warmstead.demo import survey
from warmstead.exchange import workbook
from warmstead.exchange.workbook import Unreadable
from warmstead.exchange.workbook.archive import MAXIMUM_PARTS

XLSX = workbook.written(survey(), "xlsx")
ODS = workbook.written(survey(), "ods")
SECONDS = 20.0
"""On a machine that does much else at once. Far more than any of these takes; a bomb that goes off takes minutes."""
MEBIBYTES = 160
ROOMS = "xl/worksheets/sheet3.xml"
"""The sheet Rooms: third in the workbook."""
HEAD = (
    b'<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    b"<sheetData>"
)
TAIL = b"</sheetData></worksheet>"


def repacked(file: bytes, change: dict[str, bytes | None]) -> bytes:
    """Return a file with parts replaced, added, or left out where None."""
    made = BytesIO()
    with zipfile.ZipFile(BytesIO(file)) as before, zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as after:
        for name in before.namelist():
            if name not in change:
                after.writestr(name, before.read(name))
        for name, content in change.items():
            if content is not None:
                after.writestr(name, content)
    return made.getvalue()


def refusal(file: bytes) -> str:
    """Return why a file is refused, once it was so in bounded time."""
    started = time.perf_counter()
    with pytest.raises(Unreadable) as error:
        workbook.read(file)
    assert time.perf_counter() - started < SECONDS
    return str(error.value)


def peak_mebibytes(file: bytes) -> float:
    """Return what Python held at most while a file was refused."""
    tracemalloc.start()
    try:
        with pytest.raises(Unreadable):
            workbook.read(file)
        return tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()


def test_the_sheet_that_is_replaced_here_is_the_one_of_rooms() -> None:
    assert b"Floor area" in zipfile.ZipFile(BytesIO(XLSX)).read("xl/sharedStrings.xml")
    with pytest.raises(Unreadable, match="Rooms"):
        workbook.read(repacked(XLSX, {ROOMS: HEAD + TAIL}))


# --- Bombs ----------------------------------------------------------------------------------------


def test_a_part_that_unpacks_to_a_hundred_times_the_limit() -> None:
    assert "MiB" in refusal(repacked(XLSX, {"xl/media/zeros.xml": bytes(40 * 2**20)}))


def test_a_part_that_is_packed_too_tightly() -> None:
    assert "times its size" in refusal(repacked(XLSX, {"xl/zeros.xml": bytes(4 * 2**20)}))


def test_a_part_that_is_larger_than_it_says() -> None:
    """The central directory is made to declare one byte, and so is the local header."""
    file = bytearray(repacked(XLSX, {"xl/lie.xml": b"<a>" + bytes(2**20)}))
    for signature, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = 0
        while (at := file.find(signature, at)) >= 0:
            name_at = at + (30 if signature == b"PK\x03\x04" else 46)
            if file[name_at : name_at + 10] == b"xl/lie.xml":
                file[at + offset : at + offset + 4] = struct.pack("<I", 1)
            at += 4
    assert refusal(bytes(file))


def test_too_many_parts() -> None:
    many: dict[str, bytes | None] = {f"xl/p{index}.xml": b"<a/>" for index in range(MAXIMUM_PARTS)}
    assert "parts" in refusal(repacked(XLSX, many))


def test_entities_and_document_types() -> None:
    for doctype in (
        '<!DOCTYPE a [<!ENTITY b "bbbbbbbbbb"><!ENTITY c "&b;&b;&b;&b;">]><a>&c;</a>',
        '<!DOCTYPE a SYSTEM "file:///etc/hostname"><a/>',
        '<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]><a>&x;</a>',
    ):
        for encoding in ("utf-8", "utf-16"):
            part = f'<?xml version="1.0" encoding="{encoding}"?>{doctype}'.encode(encoding)
            assert "document type" in refusal(repacked(XLSX, {"xl/sharedStrings.xml": part}))
            assert "document type" in refusal(repacked(ODS, {"content.xml": part}))


def test_a_million_rows() -> None:
    """Packed as honest rows are, so that only their number is wrong."""
    rows = b"".join(
        b'<row r="%d"><c r="A%d"><v>%d</v></c></row>' % (n, n, n * 7919) for n in range(1, 400_000)
    )
    file = repacked(XLSX, {ROOMS: HEAD + rows + TAIL})
    assert "20000 rows" in refusal(file)
    assert peak_mebibytes(file) < MEBIBYTES


def test_a_row_of_millions_of_cells() -> None:
    cells = b"".join(b'<c s="%d"/>' % (n * 7919 % 9973) for n in range(1_600_000))
    file = repacked(XLSX, {ROOMS: HEAD + b'<row r="1">' + cells + b"</row>" + TAIL})
    assert "cells" in refusal(file)
    assert peak_mebibytes(file) < MEBIBYTES


@pytest.mark.parametrize("row", [1_048_576, 999_999_999, 10**30])
def test_one_cell_at_the_end_of_the_world(row: int) -> None:
    cell = b'<row r="1"><c r="A1"><v>1</v></c></row><row r="%d"><c r="XFD%d"><v>1</v></c></row>' % (row, row)
    assert refusal(repacked(XLSX, {ROOMS: HEAD + cell + TAIL}))


def test_rows_of_sixteen_thousand_columns() -> None:
    rows = b"".join(b'<row r="%d"><c r="XFD%d"><v>1</v></c></row>' % (n, n) for n in range(1, 19_000))
    assert refusal(repacked(XLSX, {ROOMS: HEAD + rows + TAIL}))


def ods_of(rows: bytes) -> bytes:
    namespaces = b" ".join(
        b'xmlns:%s="urn:oasis:names:tc:opendocument:xmlns:%s:1.0"' % (name, name)
        for name in (b"office", b"table", b"text")
    )
    content = (
        b"<office:document-content " + namespaces + b"><office:body><office:spreadsheet>"
        b'<table:table table:name="Rooms">' + rows + b"</table:table></office:spreadsheet></office:body>"
        b"</office:document-content>"
    )
    return repacked(ODS, {"content.xml": content})


@pytest.mark.parametrize(
    "rows",
    [
        b'<table:table-row table:number-rows-repeated="1048576"><table:table-cell table:number-columns-repeated="16384" '
        b'office:value-type="float" office:value="1"/></table:table-row>',
        b'<table:table-row table:number-rows-repeated="99999999999999999999"><table:table-cell office:value-type="float" '
        b'office:value="1"/></table:table-row>',
        b'<table:table-row table:number-rows-repeated="1000000"/><table:table-row><table:table-cell '
        b'office:value-type="float" office:value="1"/></table:table-row>',
        b'<table:table-row><table:table-cell office:value-type="string"><text:p><text:s text:c="999999999"/></text:p>'
        b"</table:table-cell></table:table-row>",
    ],
)
def test_repeated_rows_cells_and_spaces(rows: bytes) -> None:
    assert refusal(ods_of(rows))


# --- What acts ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("xl/vbaProject.bin", "macros"),
        ("xl/macrosheets/sheet1.xml", "macros"),
        ("xl/externalLinks/externalLink1.xml", "links to other files"),
        ("xl/connections.xml", "connections"),
        ("xl/activeX/activeX1.xml", "active controls"),
        ("xl/embeddings/oleObject1.bin", "embedded objects"),
        ("Basic/Standard/Module1.xml", "macros"),
        ("Scripts/python/a.py", "macros"),
    ],
)
def test_parts_that_act(name: str, what: str) -> None:
    for file in (XLSX, ODS):
        assert what in refusal(repacked(file, {name: b"<a/>"}))


@pytest.mark.parametrize("encoding", [b"no-such-encoding", b"utf-32", b"shift_jis", b"rot13"])
@pytest.mark.parametrize("file", [XLSX, ODS])
def test_parts_in_an_encoding_that_is_not_read(file: bytes, encoding: bytes) -> None:
    name = "content.xml" if file is ODS else ROOMS
    with zipfile.ZipFile(BytesIO(file)) as archive:
        part = archive.read(name)
    declared = part.replace(b'encoding="UTF-8"', b'encoding="' + encoding + b'"', 1)
    assert declared != part
    assert "not well-formed" in refusal(repacked(file, {name: declared}))


def in_first_cell(nested: bytes) -> bytes:
    """Return the .ods workbook with something before the text of a cell that is read."""
    with zipfile.ZipFile(BytesIO(ODS)) as archive:
        part = archive.read("content.xml")
    place = part.index(b">kitchen<") + 1
    return repacked(ODS, {"content.xml": part[:place] + nested + part[place:]})


def test_a_prefix_that_nothing_declares() -> None:
    assert "not well-formed" in refusal(in_first_cell(b"<nothing:declares-this/>"))


@pytest.mark.parametrize("depth", [2_000, 200_000])
def test_nesting_without_end(depth: int) -> None:
    assert "nested too deeply" in refusal(in_first_cell(b"<text:span>" * depth + b"</text:span>" * depth))
    groups = b"</text:p></table:table-cell></table:table-row>" + b"<table:table-row-group>" * depth
    closed = b"</table:table-row-group>" * depth + b"<table:table-row><table:table-cell><text:p>"
    assert "nested too deeply" in refusal(in_first_cell(groups + closed))


def test_a_workbook_declared_to_have_macros() -> None:
    types = zipfile.ZipFile(BytesIO(XLSX)).read("[Content_Types].xml")
    types = types.replace(
        b"openxmlformats-officedocument.spreadsheetml.sheet.main", b"ms-excel.sheet.macroEnabled.main"
    )
    assert "macros" in refusal(repacked(XLSX, {"[Content_Types].xml": types}))


# --- What is no workbook --------------------------------------------------------------------------


def damaged() -> Iterator[bytes]:
    yield b""
    yield b"PK"
    yield b"PK\x05\x06" + bytes(18)
    yield XLSX[: len(XLSX) // 2]
    yield XLSX[100:]
    yield repacked(XLSX, {"[Content_Types].xml": None})
    yield repacked(XLSX, {"xl/workbook.xml": b"<workbook/>"})
    yield repacked(XLSX, {"xl/workbook.xml": b"<workbook"})
    yield repacked(XLSX, {ROOMS: None})
    yield repacked(XLSX, {ROOMS: b"<worksheet/>"})
    yield repacked(XLSX, {"xl/sharedStrings.xml": b"<sst/>"})
    yield repacked(ODS, {"content.xml": b"<a/>"})
    yield repacked(ODS, {"mimetype": b"text/plain"})


@pytest.mark.parametrize("file", list(damaged()), ids=range(13))
def test_damaged_files_are_refused_and_not_a_crash(file: bytes) -> None:
    assert refusal(file)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes_are_refused(content: bytes) -> None:
    with pytest.raises(Unreadable):
        workbook.read(content)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_file_with_some_bytes_changed_is_read_or_refused(data: Any) -> None:
    """Within one part, so that the archive itself stays sound."""
    archive = zipfile.ZipFile(BytesIO(XLSX))
    name = data.draw(st.sampled_from([ROOMS, "xl/workbook.xml", "xl/styles.xml", "xl/sharedStrings.xml"]))
    part = bytearray(archive.read(name))
    for _ in range(data.draw(st.integers(1, 4))):
        part[data.draw(st.integers(0, len(part) - 1))] = data.draw(st.integers(0, 255))
    with contextlib.suppress(Unreadable):
        workbook.read(repacked(XLSX, {name: bytes(part)}))
