"""The results for people, and a progress bar while they come."""

from __future__ import annotations

import sys
from collections import defaultdict
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn
from rich.table import Table
from rich.text import Text

from warmstead.corpus.case import PROVENANCES

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from warmstead.corpus.compare import Check
    from warmstead.corpus.report import Count, Report, Result

_NAMED_AT_MOST = 5


def render(report: Report) -> RenderableType:
    """Return the counts, each wrong answer, what got none, what was not asked, and one line on it all."""
    parts: list[RenderableType] = [_counts(report), Text()]
    for result in report.having("failed"):
        parts.extend(_failure(result))
    parts.extend(
        _gathered(
            "No answer", report.having("no_answer"), lambda one: one.failures[0].got.removeprefix("none: ")
        )
    )
    parts.extend(_gathered("Left out", report.having("left_out"), lambda one: one.reason or ""))
    parts.extend(_gathered("Not asked", report.having("not_asked"), lambda one: one.reason or ""))
    parts.append(Text(report.summary, style="bold green" if report.ok else "bold red"))
    return Group(*parts)


@contextmanager
def progress(total: int) -> Iterator[Callable[[Result], None]]:
    """Yield what to call with each result; draws a bar on standard error if that is a terminal."""
    columns = (TextColumn("cases"), BarColumn(), MofNCompleteColumn())
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task("cases", total=total)
        yield lambda result: bar.advance(task)


def _counts(report: Report) -> Table:
    counts = report.counts
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


def _failure(result: Result) -> Iterable[RenderableType]:
    case = result.case
    title = Text(f"{case.question}/{case.id}", style="bold red")
    title.append(f"  {case.title} [{case.provenance}, {case.source.key}]", style="default")
    yield title
    off = [check for check in result.failures if check.difference is not None]
    yield from (Text(f"  {check}") for check in result.failures if check.difference is None)
    if off:
        yield Padding(_differences(off), (0, 0, 0, 2))
    yield Text()


def _differences(checks: Iterable[Check]) -> Table:
    table = Table(box=None, pad_edge=False)
    for name in ("where", "expected", "got"):
        table.add_column(name, overflow="fold")
    for name in ("difference", "tolerance", "agreeing digits"):
        table.add_column(name, justify="right", overflow="fold")
    for check in checks:
        digits = "–" if check.agreeing_digits is None else f"{max(check.agreeing_digits, 0):.1f}"
        numbers = (check.difference or "", check.tolerance or "", digits)
        table.add_row(*map(Text, (check.place, check.expected, check.got, *numbers)))
    return table


def _gathered(
    title: str, results: Iterable[Result], why: Callable[[Result], str]
) -> Iterable[RenderableType]:
    """Yield each reason once, with the cases it holds for: a dead service is one message, not a hundred."""
    names: dict[str, list[str]] = defaultdict(list)
    for result in results:
        names[why(result)].append(f"{result.case.question}/{result.case.id}")
    for reason, cases in names.items():
        told = ", ".join(cases[:_NAMED_AT_MOST])
        more = len(cases) - _NAMED_AT_MOST
        yield Text(f"{title} ({len(cases)}): {reason}", style="bold")
        yield Text(f"  {told}{f' and {more} more' if more > 0 else ''}\n")


def _add(counts: Iterable[Count]) -> Count:
    passed, total = 0, 0
    for one in counts:
        passed, total = passed + one[0], total + one[1]
    return passed, total


def _share(count: Count) -> str:
    return f"{count[0]} / {count[1]}" if count[1] else "–"
