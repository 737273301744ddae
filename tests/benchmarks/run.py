"""Benchmarks, for reading: ratios to the floor, each measured in one run with every request distinct.

    python tests/benchmarks/run.py [--rounds 5] [--requests 400] [--question house-loss]

The machine's other work moves absolute times, so that only the ratios say anything. Server and load generator are pinned to a
processor each where there are two.
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import Any

import orjson
from load import Measured, measure, message

from warmstead.demo import requests
from warmstead.questions.registry import QUESTIONS

HERE = Path(__file__).parent
GOALS = {"house-loss": 0.30, "u-value": 0.28}
BAD_EVERY = 50
"""Every so many requests one is bad, and must still get its 422."""


@contextmanager
def server(app: str) -> Iterator[int]:
    """Serve an application on a free port, one worker, on processor 0 where there are two."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [
        sys.executable,
        "-m",
        "uvicorn",
        app,
        "--port",
        str(port),
        "--log-level",
        "warning",
        "--no-access-log",
    ]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(HERE), os.environ.get("PYTHONPATH", "")])}
    with subprocess.Popen(command, env=environment, preexec_fn=_pin(0)) as process:
        for _ in range(400):
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            except OSError:
                time.sleep(0.05)
        try:
            yield port
        finally:
            process.terminate()


def _pin(processor: int) -> Callable[[], None]:
    def pin() -> None:
        if hasattr(os, "sched_setaffinity") and (os.cpu_count() or 1) > 1:
            os.sched_setaffinity(0, {processor})

    return pin


def bodies(question: str, count: int) -> list[bytes]:
    """Return distinct requests: the demonstration one with a number of its own in each."""
    request = requests()[question]
    made = []
    for index in range(count):
        shift = 0.001 * index
        if "house" in request:
            request["house"]["conditions"]["external_temperature_c"] = -3.0 - 0.001 * shift
            request["house"]["rooms"][0]["floor_area_m2"] = 7.6 + shift
        else:
            layer = next(layer for layer in request["construction"]["layers"] if layer["kind"] == "solid")
            layer["thickness_mm"] = 13.0 + shift
        made.append(json.dumps(request).encode())
    return made


def with_bad_ones(question: str, good: list[bytes]) -> list[bytes]:
    """Return messages, with every so many of them one that must be refused."""
    bad = b'{"unknown": 1}'
    return [
        message(f"/v1/{question}", bad if index % BAD_EVERY == 1 else body) for index, body in enumerate(good)
    ]


def over_http(question: str, rounds: int, count: int) -> None:
    """Print the service's rate as a share of the floor's, rounds interleaved."""
    good = bodies(question, count)
    plain = [message(f"/v1/{question}", body) for body in good]
    mixed = with_bad_ones(question, good)
    with server("floor:app") as floor_port, server("warmstead.api.app:app") as port:
        measure(floor_port, plain[:50])
        measure(port, plain[:50])
        pairs: list[tuple[Measured, Measured]] = []
        for _ in range(rounds):
            pairs.append((measure(floor_port, plain), measure(port, mixed)))
    refused = sum(index % BAD_EVERY == 1 for index in range(count))
    for _, ours in pairs:
        assert ours.statuses == {200: count - refused, 422: refused}, ours.statuses
    ratio = median(ours.requests_per_second / floor.requests_per_second for floor, ours in pairs)
    goal = f" (goal {GOALS[question]:.2f})" if question in GOALS else ""
    print(
        f"{question:20} {ratio:.2f} of the floor{goal}; median {median(o.median_ms for _, o in pairs):.2f} ms against "
        f"{median(f.median_ms for f, _ in pairs):.2f} ms, p99 {median(o.p99_ms for _, o in pairs):.2f} ms"
    )


def in_process(question: str, count: int) -> None:
    """Print what an answer costs in process, as a multiple of reading the same bytes."""
    asked = QUESTIONS[question]
    texts = bodies(question, count)
    read: list[float] = []
    answered: list[float] = []
    for text in texts:
        started = time.perf_counter()
        request = asked.request.model_validate_json(text)
        middle = time.perf_counter()
        orjson.dumps(asked.answer(request))
        read.append(middle - started)
        answered.append(time.perf_counter() - middle)
    whole = [first + second for first, second in zip(read, answered, strict=True)]
    print(
        f"{question:20} in process {1000 * median(whole):.3f} ms, {median(whole) / median(read):.2f} × reading it "
        f"({1000 * median(read):.3f} ms)"
    )


def start(rounds: int) -> None:
    """Print how long a first answer takes from a cold start, against a bare FastAPI application."""
    bare = "import fastapi, pydantic; app = fastapi.FastAPI(); app.post('/')(lambda: 1)"
    ours = "import warmstead.api.app"
    ratios, memory = [], []
    for _ in range(rounds):
        figures: dict[str, tuple[float, int]] = {}
        for name, code in (("bare", bare), ("ours", ours)):
            measured = f"{code}\nimport resource; print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
            started = time.perf_counter()
            output = subprocess.run(
                [sys.executable, "-c", measured], capture_output=True, text=True, check=True
            )
            figures[name] = (time.perf_counter() - started, int(output.stdout))
        ratios.append(figures["ours"][0] / figures["bare"][0])
        memory.append(figures["ours"][1] / figures["bare"][1])
    print(f"start                {median(ratios):.2f} × a bare FastAPI application (goal 1.5)")
    print(f"memory               {median(memory):.2f} × a bare FastAPI application (goal 1.3)")


def growth() -> None:
    """Print how an answer's cost grows with the number of elements."""
    asked = QUESTIONS["house-loss"]
    figures = []
    for elements in (10, 100, 1000, 10_000):
        house: dict[str, Any] = requests()["house-loss"]["house"]
        room = house["rooms"][0]
        pattern = {**room["elements"][0], "openings": []}
        rooms = []
        for index in range(max(1, elements // 100)):
            per_room = min(elements, 100)
            rooms.append(
                {
                    **room,
                    "id": f"room-{index}",
                    "elements": [{**pattern, "id": f"wall-{k}"} for k in range(per_room)],
                }
            )
        text = json.dumps({"house": {**house, "rooms": rooms}}).encode()
        times = []
        for _ in range(5):
            started = time.perf_counter()
            orjson.dumps(asked.answer(asked.request.model_validate_json(text)))
            times.append(time.perf_counter() - started)
        figures.append(f"{elements}: {1e6 * median(times) / elements:.1f}")
    print(f"growth               µs for each element at {', '.join(figures)}")


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--requests", type=int, default=400)
    parser.add_argument("--question", choices=sorted(QUESTIONS), action="append")
    arguments = parser.parse_args()
    asked = arguments.question or list(QUESTIONS)
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    for question in asked:
        in_process(question, arguments.requests)
    if arguments.question is None:
        growth()
        start(arguments.rounds)
    _pin(1)()
    for question in asked:
        over_http(question, arguments.rounds, arguments.requests)


if __name__ == "__main__":
    main()
