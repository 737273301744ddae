"""The choice of cases by question and flag."""

from __future__ import annotations

import json
from typing import Any

import pytest

from warmstead.corpus import CorpusError, select
from warmstead.corpus.case import Case


@pytest.fixture
def cases(case_data: dict[str, Any]) -> list[Case]:
    """Give three cases: two about U-values, one about a room."""

    def case(name: str, question: str, *flags: str) -> Case:
        request = {**case_data["request"], "path": f"/v1/{question}"}
        data = {**case_data, "id": name, "question": question, "flags": flags, "request": request}
        return Case.model_validate_json(json.dumps(data))

    return [
        case("a", "u-value", "layered", "air_layer"),
        case("b", "u-value", "bridged_layer"),
        case("c", "room-loss", "air_layer"),
    ]


@pytest.mark.parametrize(
    ("questions", "flags", "chosen"),
    [
        ([], [], "abc"),
        (["u-value"], [], "ab"),
        ([], ["air_layer"], "ac"),
        ([], ["layered", "bridged_layer"], "ab"),
        (["room-loss", "u-value"], ["air_layer"], "ac"),
        (["room-loss"], ["air_layer"], "c"),
    ],
)
def test_cases_are_chosen(cases: list[Case], questions: list[str], flags: list[str], chosen: str) -> None:
    assert "".join(case.id for case in select(cases, questions=questions, flags=flags)) == chosen


@pytest.mark.parametrize(
    ("questions", "flags", "told"),
    [
        ([], ["air_layr"], "no case has the flag 'air_layr'; nearest: 'air_layer'"),
        ([], [""], "no case has the flag ''"),
        (["u-valu"], [], "no case has the question 'u-valu'; nearest: 'u-value'"),
        (["room-loss"], ["layered"], "nothing to check"),
    ],
)
def test_a_choice_that_cannot_be_is_refused(
    cases: list[Case], questions: list[str], flags: list[str], told: str
) -> None:
    with pytest.raises(CorpusError, match=told):
        select(cases, questions=questions, flags=flags)
