"""Does the evidence bite? Break each equation in every small way, and see who notices.

    python tests/mutation/run.py --only corpus        the reference cases alone
    python tests/mutation/run.py --only all           and where they do not: the independent checks, then all tests/standards
    python tests/mutation/run.py --modules water      some modules only
    python tests/mutation/run.py --survivors FILE     each survivor, with an input on which it differs

Nothing is written to the sources: each mutant lives in a process of its own. `README.md` beside this file says what the
mutants are and holds the figures of the last run.
"""

from __future__ import annotations

import argparse
import ast
import contextlib
import importlib
import inspect
import json
import os
import re
import select
import signal
import sys
import threading
import time
import traceback
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from functools import cache
from pathlib import Path
from types import CodeType, FrameType
from typing import Any, NamedTuple

import grid
import httpx
import hypothesis
import pytest
from grid_calls import Call
from mutants import Mutant, apply, loads, mutants_of
from starlette.types import Receive

from warmstead.api import questions
from warmstead.api.app import app
from warmstead.api.replies import Reply, replied
from warmstead.corpus import InProcessTransport, default_folder, load, run
from warmstead.corpus.case import Case

TESTS = Path(__file__).resolve().parents[1]
SECONDS_FOR_A_MUTANT = 120.0
SECONDS_FOR_THE_GRID = 10
"""A module's whole grid takes less than one."""
EVERY_TABLE_ENTRY = 20
"""Of the printed tables (data, not equations) each twentieth entry is changed."""

# No searching for a smaller counter-example, and the same draws each time.
hypothesis.settings.register_profile(
    "mutation",
    database=None,
    deadline=None,
    derandomize=True,
    phases=(hypothesis.Phase.explicit, hypothesis.Phase.generate),
)


class Verdict(NamedTuple):
    """What became of one mutant."""

    mutant: str
    module: str
    function: str
    kind: str
    different: str
    """The first call of the grid that it answers differently; empty where there is none."""
    only_refusals: bool
    """Whether it gives the right result to all of the grid that both it and the right equation answer."""
    case: str
    """The first reference case that it fails."""
    check: str
    """The first independent check that it fails, where no case does."""
    test: str
    """The first other test that it fails, where no check does either."""

    @property
    def counted(self) -> bool:
        """Whether it is a fault at all."""
        return bool(self.different)

    @property
    def survives(self) -> bool:
        """Whether it is a fault that nobody notices."""
        return self.counted and not (self.case or self.check or self.test)


# --- Who reaches what ------------------------------------------------------------------------------


def _codes() -> Iterator[tuple[CodeType, str]]:
    for name in grid.MODULES:
        module = importlib.import_module(f"warmstead.standards.{name}")
        holders = [
            (name, module),
            *((f"{name}.{key}", kind) for key, kind in inspect.getmembers(module, inspect.isclass)),
        ]
        for holder_name, holder in holders:
            for key, member in inspect.getmembers(holder):
                function = member.fget if isinstance(member, property) else member
                if inspect.isfunction(function) and function.__module__ == module.__name__:
                    yield function.__code__, f"{holder_name}.{key}"


CODES = dict(_codes())
_NAMES = frozenset(CODES.values())


def reach_of(mutant: Mutant) -> str:
    """Return what has to be reached to notice a mutant: its function, or that around it, or else its module."""
    name = f"{mutant.module}.{mutant.function}"
    while name not in _NAMES:
        name = name.rpartition(".")[0]
        if "." not in name:
            return f"{mutant.module}."
    return name


@contextlib.contextmanager
def reaching(seen: set[str]) -> Iterator[None]:
    """Note the names of the functions that are called meanwhile, and of their modules with a dot behind."""

    def note(frame: FrameType, event: str, _: Any) -> None:
        if event == "call" and frame.f_code in CODES:
            name = CODES[frame.f_code]
            seen.update((name, f"{name.partition('.')[0]}."))

    threading.setprofile(note)
    sys.setprofile(note)
    try:
        yield
    finally:
        sys.setprofile(None)
        threading.setprofile(None)


async def _worked_on_here(
    receive: Receive, work: Callable[..., Reply], *arguments: Any, **named: Any
) -> Reply:
    """Take the place of a process of its own, into which a mutant does not reach."""
    return replied(work, *arguments, **named)


