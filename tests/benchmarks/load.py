"""A small load generator: requests put together beforehand, a few connections kept open.

A general HTTP client would cost more than the service that it measures. There are two ways to ask:

`full`   as fast as answers come, on every connection: the capacity.
`paced`  at a fixed rate, whatever the answers take. A latency counts from the moment at which its request was to be sent, so
         that a server which stands still is charged for everybody who waits meanwhile.
"""

from __future__ import annotations

import asyncio
import time
from collections import Counter, deque
from collections.abc import Callable
from dataclasses import dataclass
from typing import cast

import uvloop

CONNECTIONS = 8
TIMES_OUT_AFTER_S = 120.0


@dataclass(frozen=True)
class Measured:
    """What one round of requests took."""

    requests_per_second: float
    latencies_s: list[float]
    """Ranked, the shortest first."""
    statuses: Counter[int]

    def latency_s(self, share: float) -> float:
        """Return the latency that this share of the requests stayed within, s."""
        return self.latencies_s[min(int(share * len(self.latencies_s)), len(self.latencies_s) - 1)]


def message(path: str, body: bytes) -> bytes:
    """Return a whole HTTP request."""
    head = f"POST {path} HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/json\r\ncontent-length: {len(body)}\r\n\r\n"
    return head.encode() + body


class _Connection(asyncio.Protocol):
    """One connection: a request at a time, and who is told of the answer's status."""

    def __init__(self, answered: Callable[[_Connection, int], None], lost: Callable[[], None]) -> None:
        self._answered = answered
        self._lost = lost
        self._received = bytearray()
        self._length = -1
        self.since = 0.0
        """When the request in flight was to be sent."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        self._transport = cast(asyncio.Transport, transport)  # uvloop's own, no subclass of it

    def ask(self, sent: bytes, since: float) -> None:
        """Send a request."""
        self.since = since
        self._transport.write(sent)

    def data_received(self, data: bytes) -> None:
        self._received += data
        if self._length < 0:
            end = self._received.find(b"\r\n\r\n")
            if end < 0:
                return
            head = bytes(self._received[:end]).lower()
            self._length = end + 4 + int(head.partition(b"content-length: ")[2].partition(b"\r\n")[0])
        if len(self._received) >= self._length:
            status = int(self._received[9:12])
            self._received.clear()
            self._length = -1
            self._answered(self, status)

    def connection_lost(self, exc: Exception | None) -> None:
        self._lost()

    def close(self) -> None:
        """Close the connection."""
        self._transport.close()


async def _ask_all(port: int, messages: list[bytes], rate: float | None) -> Measured:
    loop = asyncio.get_running_loop()
    done: asyncio.Future[None] = loop.create_future()
    latencies: list[float] = []
    statuses: Counter[int] = Counter()
    idle: list[_Connection] = []
    waiting: deque[tuple[bytes, float]] = deque()

    def answered(connection: _Connection, status: int) -> None:
        latencies.append(time.perf_counter() - connection.since)
        statuses[status] += 1
        if waiting:
            sent, since = waiting.popleft()
            connection.ask(sent, since if rate else time.perf_counter())
        else:
            idle.append(connection)
            if len(latencies) == len(messages) and not done.done():
                done.set_result(None)

    def lost() -> None:
        if not done.done():
            done.set_exception(ConnectionError("the server closed a connection"))

    for _ in range(CONNECTIONS):
        _, connection = await loop.create_connection(lambda: _Connection(answered, lost), "127.0.0.1", port)
        idle.append(connection)
    everyone = list(idle)

    def ask(sent: bytes, since: float) -> None:
        if idle:
            idle.pop().ask(sent, since)
        else:
            waiting.append((sent, since))

    started = time.perf_counter()
    if rate is None:
        for sent in messages:
            ask(sent, started)
    else:
        for number, sent in enumerate(messages):
            since = started + number / rate
            while (early := since - time.perf_counter()) > 0.0:
                await asyncio.sleep(early if early > 0.001 else 0.0)
            ask(sent, since)
    async with asyncio.timeout(TIMES_OUT_AFTER_S):
        await done
    elapsed = time.perf_counter() - started
    for connection in everyone:
        connection.close()
    return Measured(len(messages) / elapsed, sorted(latencies), statuses)


def full(port: int, messages: list[bytes]) -> Measured:
    """Send all messages as fast as answers come."""
    return uvloop.run(_ask_all(port, messages, None))


def paced(port: int, messages: list[bytes], requests_per_second: float) -> Measured:
    """Send all messages at a fixed rate."""
    return uvloop.run(_ask_all(port, messages, requests_per_second))
