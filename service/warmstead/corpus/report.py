"""What came of a run, and the same for a program."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from warmstead.corpus.case import Case
    from warmstead.corpus.compare import Check

Count = tuple[int, int]
Outcome = Literal["passed", "failed", "no_answer", "left_out", "not_asked"]
"""`failed` is a wrong answer. `left_out` did not pass, as the mapping says; `not_asked` could not be put."""


@dataclass(frozen=True)
class Result:
    """One case and what came of it."""

    case: Case
    outcome: Outcome
    checks: tuple[Check, ...] = ()
    seconds: float = 0.0
    reason: str | None = None

    @property
    def failures(self) -> tuple[Check, ...]:
        """The checks that did not pass."""
        return tuple(check for check in self.checks if not check.passed)


@dataclass(frozen=True)
class Report:
    """The results of a run, in the order of the cases; `not_reached` counts those after a `fail_fast`."""

    results: tuple[Result, ...]
    not_reached: int = 0

    def having(self, outcome: Outcome) -> tuple[Result, ...]:
        """Return the results with this outcome."""
        return tuple(result for result in self.results if result.outcome == outcome)

    @property
    def exit_status(self) -> int:
        """0: cases passed, and none failed. 1: a wrong answer. 2: no answer, or nothing to go by."""
        if self.having("no_answer"):
            return 2
        if self.having("failed"):
            return 1
        return 0 if self.having("passed") and not self.not_reached else 2

    @property
    def ok(self) -> bool:
        """Whether cases passed and none failed."""
        return self.exit_status == 0

    @property
    def counts(self) -> dict[str, dict[str, Count]]:
        """For each question and provenance: how many passed, of how many."""
        total = Counter(map(_group, self.results))
        passed = Counter(map(_group, self.having("passed")))
        counts: dict[str, dict[str, Count]] = {}
        for question, provenance in sorted(total):
            group = (question, provenance)
            counts.setdefault(question, {})[provenance] = (passed[group], total[group])
        return counts

    @property
    def summary(self) -> str:
        """One line that leaves nothing out."""
        all_of_them = len(self.results) + self.not_reached
        parts = [f"{len(self.having('passed'))} of {all_of_them} cases passed"]
        for outcome, told in _TOLD.items():
            if found := self.having(outcome):
                parts.append(f"{len(found)} {told}")
        if self.not_reached:
            parts.append(f"{self.not_reached} not reached")
        return ", ".join(parts)

    def as_dict(self) -> dict[str, Any]:
        """Return the results as plain data, each check included."""
        return {
            "schema_version": 1,
            "ok": self.ok,
            "exit_status": self.exit_status,
            "summary": self.summary,
            "not_reached": self.not_reached,
            "counts": {
                question: {name: {"passed": passed, "all": total} for name, (passed, total) in row.items()}
                for question, row in self.counts.items()
            },
            "results": [_plain(result) for result in self.results],
        }

    def json(self) -> str:
        """Return the results as JSON text."""
        return json.dumps(self.as_dict(), indent=2, ensure_ascii=False)


_TOLD: dict[Outcome, str] = {
    "failed": "answered wrongly",
    "no_answer": "got no answer",
    "left_out": "left out by the mapping",
    "not_asked": "not asked",
}


def _group(result: Result) -> tuple[str, str]:
    return result.case.question, result.case.provenance


def _plain(result: Result) -> dict[str, Any]:
    plain = {
        "id": result.case.id,
        "question": result.case.question,
        "title": result.case.title,
        "provenance": result.case.provenance,
        "source": result.case.source.key,
        "read_from": result.case.source.read_from,
        "outcome": result.outcome,
        "reason": result.reason,
        "seconds": round(result.seconds, 6),
        "checks": [
            {name: value for name, value in vars(check).items() if value is not None}
            for check in result.checks
        ],
    }
    return {name: value for name, value in plain.items() if value is not None}
