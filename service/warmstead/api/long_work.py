"""Long work for a request: in a process that is ended when its time is over or its client has gone."""

from __future__ import annotations

import logging
import signal
from asyncio import FIRST_COMPLETED, Task, create_task, wait
from collections.abc import Callable
from functools import cache
from time import perf_counter
from typing import Any

from starlette.types import Receive
from typing_extensions import ParamSpec

from warmstead.api.observing import metrics
from warmstead.api.problems import PROBLEM_JSON, kind_of, problem
from warmstead.api.replies import ClientGone, Reply, busy, replied
from warmstead.api.settings import SETTINGS
from warmstead.api.workers import Bounds, Ended, NoTurn, OverMemory, OverTime, Workers
from warmstead.exchange.problem_kinds import OVER_MEMORY, OVER_TIME, WORK_ENDED
from warmstead.questions.registry import QUESTIONS

Parameters = ParamSpec("Parameters")
PRELOADED = (
    *(f"warmstead.questions.{question.python_name}" for question in QUESTIONS.values() if question.long),
    "warmstead.api.questions",
    "warmstead.api.workbook",
    "warmstead.api.element_table",
    "warmstead.exchange.batch.stating",
    "scipy.optimize",
)
"""What is called, and what that calls later."""

UNTOLD = 255
"""What the standard library puts for an exit status that nobody could tell it."""

log = logging.getLogger("warmstead.long_work")


async def worked_on(
    receive: Receive, work: Callable[Parameters, Reply], *args: Parameters.args, **kwargs: Parameters.kwargs
) -> Reply:
    """Return what a module's function replies, worked out in another process.

    Args:
        receive: of the request, whose body has been read: from now on it tells when the client goes.
        work: the function.
        args: its arguments, which must be plain enough to be sent to another process.
        kwargs: likewise.

    Raises:
        ClientGone: the client has gone; the work was ended.
    """
    began = perf_counter()
    how = "gone"
    working = create_task(_reply(work, args, kwargs))
    leaving = create_task(_gone(receive))
    try:
        await wait((working, leaving), return_when=FIRST_COMPLETED)
        if working.done():
            reply = working.result()
            how = "answered" if reply.status < 400 else kind_of(reply.body)
            return reply
        raise ClientGone
    finally:
        await _ended(working)
        await _ended(leaving)
        metrics.long_work(how, perf_counter() - began)


async def _ended(task: Task[Any]) -> None:
    if not task.done():
        task.cancel()
        await wait((task,))


async def _gone(receive: Receive) -> None:
    while (await receive())["type"] != "http.disconnect":
        pass


async def _reply(work: Callable[..., Reply], arguments: tuple[Any, ...], named: dict[str, Any]) -> Reply:
    try:
        reply: Reply = await workers().do(_replied, work, arguments, named)
    except NoTurn:
        return busy("all places for long questions are taken")
    except OverTime:
        return _unfinished(
            f"ended after {SETTINGS.seconds_for_a_question:g} s of work; ask for less at once "
            "(fewer draws, measures or elements)",
            OVER_TIME,
        )
    except OverMemory:
        return _unfinished(
            f"ended: it needed more than {SETTINGS.memory_for_a_question_mebibytes} MiB; ask for less at once "
            "(fewer draws, measures or elements)",
            OVER_MEMORY,
        )
    except Ended as ended:
        how = _how(ended.exit_status)
        log.error("the process of a long question ended: %s", how)
        return _unfinished(f"the process that worked on it ended: {how}; the same may work again", WORK_ENDED)
    return reply


def _replied(work: Callable[..., Reply], arguments: tuple[Any, ...], named: dict[str, Any]) -> Reply:
    return replied(work, *arguments, **named)


def _unfinished(detail: str, kind: tuple[str, str]) -> Reply:
    return Reply(503, PROBLEM_JSON, problem(503, detail, kind=kind))


def _how(exit_status: int | None) -> str:
    if exit_status == UNTOLD:
        return "together with the process that it was forked from"
    if exit_status is None or exit_status >= 0:
        return f"exit status {exit_status}"
    name = signal.Signals(-exit_status).name
    if name == "SIGKILL":
        return "killed from outside, as a system does that is short of memory"
    return f"signal {name}"


@cache
def workers() -> Workers:
    """Return the processes of this server process."""
    return Workers(
        Bounds(
            at_once=SETTINGS.long_questions_at_once,
            waiting=SETTINGS.long_questions_waiting,
            waiting_seconds=SETTINGS.seconds_waiting_for_a_turn,
            seconds=SETTINGS.seconds_for_a_question,
            memory_mebibytes=SETTINGS.memory_for_a_question_mebibytes,
            before_renewal=SETTINGS.long_questions_before_renewal,
            preloaded=PRELOADED,
        )
    )
