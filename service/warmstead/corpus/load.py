"""Read a folder of reference cases, and refuse it whole if anything in it is wrong."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, TypeVar

from pydantic import BaseModel, ValidationError

from warmstead.corpus.case import Case
from warmstead.corpus.registers import Flags, Sources

if TYPE_CHECKING:
    from collections.abc import Iterable

_BESIDE_THE_CASES = ("case.schema.json", "flags.json", "sources.json")
_Model = TypeVar("_Model", bound=BaseModel)


class CorpusError(Exception):
    """A folder of reference cases cannot be used; `problems` says all that is wrong with it."""

    def __init__(self, problems: Iterable[str]) -> None:
        """Take the problems, one text for each."""
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class _UnreadableError(Exception):
    """One file cannot be read; its text is the list of what is wrong."""


def default_folder() -> Path:
    """Return the folder of cases packed with the package, or else the checkout's own.

    Raises:
        CorpusError: neither is there.
    """
    package = Path(__file__).resolve().parents[1]
    packed, checkout = package / "reference_cases", package.parents[1] / "reference_cases"
    for folder in (packed, checkout):
        if folder.is_dir():
            return folder
    raise CorpusError(["no reference cases are packed with this package, and it is not a checkout"])


def load(folder: Path) -> tuple[Case, ...]:
    """Return the cases of a folder, sorted by question and id.

    Args:
        folder: holds `flags.json`, `sources.json` and `<question>/<id>.json`.

    Raises:
        CorpusError: an empty folder; a file that is not JSON or breaks the schema; a file not named by its id
            or not in its question's folder; an id used twice; a flag or a source that is unknown or unused;
            any other JSON file.
    """
    cases: list[Case] = []
    paths = sorted(folder.glob("*/*.json"))
    problems = list(_strangers(folder, paths))
    if not paths:
        problems.append(f"{folder} holds no cases")
    for path in paths:
        try:
            case = _read(path, Case)
        except _UnreadableError as unreadable:
            problems.extend(_name(path, folder, line) for line in str(unreadable).splitlines())
            continue
        problems.extend(_name(path, folder, line) for line in _misplaced(path, case))
        cases.append(case)
    problems.extend(_repeated_ids(cases))
    problems.extend(_check_registers(folder, cases))
    if problems:
        raise CorpusError(problems)
    return tuple(sorted(cases, key=lambda case: (case.question, case.id)))


def _strangers(folder: Path, paths: list[Path]) -> Iterable[str]:
    expected = {*paths, *(folder / name for name in _BESIDE_THE_CASES)}
    for path in sorted(set(folder.rglob("*.json")) - expected):
        yield _name(path, folder, "is neither a register nor a case in the folder of its question")


def _name(path: Path, folder: Path, line: str) -> str:
    return f"{path.relative_to(folder).as_posix()}: {line}"


def _misplaced(path: Path, case: Case) -> Iterable[str]:
    if path.stem != case.id:
        yield f"the file is not named by its id {case.id!r}"
    if path.parent.name != case.question:
        yield f"the file is not in the folder of its question {case.question!r}"


def _repeated_ids(cases: list[Case]) -> Iterable[str]:
    seen: set[str] = set()
    for case in cases:
        if case.id in seen:
            yield f"the id {case.id!r} is used twice"
        seen.add(case.id)


def _check_registers(folder: Path, cases: list[Case]) -> Iterable[str]:
    used_flags = {flag for case in cases for flag in case.flags}
    used_sources = {case.source.key for case in cases}
    try:
        known_flags = set(_read(folder / "flags.json", Flags).flags)
        yield from _compare_names("flags.json", used_flags, known_flags)
    except _UnreadableError as unreadable:
        yield from (f"flags.json: {line}" for line in str(unreadable).splitlines())
    try:
        known_sources = set(_read(folder / "sources.json", Sources).sources)
        yield from _compare_names("sources.json", used_sources, known_sources)
    except _UnreadableError as unreadable:
        yield from (f"sources.json: {line}" for line in str(unreadable).splitlines())


def _compare_names(register: str, used: set[str], known: set[str]) -> Iterable[str]:
    for name in sorted(used - known):
        yield f"{register}: {name!r} is used by a case and not listed"
    for name in sorted(known - used):
        yield f"{register}: {name!r} is listed and used by no case"


def _read(path: Path, model: type[_Model]) -> _Model:
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise _UnreadableError(f"cannot be read: {error}") from error
    try:
        # The model's own JSON reader lets NaN and repeated members pass; this one does not.
        json.loads(text, parse_constant=_refuse_constant, object_pairs_hook=_refuse_repeated)
    except ValueError as error:
        raise _UnreadableError(f"is not JSON: {error}") from error
    try:
        return model.model_validate_json(text)
    except ValidationError as error:
        lines = (f"{'/'.join(map(str, one['loc'])) or '(whole)'}: {one['msg']}" for one in error.errors())
        raise _UnreadableError("\n".join(lines)) from error


def _refuse_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number in JSON")


def _refuse_repeated(pairs: list[tuple[str, object]]) -> dict[str, object]:
    result = dict(pairs)
    if len(result) != len(pairs):
        raise ValueError("a member is given twice in one object")
    return result
