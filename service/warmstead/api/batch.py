"""A question asked of many houses in one request: NDJSON in, NDJSON out, both streamed.

    reader ──▶ chunks of lines ──▶ worker processes ──▶ answers in order ──▶ writer

The event loop only passes bytes on: the work is done in processes of its own, so that other callers do not wait and that work can
really be ended. A chunk is what came with one message. Few chunks are under way at a time; so a reader that does not read stops
the work and then the sender, and memory is the same however long the batch is.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from functools import cache, partial

from anyio import (
    CancelScope,
    CapacityLimiter,
    Event,
    WouldBlock,
    create_memory_object_stream,
    create_task_group,
    current_time,
    move_on_after,
)
from anyio.abc import ObjectSendStream, TaskGroup
from anyio.lowlevel import checkpoint
from fastapi import FastAPI
from starlette.requests import Request
from starlette.types import Message, Receive, Scope, Send

from warmstead.api.batch_described import NDJSON, BatchQuery, described, path
from warmstead.api.draining import is_draining
from warmstead.api.later_described import LaterDescribed
from warmstead.api.long_work import PRELOADED
from warmstead.api.replies import Answered, busy, send_reply
from warmstead.api.settings import SETTINGS
from warmstead.api.uploads import media_type, query
from warmstead.api.workers import Bounds, Ended, NoTurn, OverMemory, OverTime, Workers, WorkFailed
from warmstead.exchange.batch.stating import Content, Item, Statement, answer_lines, failed, refuse
from warmstead.exchange.ndjson import LineReader
from warmstead.exchange.problem_kinds import OVER_MEMORY, OVER_TIME, WORK_ENDED
from warmstead.questions.registry import QUESTIONS, Question

ACCEPTED = (NDJSON, "application/ndjson", "application/jsonl")
MOST_LINES_IN_A_CHUNK = 64
"""So that lines of a small question, of which one message holds many, are not kept back for long."""
LOOK_UP_SECONDS = 0.5
"""While nothing comes, a batch looks so often whether it has to end."""
LONGEST_WAIT_SECONDS = 3600.0
CHUNKS_BEFORE_RENEWAL = 10_000


def add_batches(app: FastAPI) -> None:
    """Give the application a batch for each question that is answered at once."""
    for question in QUESTIONS.values():
        if not question.long:
            route = LaterDescribed(path(question), BatchEndpoint(question), partial(described, question))
            app.router.routes.append(route)


@cache
def _batches() -> CapacityLimiter:
    return CapacityLimiter(SETTINGS.batches_at_once)


class BatchEndpoint:
    """Serves the batch of one question as an ASGI application."""

    def __init__(self, question: Question) -> None:
        self._question = question

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one batch."""
        request = Request(scope)
        mark = object()
        try:
            content = query(request, BatchQuery).content or "full"
            media_type(request, ACCEPTED)
            _batches().acquire_on_behalf_of_nowait(mark)
        except Answered as ended:
            await send_reply(send, ended.reply)
            return
        except WouldBlock:
            await send_reply(send, busy(f"{SETTINGS.batches_at_once} batches are at hand"))
            return
        try:
            await Batch(self._question.name, content, receive, send).run()
        finally:
            _batches().release_on_behalf_of(mark)


class _Chunk:
    """Some lines, and their answers once they are there."""

    def __init__(self, items: Sequence[Item] = (), answers: bytes = b"") -> None:
        self.items = items
        self.answers = answers
        self.done = Event()
        if answers:
            self.done.set()


