"""Read a folder of reference cases, and refuse it whole if anything in it is wrong."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

from warmstead.corpus.case import Case
from warmstead.corpus.compare import compare
from warmstead.corpus.files import CorpusError, UnreadableError, read_model
from warmstead.corpus.registers import Flags, Sources

if TYPE_CHECKING:
    from collections.abc import Iterable

_BESIDE_THE_CASES = ("case.schema.json", "flags.json", "mapping.json", "mapping.schema.json", "sources.json")


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


def load(folder: Path, registers: Path | None = None) -> tuple[Case, ...]:
    """Return the cases of a folder, sorted by question and id.

    Args:
        folder: holds `<question>/<id>.json`, and `flags.json` and `sources.json` of its own if it likes.
        registers: the folder whose registers count where this one has none; what they list need not be used.

    Raises:
        CorpusError: an empty folder; a file that is not JSON or breaks the schema; a file not named by its id
            or not in its question's folder; an id used twice; a case that an echo of its request or an empty
            answer would pass; a flag or a source that is unknown, or unused in the folder's own register;
            any other JSON file.
    """
    cases: list[Case] = []
    paths = sorted(folder.glob("*/*.json"))
    problems = list(_strangers(folder, paths))
    if not paths:
        problems.append(f"{folder} holds no cases")
    for path in paths:
        try:
            case = read_model(path, Case)
        except UnreadableError as unreadable:
            problems.extend(_name(path, folder, line) for line in unreadable.lines)
            continue
        problems.extend(_name(path, folder, line) for line in (*_misplaced(path, case), *_says_nothing(case)))
        cases.append(case)
    problems.extend(_repeated_ids(cases))
    problems.extend(_check_registers(folder, registers, cases))
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


def _says_nothing(case: Case) -> Iterable[str]:
    """Refuse what a service that knows nothing would pass. A refusal tells something by its status alone."""
    if case.expect.status >= 400:
        return
    for told, answer in (("an echo of the request", case.request.body), ("an empty answer", {})):
        checks = compare(case, case.expect.status, {}, json.dumps(answer).encode())
        if all(check.passed for check in checks):
            yield f"says nothing: {told} would pass"


def _repeated_ids(cases: list[Case]) -> Iterable[str]:
    seen: set[str] = set()
    for case in cases:
        if case.id in seen:
            yield f"the id {case.id!r} is used twice"
        seen.add(case.id)


def _check_registers(folder: Path, fallback: Path | None, cases: list[Case]) -> Iterable[str]:
    used_flags = {flag for case in cases for flag in case.flags}
    used_sources = {case.source.key for case in cases}
    for name, used in (("flags.json", used_flags), ("sources.json", used_sources)):
        own = fallback is None or (folder / name).exists()
        try:
            known = _listed((folder if own else fallback or folder) / name)
        except UnreadableError as unreadable:
            yield from (f"{name}: {line}" for line in unreadable.lines)
            continue
        yield from (f"{name}: {one!r} is used by a case and not listed" for one in sorted(used - known))
        if own:
            yield from (f"{name}: {one!r} is listed and used by no case" for one in sorted(known - used))


def _listed(register: Path) -> set[str]:
    if register.name == "flags.json":
        return set(read_model(register, Flags).flags)
    return set(read_model(register, Sources).sources)
