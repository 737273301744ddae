"""Start and memory, against the least FastAPI application behind the same server."""

from __future__ import annotations

import urllib.request
from statistics import median
from typing import NamedTuple

from requests_sent import bodies
from server import OURS, plain, started, until_listening


class Starting(NamedTuple):
    """Multiples of the bare application's."""

    start: float
    """Processor's time from the command to the first 200, so that others on the machine do not count; ours is a whole house."""
    memory: float
    """Resident, after that answer."""
    start_s: float
    memory_mb: float

    def __str__(self) -> str:
        return (
            f"first answer after {self.start:.2f} × a bare FastAPI application's time ({self.start_s:.2f} s), "
            f"{self.memory:.2f} × its memory ({self.memory_mb:.0f} MB)"
        )


def starting(rounds: int) -> Starting:
    """Measure cold starts, both applications in turn."""
    body = bodies("house-loss", 1)[0]
    starts, memories, seconds, megabytes = [], [], [], []
    _one(plain("bare:app"), "/healthz", None)  # leaves its bytecode
    _one(OURS, "/v1/house-loss", body)
    for _ in range(rounds):
        bare_s, bare_mb = _one(plain("bare:app"), "/healthz", None)
        ours_s, ours_mb = _one(OURS, "/v1/house-loss", body)
        starts.append(ours_s / bare_s)
        memories.append(ours_mb / bare_mb)
        seconds.append(ours_s)
        megabytes.append(ours_mb)
    return Starting(median(starts), median(memories), median(seconds), median(megabytes))


def _one(how: tuple[str, ...], path: str, body: bytes | None) -> tuple[float, float]:
    """Return the processor's time up to the first answer in s, and the resident memory then in MB."""
    with started(how) as running:
        until_listening(running)
        request = urllib.request.Request(
            f"http://127.0.0.1:{running.port}{path}", body, {"content-type": "application/json"}
        )
        with urllib.request.urlopen(request, timeout=60) as answer:
            answer.read()
        return running.processor_s(), running.resident_mb()
