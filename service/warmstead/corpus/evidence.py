"""Which case proves which equation: bend each equation a little, and see which cases notice.

A case reaches an equation when answering it calls the equation's function. That alone proves little: nearly every case of
a room reaches the resistance of a wall. So each function's results are made a tenth too large in turn, and the cases that
reach it are asked again; those that then fail are its evidence.

This module looks into `warmstead.standards`, unlike the rest of the runner; the service itself still comes from the caller.
"""

from __future__ import annotations

import importlib
import inspect
import json
import pkgutil
import sys
from collections import Counter
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from warmstead import building, standards
from warmstead.corpus.case import PROVENANCES
from warmstead.corpus.load import load
from warmstead.corpus.registers import Sources
from warmstead.corpus.run import run

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path
    from types import ModuleType

    import httpx

    from warmstead.corpus.case import Case

Kind = Literal["seen", "memory", "derived", "library", "practice", "contract"]
KINDS: Mapping[Kind, str] = {
    "seen": "a published figure that was read, in the original or in a transcription",
    "memory": "a published figure that is remembered; nobody here saw it",
    "derived": "worked out by hand from a rule, line by line in the case",
    "library": "a closed solution, or a general-purpose library that works another way",
    "practice": "the trade agrees, no source prints it",
    "contract": "what the service promises: a refusal, or a rule of its own",
}
_BENT_BY = 1.1


class EvidenceError(Exception):
    """There is no evidence to be had: a case fails before anything is bent, or a check names what is not there."""


class IndependentCheck(BaseModel):
    """A test that holds an equation against something from outside."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)

    function: Annotated[str, Field(pattern=r"^[a-z0-9_]+\.[A-Za-z0-9_.]+$", description="`module.function`.")]
    kind: Annotated[
        Literal["solution", "arithmetic"],
        Field(
            description="`solution`: the same quantity by another way, or from properties and figures of others; "
            "`arithmetic`: the same equation worked out by another library, which says nothing of its truth."
        ),
    ]
    test: Annotated[str, Field(pattern=r"^tests/[a-z0-9_/]+\.py::[a-z0-9_]+$")]
    equation: Annotated[str, Field(min_length=3)]
    by: Annotated[str, Field(min_length=3, description="What it is held against.")]


@dataclass(frozen=True)
class Equation:
    """A function of `warmstead.standards`."""

    name: str
    says: str
    public: bool
    function: Callable[..., Any]


@dataclass
class Evidence:
    """What speaks for one equation."""

    equation: Equation
    reached: list[Case] = field(default_factory=list)
    noticed: list[Case] = field(default_factory=list)
    checks: list[IndependentCheck] = field(default_factory=list)

    @property
    def solutions(self) -> list[IndependentCheck]:
        """The checks that find the same quantity another way."""
        return [check for check in self.checks if check.kind == "solution"]

    @property
    def arithmetic(self) -> list[IndependentCheck]:
        """The checks that work out the same equation by another library."""
        return [check for check in self.checks if check.kind == "arithmetic"]


def evidence_page(folder: Path, client: httpx.Client, checks: Path) -> str:
    """Return the page of evidence as Markdown, the same for the same cases and the same equations.

    Args:
        folder: of the cases, with their registers.
        client: reaches the service in this process, so that its equations can be bent.
        checks: JSON list of `IndependentCheck`, `tests/independent/checks.json`.

    Raises:
        CorpusError: the folder cannot be used.
        EvidenceError: a case fails as it is, or a check names an equation that is not there.
    """
    cases = load(folder)
    sources = Sources.model_validate_json((folder / "sources.json").read_text(encoding="utf-8"))
    kinds = {id(case): kind_of(case) for case in cases}
    found = gather(cases, client, read_checks(checks))
    return "\n".join(_page(cases, sources, found, kinds)) + "\n"


def read_checks(path: Path) -> list[IndependentCheck]:
    """Return the independent checks that a file lists."""
    # Read strictly from plain JSON, as the cases are.
    listed = json.loads(path.read_text(encoding="utf-8"))
    return TypeAdapter(list[IndependentCheck]).validate_python(listed)


def kind_of(case: Case) -> Kind:
    """Return what kind of evidence a case is."""
    if case.provenance in ("published_example", "published_table"):
        return "memory" if case.source.read_from == "memory" else "seen"
    if case.provenance == "hand_derived":
        return "derived"
    if case.provenance in ("analytical", "independent_code"):
        return "library"
    return "practice" if case.provenance == "common_practice" else "contract"


def equations() -> list[Equation]:
    """Return the functions of `warmstead.standards` that give a result: public ones, and private ones that say which."""
    found: list[Equation] = []
    for module in _modules():
        short = module.__name__.rpartition(".")[2]
        holders: list[tuple[str, Any]] = [(short, module)]
        holders += [(f"{short}.{name}", kind) for name, kind in vars(module).items() if inspect.isclass(kind)]
        for holder_name, holder in holders:
            for name, function in vars(holder).items():
                if not inspect.isfunction(function) or function.__module__ != module.__name__:
                    continue
                public = not name.startswith("_")
                says = (inspect.getdoc(function) or "").partition("\n")[0]
                gives = function.__annotations__.get("return") not in ("None", None)
                if gives and (public or (says and holder is module)):
                    found.append(Equation(f"{holder_name}.{name}", says, public, function))
    return sorted(found, key=lambda equation: equation.name)


def gather(cases: Sequence[Case], client: httpx.Client, checks: Iterable[IndependentCheck]) -> list[Evidence]:
    """Return the evidence for each equation, in the order of their names."""
    _load_what_answers()
    found = {equation.name: Evidence(equation) for equation in equations()}
    for check in checks:
        if check.function not in found:
            raise EvidenceError(f"{check.test} is said to check {check.function}, which is not there")
        found[check.function].checks.append(check)
    _note_reached(cases, client, found)
    for evidence in found.values():
        with _bound(evidence.equation, _bending(evidence.equation.function)):
            evidence.noticed = [case for case in evidence.reached if not _passes(case, client)]
    return list(found.values())


def _note_reached(cases: Sequence[Case], client: httpx.Client, found: Mapping[str, Evidence]) -> None:
    called: set[str] = set()

    def noting(equation: Equation) -> Callable[..., Any]:
        def noted(*args: Any, **kwargs: Any) -> Any:
            called.add(equation.name)
            return equation.function(*args, **kwargs)

        return noted

    with _all_bound([(evidence.equation, noting(evidence.equation)) for evidence in found.values()]):
        for case in cases:
            called.clear()
            if not _passes(case, client):
                raise EvidenceError(f"{case.question}/{case.id} fails as it is, and so proves nothing")
            for name in called:
                found[name].reached.append(case)


def _passes(case: Case, client: httpx.Client) -> bool:
    (result,) = run([case], client).results
    return result.outcome == "passed"


# --- Equations bent --------------------------------------------------------------------------------


def _bending(function: Callable[..., Any]) -> Callable[..., Any]:
    def bent(*args: Any, **kwargs: Any) -> Any:
        return bent_result(function(*args, **kwargs))

    return bent


def bent_result(value: Any) -> Any:
    """Return a result with each number a tenth larger (0 becomes 0.1), a truth value turned, a text made longer."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * _BENT_BY if value else _BENT_BY - 1.0
    if isinstance(value, str):
        return f"{value}0"
    if isinstance(value, tuple):
        # Names within a result (which mean was taken, on which side a curve lies) are no numbers.
        parts: list[Any] = [one if isinstance(one, str | bool) else bent_result(one) for one in value]
        return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
    if isinstance(value, list):
        return [bent_result(one) for one in value]
    if isinstance(value, np.ndarray):
        return ~value if value.dtype == bool else np.where(value == 0, _BENT_BY - 1.0, value * _BENT_BY)
    return value


