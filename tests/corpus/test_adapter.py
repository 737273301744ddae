"""The reference cases against a second service that names things differently and is wrong on purpose."""

from __future__ import annotations

import json
import runpy
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from warmstead.corpus import Report, default_folder, load, load_mapping, run
from warmstead.corpus.case import Case
from warmstead.corpus.mapping import Mapping
from warmstead.corpus.reach import reach_in_process, reach_program

FOLDER = Path(__file__).parent / "adapter"
CASES = load(default_folder())
BY_ID = {case.id: case for case in CASES}
MAPPING = load_mapping(FOLDER / "mapping.json", CASES)

ABLE = [
    "one-layer-downwards",
    "one-layer-horizontal",
    "one-layer-upwards",
    "insulated-brick-wall-by-resistances",
    "roof-insulation-131-mm-at-020",
    "rendered-brick-wall-rounded",
    "radiator-factor-at-5-k",
    "radiator-factor-at-30-k",
    "radiator-factor-at-75-k",
    "handbook-factor-at-45-k",
]
"""What it can do: plain layers in each direction, radiators by the arithmetic mean."""

FAULTS = {
    # It does not see the studs: the U-value without them, and no limits at all.
    "one-stud-through-two-layers": "/u_value_w_m2k",
    # It takes the arithmetic mean where the logarithmic one holds.
    "logarithmic-mean-for-a-wide-spread": "/rooms/0/emitters/0/output_w",
    # It answers where it should refuse.
    "return-above-flow": "status",
}


def _check(cases: list[Case], mapping: Mapping = MAPPING) -> Report:
    app = runpy.run_path(str(FOLDER / "service.py"))["app"]
    with reach_in_process(app, timeout=5) as client:
        return run(cases, client, mapping=mapping)


def _changed(change: Callable[[dict[str, Any]], object]) -> Mapping:
    data = json.loads((FOLDER / "mapping.json").read_text(encoding="utf-8"))
    change(data)
    return Mapping.model_validate_json(json.dumps(data))


def test_it_passes_what_it_can_do() -> None:
    report = _check([BY_ID[name] for name in ABLE])
    assert {result.case.id: [str(check) for check in result.failures] for result in report.results} == {
        name: [] for name in ABLE
    }
    assert report.exit_status == 0


@pytest.mark.parametrize(("name", "place"), FAULTS.items())
def test_it_is_told_off_where_it_is_wrong(name: str, place: str) -> None:
    report = _check([BY_ID[name]])
    assert report.exit_status == 1
    assert place in [check.place for check in report.results[0].failures]


def test_a_question_without_a_path_is_not_asked_and_not_passed() -> None:
    report = _check([case for case in CASES if case.question == "room-loss"])
    assert {result.outcome for result in report.results} == {"not_asked"}
    assert report.exit_status == 2


def test_a_raw_body_is_not_asked() -> None:
    (result,) = _check([BY_ID["nan-is-not-a-number"]]).results
    assert (result.outcome, result.reason) == ("not_asked", "the characters of a raw body cannot be mapped")


@pytest.mark.parametrize(
    ("what", "change"),
    [
        ("a factor forgotten", lambda data: data["questions"]["u-value"]["request"][4].pop("factor")),
        ("a member misnamed", lambda data: data["questions"]["u-value"]["answer"][1].update(theirs="uvalue")),
        ("a text not mapped", lambda data: data["questions"]["u-value"]["request"][1].pop("values")),
        ("another path", lambda data: data["questions"]["u-value"].update(path="/radiators")),
    ],
)
def test_a_mistake_in_the_mapping_never_passes(what: str, change: Callable[[dict[str, Any]], object]) -> None:
    report = _check([BY_ID["one-layer-upwards"]], _changed(change))
    assert report.exit_status == 1, what


def test_two_members_led_to_one_place_are_no_answer() -> None:
    mapping = _changed(lambda data: data["questions"]["u-value"]["request"][5].update(theirs="metres"))
    (result,) = _check([BY_ID["one-layer-upwards"]], mapping).results
    assert result.outcome == "no_answer"
    assert "leads two values to /layers/0/metres" in result.failures[0].got


def test_what_the_mapping_leaves_out_is_shown_and_is_no_failure() -> None:
    left_out = [{"flags": ["bridged_layer"], "reason": "it does not see studs"}]
    mapping = _changed(lambda data: data.update(left_out=left_out))
    report = _check([BY_ID["one-layer-upwards"], BY_ID["one-stud-through-two-layers"]], mapping)
    assert [(result.outcome, result.reason) for result in report.results] == [
        ("passed", None),
        ("left_out", "it does not see studs"),
    ]
    assert report.exit_status == 0
    assert report.summary == "1 of 2 cases passed, 1 left out by the mapping"


def test_an_id_left_out_that_passes_is_a_failure() -> None:
    left_out = [{"ids": ["one-layer-upwards"], "reason": "believed to be wrong"}]
    report = _check([BY_ID["one-layer-upwards"]], _changed(lambda data: data.update(left_out=left_out)))
    assert report.exit_status == 1
    assert "take the id off the list" in str(report.results[0].failures[0])


def test_members_that_only_they_have_are_added() -> None:
    # A surface resistance that the request does not have: the U-value must come out lower.
    mapping = _changed(lambda data: data["questions"]["u-value"].update(adds={"/outside": 0.5}))
    (result,) = _check([BY_ID["one-layer-upwards"]], mapping).results
    assert "/total_resistance_m2k_w" in [check.place for check in result.failures]


def test_errors_point_into_the_request_as_the_case_has_it(case_data: dict[str, Any]) -> None:
    async def app(scope: dict[str, Any], receive: Any, send: Any) -> None:
        asked = json.loads((await receive())["body"])
        assert asked == {"skins": [{"d": -1}]}
        told = {"faults": [{"at": "/skins/0/d", "kind": "E7"}]}
        headers = [(b"content-type", b"application/problem+json")]
        await send({"type": "http.response.start", "status": 422, "headers": headers})
        await send({"type": "http.response.body", "body": json.dumps(told).encode()})

    case_data["request"]["body"] = {"construction": {"layers": [{"thickness_mm": -1}]}}
    errors = [{"pointer": "/construction/layers/0/thickness_mm", "code": "out_of_range"}]
    case_data["expect"] = {"status": 422, "errors": errors}
    mapping = Mapping.model_validate_json(
        json.dumps(
            {
                "schema_version": 1,
                "service": "a made-up service",
                "questions": {"u-value": {"path": "/u"}},
                "request": [
                    {"ours": "/construction", "theirs": ""},
                    {"ours": "layers", "theirs": "skins"},
                    {"ours": "thickness_mm", "theirs": "d"},
                ],
                "problem": [
                    {"ours": "errors", "theirs": "faults"},
                    {"ours": "pointer", "theirs": "at"},
                    {"ours": "code", "theirs": "kind", "values": {"out_of_range": "E7"}},
                ],
            }
        )
    )
    with reach_in_process(app, timeout=5) as client:
        report = run([Case.model_validate_json(json.dumps(case_data))], client, mapping=mapping)
    assert [str(check) for check in report.results[0].failures] == []


def test_the_same_service_as_a_program() -> None:
    names = ["one-layer-downwards", "radiator-factor-at-30-k", *FAULTS]
    with reach_program(f"{sys.executable} {FOLDER / 'service.py'}", timeout=10) as client:
        report = run([BY_ID[name] for name in names], client, 2, mapping=MAPPING)
    assert [result.outcome for result in report.results] == ["passed", "passed", "failed", "failed", "failed"]
