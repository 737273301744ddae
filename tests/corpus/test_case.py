"""The definition of a case: what it refuses, and the published schema."""

from __future__ import annotations

import json
from typing import Any

import jsonschema
import pytest
from pydantic import ValidationError

from warmstead.corpus.case import Case, case_schema
from warmstead.corpus.load import default_folder

REASON = "the source cuts digits off"


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
        (_with("expect.values.0.tolerance", {"absolute": 0.01, "reason": "it is so"}), "at least 15"),
        (_with("expect.values.0.tolerance", {"absolute": 0.001, "reason": REASON}), "tighter than"),
        (_with("expect.values.0", {"pointer": "/stated"}), "printed, equals, absent"),
        (_with("expect.values.0.pointer", "u_value_w_m2k"), "pattern"),
        (_with("expect.values", []), "names values or warnings"),
        (_with("expect.status", 422), "names errors"),
        (_with("expect", {"status": 500}), "less than or equal to 499"),
        (_with("expect", {"status": 422}), "names the errors"),
        (_with("expect", {"status": 422, "errors": [{"code": "x.y"}]}), "pointer and within"),
    ],
)
def test_a_spoilt_case_is_refused(case_data: dict[str, Any], change: Any, told: str) -> None:
    change(case_data)
    with pytest.raises(ValidationError, match=told):
        _validate(case_data)


@pytest.mark.parametrize(
    ("printed", "unit", "absolute", "taken"),
    [
        # At most a tenth of the printed number, whatever the reason.
        ("0.30", "W/m2K", 0.03, True),
        ("0.30", "W/m2K", 0.0301, False),
        ("-0.30", "W/m2K", 0.0301, False),
        ("216", "W", 21.6, True),
        ("216", "W", 100, False),
        # A source that prints too few digits is no wider for it: 0.05 is more than a tenth of 0.3.
        ("0.3", "W/m2K", None, False),
        ("0.5", "W/m2K", None, True),
        # Zero has no tenth: at most ten times half a unit in the last place.
        ("0.0", "W", None, True),
        ("0.0", "W", 0.5, True),
        ("0.0", "W", 0.51, False),
        # A temperature's zero is arbitrary: at most one degree.
        ("0.2", "Cel", None, True),
        ("20.0", "Cel", 1.0, True),
        ("20.0", "Cel", 1.1, False),
    ],
)
def test_no_tolerance_is_absurdly_wide(
    case_data: dict[str, Any], printed: str, unit: str, absolute: float | None, taken: bool
) -> None:
    tolerance = "printed" if absolute is None else {"absolute": absolute, "reason": REASON}
    value = {"pointer": "/x", "printed": printed, "unit": unit, "tolerance": tolerance}
    case_data["expect"]["values"][0] = value
    if taken:
        _validate(case_data)
    else:
        with pytest.raises(ValidationError, match="too wide to check anything"):
            _validate(case_data)


def test_a_refusal_that_is_not_json_needs_no_errors(case_data: dict[str, Any]) -> None:
    case_data["request"] = {"method": "POST", "path": "/v1/u-value", "raw_body": "{"}
    case_data["expect"] = {"status": 400}
    _validate(case_data)
