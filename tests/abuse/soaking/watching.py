"""What the service's processes hold, again and again: memory, descriptors, threads, children."""

from __future__ import annotations

import asyncio
import time
from contextlib import suppress
from dataclasses import dataclass

import psutil

EVERY_SECONDS = 2.0


@dataclass(frozen=True)
class Sample:
    """The processes at one moment."""

    at_seconds: float
    server_mebibytes: float
    """Resident, of the process that was started and of its servers; not of those that long work is forked into."""
    family_mebibytes: float
    """Of all processes; pages that they share count in each."""
    descriptors: int
    threads: int
    processes: int


async def watched(pid: int, samples: list[Sample]) -> None:
    """Take samples until cancelled."""
    began = time.monotonic()
    while True:
        samples.append(await asyncio.to_thread(_sample, pid, began))
        await asyncio.sleep(EVERY_SECONDS)


def _sample(pid: int, began: float) -> Sample:
    server = psutil.Process(pid)
    family = [server, *server.children(recursive=True)]
    servers = {server.pid} | {p.pid for p in server.children() if "spawn_main" in " ".join(_line(p))}
    memory = {process.pid: _resident(process) for process in family}
    descriptors = threads = 0
    for process in family:
        if process.pid in servers:
            with suppress(psutil.Error):
                descriptors += process.num_fds()
                threads += process.num_threads()
    return Sample(
        time.monotonic() - began,
        sum(memory[number] for number in servers if number in memory),
        sum(memory.values()),
        descriptors,
        threads,
        len(family),
    )


def _resident(process: psutil.Process) -> float:
    with suppress(psutil.Error):
        return float(process.memory_info().rss) / 2**20
    return 0.0


def _line(process: psutil.Process) -> list[str]:
    with suppress(psutil.Error):
        return list(process.cmdline())
    return []
