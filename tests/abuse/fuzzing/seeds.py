"""What fuzzing begins with: the reference cases' requests, the demonstration house, small workbooks and tables."""

from __future__ import annotations

import copy
import json
import re
import zipfile
from collections.abc import Iterator
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

from openpyxl import Workbook, load_workbook

from fuzzing.workbook_changes import packed
from warmstead import demo
from warmstead.exchange import element_table, workbook
from warmstead.exchange.workbook.assemble import REQUIRED_SHEETS
from warmstead.exchange.workbook.read_me import REFERENCE_TITLES
from warmstead.questions.registry import QUESTIONS

CASES = Path(__file__).parents[3] / "reference_cases"
LONGEST = 40_000
"""Bytes; longer requests are tried too seldom to be worth a place."""
Json = dict[str, Any]


@cache
def documents() -> list[tuple[str, Json]]:
    """Return each question asked by a request of the demonstration or of a reference case."""
    found = list(demo.requests().items())
    for file in sorted(CASES.glob("*/*.json")):
        case = json.loads(file.read_text())
        if "body" in case["request"]:
            found.append((case["question"], case["request"]["body"]))
    return found


def requests(long: bool | None = None) -> Iterator[bytes]:
    """Go through requests as they are fuzzed: the question's name, a line end, the document.

    Args:
        long: whether of questions that take long, or of the others; of all where None.
    """
    for question, document in documents():
        text = json.dumps(document, separators=(",", ":")).encode()
        if len(text) <= LONGEST and long in (None, QUESTIONS[question].long):
            yield question.encode() + b"\n" + text


def surveys() -> list[Json]:
    """Return surveys for workbooks and tables: the demonstration cut down to two rooms, and one with all kinds of sheets."""
    small = copy.deepcopy(demo.survey())
    house = small["house"]
    house["rooms"] = [room for room in house["rooms"] if room["id"] in ("bedroom-3", "kitchen")]
    kept = {room["id"] for room in house["rooms"]}
    for room in house["rooms"]:
        room["elements"] = [e for e in room["elements"] if e["boundary"].get("room", "kitchen") in kept]
    used = {e["construction"] for r in house["rooms"] for e in r["elements"]}
    used |= {o["construction"] for r in house["rooms"] for e in r["elements"] for o in e.get("openings", ())}
    outer = [e for s in house.get("unheated_spaces", ()) for e in s.get("elements", ())]
    used |= {part["construction"] for e in outer for part in (e, *e.get("openings", ()))}
    house["constructions"] = {name: c for name, c in house["constructions"].items() if name in used}
    tiny: Json = {
        "house": {
            "conditions": {"external_temperature_c": -3.2, "annual_mean_external_temperature_c": 10.1},
            "constructions": {
                "wall": {
                    "kind": "layered",
                    "heat_flow": "horizontal",
                    "layers": [{"kind": "solid", "thickness_mm": 220, "conductivity_w_mk": 0.77}],
                },
                "pane": {"kind": "declared", "u_value_w_m2k": 1.6, "source": "an invented certificate"},
            },
            "rooms": [
                {
                    "id": "a",
                    "floor_area_m2": 12,
                    "height_m": 2.5,
                    "elements": [
                        {
                            "id": "front",
                            "construction": "wall",
                            "area_m2": 10,
                            "boundary": {"to": "outside"},
                            "openings": [{"id": "window", "construction": "pane", "area_m2": 1.2}],
                        }
                    ],
                    "emitters": [{"id": "r", "kind": "radiator", "standard_output_w": 900}],
                }
            ],
        },
        "flow_temperature_c": 45,
        "return_temperature_c": 40,
    }
    return [tiny, small]


def workbooks() -> Iterator[bytes]:
    """Go through small workbooks of both formats."""
    for survey in (*surveys(), workbook.blank()):
        yield plain_xlsx(workbook.written(survey, "xlsx"))
        yield plain_ods(workbook.written(survey, "ods"))


