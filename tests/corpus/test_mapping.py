"""What a mapping file refuses, and its published schema."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from warmstead.corpus import CorpusError, default_folder, load, load_mapping
from warmstead.corpus.mapping import mapping_schema

ADAPTER = Path(__file__).parent / "adapter/mapping.json"
CASES = load(default_folder())


@pytest.fixture
def data() -> dict[str, Any]:
    """Give a small sound mapping."""
    return {
        "schema_version": 1,
        "service": "a made-up service",
        "questions": {"u-value": {"path": "/u"}},
        "request": [{"ours": "layers", "theirs": "skins"}],
    }


def _load(folder: Path, data: Any) -> Any:
    file = folder / "mapping.json"
    file.write_text(json.dumps(data), encoding="utf-8")
    return load_mapping(file, CASES)


def test_the_published_schema_is_the_generated_one() -> None:
    published = (default_folder() / "mapping.schema.json").read_text(encoding="utf-8")
    assert json.loads(published) == mapping_schema()


def test_the_second_service_s_mapping_fits_the_published_schema() -> None:
    jsonschema.validate(json.loads(ADAPTER.read_text(encoding="utf-8")), mapping_schema())
    assert load_mapping(ADAPTER, CASES).questions.keys() == {"u-value", "emitter-check"}


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"remark": "x"}, "remark: Extra inputs"),
        ({"schema_version": 2}, "schema_version: Input should be 1"),
        ({"questions": {}}, "at least 1 item"),
        ({"questions": {"u-value": {"path": "u"}}}, "questions/u-value/path"),
        (
            {"questions": {"u-valeu": {"path": "/u"}}},
            "no case has the question 'u-valeu'; nearest: 'u-value'",
        ),
        ({"request": [{"ours": "a"}]}, "exactly one of theirs and dropped"),
        ({"request": [{"ours": "a", "theirs": "b", "dropped": True}]}, "exactly one of theirs and dropped"),
        ({"request": [{"ours": "a/b", "theirs": "c"}]}, "request/0/ours"),
        ({"request": [{"ours": "a", "theirs": "/c"}]}, "both names or both pointers"),
        ({"request": [{"ours": "/a/*", "theirs": "/c"}]}, "as many '[*]'"),
        ({"request": [{"ours": "a", "theirs": "b", "factor": 0}]}, "greater than 0"),
        (
            {"request": [{"ours": "a", "theirs": "b", "values": {"x": "z", "y": "z"}}]},
            "could not be read back",
        ),
        (
            {"request": [{"ours": "a", "theirs": "b"}, {"ours": "a", "theirs": "c"}]},
            "ours 'a' stands in two rules",
        ),
        (
            {"answer": [{"ours": "a", "theirs": "c"}, {"ours": "b", "theirs": "c"}]},
            "theirs 'c' stands in two rules",
        ),
        ({"answer": [{"ours": "a", "dropped": True}]}, "only a request has members to drop"),
        ({"left_out": [{"reason": "it knows no better"}]}, "named by flags or ids"),
        ({"left_out": [{"flags": ["x"], "reason": "no"}]}, "at least 15"),
        (
            {"left_out": [{"flags": ["bridged_layr"], "reason": "it has no studs"}]},
            "nearest: 'bridged_layer'",
        ),
        (
            {"left_out": [{"ids": ["one-layer-upward"], "reason": "it has no roofs"}]},
            "nearest: 'one-layer-upwards'",
        ),
    ],
)
def test_a_spoilt_mapping_is_refused(
    tmp_path: Path, data: dict[str, Any], change: dict[str, Any], told: str
) -> None:
    _load(tmp_path, copy.deepcopy(data))
    with pytest.raises(CorpusError, match=told):
        _load(tmp_path, {**data, **change})


def test_a_mapping_that_is_not_json_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "mapping.json"
    file.write_text("{", encoding="utf-8")
    with pytest.raises(CorpusError, match=r"mapping\.json: is not JSON"):
        load_mapping(file, CASES)