class Batch:
    """One batch under way."""

    def __init__(self, question: str, content: Content, receive: Receive, send: Send) -> None:
        self._question = question
        self._content = content
        self._receive = receive
        self._send = send
        self._lines = LineReader(SETTINGS.maximum_batch_line_bytes)
        self._under_way = 0  # chunks that are not yet written
        self._gone = CancelScope()

    async def run(self) -> None:
        """Read, work and write at the same time, until the sender's end or until either side is gone."""
        headers = [(b"content-type", NDJSON.encode()), (b"x-content-type-options", b"nosniff")]
        await self._send({"type": "http.response.start", "status": 200, "headers": headers})
        ahead, coming = create_memory_object_stream[_Chunk](SETTINGS.batch_processes)
        with self._gone:
            async with create_task_group() as group, coming:
                group.start_soon(self._read, ahead, group)
                async for chunk in coming:
                    await chunk.done.wait()
                    await self._write(chunk.answers)
                    self._under_way -= 1
                await self._write(b"", more=False)
                group.cancel_scope.cancel()  # the reader still listens for the other side's going away

    async def _write(self, answers: bytes, *, more: bool = True) -> None:
        with move_on_after(SETTINGS.seconds_to_take_answer) as patience:
            await self._send({"type": "http.response.body", "body": answers, "more_body": more})
        if patience.cancelled_caught:
            self._gone.cancel()
            await checkpoint()

    async def _read(self, ahead: ObjectSendStream[_Chunk], group: TaskGroup) -> None:
        """Put lines into the queue where there is room, and have them worked on."""
        async with ahead:
            more = True
            while more:
                message = await self._next_message()
                if isinstance(message, Statement):
                    await ahead.send(_Chunk(answers=message.line()))
                    break
                if message["type"] == "http.disconnect":
                    self._gone.cancel()
                    break
                more = message.get("more_body", False)
                for chunk in self._chunks(message.get("body", b""), last=not more):
                    self._under_way += 1
                    await ahead.send(chunk)
                    group.start_soon(self._work, chunk)
        while (await self._receive())["type"] != "http.disconnect":
            pass
        self._gone.cancel()

    async def _next_message(self) -> Message | Statement:
        """Return what comes next, or a last line that says why nothing more is taken."""
        waited_since = current_time()
        while not is_draining():
            with move_on_after(LOOK_UP_SECONDS):
                return await self._receive()
            if self._under_way > 0:
                waited_since = current_time()
            elif current_time() - waited_since > SETTINGS.seconds_between_batch_lines:
                return self._last_line(408, f"nothing came for {SETTINGS.seconds_between_batch_lines:g} s")
        return self._last_line(503, "the service is about to end")

    def _last_line(self, status: int, why: str) -> Statement:
        detail = f"{why}, so the batch ends here; send this line and those after it again"
        return refuse(Item(self._lines.number + 1, None), status, detail)

    def _chunks(self, piece: bytes, *, last: bool) -> Iterator[_Chunk]:
        lines = self._lines.feed(piece)
        if last:
            lines += self._lines.end()
        for first in range(0, len(lines), MOST_LINES_IN_A_CHUNK):
            some = lines[first : first + MOST_LINES_IN_A_CHUNK]
            yield _Chunk([Item(line.number, line.text) for line in some])

    async def _work(self, chunk: _Chunk) -> None:
        chunk.answers = await answered(self._question, chunk.items, self._content)
        chunk.done.set()


async def answered(question: str, items: Sequence[Item], content: Content) -> bytes:
    """Return the answers to some items, made in another process.

    Where that is not finished, each item is tried by itself, so that only the one at fault gets a problem.
    """
    try:
        made: bytes = await processes().do(
            answer_lines, question, items, content, SETTINGS.maximum_batch_line_bytes, SETTINGS.most_held
        )
    except NoTurn:
        detail = "there is no room for a process to work on it; send this line again in a moment"
        return b"".join([refuse(item, 503, detail).line() for item in items])
    except (OverTime, OverMemory, Ended, WorkFailed) as error:
        if len(items) == 1:
            return _unfinished(items[0], error).line()
    else:
        return made
    return b"".join([await answered(question, [item], content) for item in items])


def _unfinished(item: Item, error: Exception) -> Statement:
    if isinstance(error, OverTime):
        detail = f"ended after {SETTINGS.seconds_for_a_batch_line:g} s of work, the time that a line may take"
        return refuse(item, 503, detail, kind=OVER_TIME)
    if isinstance(error, OverMemory):
        detail = f"ended: it needed more than {SETTINGS.memory_for_a_question_mebibytes} MiB"
        return refuse(item, 503, detail, kind=OVER_MEMORY)
    if isinstance(error, Ended):
        return refuse(
            item, 503, "the process that worked on it ended; the same may work again", kind=WORK_ENDED
        )
    return failed(item)


@cache
def processes() -> Workers:
    """Return the processes that work on batches; chunks of all batches take turns there, first come, first served."""
    return Workers(
        Bounds(
            at_once=SETTINGS.batch_processes,
            waiting=sys.maxsize,
            waiting_seconds=LONGEST_WAIT_SECONDS,
            seconds=SETTINGS.seconds_for_a_batch_line,
            memory_mebibytes=SETTINGS.memory_for_a_question_mebibytes,
            before_renewal=CHUNKS_BEFORE_RENEWAL,
            preloaded=PRELOADED,
        )
    )
