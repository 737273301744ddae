"""LibreOffice recalculates a sheet whose cells call the running service; what they hold is compared with the JSON answers.

The formulas are written as a person writes them (commas between arguments) and put into a document by `written`. In each, the
cells B to E are those of its own row. The whole sheet is recalculated twice: with a decimal point and with a decimal comma.
"""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Iterator
from html import escape
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest

from warmstead.api.guide import markdown

Json = dict[str, Any]
Input = float | str

SCRIPT = Path(__file__).parent / "office" / "recalculate.py"
LOCALES = ("en-GB", "de-DE")
GUIDE_ADDRESS = "https://heat.example"
RELATIVE_ERROR = 5.1e-15
"""An answer has fifteen significant digits: half a unit of the last one, where the first one is a 1."""


class Row(NamedTuple):
    """A formula in column A, what stands in the columns after it, and the JSON answer to compare with."""

    name: str
    formula: str
    inputs: tuple[Input, ...]
    question: str = ""
    request: Json = {}  # noqa: RUF012 # never changed
    member: str = ""


# --- The sheet ------------------------------------------------------------------------------------


def web(address: str) -> str:
    return f'NUMBERVALUE(WEBSERVICE("{GUIDE_ADDRESS}{address}"), ".", " ")'


def element_losses() -> Iterator[Row]:
    formula = web(
        '/v1/element-loss?area_m2="&B2&"&u_value_w_m2k="&C2&"&internal_temperature_c=21&external_temperature_c="&D2&"'
    )
    for number in range(40):
        area, u_value, outside = 0.5 + 1.37 * number, 0.15 + 0.13 * number, -14.5 + 0.5 * number
        area, u_value = round(area, 2), round(u_value, 2)
        request = {
            "area_m2": area,
            "u_value_w_m2k": u_value,
            "internal_temperature_c": 21,
            "external_temperature_c": outside,
        }
        yield Row("element loss", formula, (area, u_value, outside), "element-loss", request, "heat_loss_w")


def radiator_outputs() -> Iterator[Row]:
    address = (
        '/v1/radiator-output?standard_output_w="&B2&"&exponent="&C2&"'
        '&flow_temperature_c="&D2&"&return_temperature_c="&E2&"&room_temperature_c=20'
    )
    for number in range(30):
        exponent, flow, back = round(1.2 + 0.01 * number, 2), 35 + number, 30 + number / 2
        inputs = (900 + 50 * number, exponent, flow, back)
        names = ("standard_output_w", "exponent", "flow_temperature_c", "return_temperature_c")
        request = {**dict(zip(names, inputs, strict=True)), "room_temperature_c": 20}
        if number % 3:
            yield Row("radiator", web(address), inputs, "radiator-output", request, "output_w")
        else:
            xml = f'FILTERXML(WEBSERVICE("{GUIDE_ADDRESS}{address}&format=xml"), "number(//flow_l_s)")'
            yield Row("radiator, XML", xml, inputs, "radiator-output", request, "flow_l_s")


def wall(insulation_mm: float, conductivity: float) -> Json:
    layers = [
        {"kind": "solid", "thickness_mm": 13, "conductivity_w_mk": 0.57},
        {"kind": "solid", "thickness_mm": 215, "conductivity_w_mk": 0.77},
        {"kind": "air", "thickness_mm": 50, "ventilation": "unventilated", "emissivity": 0.9},
        {"kind": "solid", "thickness_mm": insulation_mm, "conductivity_w_mk": conductivity},
    ]
    return {"kind": "layered", "heat_flow": "horizontal", "layers": layers}


WALL = (
    "heat_flow=horizontal&layer_1_thickness_mm=13&layer_1_conductivity_w_mk=0.57"
    "&layer_2_thickness_mm=215&layer_2_conductivity_w_mk=0.77"
    "&layer_3_thickness_mm=50&layer_3_ventilation=unventilated&layer_3_emissivity=0.9"
)