vars(questions)["worked_on"] = _worked_on_here


class Cases:
    """The reference cases, by what they reach."""

    def __init__(self) -> None:
        self._client = httpx.Client(transport=InProcessTransport(app), base_url="http://service.example")
        self._by_reach: dict[str, list[Case]] = defaultdict(list)
        # Cases with figures first: they are the likeliest to notice.
        for case in sorted(load(default_folder()), key=lambda case: case.provenance == "contract"):
            seen: set[str] = set()
            with reaching(seen):
                passed = self._passes(case)
            if not passed:
                raise SystemExit(f"{case.question}/{case.id} fails before anything is broken")
            for name in seen:
                self._by_reach[name].append(case)

    def first_failure(self, reach: str) -> str:
        """Return the first case that fails of those that reach a function, or nothing."""
        for case in self._by_reach[reach]:
            if not self._passes(case):
                return f"{case.question}/{case.id}"
        return ""

    def _passes(self, case: Case) -> bool:
        return run([case], self._client).results[0].outcome == "passed"


@cache
def _named_in(path: Path) -> frozenset[str]:
    words = set(re.findall(r"\w+", path.read_text(encoding="utf-8")))
    return frozenset(words.intersection(grid.MODULES))


class Tests:
    """The tests of the equations, collected and run once, then again for each mutant by what they reach."""

    def __init__(self, begin: Callable[[], None]) -> None:
        self._begin = begin
        self._by_reach: dict[tuple[str, bool], list[pytest.Item]] = defaultdict(list)
        self._failed = ""
        listed = json.loads((TESTS / "independent" / "checks.json").read_text(encoding="utf-8"))
        self._listed = {check["test"] for check in listed}

    def collect(self) -> None:
        """Collect and run the tests; then, with all of them at hand, begin."""
        options = ["-s", "-p", "no:cacheprovider", "-p", "no:terminal", "--hypothesis-profile=mutation"]
        options += ["-o", "addopts=--strict-markers --strict-config --import-mode=importlib"]
        # What the service has imported can't be rewritten any more, of which pytest would warn.
        options += ["--rootdir", str(TESTS.parent), "-W", "ignore::pytest.PytestAssertRewriteWarning"]
        # Among the plugins of other packages only this one is needed.
        os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
        options += ["-p", "_hypothesis_pytestplugin"]
        folders = [TESTS / "standards", TESTS / "independent"]
        status = pytest.main(
            [*options, *(str(folder) for folder in folders if folder.is_dir())], plugins=[self]
        )
        if status is not pytest.ExitCode.OK:
            raise SystemExit(f"pytest ended with {status!r}")

    def pytest_collectreport(self, report: pytest.CollectReport) -> None:
        if report.failed:
            raise SystemExit(f"{report.nodeid} can't be collected: {report.longrepr}")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed and not self._failed:
            self._failed = report.nodeid

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        seconds: dict[str, float] = {}
        for item in session.items:
            seen: set[str] = set()
            started = time.perf_counter()
            with reaching(seen):
                self._run([item])
            if self._failed:
                raise SystemExit(f"{self._failed} fails before anything is broken")
            seconds[item.nodeid] = time.perf_counter() - started
            # A test may read a module's constants and tables without a call.
            seen.update(f"{name}." for name in _named_in(item.path))
            check = item.nodeid.partition("[")[0]
            independent = check in self._listed or check.startswith("tests/independent/")
            for name in seen:
                self._by_reach[name, independent].append(item)
        for items in self._by_reach.values():
            # Most faults are noticed by some quick test.
            items.sort(key=lambda item: seconds[item.nodeid])
        self._begin()
        return True

    def first_failure(self, reach: str, *, independent: bool) -> str:
        """Return the first test that fails of those that reach a function, or nothing.

        Args:
            reach: name of a function, or of a module with a dot behind.
            independent: whether to ask the independent checks, or all other tests.
        """
        self._failed = ""
        for item in self._by_reach[reach, independent]:
            self._run([item])
            if self._failed:
                break
        return self._failed

    @staticmethod
    def _run(items: Sequence[pytest.Item]) -> None:
        for item in items:
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)


