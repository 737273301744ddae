"""Requests without pause over connections kept open, each counted: answered, or lost."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import Callable
from dataclasses import dataclass, field

from warmstead.demo import requests

BODY = json.dumps(requests()["u-value"]).encode()
REQUEST = (
    b"POST /v1/u-value HTTP/1.1\r\nhost: x\r\ncontent-type: application/json\r\ncontent-length: %d\r\n\r\n"
    % len(BODY)
) + BODY


@dataclass
class Outcome:
    """What became of the requests."""

    answered: int = 0
    connections: int = 0
    lost: list[str] = field(default_factory=list)
    """How, for each request that got no good answer."""


class Load:
    """A few clients that behave: one request after the other, and no more over a connection that is said to be closed."""

    def __init__(self, port: int, connections: int) -> None:
        self._port = port
        self._connections = connections
        self._outcome = Outcome()
        self._ending = False

    async def until(
        self, done: Callable[[], bool], begin: Callable[[], None], seconds: float = 120.0
    ) -> Outcome:
        """Load the service until something has come about.

        Args:
            done: whether it has.
            begin: sets it going, once all clients are at work.
            seconds: the longest that it may take.
        """
        clients = [asyncio.create_task(self._client()) for _ in range(self._connections)]
        await asyncio.sleep(1.0)
        begin()
        deadline = time.monotonic() + seconds
        while not await asyncio.to_thread(done):
            assert time.monotonic() < deadline, "it did not come about"
            await asyncio.sleep(0.2)
        await asyncio.sleep(1.0)
        self._ending = True
        await asyncio.gather(*clients)
        return self._outcome

    async def _client(self) -> None:
        while not self._ending:
            try:
                reader, writer = await asyncio.open_connection("127.0.0.1", self._port)
            except OSError as error:
                self._outcome.lost.append(f"no connection: {type(error).__name__}")
                continue
            self._outcome.connections += 1
            try:
                while not self._ending and await self._asked(reader, writer):
                    pass
            except (OSError, asyncio.IncompleteReadError) as error:
                self._outcome.lost.append(f"{type(error).__name__}")
            finally:
                writer.close()

    async def _asked(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> bool:
        """Ask once; return whether the connection may be used again."""
        writer.write(REQUEST)
        head = (await reader.readuntil(b"\r\n\r\n")).lower()
        await reader.readexactly(int(head.split(b"content-length: ")[1].split(b"\r\n")[0]))
        if head.startswith(b"http/1.1 200"):
            self._outcome.answered += 1
        else:
            self._outcome.lost.append(head[:40].decode())
        return b"connection: close" not in head