def u_values() -> Iterator[Row]:
    formula = web(f'/v1/u-value?{WALL}&layer_4_thickness_mm="&B2&"&layer_4_conductivity_w_mk="&C2&"')
    for number in range(25):
        thickness, conductivity = 20 + 7.5 * number, round(0.021 + 0.001 * number, 3)
        request = {"construction": wall(thickness, conductivity)}
        # Three digits after a comma are ambiguous only where the first figure is no zero: 0,021 is clear.
        yield Row("U-value", formula, (thickness, conductivity), "u-value", request, "u_value_w_m2k")


def thicknesses() -> Iterator[Row]:
    formula = web(
        f'/v1/required-thickness?{WALL}&layer_4_conductivity_w_mk=0.035&sought_layer=4&target_u_value_w_m2k="&B2&"'
    )
    for number in range(15):
        target = round(0.12 + 0.02 * number, 2)
        request = {"construction": wall(100, 0.035), "layer": 3, "target_u_value_w_m2k": target}
        yield Row("thickness", formula, (target,), "required-thickness", request, "thickness_mm")


def outside_temperatures(places: list[str]) -> Iterator[Row]:
    formula = web('/v1/outside-temperature?place="&ENCODEURL(B2)&"&altitude_m="&C2&"')
    for number, place in enumerate(places):
        altitude = 12.5 + 30 * number
        request = {"place": place, "altitude_m": altitude}
        yield Row(
            "outside temperature",
            formula,
            (place, altitude),
            "outside-temperature",
            request,
            "external_temperature_c",
        )


def rows(places: list[str]) -> list[Row]:
    return [
        *element_losses(),
        *radiator_outputs(),
        *u_values(),
        *thicknesses(),
        *outside_temperatures(places),
    ]


# Where the program must show an error: a reason that was asked for, or its own bare one.
IN_CELL = [
    (
        "/v1/element-loss?area_m2=x&u_value_w_m2k=1&internal_temperature_c=21&external_temperature_c=0",
        "area_m2",
    ),
    (
        "/v1/element-loss?area_m2=1&u_value_w_m2k=99&internal_temperature_c=21&external_temperature_c=0",
        "u_value_w_m2k",
    ),
    ("/v1/element-loss?u_value_w_m2k=1&internal_temperature_c=21&external_temperature_c=0", "area_m2"),
    ("/v1/u-value?heat_flow=sideways&layer_1_resistance_m2k_w=1", "heat_flow"),
    (
        "/v1/radiator-output?standard_output_w=900&flow_temperature_c=45&return_temperature_c=50&room_temperature_c=20",
        "",
    ),
    ("/v1/outside-temperature?place=Nowhere", "place"),
    ("/v1/tables/surface-resistances/sideways/internal_m2k_w?format=text", "row"),
    ("/v1/u-value?heat_flow=horizontal&layer_1_resistance_m2k_w=1.234,5", "layer_1_resistance_m2k_w"),
]
AMBIGUOUS = 1.234
"""Written `1,234` where the comma is decimal, which could be 1234 as well."""


