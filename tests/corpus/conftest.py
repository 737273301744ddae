"""A made-up case and a folder to hold it, for the tests of the runner."""

from __future__ import annotations

import copy
import json
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from pathlib import Path

CASE: dict[str, Any] = {
    "schema_version": 1,
    "id": "one-layer",
    "title": "A made-up case for the tests of the runner",
    "question": "u-value",
    "method": "iso_6946",
    "source": {"key": "made-up", "locator": {"page": "1"}, "read_from": "original"},
    "provenance": "published_example",
    "request": {"method": "POST", "path": "/v1/u-value", "body": {"u_value_w_m2k": 0.3, "stated": "0.30"}},
    "expect": {
        "status": 200,
        "values": [
            {"pointer": "/u_value_w_m2k", "printed": "0.30", "unit": "W/m2K", "tolerance": "printed"},
            {"pointer": "/stated", "equals": "0.30"},
            {"pointer": "/correction_w_m2k", "absent": True},
        ],
    },
    "flags": ["layered"],
}
FLAGS = {"schema_version": 1, "flags": {"layered": "layers one behind the other"}}
SOURCES = {
    "schema_version": 1,
    "sources": {"made-up": {"title": "A book that does not exist", "publisher": "nobody", "rank": "page"}},
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a sound folder with one case, for the test to spoil."""
    (tmp_path / "u-value").mkdir()
    for name, content in (
        ("u-value/one-layer.json", CASE),
        ("flags.json", FLAGS),
        ("sources.json", SOURCES),
    ):
        (tmp_path / name).write_text(json.dumps(content), encoding="utf-8")
    return tmp_path


@pytest.fixture
def case_data() -> dict[str, Any]:
    """Give the made-up case as data of the test's own."""
    return copy.deepcopy(CASE)
