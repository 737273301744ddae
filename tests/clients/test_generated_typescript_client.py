"""A TypeScript client with types generated from the committed document: checked by its compiler, then run under Node."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from warmstead.questions.registry import QUESTIONS

Json = dict[str, Any]

OWN_FILES = ("ask.ts", "package.json", "tsconfig.json")
ANY_HEADER = "[name: string]: unknown"
"""How the generator says that an answer may have further headers."""


class Built(NamedTuple):
    """The client: types and script."""

    types: str
    script: Path


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory, node_project: Any, schema_file: Path) -> Built:
    folder = tmp_path_factory.mktemp("typescript-client")
    for name in OWN_FILES:
        shutil.copy(node_project.folder / name, folder / name)
    (folder / "node_modules").symlink_to(node_project.folder / "node_modules")
    # What has a default in a request may be left out.
    generator = ["openapi-typescript", schema_file, "--default-non-nullable=false"]
    node_project.run(*generator, "--output", folder / "schema.d.ts")
    node_project.run("tsc", "--project", folder, "--outDir", folder / "made")
    return Built((folder / "schema.d.ts").read_text(encoding="utf-8"), folder / "made" / "ask.js")


@pytest.fixture(scope="module")
def told(
    built: Built, node_project: Any, service: str, demo: Json, tmp_path_factory: pytest.TempPathFactory
) -> Json:
    requests = tmp_path_factory.mktemp("requests") / "requests.json"
    requests.write_text(json.dumps(demo), encoding="utf-8")
    result: Json = json.loads(node_project.node(built.script, service, str(requests)).stdout)
    return result


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_question_is_asked(question: str, told: Json, answers: dict[str, Json]) -> None:
    assert told["answers"][question] == answers[question]


def test_a_request_is_made_from_its_parts_and_refused_with_its_place(told: Json) -> None:
    # By hand: a declared U-value is taken as it is given.
    assert (told["uValue"], told["stated"]) == (1.4, "1.40")
    assert told["pointers"] == ["/construction/u_value_w_m2k"]


def test_numbers_read_by_name_are_those_of_the_answers(told: Json, answers: dict[str, Json]) -> None:
    figures, house = told["figures"], answers["house-loss"]
    rows = [row["heat_loss_w"] for room in house["rooms"] for row in room["elements"]]
    assert figures.pop("rows_w") == pytest.approx(sum(rows))
    assert figures == {
        "required_thickness_mm": answers["required-thickness"]["thickness_mm"],
        "room_w": answers["room-loss"]["design_heat_load_w"],
        "house_w": house["design_heat_load_w"],
        "governing_c": answers["emitter-check"]["lowest_flow_temperature_c"],
        "required_w": answers["heat-pump-sizing"]["required_w"],
    }


def test_no_type_is_any_or_unknown(built: Built, figures: Any) -> None:
    code = re.sub(r"/\*.*?\*/|//[^\n]*", "", built.types, flags=re.DOTALL).replace(ANY_HEADER, "")
    assert code.count(": number") > 150
    assert re.findall(r"[^\n]*\b(?:any|unknown|object)\b[^\n]*", code) == []
    lines = len(built.types.splitlines())
    figures.note(
        f"generated TypeScript types: {lines} lines, {len(built.types) / 1024:.0f} KiB, no any and no unknown; "
        f"{code.count(': number')} numbers"
    )