def plain_xlsx(file: bytes) -> bytes:
    """Return a workbook's values alone, as another program might save them: looks and explanations make it slow to read."""
    given = load_workbook(BytesIO(file), read_only=True)
    made = Workbook()
    made.remove(made.active)
    for sheet in given.worksheets:
        rows = [row for row in sheet.iter_rows(values_only=True) if any(cell is not None for cell in row)]
        if sheet.title not in REFERENCE_TITLES and (len(rows) > 1 or sheet.title in REQUIRED_SHEETS):
            copied = made.create_sheet(sheet.title)
            for row in rows:
                copied.append(row)
    out = BytesIO()
    made.save(out)
    return out.getvalue()


def plain_ods(file: bytes) -> bytes:
    """Return a workbook without the sheets that explain."""
    with zipfile.ZipFile(BytesIO(file)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for title in REFERENCE_TITLES:
        sheet = rb'<table:table table:name="' + title.encode() + rb'".*?</table:table>'
        parts["content.xml"], found = re.subn(sheet, b"", parts["content.xml"], flags=re.DOTALL)
        assert found == 1, f"no sheet {title}"
    return packed({name: parts[name] for name in ("mimetype", "content.xml", "META-INF/manifest.xml")})


def tables() -> Iterator[bytes]:
    """Go through flat tables in the ways that programs write them."""
    whole = element_table.surveyed(demo.house())
    yield whole
    short = element_table.surveyed(surveys()[0]["house"])
    yield short
    yield b"\xef\xbb\xbf" + short.replace(b",", b";").replace(b".", b",")
    yield short.replace(b",", b"\t")
    yield (
        b"room;floor_area_m2;room_height_m;element;opening_of;construction;u_value_w_m2k;table_row;area_m2;boundary;other_room\n"
        b'a;12,5;2,4;w;;wall;1,6;;10;outside;\na;;;"o-1";w;pane;2,8;;1,25;;\nb;9;2,4;p;;part;2;;8;room;a\n'
    )
    yield element_table.empty()


def queries() -> Iterator[bytes]:
    """Go through requests by GET as they are fuzzed: path and query, a line end, an Accept header."""
    for text in (
        "/v1/element-loss?area_m2=9.8&u_value_w_m2k=2.1&internal_temperature_c=21&external_temperature_c=-3.2",
        "/v1/element-loss?area_m2=9,8&u_value_w_m2k=2.1&internal_temperature_c=21&external_temperature_c=-3.2&format=xml",
        "/v1/radiator-output?standard_output_w=1450&flow_temperature_c=45&return_temperature_c=40&room_temperature_c=21&value=output_w",
        "/v1/outside-temperature?place=Birmingham&altitude_m=150&exceedance_percent=99.6&format=json",
        "/v1/u-value?heat_flow=horizontal&layer_1_thickness_mm=220&layer_1_conductivity_w_mk=0.77&errors=in_cell",
        "/v1/u-value?heat_flow=upwards&layer_1_material=brick&layer_1_thickness_mm=100&layer_2_resistance_m2k_w=0.18&format=csv",
        "/v1/required-thickness?heat_flow=horizontal&sought_layer=2&target_u_value_w_m2k=0.3&layer_1_thickness_mm=220"
        "&layer_1_conductivity_w_mk=0.77&layer_2_conductivity_w_mk=0.035",
        "/v1/tables",
        "/v1/tables/materials?format=csv",
        "/v1/tables/outside-design-temperatures?altitude_m=150",
        "/v1/tables/room-defaults/GB:kitchen/design_temperature_c?format=json",
        "/v1/element-table?content=demo",
        "/v1/workbook?format=json&content=empty",
        "/v1/codes",
        "/healthz",
    ):
        yield text.encode() + b"\n*/*"
    yield b"/v1/element-loss?area_m2=1&u_value_w_m2k=1&internal_temperature_c=1&external_temperature_c=1\ntext/csv;q=0.5, application/xml"