# --- One mutant, and all ---------------------------------------------------------------------------


def _in_a_process_of_its_own(work: Callable[[], Verdict], otherwise: Verdict) -> Verdict:
    """Return what the work gives in a forked process, or the other verdict where it hangs or is ended.

    An exception of the work itself is a fault of this script, not of the mutant, and ends the run.
    """
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        try:
            told = json.dumps(work())
        except BaseException:
            told = json.dumps({"broken": traceback.format_exc()})
        os.write(writing, told.encode())
        os._exit(0)
    os.close(writing)
    deadline, parts = time.monotonic() + SECONDS_FOR_A_MUTANT, []
    with open(reading, "rb", buffering=0) as pipe:
        while (left := deadline - time.monotonic()) > 0.0:
            if not select.select([pipe], [], [], left)[0]:
                break
            part = pipe.read(65536)
            if not part:
                break
            parts.append(part)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    if not parts:
        return otherwise
    told = json.loads(b"".join(parts))
    if isinstance(told, dict):
        raise SystemExit(f"{otherwise.mutant}\n{told['broken']}")
    return Verdict(*told)


def judge_all(modules: Sequence[str], only: str, check_grid: bool = False) -> list[Verdict]:
    """Return what becomes of every mutant of some modules.

    Args:
        modules: of `warmstead.standards`.
        only: `corpus`, or `all` for the tests besides.
        check_grid: whether to put to the cases and tests also what the grid holds to be equivalent: where any of
            them notices a difference, the grid is too coarse.
    """
    cases = Cases()
    verdicts: list[Verdict] = []

    def begin() -> None:
        for name in modules:
            started, first = time.monotonic(), len(verdicts)
            verdicts.extend(_judge_module(name, cases, tests if only == "all" else None, check_grid))
            print(
                f"{name}: {len(verdicts) - first} mutants in {time.monotonic() - started:.0f} s",
                file=sys.stderr,
                flush=True,
            )

    tests = Tests(begin)
    if only == "all":
        tests.collect()
    else:
        begin()
    return verdicts


def _judge_module(name: str, cases: Cases, tests: Tests | None, check_grid: bool) -> Iterator[Verdict]:
    module = importlib.import_module(f"warmstead.standards.{name}")
    assert module.__file__ is not None
    source = Path(module.__file__).read_text(encoding="utf-8")
    calls = grid.calls_of(name)
    right = [grid.outcome(call) for call in calls]

    def judged(mutant: Mutant, check_grid: bool = check_grid) -> Verdict:
        apply(mutant, module)
        reach = reach_of(mutant)
        signal.alarm(SECONDS_FOR_THE_GRID)  # ends this process: the mutant hangs
        different, only_refusals = _difference(calls, right)
        signal.alarm(0)
        case = cases.first_failure(reach) if different or check_grid else ""
        check = test = ""
        if tests is not None and not case and (different or check_grid):
            check = tests.first_failure(reach, independent=True)
            test = "" if check else tests.first_failure(reach, independent=False)
        return Verdict(
            mutant.name, name, mutant.function, mutant.kind, different, only_refusals, case, check, test
        )

    # The module put in its own place, unchanged, must pass everything, or what follows would prove nothing.
    unchanged = Mutant(name, "", 0, 0, "control", "nothing", ast.parse(source))
    nobody = Verdict(unchanged.name, name, "", "control", "", False, "(hangs or dies)", "", "")
    control = _in_a_process_of_its_own(lambda: judged(unchanged, check_grid=True), nobody)
    if control.different or control.case or control.check or control.test:
        raise SystemExit(f"the unchanged module is noticed: {control}")

    for mutant in mutants_of(name, source, EVERY_TABLE_ENTRY):
        if not loads(mutant, module):
            continue
        hanging = Verdict(
            mutant.name, name, mutant.function, mutant.kind, "(no end)", False, "(hangs or dies)", "", ""
        )
        yield _in_a_process_of_its_own(lambda mutant=mutant: judged(mutant), hanging)  # type: ignore[misc]  # bound now, not at the call


