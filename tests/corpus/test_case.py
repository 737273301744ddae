"""The definition of a case: what it refuses, and the published schema."""

from __future__ import annotations

import json
from typing import Any

import jsonschema  # type: ignore[import-untyped]
import pytest
from pydantic import ValidationError

from warmstead.corpus.case import Case, case_schema
from warmstead.corpus.load import default_folder


def _validate(data: dict[str, Any]) -> Case:
    return Case.model_validate_json(json.dumps(data))


def test_the_made_up_case_is_sound(case_data: dict[str, Any]) -> None:
    assert _validate(case_data).id == "one-layer"
    jsonschema.validate(case_data, case_schema())


def test_the_published_schema_is_the_generated_one() -> None:
    published = (default_folder() / "case.schema.json").read_text(encoding="utf-8")
    assert json.loads(published) == case_schema()


def _without(name: str) -> Any:
    def change(data: dict[str, Any]) -> None:
        del data[name]

    return change


def _with(path: str, value: Any) -> Any:
    def change(data: dict[str, Any]) -> None:
        *way, last = path.split(".")
        holder: Any = data
        for step in way:
            holder = holder[int(step) if isinstance(holder, list) else step]
        holder[int(last) if isinstance(holder, list) else last] = value

    return change


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (_with("remark", "x"), "Extra inputs"),
        (_with("schema_version", 2), "Input should be 1"),
        (_with("schema_version", "1"), "Input should be 1"),
        (_with("id", "One_Layer"), "pattern"),
        (_without("provenance"), "Field required"),
        (_with("provenance", "our_own_output"), "published_example"),
        (_with("flags", []), "at least 1 item"),
        (_with("flags", ["layered", "layered"]), "named twice"),
        (_with("derivation", ["1 + 1 = 2"]), "no other case has one"),
        (_with("provenance", "hand_derived"), "has a derivation"),
        (_with("source.locator", {}), "where it stands"),
        (_with("source.read_from", "none"), "how it was read"),
        (_with("request.path", "/v1/room-loss"), "does not ask the question"),
        (_with("request.raw_body", "NaN"), "exactly one of body and raw_body"),
        (_with("expect.values.0.printed", "about 0.3"), "pattern"),
        (_with("expect.values.0.printed", 0.3), "valid string"),
        (_with("expect.values.0.tolerance", {"absolute": 0.01}), "reason"),
        (_with("expect.values.0.tolerance", {"absolute": 0.001, "reason": "x"}), "tighter than"),
        (_with("expect.values.0", {"pointer": "/stated"}), "printed, equals, absent"),
        (_with("expect.values.0.pointer", "u_value_w_m2k"), "pattern"),
        (_with("expect.values", []), "names values or warnings"),
        (_with("expect.status", 422), "names errors"),
        (_with("expect", {"status": 422}), "names the errors"),
        (_with("expect", {"status": 422, "errors": [{"code": "x.y"}]}), "pointer and within"),
    ],
)
def test_a_spoilt_case_is_refused(case_data: dict[str, Any], change: Any, told: str) -> None:
    change(case_data)
    with pytest.raises(ValidationError, match=told):
        _validate(case_data)


def test_a_wider_tolerance_with_a_reason_is_taken(case_data: dict[str, Any]) -> None:
    case_data["expect"]["values"][0]["tolerance"] = {"absolute": 0.02, "reason": "the source cuts digits off"}
    _validate(case_data)


def test_a_refusal_that_is_not_json_needs_no_errors(case_data: dict[str, Any]) -> None:
    case_data["request"] = {"method": "POST", "path": "/v1/u-value", "raw_body": "{"}
    case_data["expect"] = {"status": 400}
    _validate(case_data)
