"""Changes inside a workbook: parts of the archive are rewritten and packed again, so that checksums and sizes stay right."""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Callable
from io import BytesIO
from random import Random

MEMBERS = (
    "xl/worksheets/",
    "xl/sharedStrings.xml",
    "content.xml",
    "xl/workbook.xml",
    "[Content_Types].xml",
    "xl/_rels/workbook.xml.rels",
    "xl/styles.xml",
    "META-INF/manifest.xml",
)
MOST_DEPTH = 20_000
_VALUES = re.compile(
    rb'(?<=<v>)[^<]*(?=</v>)|(?<=<t>)[^<]*(?=</t>)|(?<=office:value=")[^"]*|(?<=<text:p>)[^<]*(?=</text:p>)'
)
_ATTRIBUTES = re.compile(rb'(?<== ")[^"]*(?=")|(?<==")[^"]*(?=")')
_ELEMENTS = re.compile(rb"<(\w[\w:-]*)(?: [^<>]*)?(?:/>|>[^<]*</\1>)")
_TEXTS = (
    b"",
    b"0",
    b"-1",
    b"0.5",
    b"2",
    b"20",
    b"100",
    b"1e308",
    b"1e999",
    b"NaN",
    b"INF",
    b"-0",
    b"1" * 400,
    b"12345678901234567890",
    b"true",
    b"=1+1",
    b"#REF!",
    b"#DIV/0!",
    b"a",
    b"kitchen",
    b"front",
    b"wall",
    b"x" * 300,
    b" ",
    b"&#10;",
    b"&#9;",
    b"&#xD800;",
    b"&amp;",
    b"&undeclared;",
    b"\xff",
    "é".encode(),
    b"1,5",
    b"2024-01-02",
    b"/house/rooms/0/elements/",
    b"/house/unheated_spaces/",
)
_ATTRIBUTE_TEXTS = (
    *_TEXTS,
    b"s",
    b"str",
    b"inlineStr",
    b"n",
    b"b",
    b"e",
    b"d",
    b"float",
    b"string",
    b"date",
    b"time",
    b"percentage",
    b"boolean",
    b"1048576",
    b"99999999999",
    b"A1",
    b"ZZZ9999999",
    b"utf-16",
    b"utf-32",
    b"shift_jis",
    b"ascii",
    b"no-such-encoding",
)
_INSERTED = (
    b"<table:table-cell/>",
    b'<table:table-cell table:number-columns-repeated="1048576"/>',
    b'<table:table-row table:number-rows-repeated="9999999"><table:table-cell office:value-type="float" office:value="1"/>'
    b"</table:table-row>",
    b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>',
    b'<c r="B2" t="s"><v>999999</v></c>',
    b'<c r="B2" t="d"><v>2024-13-45</v></c>',
    b'<c r="B2"><f>1+1</f><v>2</v></c>',
    b'<c r="B2"><f t="array" ref="B2:B9">1</f><v>2</v></c>',
    b'<c r="B2"><f t="shared" si="0"/><v>2</v></c>',
    b'<mergeCell ref="A1:B2"/>',
    b"<!-- a comment -->",
    b"<![CDATA[1]]>",
    b"<?other instruction?>",
    b"<office:event-listeners/>",
    b"<v/>",
    b"<t/>",
    b"<text:s text:c='9999999'/>",
)
_NESTED = (
    (b"<text:span>", b"</text:span>"),
    (b"<table:table-row-group>", b"</table:table-row-group>"),
    (b"<a>", b"</a>"),
)
ATTEMPTS_AT_ARCHIVE = 0.05


def changed(file: bytes, random: Random, mutate: Callable[[bytes, int], bytes]) -> bytes | None:
    """Return a workbook with one to three changes in its parts; None where the file is no archive.

    Args:
        file: the workbook.
        random: what to draw from.
        mutate: the fuzzer's own change of bytes, at most so many after it.
    """
    try:
        with zipfile.ZipFile(BytesIO(file)) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError, OSError, ValueError):
        return None
    for _ in range(random.choice((1, 1, 2, 3))):
        names = [name for name in parts if name.startswith(MEMBERS)] or list(parts)
        if not names:
            return None
        name = random.choice(names)
        if random.random() < ATTEMPTS_AT_ARCHIVE:
            _change_archive(parts, name, random)
        else:
            parts[name] = _changed_part(parts[name], random, mutate)
    return packed(parts)


def packed(parts: dict[str, bytes]) -> bytes:
    """Return an archive of parts."""
    made = BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name, content in parts.items():
            archive.writestr(zipfile.ZipInfo(name), content, compress_type=zipfile.ZIP_DEFLATED)
    return made.getvalue()


def _change_archive(parts: dict[str, bytes], name: str, random: Random) -> None:
    chosen = random.randrange(4)
    if chosen == 0:
        del parts[name]
    elif chosen == 1:
        parts[random.choice(("xl/vbaProject.bin", "../a.xml", "a\\b.xml", "/etc/x.xml", "x" * 300))] = b"<a/>"
    elif chosen == 2:
        parts[name] = random.choice(list(parts.values()))
    else:
        parts[name.upper()] = parts.pop(name)


def _changed_part(part: bytes, random: Random, mutate: Callable[[bytes, int], bytes]) -> bytes:
    chosen = random.random()
    if chosen < 0.3:
        others = _VALUES.findall(part)
        return _replaced(part, _VALUES, random.choice(others), random) if others else part
    if chosen < 0.5:
        return _replaced(part, _VALUES, random.choice(_TEXTS), random)
    if chosen < 0.65:
        return _replaced(part, _ATTRIBUTES, random.choice(_ATTRIBUTE_TEXTS), random)
    if chosen < 0.8:
        return _moved_element(part, random)
    if chosen < 0.9:
        return _replaced(part, re.compile(rb"(?<=>)(?=<)"), random.choice(_INSERTED), random)
    if chosen < 0.94:
        before, after = random.choice(_NESTED)
        depth = random.choice((10, 500, 2_000, MOST_DEPTH))
        return _replaced(part, re.compile(rb"(?<=>)(?=<)"), before * depth + after * depth, random)
    return bytes(mutate(part, len(part) + 200))


def _replaced(part: bytes, pattern: re.Pattern[bytes], by: bytes, random: Random) -> bytes:
    found = list(pattern.finditer(part))
    if not found:
        return part
    place = random.choice(found)
    return part[: place.start()] + by + part[place.end() :]


def _moved_element(part: bytes, random: Random) -> bytes:
    """Take an element out, double it, or put another one's copy in its place."""
    found = list(_ELEMENTS.finditer(part))
    if not found:
        return part
    element, other = random.choice(found), random.choice(found)
    by = random.choice((b"", element.group() * 2, element.group() * 70, other.group()))
    return part[: element.start()] + by + part[element.end() :]