class Sheet:
    """The formulas, one a row, and where each of them stands."""

    def __init__(self, address: str, places: list[str]) -> None:
        self._address = address
        self._lines: list[tuple[str, tuple[Input, ...]]] = []
        self.compared = {self.add(row.formula, row.inputs): row for row in rows(places)}
        self.in_cell = {
            self.add(f'WEBSERVICE("{GUIDE_ADDRESS}{where}&errors=in_cell")'): (where, name)
            for where, name in IN_CELL
        }
        self.bare_errors = [self.add(f'WEBSERVICE("{GUIDE_ADDRESS}{where}")') for where, _ in IN_CELL]
        area = '/v1/element-loss?area_m2="&{}&"&u_value_w_m2k=1&internal_temperature_c=21&external_temperature_c=20'
        self.ambiguous = self.add(web(area.format("B2")), (AMBIGUOUS,))
        self.safe = self.add(web(area.format('SUBSTITUTE(B2, ",", ".")')), (AMBIGUOUS,))
        self.guide = {self.add(formula, inputs): shown for formula, inputs, shown in guide_formulas()}
        first, last = 1, sum(row.name == "element loss" for row in self.compared.values())
        self.total = self.add(f"SUM([.A{first}:.A{last}])")
        self.text = self.add(
            f'WEBSERVICE("{GUIDE_ADDRESS}/v1/u-value?heat_flow=horizontal&layer_1_resistance_m2k_w=1")'
        )
        self.sum_of_text = self.add(f"SUM([.{self.text}:.{self.text}])")

    def add(self, formula: str, inputs: tuple[Input, ...] = ()) -> str:
        """Give a formula the next row; returns its cell."""
        self._lines.append((formula, inputs))
        return f"A{len(self._lines)}"

    @property
    def formulas(self) -> int:
        return len(self._lines)

    def document(self) -> str:
        """Return the whole as a flat OpenDocument spreadsheet."""
        lines = "".join(
            f"<table:table-row>{self._formula(formula, number)}{''.join(map(input_cell, inputs))}</table:table-row>"
            for number, (formula, inputs) in enumerate(self._lines, 1)
        )
        spaces = " ".join(f'xmlns:{name}="{NAMESPACE.format(name)}"' for name in ("office", "table", "text"))
        kind = "application/vnd.oasis.opendocument.spreadsheet"
        return (
            f'<?xml version="1.0" encoding="UTF-8"?>\n<office:document {spaces} '
            'xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2" office:version="1.3" '
            f'office:mimetype="{kind}"><office:body><office:spreadsheet><table:table table:name="Cells">'
            f"{lines}</table:table></office:spreadsheet></office:body></office:document>"
        )

    def _formula(self, formula: str, number: int) -> str:
        here = written(formula.replace(GUIDE_ADDRESS, self._address), number)
        return f'<table:table-cell table:formula="{escape(f"of:={here}")}"/>'


NAMESPACE = "urn:oasis:names:tc:opendocument:xmlns:{}:1.0"
FOREIGN = re.compile(r"\b(WEBSERVICE|FILTERXML|ENCODEURL)\(")


def written(formula: str, row: int) -> str:
    """Return a formula as the document's format has it: semicolons between arguments, references in brackets."""
    parts = re.split(r'("[^"]*")', formula)
    for index in range(0, len(parts), 2):
        part = FOREIGN.sub(r"COM.MICROSOFT.\1(", parts[index].replace(",", ";"))
        parts[index] = re.sub(r"(?<![.\w])([B-E])\d+\b", rf"[.\g<1>{row}]", part)
    return "".join(parts)


def input_cell(value: Input) -> str:
    if isinstance(value, str):
        return f'<table:table-cell office:value-type="string"><text:p>{escape(value)}</text:p></table:table-cell>'
    return f'<table:table-cell office:value-type="float" office:value="{value!r}"/>'


def guide_formulas() -> Iterator[tuple[str, tuple[Input, ...], str]]:
    """Yield each formula of the guide: as one line, the inputs stated before it as columns B on, and what is shown."""
    for block in re.findall(r"^```cell\n(.*?)^```$", markdown("spreadsheets"), re.MULTILINE | re.DOTALL):
        stated, _, rest = (
            block.rstrip("\n").rpartition("\n=") if "\n=" in block else ("", "", block.rstrip("\n"))
        )
        formula, _, shown = rest.removeprefix("=").partition("\n→ ")
        one_line = "".join(line.strip() for line in formula.splitlines())
        inputs: list[Input] = []
        for name, value in re.findall(r"([A-Z]+\d+): (\S.*?)(?=   |$)", stated):
            one_line = re.sub(rf"\b{name}\b", f"{'BCDE'[len(inputs)]}1", one_line)
            inputs.append(value if re.search(r"[A-Za-z]", value) else float(value))
        yield one_line, tuple(inputs), shown


# --- Asked ----------------------------------------------------------------------------------------


class Recalculated(NamedTuple):
    """The sheet, and what its cells hold in one locale."""

    sheet: Sheet
    locale: str
    cells: dict[str, Json]


@pytest.fixture(scope="module")
def client(service: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=service, timeout=60) as client:
        yield client


@pytest.fixture(scope="module")
def places(client: httpx.Client) -> list[str]:
    held = client.get("/v1/tables/outside-design-temperatures").json()["rows"]
    return sorted({row["place"] for row in held})[:8]


