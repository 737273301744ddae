"""The user's guide: its examples are asked, what it lists is complete, and its pages can be read.

The numbers of the answer blocks were worked out by hand from the equations on the same page, outside of this service (the lines
"By hand" beside each of them). They are compared with half a unit of the last digit shown.
"""

from __future__ import annotations

import asyncio
import json
import re
import subprocess
import sys
from collections.abc import Iterator, Mapping
from decimal import Decimal
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal, NamedTuple, get_args, get_origin, get_type_hints
from urllib.parse import quote
from xml.etree import ElementTree

import httpx
import pytest
from fastapi import FastAPI
from pydantic import BaseModel
from typing_extensions import is_typeddict

from warmstead.api import guide, problems
from warmstead.api.batch import add_batches
from warmstead.api.cells import add_cells
from warmstead.api.codes import add_codes
from warmstead.api.element_table import add_element_table
from warmstead.api.health import add_health
from warmstead.api.questions import add_questions
from warmstead.api.tables import add_tables
from warmstead.api.workbook import add_workbook
from warmstead.building import air_layers, envelope, layered_cautions, rooms
from warmstead.building import constructions as building_constructions
from warmstead.building import emitters as building_emitters
from warmstead.building import heat_pumps as building_heat_pumps
from warmstead.building.codes import PROBLEMS, WARNINGS
from warmstead.building.statements import Step
from warmstead.exchange.cells import query
from warmstead.exchange.cells.questions import CELL_QUESTIONS
from warmstead.questions import heat_pump_sizing, required_thickness, u_value
from warmstead.questions.registry import QUESTIONS
from warmstead.standards import iso_6946, water
from warmstead.survey import constructions, emitters, heat_pumps, house, meter_readings, uncertainty
from warmstead.tables import table

Json = Any

