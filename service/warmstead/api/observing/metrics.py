"""Figures for Prometheus: how many, how long, how many at hand, how many refused and why.

Labels come from lists that are closed: methods, routes as they are written here, statuses, kinds of problems, names of keys.
"""

from __future__ import annotations

import asyncio
import os
from functools import lru_cache
from http import HTTPMethod
from pathlib import Path
from typing import NamedTuple

from prometheus_client import (
    CONTENT_TYPE_PLAIN_0_0_4,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    ProcessCollector,
    disable_created_metrics,
    generate_latest,
    multiprocess,
)

from warmstead.api.observing import FOLDER_VARIABLE
from warmstead.api.problems import kind_of
from warmstead.version import __version__

MEDIA_TYPE = CONTENT_TYPE_PLAIN_0_0_4
METHODS = frozenset(HTTPMethod)
NO_ROUTE = "none"
"""Of what was answered before it had a route: no such path, no key, no room."""
MOST_NOTES = 256
SECONDS_UNTIL_COUNTED = 0.1
SECONDS = (0.0005, 0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0)

# When a series began is of no use to anybody here, and would be half of the text.
disable_created_metrics()  # type: ignore[no-untyped-call]  # the library's

registry = CollectorRegistry()

_requests = Counter(
    "warmstead_requests", "Requests answered.", ("method", "route", "status"), registry=registry
)
_seconds = Histogram(
    "warmstead_request_seconds", "Time from a request's head to the end of its answer.", ("route",),
    buckets=SECONDS, registry=registry,
)  # fmt: skip
_at_hand = Gauge(
    "warmstead_requests_at_hand", "Requests that are being answered.", registry=registry, multiprocess_mode="livesum"
)  # fmt: skip
_refused = Counter(
    "warmstead_refused",
    "Requests refused, by the last word of the problem's type.",
    ("kind",),
    registry=registry,
)
_by_key = Counter(
    "warmstead_requests_by_key", "Requests by the name of their key.", ("key",), registry=registry
)
_long_work = Histogram(
    "warmstead_long_work_seconds", "Time of work in another process, with the wait for its turn, by how it ended.", ("ended",),
    buckets=SECONDS, registry=registry,
)  # fmt: skip
_info = Gauge(
    "warmstead_info", "The service itself; always 1.", ("version",), registry=registry, multiprocess_mode="livemax"
)  # fmt: skip
_info.labels(__version__).set(1)


class _Noted(NamedTuple):
    method: str
    route: str
    status: int
    seconds: float
    key: str | None


# A request only leaves a note; notes are counted together a moment later. Counting costs what dozens of notes cost, the more so
# between two questions that have filled the processor's caches with something else.
_notes: list[_Noted] = []
_now_at_hand = 0
_counting: asyncio.AbstractEventLoop | None = None
"""The event loop that will count."""


def begun() -> None:
    """Note that a request has come."""
    global _now_at_hand
    _now_at_hand += 1
    _count_soon()


def answered(method: str, route: str, status: int, seconds: float, key: str | None) -> None:
    """Note that a request has ended.

    Args:
        method: as it came.
        route: the route's own template, or `NO_ROUTE`.
        status: of the answer.
        seconds: it took.
        key: name of the key it came with.
    """
    global _now_at_hand
    _now_at_hand -= 1
    _notes.append(_Noted(method, route, status, seconds, key))
    if len(_notes) >= MOST_NOTES:
        count()
    else:
        _count_soon()


def _count_soon() -> None:
    global _counting
    running = asyncio.get_running_loop()
    if _counting is not running:
        _counting = running
        running.call_later(SECONDS_UNTIL_COUNTED, count)


def count() -> None:
    """Count what was noted."""
    global _counting
    _counting = None
    _at_hand.set(_now_at_hand)
    for method, route, status, seconds, key in _notes:
        answers, time = _of_request(method if method in METHODS else "other", route, status)
        answers.inc()
        time.observe(seconds)
        if key is not None:
            _of_key(key).inc()
    _notes.clear()


def refused(document: bytes) -> None:
    """Count one refusal.

    Args:
        document: the problem document, or its beginning.
    """
    _of_reason(kind_of(document)).inc()


def long_work(ended: str, seconds: float) -> None:
    """Count one piece of long work.

    Args:
        ended: how: `answered`, `gone` (nobody waited any more), or the kind of the problem.
        seconds: it took.
    """
    _of_work(ended).observe(seconds)


# Looking a label up costs more than counting: each combination is looked up once.
@lru_cache(maxsize=4096)
def _of_request(method: str, route: str, status: int) -> tuple[Counter, Histogram]:
    return _requests.labels(method, route, str(status)), _seconds.labels(route)


@lru_cache(maxsize=64)
def _of_reason(kind: str) -> Counter:
    return _refused.labels(kind)


@lru_cache(maxsize=256)
def _of_key(name: str) -> Counter:
    return _by_key.labels(name)


@lru_cache(maxsize=64)
def _of_work(ended: str) -> Histogram:
    return _long_work.labels(ended)


def exposition() -> bytes:
    """Return all figures: of this process, or of all worker processes where they share a folder."""
    count()
    folder = os.environ.get(FOLDER_VARIABLE)
    if folder is None:
        return generate_latest(registry) + generate_latest(_process())
    _forget_the_dead(Path(folder))
    together = CollectorRegistry()
    multiprocess.MultiProcessCollector(together, folder)  # type: ignore[no-untyped-call]  # the library's
    return generate_latest(together)


@lru_cache(maxsize=1)
def _process() -> CollectorRegistry:
    own = CollectorRegistry()
    ProcessCollector(registry=own)
    return own


def _forget_the_dead(folder: Path) -> None:
    """Drop what a process had at hand that is no more; what it had counted stays."""
    for file in folder.glob("gauge_live*_*.db"):
        number = int(file.stem.rpartition("_")[2])
        if not Path("/proc", str(number)).exists():
            multiprocess.mark_process_dead(number, folder)  # type: ignore[no-untyped-call]  # the library's
