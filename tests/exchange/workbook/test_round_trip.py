"""JSON → workbook → JSON without loss, whatever the survey's model can say; and the same document gives the same bytes."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from warmstead.demo import survey
from warmstead.exchange import workbook
from warmstead.exchange.workbook.survey import SurveyDocument
from warmstead.exchange.workbook.texts import cell_text, text_of

Json = dict[str, Any]
Draw = Callable[[st.SearchStrategy[Any]], Any]

SCHEMA = SurveyDocument.model_json_schema()
IDS = st.text("abcXYZ019_.-", max_size=4).map(lambda rest: f"k{rest}")
TEXTS = st.text(max_size=12) | st.sampled_from(
    ["", '"', "=1+1", "'x", " x ", "_x000D_", "a\r\nb", "7", "true", "@a"]
)
FEW = settings(
    max_examples=20,
    deadline=None,
    phases=(Phase.explicit, Phase.generate),  # a house of any shape would be made smaller for minutes
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


class _Node(dict[str, Any]):
    """A part of the schema that a report of a failure does not write out."""

    def __repr__(self) -> str:
        return "…"


def values(node: Json) -> st.SearchStrategy[Any]:
    """Return what a schema allows; lists and objects of few members."""
    return _values(_Node(node))


@st.composite
def _values(draw: Draw, node: Json) -> Any:
    while "$ref" in node:
        node = SCHEMA["$defs"][node["$ref"].rpartition("/")[2]]
    if "oneOf" in node:
        return draw(values(draw(st.sampled_from(node["oneOf"]))))
    if "const" in node or "enum" in node:
        return draw(st.sampled_from(node.get("enum", [node.get("const")])))
    kind = node["type"]
    if kind == "number":
        return draw(st.floats(node["minimum"], node["maximum"]) | st.just(node["minimum"]))
    if kind == "integer":
        return draw(st.integers(node["minimum"], node["maximum"]))
    if kind == "string":
        return draw(
            IDS if "pattern" in node else TEXTS.filter(lambda text: len(text) >= node.get("minLength", 0))
        )
    if kind == "array":
        least = node.get("minItems", 0)
        return draw(st.lists(values(node["items"]), min_size=least, max_size=least + 2))
    if "patternProperties" in node:
        (inner,) = node["patternProperties"].values()
        return draw(st.dictionaries(IDS, values(inner), max_size=4))
    assert kind == "object"
    return {
        name: draw(values(member))
        for name, member in node["properties"].items()
        if name in node.get("required", ()) or draw(st.booleans())
    }


def with_ids_of_its_own(document: Json) -> Json:
    """Make the ids by which rows refer to each other unique; all others may refer to nothing."""

    def number(items: list[Json], of: str) -> None:
        for index, item in enumerate(items):
            item["id"] = f"{item['id'][:20]}-{of}{index}"

    house = document["house"]
    number(house["rooms"], "r")
    number(house.get("unheated_spaces", []), "s")
    for owner in (*house["rooms"], *house.get("unheated_spaces", [])):
        number(owner["elements"], "e")
        number(owner.get("emitters", []), "h")
    number(document.get("candidates", []), "c")
    return document


DOCUMENTS = values(SCHEMA).map(with_ids_of_its_own)


@pytest.mark.parametrize("form", ["xlsx", "ods"])
@FEW
@given(document=DOCUMENTS)
def test_any_survey_document_comes_back_as_it_was(form: Any, document: Json) -> None:
    sent = copy.deepcopy(document)
    reading = workbook.read(workbook.written(document, form))
    assert reading.document == sent
    assert reading.warnings == []


@pytest.mark.parametrize("form", ["xlsx", "ods"])
def test_the_demonstration_house_comes_back_with_its_results(form: Any) -> None:
    reading = workbook.read(workbook.written(survey(), form))
    assert reading.document == survey()
    answered = workbook.answered(reading, form)
    again = workbook.read(answered)
    assert again.document == survey()
    assert again.format == form
    assert workbook.answered(again, form) == answered


@pytest.mark.parametrize("form", ["xlsx", "ods"])
def test_one_document_gives_one_file(form: Any) -> None:
    assert workbook.written(survey(), form) == workbook.written(survey(), form)


def test_numbers_keep_all_their_digits() -> None:
    document = survey()
    # 17 digits are needed for these two (IEEE 754, binary64).
    document["house"]["rooms"][0]["floor_area_m2"] = 0.1 + 0.2
    document["house"]["rooms"][1]["floor_area_m2"] = 1 / 3
    for form in ("xlsx", "ods"):
        rooms = workbook.read(workbook.written(document, form)).document["house"]["rooms"]
        assert [rooms[0]["floor_area_m2"], rooms[1]["floor_area_m2"]] == [0.1 + 0.2, 1 / 3]


def test_a_document_whose_rows_could_not_be_told_apart_is_refused() -> None:
    from warmstead.building.findings import Refused

    document = survey()
    document["house"]["rooms"][1]["id"] = document["house"]["rooms"][0]["id"]
    model = SurveyDocument.model_validate(document)
    with pytest.raises(Refused, match="stands twice"):
        workbook.from_document(model, document)


@given(st.text())
def test_any_text_survives_a_cell(text: str) -> None:
    written = cell_text(text)
    assert text_of(written) == text
    assert not any(ord(sign) < 32 or 0xD800 <= ord(sign) <= 0xDFFF for sign in written)
    assert written == written.strip()
    assert not written.startswith(("=", "'", "@"))