def _difference(calls: Sequence[Call], right: Sequence[grid.Outcome]) -> tuple[str, bool]:
    """Return the first call with another result, or else the first that is refused otherwise, and which it is."""
    refused = ""
    for call, expected in zip(calls, right, strict=True):
        given = grid.outcome(call)
        if grid.same(expected, given):
            continue
        if not grid.is_refusal(expected) and not grid.is_refusal(given):
            return _shown(call), False
        refused = refused or _shown(call)
    return refused, bool(refused)


def _shown(call: Call) -> str:
    function, positional, named = call
    arguments = [repr(one) for one in positional] + [f"{name}={value!r}" for name, value in named.items()]
    return f"{function.__name__}({', '.join(arguments)})"


# --- Report ----------------------------------------------------------------------------------------


TIERS = ("by the corpus", "by corpus and independent checks", "by corpus and all tests")


def table_of(verdicts: Sequence[Verdict], group: Callable[[Verdict], str], only: str) -> str:
    """Return the counts as a table in Markdown, a row for each group."""
    tiers = TIERS if only == "all" else TIERS[:1]
    columns = ["", "mutants", "equivalent", "faults", *tiers]
    lines = [f"| {' | '.join(columns)} |", f"| --- |{' ---: |' * (len(columns) - 1)}"]
    groups: dict[str, list[Verdict]] = defaultdict(list)
    for verdict in verdicts:
        groups[group(verdict)].append(verdict)
    for name in [*sorted(groups), "all"]:
        some = list(verdicts) if name == "all" else groups[name]
        faults = [verdict for verdict in some if verdict.counted]
        noticed = [
            sum(bool(verdict.case) for verdict in faults),
            sum(bool(verdict.case or verdict.check) for verdict in faults),
            sum(not verdict.survives for verdict in faults),
        ]
        cells = [name, str(len(some)), str(len(some) - len(faults)), str(len(faults))]
        cells += [_share(part, len(faults)) for part in noticed[: len(tiers)]]
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines)


def _share(part: int, whole: int) -> str:
    return f"{part} ({100.0 * part / whole:.1f} %)" if whole else "–"


def main() -> None:
    """Run, and print the figures."""
    arguments = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    arguments.add_argument("--only", choices=("corpus", "all"), default="all")
    arguments.add_argument("--modules", nargs="+", choices=grid.MODULES, default=list(grid.MODULES))
    arguments.add_argument(
        "--check-grid", action="store_true", help="put also what the grid holds to be equivalent to all"
    )
    arguments.add_argument("--survivors", type=Path, help="write each survivor here")
    arguments.add_argument(
        "--verdicts", type=Path, help="write what became of every mutant here, as JSON lines"
    )
    chosen = arguments.parse_args()
    verdicts = judge_all(chosen.modules, chosen.only, chosen.check_grid)
    equations = [verdict for verdict in verdicts if not verdict.kind.startswith("table")]
    tables = [verdict for verdict in verdicts if verdict.kind.startswith("table")]
    for title, some in (
        ("Equations: mutants that change a result", [one for one in equations if not one.only_refusals]),
        (
            "Equations: mutants that change only what is refused",
            [one for one in equations if one.only_refusals],
        ),
    ):
        print(f"{title}, by module\n\n{table_of(some, lambda verdict: verdict.module, chosen.only)}\n")
    print("Equations, both, by kind of slip\n")
    print(table_of(equations, lambda verdict: verdict.kind, chosen.only))
    if tables:
        print(f"\nEntries of printed tables (each {EVERY_TABLE_ENTRY}th)\n")
        print(table_of(tables, lambda verdict: f"{verdict.module}, {verdict.kind}", chosen.only))
    for verdict in verdicts:
        told = verdict.case or verdict.check or verdict.test
        if told and not verdict.counted:
            print(f"\nThe grid is too coarse for {verdict.mutant}: {told} tells it apart")
    if chosen.survivors is not None:
        left = [verdict for verdict in verdicts if verdict.survives]
        chosen.survivors.write_text(
            "".join(f"{one.mutant}\n    {one.different}\n" for one in left), encoding="utf-8"
        )
    if chosen.verdicts is not None:
        chosen.verdicts.write_text(
            "".join(f"{json.dumps(one._asdict())}\n" for one in verdicts), encoding="utf-8"
        )


if __name__ == "__main__":
    main()