@contextmanager
def _all_bound(replacements: Iterable[tuple[Equation, Callable[..., Any]]]) -> Iterator[None]:
    """Put functions in the place of equations wherever this program has bound those by name."""
    instead = {id(equation.function): other for equation, other in replacements}
    changed: list[tuple[Any, str, Any]] = []
    for module in [*sys.modules.values()]:
        if not getattr(module, "__name__", "").startswith("warmstead."):
            continue
        holders = [module, *(one for one in vars(module).values() if inspect.isclass(one))]
        for holder in holders:
            for name, value in [*vars(holder).items()]:
                if inspect.isfunction(value) and id(value) in instead:
                    changed.append((holder, name, value))
    try:
        for holder, name, value in changed:
            setattr(holder, name, instead[id(value)])
        yield
    finally:
        for holder, name, value in changed:
            setattr(holder, name, value)


@contextmanager
def _bound(equation: Equation, other: Callable[..., Any]) -> Iterator[None]:
    with _all_bound([(equation, other)]):
        yield


def _load_what_answers() -> None:
    """Import what a question imports only when it is asked: an equation is put in its place in modules that are there."""
    for info in pkgutil.walk_packages(building.__path__, f"{building.__name__}."):
        importlib.import_module(info.name)


def _modules() -> list[ModuleType]:
    names = sorted(info.name for info in pkgutil.iter_modules(standards.__path__))
    return [importlib.import_module(f"{standards.__name__}.{name}") for name in names]


# --- The page --------------------------------------------------------------------------------------


