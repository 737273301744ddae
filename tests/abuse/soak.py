"""Load a service for long, at a share of its capacity, and tell whether it stays as it was.

    python tests/abuse/soak.py --minutes 20 --share 0.8
    python tests/abuse/soak.py --minutes 3 --plant leak        # must end with 1

Capacity is measured first, with the same mix. Then requests come at random times, at that share of it. Ends with 1 where the
lower end of the interval of a slope lies above what is tolerated (memory, descriptors), where an answer was wrong, or where a
request failed. 503 with Retry-After is told apart: on a machine that does other things besides, a share of capacity may be more
than there is for a moment.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from random import Random
from statistics import fmean, median

from soaking.load import Client, Outcome
from soaking.mix import Exchange, drawn, kinds
from soaking.slope import slope
from soaking.watching import Sample, watched

HERE = Path(__file__).parent
WARM_UP = 0.25
"""Share of the time that is left out: caches fill, the allocator finds its size."""
TOLERATED_PER_HOUR = {"server_mebibytes": 15.0, "descriptors": 20.0, "threads": 20.0}
"""By which a value may be sure to grow. A server keeps less than one more mebibyte in 15 minutes of a steady state."""
PERIODS = 5


async def soak(asked: argparse.Namespace) -> int:
    """Run the whole soak; returns the exit status."""
    mix, random = kinds(), Random(asked.seed)

    def draw() -> Exchange:
        return drawn(mix, random)

    with tempfile.TemporaryFile() as log:
        server = subprocess.Popen(_command(asked), stdout=log, stderr=log)
        try:
            await _up(asked.port)
            client = Client(asked.port)
            await client.closed_loop(draw, asked.capacity_seconds / 2, clients=8)  # warms it up
            capacity = await client.closed_loop(draw, asked.capacity_seconds, clients=8)
            print(f"capacity: {capacity:.0f} requests a second; {asked.share:.0%} of it follow", flush=True)
            started, client.outcome = client.outcome, Outcome()
            samples: list[Sample] = []
            watching = asyncio.create_task(watched(server.pid, samples))
            await client.open_loop(draw, 60 * asked.minutes, asked.share * capacity)
            watching.cancel()
        finally:
            server.terminate()
            server.wait(60)
        log.seek(0)
        tracebacks = log.read().count(b"Traceback")
    return _told(asked, capacity, started, client.outcome, samples, tracebacks)


def _command(asked: argparse.Namespace) -> list[str]:
    options = ["serve", "--port", str(asked.port), "--workers", str(asked.workers)]
    if asked.plant:
        return [sys.executable, str(HERE / "soaking" / "planted.py"), asked.plant, *options]
    return [sys.executable, "-m", "warmstead.cli", *options]


async def _up(port: int) -> None:
    for _ in range(600):
        try:
            _, writer = await asyncio.open_connection("127.0.0.1", port)
        except OSError:
            await asyncio.sleep(0.1)
        else:
            writer.close()
            return
    raise SystemExit("the service did not start")


def _told(
    asked: argparse.Namespace,
    capacity: float,
    before: Outcome,
    outcome: Outcome,
    samples: list[Sample],
    tracebacks: int,
) -> int:
    """Print what was found and return the exit status."""
    seconds = 60 * asked.minutes
    faults: list[str] = []
    steady = [sample for sample in samples if sample.at_seconds > WARM_UP * seconds]
    report: dict[str, object] = {
        "capacity_per_second": round(capacity, 1),
        "share": asked.share,
        "minutes": asked.minutes,
        "answered": outcome.answered,
        "busy_503": outcome.busy,
        "not_sent": outcome.not_sent,
        "load_of_machine": [round(value, 2) for value in os.getloadavg()],
    }
    for name, tolerated in TOLERATED_PER_HOUR.items():
        found = slope([s.at_seconds for s in steady], [float(getattr(s, name)) for s in steady])
        values = [getattr(s, name) for s in steady]
        report[name] = {"slope": str(found), "least": round(min(values), 1), "most": round(max(values), 1)}
        if found.lower > tolerated:
            faults.append(f"{name} grow: {found}")
    family = slope([s.at_seconds for s in steady], [s.family_mebibytes for s in steady])
    report["family_mebibytes"] = {
        "slope": str(family),
        "most": round(max(s.family_mebibytes for s in steady)),
    }
    report["processes"] = {
        "least": min(s.processes for s in steady),
        "most": max(s.processes for s in steady),
    }
    report["periods"] = [_period(outcome, samples, seconds, number) for number in range(PERIODS)]
    wrong, errors = before.wrong + outcome.wrong, before.errors + outcome.errors
    report |= {"wrong": dict(wrong), "errors": dict(errors), "tracebacks": tracebacks}
    if wrong:
        faults.append(f"{wrong.total()} wrong answers")
    if errors:
        faults.append(f"{errors.total()} failed requests")
    if tracebacks:
        faults.append(f"{tracebacks} tracebacks in the log")
    report["verdict"] = faults or "steady"
    print(json.dumps(report, indent=2))
    return 1 if faults else 0


def _period(outcome: Outcome, samples: list[Sample], seconds: float, number: int) -> dict[str, float]:
    """Return the times, and the memory, within one of the periods that the soak is divided into."""
    begins, ends = number * seconds / PERIODS, (number + 1) * seconds / PERIODS
    times = sorted(taken for at, taken in outcome.times if begins <= at < ends) or [0.0]
    memory = [sample.server_mebibytes for sample in samples if begins <= sample.at_seconds < ends] or [0.0]
    return {
        "answered": len(times),
        "server_mebibytes": round(fmean(memory), 2),
        "p50_ms": round(1000 * median(times), 2),
        "p99_ms": round(1000 * times[int(0.99 * len(times))], 2),
    }


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--minutes", type=float, default=20.0)
    parser.add_argument("--share", type=float, default=0.8, help="of the capacity that is measured first")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--capacity-seconds", type=float, default=20.0, help="for measuring the capacity")
    parser.add_argument("--plant", choices=("leak", "wrong", "sockets"), help="a fault to be found")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        asked.port = probe.getsockname()[1]
    return asked


if __name__ == "__main__":
    began = time.monotonic()
    status = asyncio.run(soak(_arguments()))
    print(f"{time.monotonic() - began:.0f} s in all")
    sys.exit(status)
