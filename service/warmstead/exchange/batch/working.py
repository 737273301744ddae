"""What a process that works on batches does: items in, lines out, each item within its time."""

from __future__ import annotations

import signal
from collections.abc import Iterable

from warmstead.exchange.batch.stating import Content, Item, Statement, refuse, state


class _OutOfTime(BaseException):
    """Rung by the alarm; no Exception, so that nothing on its way takes it for one."""


def answer_lines(
    question: str, items: Iterable[Item], content: Content, longest: int, seconds: float
) -> bytes:
    """Return what each of some items gets, a line each, in their order.

    Runs in the main thread of its process, where alarms ring.

    Args:
        question: its name in URLs.
        items: the documents.
        content: the whole answers, or their totals alone.
        longest: bytes that a document may have.
        seconds: time that one item may take.
    """
    signal.signal(signal.SIGALRM, _ring)
    return b"".join(_within(seconds, question, item, content, longest).line() for item in items)


def _within(seconds: float, question: str, item: Item, content: Content, longest: int) -> Statement:
    try:
        signal.setitimer(signal.ITIMER_REAL, seconds)
        try:
            return state(question, item, content, longest)
        finally:
            signal.setitimer(signal.ITIMER_REAL, 0.0)
    except _OutOfTime:
        return out_of_time(item, seconds)


def _ring(*_: object) -> None:
    raise _OutOfTime


def out_of_time(item: Item, seconds: float) -> Statement:
    """Return what an item gets that took too long."""
    return refuse(item, 503, f"not answered within {seconds:g} s, the time that a line may take")
