"""A question asked of many houses in one request: NDJSON in, NDJSON out, both streamed.

    reader ──▶ chunks of lines ──▶ worker processes ──▶ answers in order ──▶ writer

The event loop only passes bytes on: the work is done in processes of its own, so that other callers do not wait and that work can
really be ended. A chunk is what came with one message. Few chunks are under way at a time; so a reader that does not read stops
the work and then the sender, and memory is the same however long the batch is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from math import inf
from typing import Any, Literal

from anyio import (
    BrokenWorkerProcess,
    CancelScope,
    CapacityLimiter,
    Event,
    WouldBlock,
    create_memory_object_stream,
    create_task_group,
    fail_after,
    move_on_after,
    to_process,
)
from anyio.abc import ObjectSendStream, TaskGroup
from anyio.lowlevel import checkpoint
from fastapi import FastAPI
from fastapi.routing import APIRoute
from pydantic import BaseModel, ConfigDict, Field
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Message, Receive, Scope, Send

from warmstead.api.batch_described import describe
from warmstead.api.problems import PROBLEM_JSON, problem
from warmstead.api.replies import Answered, send_reply
from warmstead.api.settings import SETTINGS
from warmstead.api.uploads import media_type, query
from warmstead.exchange.batch.stating import Content, Item, failed, refuse
from warmstead.exchange.batch.working import answer_lines, out_of_time
from warmstead.exchange.ndjson import LineReader
from warmstead.questions.registry import QUESTIONS, Question
from warmstead.survey.document import MayBeAbsent

NDJSON = "application/x-ndjson"
ACCEPTED = (NDJSON, "application/ndjson", "application/jsonl")
MOST_LINES_IN_A_CHUNK = 64
"""So that lines of a small question, of which one message holds many, are not kept back for long."""
RETRY_AFTER_SECONDS = 10
START_SECONDS = 30.0
"""What the start of a process may take on a busy machine."""


class BatchQuery(BaseModel):
    """Query parameters of a batch."""

    model_config = ConfigDict(extra="forbid")

    content: MayBeAbsent[Literal["full", "summary"]] = Field(
        None,
        description="The whole answers, or their totals alone with the codes of their warnings; full where absent.",
    )


def add_batches(app: FastAPI) -> None:
    """Give the application a batch for each question that is answered at once."""
    for question in QUESTIONS.values():
        if not question.long:
            describe(app, question, BatchQuery, _route(question))


def _route(question: Question) -> type[APIRoute]:
    class BatchRoute(APIRoute):
        """Described by FastAPI, served by the endpoint."""

        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self.app = BatchEndpoint(question)

    return BatchRoute


@cache
def _batches() -> CapacityLimiter:
    return CapacityLimiter(SETTINGS.batches_at_once)


@cache
def _processes() -> CapacityLimiter:
    """Chunks of all batches take their turns here, first come, first served."""
    return CapacityLimiter(SETTINGS.batch_processes)


@cache
def _no_limit() -> CapacityLimiter:
    """Who works in a process has had their turn already."""
    return CapacityLimiter(inf)


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
            _refuse_compressed(request)
            _batches().acquire_on_behalf_of_nowait(mark)
        except Answered as ended:
            await send_reply(send, ended.reply)
            return
        except WouldBlock:
            await _busy()(scope, receive, send)
            return
        try:
            await Batch(self._question.name, content, receive, send).run()
        finally:
            _batches().release_on_behalf_of(mark)


def _refuse_compressed(request: Request) -> None:
    if request.headers.get("content-encoding", "identity").strip().lower() != "identity":
        raise Answered(415, problem(415, "send the lines as they are, without Content-Encoding"))


def _busy() -> Response:
    detail = (
        f"{SETTINGS.batches_at_once} batches are being answered; come back later, or send single requests"
    )
    headers = {"Retry-After": str(RETRY_AFTER_SECONDS)}
    return Response(problem(503, detail), 503, headers, PROBLEM_JSON)


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
        with move_on_after(SETTINGS.batch_stall_seconds) as patience:
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
                if message is None:
                    await ahead.send(_Chunk(answers=self._stalled()))
                    self._under_way += 1
                    break
                if message["type"] == "http.disconnect":
                    self._gone.cancel()
                    break
                more = message.get("more_body", False)
                for chunk in self._chunks(message.get("body", b""), last=not more):
                    await ahead.send(chunk)
                    self._under_way += 1
                    group.start_soon(self._work, chunk)
        while (await self._receive())["type"] != "http.disconnect":
            pass
        self._gone.cancel()

    async def _next_message(self) -> Message | None:
        """Return what comes next; None where nothing came for too long, though nothing kept the sender waiting."""
        while True:
            with move_on_after(SETTINGS.batch_stall_seconds):
                return await self._receive()
            if self._under_way == 0:
                return None

    def _chunks(self, piece: bytes, *, last: bool) -> Iterator[_Chunk]:
        lines = self._lines.feed(piece)
        if last:
            lines += self._lines.end()
        for first in range(0, len(lines), MOST_LINES_IN_A_CHUNK):
            some = lines[first : first + MOST_LINES_IN_A_CHUNK]
            yield _Chunk([Item(line.number, line.text) for line in some])

    def _stalled(self) -> bytes:
        detail = f"nothing came for {SETTINGS.batch_stall_seconds:g} s, so the batch ends here; send this line and those after it again"
        return refuse(Item(self._lines.number + 1, None), 408, detail).line()

    async def _work(self, chunk: _Chunk) -> None:
        async with _processes():
            # Work that has begun is ended by its time budget alone: to end a process with each caller who goes away would let
            # callers have processes begun for nothing.
            with CancelScope(shield=True):
                chunk.answers = await answered(self._question, chunk.items, self._content)
        chunk.done.set()


async def answered(question: str, items: Sequence[Item], content: Content) -> bytes:
    """Return the answers to some items, made in another process.

    Each item has an alarm there. Where that does not ring, or the process breaks, each item is tried by itself, so that only the
    one at fault gets a problem.
    """
    longest, seconds = SETTINGS.maximum_batch_line_bytes, SETTINGS.seconds_per_batch_line
    try:
        with fail_after(START_SECONDS + seconds * len(items)):
            return await to_process.run_sync(
                answer_lines,
                question,
                items,
                content,
                longest,
                seconds,
                cancellable=True,
                limiter=_no_limit(),
            )
    except (TimeoutError, BrokenWorkerProcess) as error:
        if len(items) == 1:
            ended = out_of_time(items[0], seconds) if isinstance(error, TimeoutError) else failed(items[0])
            return ended.line()
    return b"".join([await answered(question, [item], content) for item in items])
