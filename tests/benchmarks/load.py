"""A small load generator: requests put together beforehand, a few connections kept open, raw sockets.

A general HTTP client would cost more than the service that it measures.
"""

from __future__ import annotations

import asyncio
import time
from dataclasses import dataclass
from statistics import median


@dataclass(frozen=True)
class Measured:
    """What one round of requests took."""

    requests_per_second: float
    median_ms: float
    p99_ms: float
    statuses: dict[int, int]


def message(path: str, body: bytes) -> bytes:
    """Return a whole HTTP request."""
    head = f"POST {path} HTTP/1.1\r\nhost: localhost\r\ncontent-type: application/json\r\ncontent-length: {len(body)}\r\n\r\n"
    return head.encode() + body


async def _connection(port: int, messages: list[bytes], times: list[float], statuses: dict[int, int]) -> None:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    for sent in messages:
        started = time.perf_counter()
        writer.write(sent)
        head = await reader.readuntil(b"\r\n\r\n")
        length = int(head.lower().split(b"content-length: ")[1].split(b"\r\n")[0])
        await reader.readexactly(length)
        times.append(time.perf_counter() - started)
        status = int(head[9:12])
        statuses[status] = statuses.get(status, 0) + 1
    writer.close()
    await writer.wait_closed()


async def _round(port: int, messages: list[bytes], connections: int) -> Measured:
    times: list[float] = []
    statuses: dict[int, int] = {}
    started = time.perf_counter()
    await asyncio.gather(
        *(_connection(port, messages[first::connections], times, statuses) for first in range(connections))
    )
    elapsed = time.perf_counter() - started
    ranked = sorted(times)
    return Measured(
        len(messages) / elapsed, 1000 * median(times), 1000 * ranked[int(0.99 * len(ranked))], statuses
    )


def measure(port: int, messages: list[bytes], connections: int = 4) -> Measured:
    """Send all messages over a few connections and return what it took."""
    return asyncio.run(_round(port, messages, connections))
