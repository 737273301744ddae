"""The loader: a folder is taken whole or refused with all that is wrong with it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from warmstead.corpus import CorpusError, default_folder, load

if TYPE_CHECKING:
    from pathlib import Path


def _write(folder: Path, name: str, content: dict[str, Any] | str) -> None:
    file = folder / name
    file.parent.mkdir(exist_ok=True)
    file.write_text(content if isinstance(content, str) else json.dumps(content), encoding="utf-8")


def test_a_sound_folder_is_read(folder: Path) -> None:
    assert [case.id for case in load(folder)] == ["one-layer"]


def test_cases_come_sorted_by_question_and_id(folder: Path, case_data: dict[str, Any]) -> None:
    _write(folder, "u-value/a-layer.json", {**case_data, "id": "a-layer"})
    request = {**case_data["request"], "path": "/v1/room-loss"}
    other = {**case_data, "id": "z-room", "question": "room-loss", "request": request}
    _write(folder, "room-loss/z-room.json", other)
    assert [case.id for case in load(folder)] == ["z-room", "a-layer", "one-layer"]


def _refusal(path: Path) -> tuple[str, ...]:
    with pytest.raises(CorpusError) as caught:
        load(path)
    return caught.value.problems


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    assert "holds no cases" in _refusal(tmp_path)[0]


def test_a_misnamed_file_is_refused(folder: Path, case_data: dict[str, Any]) -> None:
    _write(folder, "u-value/two-layers.json", {**case_data, "id": "another"})
    assert _refusal(folder) == ("u-value/two-layers.json: the file is not named by its id 'another'",)


def test_a_file_in_the_wrong_folder_is_refused(folder: Path, case_data: dict[str, Any]) -> None:
    _write(folder, "room-loss/another.json", {**case_data, "id": "another"})
    assert _refusal(folder) == (
        "room-loss/another.json: the file is not in the folder of its question 'u-value'",
    )


@pytest.mark.parametrize("name", ["another.json", "u-value/walls/another.json"])
def test_a_file_that_would_be_passed_over_is_refused(
    folder: Path, case_data: dict[str, Any], name: str
) -> None:
    (folder / "u-value/walls").mkdir()
    _write(folder, name, {**case_data, "id": "another"})
    assert _refusal(folder) == (f"{name}: is neither a register nor a case in the folder of its question",)


def test_an_id_used_twice_is_refused(folder: Path, case_data: dict[str, Any]) -> None:
    request = {**case_data["request"], "path": "/v1/room-loss"}
    _write(folder, "room-loss/one-layer.json", {**case_data, "question": "room-loss", "request": request})
    assert _refusal(folder) == ("the id 'one-layer' is used twice",)


def test_a_schema_violation_is_refused_with_its_place(folder: Path, case_data: dict[str, Any]) -> None:
    case_data["expect"]["status"] = "200"
    _write(folder, "u-value/one-layer.json", case_data)
    assert _refusal(folder)[0].startswith("u-value/one-layer.json: expect/status: ")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{", "is not JSON"),
        ('{"schema_version": NaN}', "NaN is not a number in JSON"),
        ('{"id": "a", "id": "b"}', "given twice"),
    ],
)
def test_what_is_not_json_is_refused(folder: Path, text: str, told: str) -> None:
    _write(folder, "u-value/one-layer.json", text)
    assert told in _refusal(folder)[0]


def test_an_unknown_flag_and_source_are_refused_and_so_are_unused_ones(
    folder: Path, case_data: dict[str, Any]
) -> None:
    case_data["flags"] = ["bridged"]
    case_data["source"]["key"] = "unheard-of"
    _write(folder, "u-value/one-layer.json", case_data)
    assert _refusal(folder) == (
        "flags.json: 'bridged' is used by a case and not listed",
        "flags.json: 'layered' is listed and used by no case",
        "sources.json: 'unheard-of' is used by a case and not listed",
        "sources.json: 'made-up' is listed and used by no case",
    )


@pytest.mark.parametrize("register", ["flags.json", "sources.json"])
def test_a_missing_register_is_refused(folder: Path, register: str) -> None:
    (folder / register).unlink()
    assert _refusal(folder)[0].startswith(f"{register}: cannot be read")


def test_all_problems_are_told_together(folder: Path) -> None:
    _write(folder, "u-value/broken.json", "{")
    _write(folder, "u-value/empty.json", "{}")
    told = " ".join(_refusal(folder))
    assert "broken.json" in told
    assert "empty.json" in told


def test_the_default_folder_holds_the_cases() -> None:
    assert (default_folder() / "flags.json").is_file()
