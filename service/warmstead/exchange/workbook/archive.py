"""A workbook file looked at before any library reads it: a zip archive of XML, within bounds, with nothing that acts.

Declared sizes are checked first, then the sizes that come out; no part is unpacked further than its bound. Every XML part
is parsed once by expat with document types refused: whatever would expand entities needs one.
"""

from __future__ import annotations

import re
import zipfile
import zlib
from io import BytesIO
from typing import NamedTuple
from xml.parsers import expat

from warmstead.building.findings import ProblemCode
from warmstead.exchange.workbook.bounds import MAXIMUM_ROWS, ROWS_AND_CELLS
from warmstead.exchange.workbook.grids import CellProblem, Unreadable

MAXIMUM_PARTS = 400
MAXIMUM_PART_BYTES = 32 * 1024 * 1024
MAXIMUM_BYTES = 48 * 1024 * 1024
"""Of all parts together, unpacked. A survey of 15,000 elements takes about 10 MiB."""
MAXIMUM_TAGS = 1_500_000
"""Of all XML parts together, start and end tags; readers build an object for each, and a survey of 15,000 elements has 800,000."""
MAXIMUM_RATIO = 200
"""Of unpacked to packed size; honest sheets, which repeat themselves a lot, stay under 60."""
RATIO_MATTERS_FROM = 1024 * 1024
"""Unpacked size under which a part may be packed as tightly as it likes."""
_ROW = re.compile(rb"<(?:\w+:)?row[\s/>]")
XML_ENDINGS = (".xml", ".rels", ".vml", ".rdf")
XLSX_MAIN = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
ODS_TYPE = "application/vnd.oasis.opendocument.spreadsheet"

ACTIVE_PARTS = (
    ("vbaproject", "macros"),
    ("macrosheets/", "macros"),
    ("dialogsheets/", "macros"),
    ("basic/", "macros"),
    ("scripts/", "macros"),
    ("activex/", "active controls"),
    ("ctrlprops/", "active controls"),
    ("externallinks/", "links to other files"),
    ("connections.xml", "connections to other data"),
    ("querytables/", "connections to other data"),
    ("embeddings/", "embedded objects"),
)
"""What in the name of a part gives it away, and what it is called."""


class Archive(NamedTuple):
    """A workbook file whose parts have been looked at."""

    content: bytes
    kind: str
    """`xlsx` or `ods`."""
    parts: dict[str, bytes]
    """XML parts by name."""


def refused(code: ProblemCode, detail: str) -> Unreadable:
    """Return the refusal of a whole file."""
    return Unreadable([CellProblem("", "", code, detail)])


def opened(content: bytes) -> Archive:
    """Look at a workbook file.

    Raises:
        Unreadable: it is no workbook, or one that is not read.
    """
    try:
        with zipfile.ZipFile(BytesIO(content)) as archive:
            entries = archive.infolist()
            _check_entries(entries)
            parts = _unpacked(archive, entries)
    except (
        zipfile.BadZipFile,
        NotImplementedError,
        RuntimeError,
        EOFError,
        OSError,
        ValueError,
        zlib.error,
    ):
        raise refused(
            "wrong_type", "not a workbook: send an .xlsx or .ods file, whole and without a password"
        ) from None
    if sum(part.count(b"<") for part in parts.values()) > MAXIMUM_TAGS:
        raise refused("wrong_count", f"too many cells; {ROWS_AND_CELLS}")
    for name, part in parts.items():
        if "worksheets/" in name and len(_ROW.findall(part)) > MAXIMUM_ROWS:
            raise refused("wrong_count", f"too many rows; {ROWS_AND_CELLS}")
        _check_xml(name, part)
    return Archive(content, _kind(parts), parts)


def _check_entries(entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > MAXIMUM_PARTS:
        raise refused("wrong_count", f"at most {MAXIMUM_PARTS} parts in the file")
    names = [entry.filename for entry in entries]
    if len(set(names)) != len(names):
        raise refused("duplicate_id", "two parts of the file have one name; save it anew")
    for entry in entries:
        _check_name(entry.filename)
        if entry.flag_bits & 0x1:
            raise refused("not_allowed_here", "the file is locked by a password; save it without one")
        if entry.file_size > MAXIMUM_PART_BYTES:
            raise refused("out_of_range", _too_large())
        if entry.file_size > RATIO_MATTERS_FROM and entry.file_size > MAXIMUM_RATIO * max(
            entry.compress_size, 1
        ):
            raise refused(
                "out_of_range", f"a part of the file unpacks to more than {MAXIMUM_RATIO} times its size"
            )
    if sum(entry.file_size for entry in entries) > MAXIMUM_BYTES:
        raise refused("out_of_range", _too_large())


def _too_large() -> str:
    return f"unpacked, a file may have {MAXIMUM_BYTES // 2**20} MiB and a part of it {MAXIMUM_PART_BYTES // 2**20} MiB"


def _check_name(name: str) -> None:
    folded = name.casefold()
    for mark, what in ACTIVE_PARTS:
        if mark in folded:
            raise refused(
                "not_allowed_here",
                f"the workbook contains {what}; save it without them, as plain .xlsx or .ods",
            )


def _unpacked(archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo]) -> dict[str, bytes]:
    """Unpack the XML parts, each no further than declared: what a file declares may be a lie."""
    parts: dict[str, bytes] = {}
    total = 0
    for entry in entries:
        if not entry.filename.casefold().endswith(XML_ENDINGS) and entry.filename != "mimetype":
            continue
        with archive.open(entry) as part:
            parts[entry.filename] = part.read(entry.file_size + 1)
        total += len(parts[entry.filename])
        if len(parts[entry.filename]) > entry.file_size or total > MAXIMUM_BYTES:
            raise refused("out_of_range", "a part of the file is larger than the file says")
    return parts


class _DocumentType(Exception):
    """An XML part declares a document type."""


def _check_xml(name: str, part: bytes) -> None:
    if name == "mimetype" or not part:
        return
    parser = expat.ParserCreate(namespace_separator=" ")  # with it, prefixes that nothing declares are errors

    def refuse(*declared: object) -> None:
        raise _DocumentType

    parser.StartDoctypeDeclHandler = refuse
    parser.EntityDeclHandler = refuse
    try:
        parser.Parse(part, True)
    except _DocumentType:
        raise refused("not_allowed_here", "a part of the file declares a document type or entities") from None
    except (expat.ExpatError, LookupError, ValueError):  # the last two: of encodings unknown or not supported
        raise refused("wrong_type", "a part of the file is not well-formed XML; save it anew") from None


def _kind(parts: dict[str, bytes]) -> str:
    types = parts.get("[Content_Types].xml", b"")
    if parts.get("mimetype", b"").strip() == ODS_TYPE.encode() and "content.xml" in parts:
        return "ods"
    if b"macroEnabled" in types:
        raise refused(
            "not_allowed_here", "the workbook is one with macros; save it without them, as plain .xlsx"
        )
    if XLSX_MAIN.encode() in types:
        return "xlsx"
    raise refused("wrong_type", "not a workbook: send an .xlsx or .ods file")
