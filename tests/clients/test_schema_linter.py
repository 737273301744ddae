"""A linter of OpenAPI that others maintain finds nothing in the committed document, and our rules for it bite."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Json = dict[str, Any]

RULES = Path(__file__).parents[2] / "openapi" / "rules.yaml"


@pytest.fixture(scope="session")
def lint(node_project: Any) -> Callable[[Path], list[Json]]:
    def found(document: Path) -> list[Json]:
        arguments = ["--ruleset", RULES, "--fail-severity", "hint", "--format", "json", "--quiet", document]
        run = node_project.run("spectral", "lint", *arguments, check=False)
        results: list[Json] = json.loads(run.stdout)
        assert run.returncode == (1 if results else 0), run.stdout
        return results

    return found


def test_nothing_is_found_in_the_committed_document(
    lint: Callable[[Path], list[Json]], schema_file: Path
) -> None:
    assert lint(schema_file) == []


def our_rules() -> set[str]:
    """Return the rules that are ours: those of the file that carry a description."""
    return set(
        re.findall(r"^  ([a-z-]+):\n    description:", RULES.read_text(encoding="utf-8"), re.MULTILINE)
    )


def planted(document: Json) -> Json:
    """Break every rule of ours once."""
    paths, schemas = document["paths"], document["components"]["schemas"]
    answer = schemas["UValueResult"]["properties"]
    paths["/v1/codes"]["get"]["operationId"] = "codes"
    del paths["/v1/tables/{name}"]["get"]["parameters"][0]["description"]
    paths["/v1/u-value"]["post"]["responses"]["422"]["content"]["application/json"] = {}
    del schemas["UValueRequest"]["additionalProperties"]
    del answer["u_value_w_m2k"]["x-unit"]
    del answer["stated"]["description"]
    answer["upper_limit_m2k_w"]["type"] = ["number", "null"]
    answer["lowerLimit"] = {"type": "string", "description": "A name that is not ours."}
    return document


def test_each_rule_of_ours_bites(
    lint: Callable[[Path], list[Json]], schema_file: Path, tmp_path: Path
) -> None:
    broken = tmp_path / "v1.json"
    broken.write_text(
        json.dumps(planted(json.loads(schema_file.read_text(encoding="utf-8")))), encoding="utf-8"
    )
    assert len(our_rules()) >= 8
    assert {result["code"] for result in lint(broken)} >= our_rules()
