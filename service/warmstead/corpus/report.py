"""What came of a run: for people, for a build server, and for a program."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from warmstead.corpus.case import PROVENANCES

if TYPE_CHECKING:
    from collections.abc import Iterable

    from warmstead.corpus.case import Case
    from warmstead.corpus.compare import Check

_Count = tuple[int, int]


@dataclass(frozen=True)
class Result:
    """One case, its checks, and whether the service answered at all."""

    case: Case
    checks: tuple[Check, ...]
    answered: bool
    seconds: float

    @property
    def outcome(self) -> str:
        """`passed`, `failed` (a wrong answer) or `no_answer`."""
        if not self.answered:
            return "no_answer"
        return "passed" if all(check.passed for check in self.checks) else "failed"

    @property
    def failures(self) -> tuple[Check, ...]:
        """The checks that did not pass."""
        return tuple(check for check in self.checks if not check.passed)


@dataclass(frozen=True)
class Report:
    """The results of a run, in the order of the cases."""

    results: tuple[Result, ...]

    @property
    def ok(self) -> bool:
        """Whether there were cases and each of them passed."""
        return bool(self.results) and all(result.outcome == "passed" for result in self.results)

    @property
    def counts(self) -> dict[str, dict[str, _Count]]:
        """For each question and provenance: how many passed, of how many."""
        total = Counter(map(_group, self.results))
        passed = Counter(_group(result) for result in self.results if result.outcome == "passed")
        counts: dict[str, dict[str, _Count]] = {}
        for question, provenance in sorted(total):
            group = (question, provenance)
            counts.setdefault(question, {})[provenance] = (passed[group], total[group])
        return counts

    def __rich__(self) -> RenderableType:
        """Render the table of counts, and each failure beneath it."""
        parts: list[RenderableType] = [self._table()]
        parts.extend(self._failure(result) for result in self.results if result.outcome != "passed")
        parts.append(Text(self._summary(), style="bold green" if self.ok else "bold red"))
        return Group(*parts)

    def _table(self) -> Table:
        counts = self.counts
        columns = [name for name in PROVENANCES if any(name in row for row in counts.values())]
        table = Table(title="Reference cases: passed / all", title_justify="left")
        table.add_column("question")
        for name in (*columns, "all"):
            table.add_column(name.replace("_", " "), justify="right")
        for question, row in counts.items():
            cells = [row.get(name, (0, 0)) for name in columns]
            table.add_row(question, *map(_share, [*cells, _add(cells)]))
        table.add_section()
        sums = [_add(row.get(name, (0, 0)) for row in counts.values()) for name in columns]
        table.add_row("all", *map(_share, [*sums, _add(sums)]))
        return table

    def _failure(self, result: Result) -> Text:
        case = result.case
        text = Text(f"{case.question}/{case.id}", style="bold red")
        text.append(f"  {case.title} [{case.provenance}, {case.source.key}]\n", style="default")
        for check in result.failures:
            text.append(f"  {check}\n", style="default")
        return text

    def _summary(self) -> str:
        outcomes = Counter(result.outcome for result in self.results)
        text = f"{outcomes['passed']} of {len(self.results)} cases passed"
        if outcomes["failed"]:
            text += f", {outcomes['failed']} answered wrongly"
        if outcomes["no_answer"]:
            text += f", {outcomes['no_answer']} got no answer"
        return text

    def junit(self) -> str:
        """Return the results as JUnit XML: a wrong answer is a failure, no answer an error."""
        root = ElementTree.Element("testsuites", name="reference cases")
        for question in sorted({result.case.question for result in self.results}):
            results = [result for result in self.results if result.case.question == question]
            outcomes = Counter(result.outcome for result in results)
            suite = ElementTree.SubElement(
                root,
                "testsuite",
                name=question,
                tests=str(len(results)),
                failures=str(outcomes["failed"]),
                errors=str(outcomes["no_answer"]),
                time=f"{sum(result.seconds for result in results):.3f}",
            )
            for result in results:
                _add_test_case(suite, result)
        ElementTree.indent(root)
        return ElementTree.tostring(root, encoding="unicode", xml_declaration=True)

    def as_dict(self) -> dict[str, Any]:
        """Return the results as plain data, each check included."""
        return {
            "ok": self.ok,
            "counts": {
                question: {name: {"passed": passed, "all": total} for name, (passed, total) in row.items()}
                for question, row in self.counts.items()
            },
            "results": [_plain(result) for result in self.results],
        }

    def json(self) -> str:
        """Return the results as JSON text."""
        return json.dumps(self.as_dict(), indent=2, ensure_ascii=False)


def _group(result: Result) -> tuple[str, str]:
    return result.case.question, result.case.provenance


def _add(counts: Iterable[_Count]) -> _Count:
    passed, total = 0, 0
    for one in counts:
        passed, total = passed + one[0], total + one[1]
    return passed, total


def _share(count: _Count) -> str:
    return f"{count[0]} / {count[1]}" if count[1] else "–"


def _add_test_case(suite: ElementTree.Element, result: Result) -> None:
    case = result.case
    element = ElementTree.SubElement(
        suite, "testcase", classname=case.question, name=case.id, time=f"{result.seconds:.3f}"
    )
    if result.outcome != "passed":
        told = [str(check) for check in result.failures]
        kind = "failure" if result.answered else "error"
        ElementTree.SubElement(element, kind, message=told[0]).text = "\n".join([case.title, *told])


def _plain(result: Result) -> dict[str, Any]:
    return {
        "id": result.case.id,
        "question": result.case.question,
        "title": result.case.title,
        "provenance": result.case.provenance,
        "source": result.case.source.key,
        "read_from": result.case.source.read_from,
        "outcome": result.outcome,
        "seconds": round(result.seconds, 6),
        "checks": [
            {name: value for name, value in vars(check).items() if value is not None}
            for check in result.checks
        ],
    }