@pytest.fixture(scope="module", params=LOCALES)
def recalculated(
    request: pytest.FixtureRequest,
    service: str,
    places: list[str],
    office_python: str,
    tmp_path_factory: pytest.TempPathFactory,
) -> Recalculated:
    folder, profile = tmp_path_factory.mktemp("sheet"), tmp_path_factory.mktemp("profile")
    sheet = Sheet(service, places)
    document = folder / "cells.fods"
    document.write_text(sheet.document(), encoding="utf-8")
    command = [office_python, str(SCRIPT), str(document), str(profile), request.param]
    run = subprocess.run(command, capture_output=True, text=True, timeout=300, check=False)
    assert run.returncode == 0, run.stderr
    return Recalculated(sheet, request.param, json.loads(run.stdout))


def json_answer(client: httpx.Client, row: Row) -> float:
    response = client.post(f"/v1/{row.question}", json=row.request)
    assert response.status_code == 200, response.text
    value: float = response.json()[row.member]
    return value


def test_every_cell_holds_the_json_answer(
    recalculated: Recalculated, client: httpx.Client, figures: Any
) -> None:
    sheet, locale, cells = recalculated
    mismatches = []
    for cell, row in sheet.compared.items():
        held, expected = cells[cell], json_answer(client, row)
        if held["error"] or held["number"] != pytest.approx(expected, rel=RELATIVE_ERROR, abs=0):
            mismatches.append(f"{cell} {row.name} {row.inputs}: {held}, JSON {expected!r}")
    assert len(sheet.compared) >= 100
    assert len(cells) == sheet.formulas
    figures.note(
        f"cells in LibreOffice, {locale}: {len(cells)} recalculated, {len(sheet.compared)} compared with JSON answers, "
        f"{len(mismatches)} mismatches; {len(sheet.in_cell)} errors shown with their reason, "
        f"{len(sheet.bare_errors)} bare"
    )
    assert mismatches == []


def test_a_sum_over_cells_is_the_sum_of_the_answers(recalculated: Recalculated, client: httpx.Client) -> None:
    losses = [
        json_answer(client, row) for row in recalculated.sheet.compared.values() if row.name == "element loss"
    ]
    assert recalculated.cells[recalculated.sheet.total]["number"] == pytest.approx(sum(losses), rel=1e-12)


def test_a_sum_over_bare_texts_is_nothing(recalculated: Recalculated) -> None:
    """Why the guide says to read each answer with NUMBERVALUE."""
    assert recalculated.cells[recalculated.sheet.text]["text"].startswith("0.8")
    assert recalculated.cells[recalculated.sheet.sum_of_text]["number"] == 0


def test_a_refusal_is_read_in_its_cell(recalculated: Recalculated, client: httpx.Client) -> None:
    for cell, (where, parameter) in recalculated.sheet.in_cell.items():
        first = client.get(where).json()["errors"][0]
        held = recalculated.cells[cell]
        assert held["error"] == 0, where
        assert len(held["text"]) < 120
        assert held["text"].startswith(f"#ERR {first['parameter']}: {first['detail'][:40]}"), where
        assert parameter in first["parameter"]


def test_without_asking_for_it_a_refusal_is_the_program_s_own_error(recalculated: Recalculated) -> None:
    assert all(recalculated.cells[cell]["error"] for cell in recalculated.sheet.bare_errors)


def test_a_comma_that_could_be_either_is_refused_and_a_point_put_in_its_place_is_safe(
    recalculated: Recalculated,
) -> None:
    sheet, locale, cells = recalculated
    # By hand: 1.234 m² · 1 W/(m²·K) · 1 K.
    assert cells[sheet.safe]["number"] == pytest.approx(1.234, rel=1e-12)
    assert bool(cells[sheet.ambiguous]["error"]) == (locale == "de-DE")


def test_the_guide_s_formulas_show_what_it_says(recalculated: Recalculated) -> None:
    sheet, _, cells = recalculated
    assert len(sheet.guide) >= 7
    for cell, shown in sheet.guide.items():
        held = cells[cell]
        assert held["error"] == 0, (cell, shown)
        if shown.startswith("#ERR"):
            assert held["text"] == shown
        else:
            digits = len(shown.partition(".")[2])
            assert held["number"] == pytest.approx(float(shown), abs=0.5000001 * 10**-digits), shown