ALL_PAGES = (guide.FIRST_PAGE, *guide.PAGES)
TEXTS = {page: guide.markdown(page) for page in ALL_PAGES}
FENCE = re.compile(r"^```([^\n]*)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
CODE = re.compile(r"`([^`]+)`")
GUIDE_FOLDER = Path(guide.__file__).parents[1] / "guide"


def _service() -> FastAPI:
    app = FastAPI(openapi_url=None)
    add_questions(app)
    add_batches(app)
    add_tables(app)
    add_cells(app)
    add_workbook(app)
    add_element_table(app)
    add_codes(app)
    add_health(app)
    guide.add_guide(app)
    problems.install(app, ())
    return app


SERVICE = _service()


def send(method: str, path: str, **more: Any) -> httpx.Response:
    async def exchange() -> httpx.Response:
        transport = httpx.ASGITransport(app=SERVICE)
        async with httpx.AsyncClient(transport=transport, base_url="http://guide.test") as client:
            return await client.request(method, path, **more)

    return asyncio.run(exchange())


# --- The examples ---------------------------------------------------------------------------------


class Example(NamedTuple):
    page: str
    question: str
    query: str
    request: str
    refused: bool
    answer: str


def examples(page: str) -> Iterator[Example]:
    """Yield each request of a page with the answer after it."""
    asked: tuple[str, str, str] | None = None
    for info, block in FENCE.findall(TEXTS[page]):
        words = info.split()
        if words[:2] in (["json", "request"], ["ndjson", "request"]):
            assert asked is None, f"{page}: a request without an answer before {block[:80]}"
            asked = (words[2], "?workings=true" if "workings" in words else "", block)
        elif words[:2] in (["json", "answer"], ["ndjson", "answer"]):
            assert asked is not None, f"{page}: an answer without a request: {block[:80]}"
            question, query, request = asked
            yield Example(page, question, query, request, "refused" in words, block)
            asked = None
        elif words == ["cell"]:
            continue  # run by test_a_formula_gives_what_is_shown
        elif page in ("callers", "batch", "access"):
            # Run by tests/clients/test_caller_examples.py, test_batch_page.py and test_access_page.py, which know their languages.
            continue
        else:
            pytest.fail(f"{page}: a fenced block that nobody runs: {info!r}")
    assert asked is None, f"{page}: the last request has no answer"


EXAMPLES = [example for page in ALL_PAGES for example in examples(page)]


def differences(shown: Json, given: Json, at: str = "") -> Iterator[str]:
    """Yield where an answer differs from what is shown of it: members may be left out, items of a list may not."""
    if isinstance(shown, dict):
        if not isinstance(given, Mapping):
            yield f"{at}: {given!r} is no object"
            return
        for name, value in shown.items():
            if name in given:
                yield from differences(value, given[name], f"{at}/{name}")
            else:
                yield f"{at}/{name}: absent"
    elif isinstance(shown, list):
        if not isinstance(given, list) or len(given) != len(shown):
            yield f"{at}: not {len(shown)} items but {given!r}"
            return
        for index, (value, item) in enumerate(zip(shown, given, strict=True)):
            yield from differences(value, item, f"{at}/{index}")
    elif isinstance(shown, Decimal):
        if not isinstance(given, int | float) or isinstance(given, bool):
            yield f"{at}: {given!r} is no number"
            return
        exponent = shown.as_tuple().exponent
        assert isinstance(exponent, int)
        # A value that lies on the half itself may be rounded either way.
        if abs(Decimal(repr(given)) - shown) > Decimal("0.5000001") * Decimal(10) ** exponent:
            yield f"{at}: shown {shown}, given {given!r}"
    elif shown != given:
        yield f"{at}: shown {shown!r}, given {given!r}"


@pytest.mark.parametrize(
    "example", EXAMPLES, ids=[f"{number}-{example.page}" for number, example in enumerate(EXAMPLES)]
)
def test_an_example_gives_the_answer_shown(example: Example) -> None:
    response = send("POST", f"/v1/{example.question}{example.query}", content=example.request)
    assert response.status_code == (422 if example.refused else 200), response.text
    if example.question.endswith("/batch"):
        pairs = zip(example.answer.splitlines(), response.text.splitlines(), strict=True)
    else:
        pairs = zip([example.answer], [response.text], strict=True)
    for answer, given in pairs:
        shown = json.loads(answer, parse_float=Decimal, parse_int=Decimal)
        assert list(differences(shown, json.loads(given))) == []


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_question_s_page_asks_it(name: str) -> None:
    mine = [example for example in EXAMPLES if example.page == name]
    assert mine
    assert {example.question for example in mine} == {name}
    assert all('"warnings"' in example.answer for example in mine)


@pytest.mark.parametrize("page", ALL_PAGES)
def test_examples_fit_the_width_of_a_page(page: str) -> None:
    assert not [
        line for _, block in FENCE.findall(TEXTS[page]) for line in block.splitlines() if len(line) > 98
    ]


def test_comparing_sees_every_kind_of_difference() -> None:
    given = {"a": 1.236, "b": [{"c": "x"}], "d": True}
    for shown in (
        '{"a": 1.23}',
        '{"a": "1.236"}',
        '{"b": []}',
        '{"b": [{"c": "y"}]}',
        '{"e": 1}',
        '{"d": 1}',
    ):
        assert list(differences(json.loads(shown, parse_float=Decimal, parse_int=Decimal), given)), shown
    for shown in ('{"a": 1.24}', '{"a": 1}', '{"b": [{}]}', '{"b": [{"c": "x"}], "d": true}'):
        assert not list(differences(json.loads(shown, parse_float=Decimal, parse_int=Decimal), given)), shown


# --- Formulas of cells ----------------------------------------------------------------------------

FORMULAS = [block for page in ALL_PAGES for info, block in FENCE.findall(TEXTS[page]) if info == "cell"]
WEB_SERVICE = re.compile(r'WEBSERVICE\("https://heat\.example(?P<address>.*?)"\)')


def address_in(formula: str, values: dict[str, str]) -> str:
    """Return the address that a formula asks, its cells replaced by their values."""
    found = WEB_SERVICE.search("".join(line.strip() for line in formula.splitlines()))
    assert found is not None, formula
    encoded = re.sub(r'"&ENCODEURL\((\w+)\)&"', lambda cell: quote(values[cell[1]]), found["address"])
    return re.sub(r'"&(\w+)&"', lambda cell: values[cell[1]], encoded)


def shown_by(formula: str, response: httpx.Response) -> str:
    """Return what a formula makes of an answer: the value of an element, or the text as it stands."""
    assert response.status_code == 200, response.text
    path = re.search(r'"number\(//(\w+)\)"', formula)
    if path is None:
        return response.text
    text = ElementTree.fromstring(response.content).findtext(path.group(1))
    assert text is not None
    return text


@pytest.mark.parametrize("block", FORMULAS)
def test_a_formula_gives_what_is_shown(block: str) -> None:
    formula, _, shown = block.rstrip("\n").partition("\n→ ")
    stated, _, formula = formula.rpartition("\n=") if "\n=" in formula else ("", "", formula)
    values = dict(re.findall(r"([A-Z]+[0-9]+): (\S.*?)(?=   |$)", stated))
    got = shown_by(formula, send("GET", address_in(formula, values)))
    if shown.startswith("#ERR"):
        assert got == shown
    else:
        assert "NUMBERVALUE(" in formula or "number(" in formula
        assert list(differences(Decimal(shown), float(got))) == []


def test_the_page_for_cells_has_its_formulas() -> None:
    assert len(FORMULAS) >= 7
    assert all(any(f"/v1/{name}" in block for block in FORMULAS) for name in CELL_QUESTIONS)


# --- What the pages list --------------------------------------------------------------------------


def words(page: str) -> set[str]:
    """Return every name that stands as code in a page's text, its examples left out."""
    text = FENCE.sub("", TEXTS[page])
    return {name for span in CODE.findall(text) for name in re.findall(r"[A-Za-z0-9_.*-]+", span)}


WORDS = {page: words(page) for page in ALL_PAGES}


def test_every_question_has_its_page() -> None:
    assert {path.stem for path in GUIDE_FOLDER.iterdir()} == {
        guide.FIRST_PAGE,
        "house",
        *QUESTIONS,
        "batch",
        "workbook",
        "spreadsheets",
        "callers",
        "running",
        "access",
        "observing",
    }
    for name, question in QUESTIONS.items():
        assert TEXTS[name].startswith(f"# {question.title}\n")
        assert f"POST /v1/{name}" in TEXTS[guide.FIRST_PAGE]


@pytest.mark.parametrize("code", WARNINGS)
def test_every_warning_is_explained(code: str) -> None:
    assert any(code in found for found in WORDS.values())


def test_every_error_is_explained() -> None:
    assert set(PROBLEMS) - WORDS[guide.FIRST_PAGE] == set()


def test_no_code_is_explained_that_is_none() -> None:
    families = "|".join(sorted({code.partition(".")[0] for code in WARNINGS}))
    for page, found in WORDS.items():
        claimed = {name for name in found if re.fullmatch(rf"({families})\.[a-z0-9_]+", name)}
        assert claimed <= set(WARNINGS), page


def models(module: Any) -> list[type[BaseModel]]:
    return [
        value
        for value in vars(module).values()
        if isinstance(value, type) and issubclass(value, BaseModel) and value.__module__ == module.__name__
    ]


@pytest.mark.parametrize(
    ("module", "page"),
    [
        (house, "house"),
        (constructions, "u-value"),
        (emitters, "emitter-check"),
        (heat_pumps, "heat-pump-sizing"),
        (meter_readings, "measured-heat-loss"),
        (uncertainty, "uncertainty"),
    ],
)
def test_every_member_and_choice_that_can_be_sent_is_on_its_page(module: Any, page: str) -> None:
    assert models(module)
    for model in models(module):
        for name, field in model.model_fields.items():
            assert name in WORDS[page], f"{model.__name__}.{name}"
            for choice in choices(field.annotation):
                assert choice in WORDS[page], f"{model.__name__}.{name}: {choice}"


def choices(annotation: Any) -> set[str]:
    """Return the texts that a field may hold, where it is a list of choices."""
    if get_origin(annotation) is Literal:
        return {value for value in get_args(annotation) if isinstance(value, str)}
    return set().union(*map(choices, get_args(annotation)))


@pytest.mark.parametrize("name", QUESTIONS)
def test_every_member_of_a_request_and_of_its_answer_is_explained(name: str) -> None:
    question = QUESTIONS[name]
    assert set(question.request.model_fields) - WORDS[name] == set()
    assert set(get_type_hints(question.result)) - WORDS[name] == set()
    # Rooms with their rows are explained once, and so is what every answer has in common.
    explained = WORDS[name] | WORDS["room-loss"] | SHOWN_ONCE
    assert members(question.result) - explained == set()


SHOWN_ONCE = WORDS["index"] | set(get_type_hints(Step))


def test_every_member_of_a_step_is_shown() -> None:
    single = [example for example in EXAMPLES if not example.question.endswith("/batch")]
    steps = [step for e in single for step in json.loads(e.answer).get("workings", ())]
    assert any(set(step) == set(get_type_hints(Step)) for step in steps)


def members(shape: Any) -> set[str]:
    """Return the name of every member of an answer, those of its parts included."""
    if is_typeddict(shape):
        hints = get_type_hints(shape)
        return set(hints).union(*map(members, hints.values()))
    return set().union(*map(members, get_args(shape)))


def cells(page: str, heading: str) -> dict[str, list[str]]:
    """Return the rows of the table under a heading, by the code in their first cell."""
    section = TEXTS[page].split(f"\n## {heading}\n")[1].split("\n## ")[0]
    rows = [line.strip("| ").split(" | ") for line in section.splitlines() if line.startswith("| `")]
    return {row[0].strip("`"): row[1:] for row in rows}


def test_defaults_by_use_are_those_of_the_table() -> None:
    shown = cells("house", "Defaults by use")
    for row in table("room-defaults").rows:
        first = 0 if row["national_annex"] == "GB" else 2
        temperature, air_changes = shown[str(row["use"])][first : first + 2]
        assert (float(temperature), float(air_changes)) == (row["design_temperature_c"], row["air_changes"])
    assert set(shown) == {row["use"] for row in table("room-defaults").rows}


def test_defaults_by_annex_are_those_of_the_table() -> None:
    shown = cells("house", "Defaults by national annex")
    for row in table("national-annexes").rows:
        column = 0 if row["national_annex"] == "GB" else 1
        assert float(shown[str(row["parameter"])][column]) == row["value"], row["parameter"]
    assert set(shown) == {row["parameter"] for row in table("national-annexes").rows}


def rows_after(page: str, header: str) -> list[list[str]]:
    """Return the rows of the table with that header line."""
    lines = TEXTS[page].partition(f"{header}\n")[2].splitlines()[1:]
    rows = []
    for line in lines:
        if not line.startswith("|"):
            break
        rows.append(line.strip("| ").split(" | "))
    assert rows, header
    return rows


def test_surface_resistances_are_those_of_the_table() -> None:
    shown = {row[0]: (float(row[1]), float(row[2])) for row in rows_after("u-value", SURFACES)}
    held = {
        r["heat_flow"]: (r["internal_m2k_w"], r["external_m2k_w"]) for r in table("surface-resistances").rows
    }
    assert shown == held


SURFACES = "| heat flow | R_si | R_se, `outside` | R_se, `sheltered` or `internal` |"


def test_shielding_coefficients_are_those_of_the_table() -> None:
    shown = {
        (shelter, row[0]): float(value)
        for row in rows_after("room-loss", "| exposed openings | no shelter | moderate | heavy |")
        for shelter, value in zip(("none", "moderate", "heavy"), row[1:], strict=True)
    }
    for row in table("shielding").rows:
        assert shown[str(row["shielding"]), str(row["exposed_openings"])] == row["coefficient"]


def test_height_factors_are_those_of_the_table() -> None:
    ends = [(row["factor"], row["to_height_m"]) for row in table("height-factors").rows]
    (first, to_first), (second, to_second), (third, to_third) = ends
    sentence = f"ε is {first} up to {to_first:g} m above ground, {second} up to {to_second:g} m, {third} up to {to_third:g} m."
    assert sentence in TEXTS["room-loss"]


BOUNDS = [
    ("u-value", f"more than {iso_6946.MAXIMUM_SECTIONS} sections"),
    ("u-value", f"(a bridge of {layered_cautions.METAL_CONDUCTIVITY_W_MK:g} W/(m·K) or more)"),
    ("u-value", f"where the upper is more than {layered_cautions.LARGEST_LIMIT_RATIO:g} times the lower"),
    ("u-value", f"limits more than a factor of {layered_cautions.LARGEST_LIMIT_RATIO:g} apart"),
    (
        "u-value",
        f"up to {layered_cautions.INSULATION_CONDUCTIVITY_W_MK:g} W/(m·K) and from "
        f"{layered_cautions.INSULATION_RESISTANCE_M2K_W:g} m²·K/W, as masonry from "
        f"{layered_cautions.MASONRY_CONDUCTIVITY_W_MK:g} W/(m·K) and {layered_cautions.MASONRY_THICKNESS_MM:g} mm",
    ),
    (
        "u-value",
        "under {:g} or over {:g} W/(m²·K)".format(*building_constructions.USUAL_U_VALUES_W_M2K),
    ),
    ("u-value", f"a slightly ventilated layer takes {air_layers.MIDDLE_OPENINGS_MM2:g} ("),
    ("u-value", "{:g} and {:g} °C (`default.interface".format(*u_value.DEFAULT_TEMPERATURES_C)),
    ("required-thickness", f"to {required_thickness.GREATEST_THICKNESS_MM:g} mm in"),
    ("house", "outside {:g} to {:g} °C: `unusual.room".format(*rooms.USUAL_TEMPERATURES_C)),
    ("house", f"more than {100 * rooms.VOLUME_TOLERANCE:g} % is told"),
    ("house", f"(within {100 * envelope.SAME_AREA:g} %)"),
    ("emitter-check", f"a flow of {building_emitters.HOT_SURFACE_C:g} °C or more"),
    ("emitter-check", f"up to a flow of {building_emitters.HIGHEST_FLOW_C:g} °C"),
    (
        "emitter-check",
        f"a screed under {building_emitters.LOWEST_SCREED_CONDUCTIVITY_W_MK:g} W/(m·K)",
    ),
    ("emitter-check", f"| `default.exponent` | {building_emitters.DEFAULT_EXPONENT:g} ("),
    ("emitter-check", f"{water.DENSITY_KG_M3:g} kg/m³, {water.SPECIFIC_HEAT_J_KGK:g} J/(kg·K)"),
    ("radiator-output", f"From a flow of {building_emitters.HOT_SURFACE_C:g} °C"),
    ("radiator-output", f"| `default.exponent` | {building_emitters.DEFAULT_EXPONENT:g} |"),
    ("spreadsheets", f"takes a query of {query.LONGEST_QUERY:,} bytes"),
    ("heat-pump-sizing", f"water under {heat_pump_sizing.PASTEURISING_C:g} °C"),
    ("heat-pump-sizing", "no row from {:g} to {:g} °C".format(*building_heat_pumps.DEFROST_RANGE_C)),
]


@pytest.mark.parametrize(("page", "sentence"), BOUNDS)
def test_a_bound_in_a_sentence_is_that_of_the_code(page: str, sentence: str) -> None:
    assert sentence in " ".join(TEXTS[page].split())


# --- The pages as HTML ----------------------------------------------------------------------------


class Reader(HTMLParser):
    """Collects what matters of a page: anchors, links, elements, and text; and sees that every element is closed."""

    VOID = frozenset({"meta", "br", "hr", "link", "img"})

    def __init__(self) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.tags: list[str] = []
        self.attributes: set[str] = set()
        self.text = ""
        self.headings: list[str] = []
        self._open: list[str] = []

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        given = dict(attributes)
        self.tags.append(tag)
        self.attributes.update(given)
        if given.get("id"):
            self.ids.append(str(given["id"]))
        if tag == "a":
            self.links.append(str(given["href"]))
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(tag)
        if tag not in self.VOID:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self._open and self._open[-1] != "style":
            self.text += data

    def close(self) -> None:
        super().close()
        assert self._open == []


def address_of(page: str) -> str:
    return "/guide" if page == guide.FIRST_PAGE else f"/guide/{page}"


def reader(page: str) -> Reader:
    response = send("GET", address_of(page))
    assert response.status_code == 200
    assert response.headers["content-type"] == "text/html; charset=utf-8"
    read = Reader()
    read.feed(response.text)
    read.close()
    return read


READ = {page: reader(page) for page in ALL_PAGES}


@pytest.mark.parametrize("page", ALL_PAGES)
def test_a_page_is_whole(page: str) -> None:
    read = READ[page]
    assert read.headings.count("h1") == 1
    assert read.headings[0] == "h1"
    # No level is left out, so that the page can be walked by its headings.
    levels = [int(heading[1]) for heading in read.headings]
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert len(read.ids) == len(set(read.ids))
    assert not set(read.tags) & {"script", "img", "iframe", "link", "form", "object"}
    assert not {name for name in read.attributes if name.startswith("on") or name in ("style", "src")}
    # Markdown that was not understood stays in the text.
    assert not re.search(r"\*\*|\]\(|^#+ |\| --", read.text, re.MULTILINE)
    assert TEXTS[page].count("\n| ---") == read.tags.count("table")


@pytest.mark.parametrize("page", ALL_PAGES)
def test_every_link_leads_somewhere(page: str) -> None:
    here = httpx.URL(f"http://guide.test{address_of(page)}")
    known = {address_of(other): other for other in ALL_PAGES}
    assert READ[page].links
    for link in READ[page].links:
        target = here.join(link)
        assert target.host == "guide.test", link
        if target.path in known:
            assert not target.fragment or target.fragment in READ[known[target.path]].ids, link
        else:
            assert send("GET", target.path).status_code == 200, link


@pytest.mark.parametrize("page", ALL_PAGES)
def test_every_link_of_the_markdown_leads_somewhere_too(page: str) -> None:
    for link in re.findall(r"\]\(([^)]+)\)", TEXTS[page]):
        file, _, place = link.partition("#")
        other = file.removesuffix(".md") or page
        assert (GUIDE_FOLDER / f"{other}.md").is_file(), link
        headings = re.findall(r"^#+ (.+)$", TEXTS[other], re.MULTILINE)
        assert not place or place in map(guide.anchor, headings), link


def test_links_hold_under_a_prefix() -> None:
    assert not [link for read in READ.values() for link in read.links if link.startswith("/")]
    assert guide.address("house.md#rooms", "index") == "guide/house#rooms"
    assert guide.address("house.md#rooms", "u-value") == "house#rooms"
    assert guide.address("index.md", "u-value") == "../guide"
    assert guide.address("#rooms", "house") == "#rooms"


def test_raw_html_does_not_pass_through(monkeypatch: pytest.MonkeyPatch) -> None:
    text = "# A <b>title</b>\n\n<script>alert(1)</script>\n\n`<i>`\n\n| a |\n| --- |\n| <u>b</u> |\n"
    monkeypatch.setattr(guide, "markdown", lambda page: text)
    guide._title.cache_clear()
    try:
        page = guide.html.__wrapped__("u-value").decode()
    finally:
        guide._title.cache_clear()
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<code>&lt;i&gt;</code>" in page
    assert not re.search(r"<(script|b|i|u)>", page)


def test_an_unknown_page_lists_those_there_are() -> None:
    for path in ("/guide/nothing", "/guide/index", "/guide/index.md", "/guide/..%2Fversion.py", "/guide/%00"):
        response = send("GET", path)
        assert response.status_code == 404, path
        assert response.headers["content-type"] == "application/problem+json"
    detail = send("GET", "/guide/nothing").json()["detail"]
    assert all(page in detail for page in guide.PAGES)


@pytest.mark.parametrize("path", ["/guide", "/guide/u-value"])
def test_a_page_is_sent_once(path: str) -> None:
    first = send("GET", path)
    tag = first.headers["etag"]
    for asked in (tag, f"W/{tag}", f'"other", {tag}', "*"):
        again = send("GET", path, headers={"if-none-match": asked})
        assert (again.status_code, again.content) == (304, b"")
        assert again.headers["etag"] == tag
    assert send("GET", path, headers={"if-none-match": '"other"'}).status_code == 200
    assert send("GET", "/guide").headers["etag"] != send("GET", "/guide/u-value").headers["etag"]


def test_the_policy_lets_nothing_in_but_the_stylesheet() -> None:
    from base64 import b64encode
    from hashlib import sha256

    response = send("GET", "/guide/house")
    style = re.search(r"<style>(.*?)</style>", response.text, re.DOTALL)
    assert style is not None
    digest = b64encode(sha256(style.group(1).encode()).digest()).decode()
    policy = dict(
        part.strip().partition(" ")[::2] for part in response.headers["content-security-policy"].split(";")
    )
    assert policy["default-src"] == "'none'"
    assert policy["style-src"] == f"'sha256-{digest}'"
    assert {"base-uri", "form-action", "frame-ancestors"} <= set(policy)
    assert "unsafe" not in response.headers["content-security-policy"]
    assert "url(" not in style.group(1)
    assert response.headers["x-content-type-options"] == "nosniff"


def test_the_guide_is_not_part_of_the_contract() -> None:
    hidden = [route for route in SERVICE.router.routes if getattr(route, "path", "").startswith("/guide")]
    assert len(hidden) == 2
    assert not any(getattr(route, "include_in_schema", True) for route in hidden)


def test_the_service_starts_without_the_markdown_reader() -> None:
    code = (
        "import sys; from fastapi import FastAPI; from warmstead.api.guide import add_guide; add_guide(FastAPI()); "
        "sys.exit('markdown_it' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], timeout=60, check=False).returncode == 0