def _page(
    cases: Sequence[Case], sources: Sources, found: Sequence[Evidence], kinds: Mapping[int, Kind]
) -> Iterator[str]:
    public = [evidence for evidence in found if evidence.equation.public]
    yield "# Evidence for each equation"
    yield ""
    yield "Generated; do not edit. A case speaks for an equation when it fails as soon as the results of the equation's function"
    yield "are a tenth too large; a case that only calls the function is counted under “called only”. An independent solution finds the"
    yield "same quantity another way: by solving what the equation stands for, or from properties and figures of others. Arithmetic"
    yield "is the same equation worked out by another library: it shows that the code says what it means to say, not that it is true."
    yield ""
    yield from _lacking(public, kinds)
    yield "## Public functions of `warmstead.standards`"
    yield ""
    yield from _table(public, kinds)
    yield "| column | what speaks for the equation |"
    yield "| --- | --- |"
    yield from (f"| {kind} | {meaning} |" for kind, meaning in KINDS.items())
    yield ""
    yield "## Parts of equations (private functions)"
    yield ""
    yield from _table([evidence for evidence in found if not evidence.equation.public], kinds)
    yield from _counts(cases, sources)
    yield "## Case by case"
    for evidence in public:
        yield ""
        yield from _in_full(evidence, kinds)


def _lacking(public: Sequence[Evidence], kinds: Mapping[int, Kind]) -> Iterator[str]:
    unproven = [one for one in public if not one.solutions and not _of_kind(one, kinds, "seen", "library")]
    # A remembered figure is no published evidence; it is said, so that the reader knows what there is.
    yield "## Without published or independent evidence"
    yield ""
    for evidence in unproven:
        rest = Counter(kinds[id(case)] for case in evidence.noticed)
        parts = [f"{rest[kind]} {kind}" for kind in KINDS if rest[kind]]
        parts += ["arithmetic"] if evidence.checks else []
        has = ", ".join(parts) or "nothing at all"
        yield f"- `{evidence.equation.name}`: {evidence.equation.says} It has: {has}."
    if not unproven:
        yield "None: every public function has a published figure that was read, or an independent check."
    yield ""
    alone = [one for one in public if one.solutions and not _of_kind(one, kinds, "seen")]
    yield "## With an independent solution, but no published figure that was read"
    yield ""
    yield ", ".join(f"`{evidence.equation.name}`" for evidence in alone) + "." if alone else "None."
    yield ""


def _of_kind(evidence: Evidence, kinds: Mapping[int, Kind], *wanted: Kind) -> list[Case]:
    return [case for case in evidence.noticed if kinds[id(case)] in wanted]


def _table(rows: Sequence[Evidence], kinds: Mapping[int, Kind]) -> Iterator[str]:
    yield f"| function | {' | '.join(KINDS)} | called only | independent solution | arithmetic |"
    yield f"| --- |{' ---: |' * (len(KINDS) + 1)} --- | --- |"
    for evidence in rows:
        counts = [str(len(_of_kind(evidence, kinds, kind)) or "") for kind in KINDS]
        called_only = str(len(evidence.reached) - len(evidence.noticed) or "")
        solutions, arithmetic = _files(evidence.solutions), _files(evidence.arithmetic)
        yield f"| {' | '.join([f'`{evidence.equation.name}`', *counts, called_only, solutions, arithmetic])} |"
    yield ""


def _files(checks: Sequence[IndependentCheck]) -> str:
    names = {check.test.partition("::")[0].removeprefix("tests/") for check in checks}
    return ", ".join(f"`{name}`" for name in sorted(names))


def _counts(cases: Sequence[Case], sources: Sources) -> Iterator[str]:
    ways = ("original", "transcription", "memory", "none")
    total: Counter[tuple[str, str]] = Counter((case.provenance, _way(case, sources)) for case in cases)
    columns = [*ways, "contract"]
    yield f"## All {len(cases)} cases, by provenance and by how the source was read"
    yield ""
    yield f"| provenance | {' | '.join(columns)} | all |"
    yield f"| --- |{' ---: |' * (len(columns) + 1)}"
    for provenance in PROVENANCES:
        counts = [total[provenance, way] for way in columns]
        if any(counts):
            yield f"| {' | '.join([provenance, *(str(count or '') for count in counts), str(sum(counts))])} |"
    yield ""
    yield "`contract`: the rule is this service's own promise, not an outside source."
    yield ""


def _way(case: Case, sources: Sources) -> str:
    return "contract" if sources.sources[case.source.key].rank == "contract" else case.source.read_from


def _in_full(evidence: Evidence, kinds: Mapping[int, Kind]) -> Iterator[str]:
    yield f"### `{evidence.equation.name}`"
    yield ""
    yield evidence.equation.says
    yield ""
    for kind in KINDS:
        some = _of_kind(evidence, kinds, kind)
        if some:
            yield f"- {kind}: {', '.join(f'{case.question}/{case.id}' for case in some)}"
    for check in sorted(evidence.checks, key=lambda check: check.test):
        word = "independent solution" if check.kind == "solution" else "arithmetic"
        yield f"- {word}: `{check.test}`: {check.equation}, against {check.by}"
    if not evidence.noticed and not evidence.checks:
        yield "- nothing"
