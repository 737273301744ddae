"""The loader: a folder is taken whole or refused with all that is wrong with it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from warmstead.corpus import CorpusError, default_folder, load

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    Write = Callable[[str, Any], Path]


def test_a_sound_folder_is_read(folder: Path) -> None:
    assert [case.id for case in load(folder)] == ["one-layer"]


def test_cases_come_sorted_by_question_and_id(folder: Path, write: Write, case_data: dict[str, Any]) -> None:
    write("u-value/a-layer.json", {**case_data, "id": "a-layer"})
    request = {**case_data["request"], "path": "/v1/room-loss"}
    write("room-loss/z-room.json", {**case_data, "id": "z-room", "question": "room-loss", "request": request})
    assert [case.id for case in load(folder)] == ["z-room", "a-layer", "one-layer"]


def _refusal(path: Path, registers: Path | None = None) -> tuple[str, ...]:
    with pytest.raises(CorpusError) as caught:
        load(path, registers)
    return caught.value.problems


def test_an_empty_folder_is_refused(tmp_path: Path) -> None:
    assert "holds no cases" in _refusal(tmp_path)[0]


def test_a_folder_with_registers_and_no_cases_is_refused(folder: Path) -> None:
    (folder / "u-value/one-layer.json").unlink()
    assert "holds no cases" in _refusal(folder)[0]


def test_a_misnamed_file_is_refused(folder: Path, write: Write, case_data: dict[str, Any]) -> None:
    write("u-value/two-layers.json", {**case_data, "id": "another"})
    assert _refusal(folder) == ("u-value/two-layers.json: the file is not named by its id 'another'",)


def test_a_file_in_the_wrong_folder_is_refused(folder: Path, write: Write, case_data: dict[str, Any]) -> None:
    write("room-loss/another.json", {**case_data, "id": "another"})
    assert _refusal(folder) == (
        "room-loss/another.json: the file is not in the folder of its question 'u-value'",
    )


@pytest.mark.parametrize("name", ["another.json", "u-value/walls/another.json"])
def test_a_file_that_would_be_passed_over_is_refused(
    folder: Path, write: Write, case_data: dict[str, Any], name: str
) -> None:
    write(name, {**case_data, "id": "another"})
    assert _refusal(folder) == (f"{name}: is neither a register nor a case in the folder of its question",)


@pytest.mark.parametrize("name", ["case.schema.json", "mapping.schema.json", "mapping.json"])
def test_what_may_stand_beside_the_cases(folder: Path, write: Write, name: str) -> None:
    write(name, {})
    assert load(folder)


def test_an_id_used_twice_is_refused(folder: Path, write: Write, case_data: dict[str, Any]) -> None:
    request = {**case_data["request"], "path": "/v1/room-loss"}
    write("room-loss/one-layer.json", {**case_data, "question": "room-loss", "request": request})
    assert _refusal(folder) == ("the id 'one-layer' is used twice",)


def test_a_schema_violation_is_refused_with_its_place(
    folder: Path, write: Write, case_data: dict[str, Any]
) -> None:
    case_data["expect"]["status"] = "200"
    write("u-value/one-layer.json", case_data)
    assert _refusal(folder)[0].startswith("u-value/one-layer.json: expect/status: ")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{", "is not JSON"),
        ('{"schema_version": NaN}', "NaN is not a number in JSON"),
        ('{"schema_version": 1e999}', "1e999 is beyond all bounds"),
        ('{"id": "a", "id": "b"}', "given twice"),
        ("[" * 100_000, "nested too deep"),
    ],
    ids=["cut off", "nan", "infinity", "twice", "deep"],
)
def test_what_is_not_json_is_refused(folder: Path, write: Write, text: str, told: str) -> None:
    write("u-value/one-layer.json", text)
    assert told in _refusal(folder)[0]


@pytest.mark.parametrize(
    ("body", "values", "told"),
    [
        # The request has what the answer is to have, at the same place.
        (
            {"u": 0.3},
            [{"pointer": "/u", "printed": "0.30", "unit": "W/m2K", "tolerance": "printed"}],
            ["an echo of the request"],
        ),
        ({"stated": "0.30"}, [{"pointer": "/stated", "equals": "0.30"}], ["an echo of the request"]),
        # Nothing but what must not be there.
        ({"u": 0.3}, [{"pointer": "/x", "absent": True}], ["an echo of the request", "an empty answer"]),
        ({"u": 0.3}, [{"pointer": "/u", "absent": True}], ["an empty answer"]),
    ],
)
def test_a_case_that_says_nothing_is_refused(
    folder: Path,
    write: Write,
    case_data: dict[str, Any],
    body: dict[str, Any],
    values: list[dict[str, Any]],
    told: list[str],
) -> None:
    case_data["request"]["body"] = body
    case_data["expect"]["values"] = values
    write("u-value/one-layer.json", case_data)
    assert _refusal(folder) == tuple(
        f"u-value/one-layer.json: says nothing: {answer} would pass" for answer in told
    )


def test_a_tolerance_that_admits_anything_is_refused(
    folder: Path, write: Write, case_data: dict[str, Any]
) -> None:
    tolerance = {"absolute": 1000, "reason": "sources differ very much"}
    case_data["expect"]["values"][0]["tolerance"] = tolerance
    write("u-value/one-layer.json", case_data)
    assert "too wide to check anything" in _refusal(folder)[0]


def test_an_unknown_flag_and_source_are_refused_and_so_are_unused_ones(
    folder: Path, write: Write, case_data: dict[str, Any]
) -> None:
    case_data["flags"] = ["bridged"]
    case_data["source"]["key"] = "unheard-of"
    write("u-value/one-layer.json", case_data)
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


def test_the_registers_of_another_folder_count_where_there_are_none(
    folder: Path, write: Write, case_data: dict[str, Any]
) -> None:
    for register in ("flags.json", "sources.json"):
        (folder / register).unlink()
    (flag, *_), (source, *_) = default_folder_names()
    write(
        "u-value/one-layer.json",
        {**case_data, "flags": [flag], "source": {**case_data["source"], "key": source}},
    )
    assert [case.id for case in load(folder, registers=default_folder())] == ["one-layer"]


def default_folder_names() -> tuple[list[str], list[str]]:
    cases = load(default_folder())
    return [flag for case in cases for flag in case.flags], [case.source.key for case in cases]


def test_a_name_that_the_other_folder_does_not_list_either_is_refused(folder: Path) -> None:
    (folder / "sources.json").unlink()
    assert _refusal(folder, default_folder()) == ("sources.json: 'made-up' is used by a case and not listed",)


def test_own_registers_count_before_those_of_another_folder(folder: Path, write: Write) -> None:
    write("flags.json", {"schema_version": 1, "flags": {"layered": "layers", "spare": "unused"}})
    assert _refusal(folder, default_folder()) == ("flags.json: 'spare' is listed and used by no case",)


def test_all_problems_are_told_together(folder: Path, write: Write) -> None:
    write("u-value/broken.json", "{")
    write("u-value/empty.json", "{}")
    told = " ".join(_refusal(folder))
    assert "broken.json" in told
    assert "empty.json" in told


def test_the_default_folder_holds_the_cases() -> None:
    assert (default_folder() / "flags.json").is_file()
