"""An open load: requests are sent at their times, whether or not earlier ones are answered; times count from when each was due."""

from __future__ import annotations

import asyncio
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import NamedTuple

from soaking.mix import Exchange

NEW_CONNECTIONS = 0.1
"""Share of requests over a connection of their own; the others use those that are open."""
MOST_AT_HAND = 400
"""A generator that would keep more open than this is behind: it says so rather than fall further back."""
PATIENCE_SECONDS = 60.0
KEPT_SECONDS = 10.0
"""The service closes what was not used for 20 s (its default), which must not happen while something is being sent."""


@dataclass
class Outcome:
    """What became of the requests, and how long each took from when it was due."""

    answered: int = 0
    times: list[tuple[float, float]] = field(default_factory=list)
    """When it was due, in seconds from the beginning, and how long it took."""
    busy: int = 0
    """Refused with 503 and a time to come back."""
    errors: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    not_sent: int = 0


class _Kept(NamedTuple):
    """A connection that has nothing to do."""

    reader: asyncio.StreamReader
    writer: asyncio.StreamWriter
    since: float


class Client:
    """Connections to the service, kept open and used again."""

    def __init__(self, port: int, seed: int = 1) -> None:
        self._port = port
        self._idle: list[_Kept] = []
        self._random = Random(seed)
        self._first: dict[Exchange, bytes] = {}
        self.outcome = Outcome()

    async def closed_loop(self, draw: Callable[[], Exchange], seconds: float, clients: int) -> float:
        """Ask as fast as answers come; return answers a second."""
        ends = time.monotonic() + seconds
        before = self.outcome.answered

        async def one() -> None:
            while time.monotonic() < ends:
                await self._ask(draw(), time.monotonic(), 0.0)

        await asyncio.gather(*(one() for _ in range(clients)))
        return (self.outcome.answered - before) / seconds

    async def open_loop(self, draw: Callable[[], Exchange], seconds: float, per_second: float) -> None:
        """Ask at random times, so many a second on average."""
        began = time.monotonic()
        due = began
        under_way: set[asyncio.Task[None]] = set()
        while due < began + seconds:
            due += self._random.expovariate(per_second)
            await asyncio.sleep(max(0.0, due - time.monotonic()))
            if len(under_way) >= MOST_AT_HAND:
                self.outcome.not_sent += 1
                continue
            task = asyncio.create_task(self._ask(draw(), due, due - began))
            under_way.add(task)
            task.add_done_callback(under_way.discard)
        if under_way:
            await asyncio.wait(under_way, timeout=PATIENCE_SECONDS)

    async def _ask(self, exchange: Exchange, due: float, at: float) -> None:
        try:
            async with asyncio.timeout(PATIENCE_SECONDS):
                status, body = await self._exchanged(exchange)
        except (OSError, asyncio.IncompleteReadError, TimeoutError) as error:
            self.outcome.errors[f"{exchange.name}: {type(error).__name__}"] += 1
            return
        if status == 503:
            self.outcome.busy += 1
            return
        self._judge(exchange, status, body)
        self.outcome.answered += 1
        self.outcome.times.append((at, time.monotonic() - due))

    def _judge(self, exchange: Exchange, status: int, body: bytes) -> None:
        if status != exchange.status:
            self.outcome.wrong[f"{exchange.name}: status {status}"] += 1
        elif exchange.body is None:
            if body != self._first.setdefault(exchange, body):
                self.outcome.wrong[f"{exchange.name}: another answer than the first time"] += 1
        elif body != exchange.body:
            self.outcome.wrong[f"{exchange.name}: another answer than without a server"] += 1

    async def _exchanged(self, exchange: Exchange) -> tuple[int, bytes]:
        reader, writer = self._kept() or await asyncio.open_connection("127.0.0.1", self._port, limit=2**20)
        try:
            writer.write(exchange.message)
            head = (await reader.readuntil(b"\r\n\r\n")).lower()
            body = await _body(reader, head)
        except BaseException:
            writer.close()
            raise
        if b"connection: close" in head or self._random.random() < NEW_CONNECTIONS:
            writer.close()
        else:
            self._idle.append(_Kept(reader, writer, time.monotonic()))
        return int(head[9:12]), body

    def _kept(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter] | None:
        """Return a connection that is open, unless a new one is to be made."""
        while self._idle and self._random.random() >= NEW_CONNECTIONS:
            reader, writer, since = self._idle.pop()
            if time.monotonic() - since < KEPT_SECONDS:
                return reader, writer
            writer.close()
        return None


async def _body(reader: asyncio.StreamReader, head: bytes) -> bytes:
    if b"transfer-encoding: chunked" not in head:
        return await reader.readexactly(int(head.split(b"content-length: ")[1].split(b"\r\n")[0]))
    parts = []
    while size := int(await reader.readline(), 16):
        parts.append(await reader.readexactly(size))
        await reader.readexactly(2)
    await reader.readexactly(2)
    return b"".join(parts)
