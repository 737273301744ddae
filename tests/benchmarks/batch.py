"""Batches, for reading: what a house costs in them against one alone, houses a second, and memory against length.

    python tests/benchmarks/batch.py [--houses 1000 10000 100000] [--workers 1 2] [--seconds 20] [--only alone command http]

An invented stock (see `warmstead.demo.stock`), each house another; nothing is cached. A house alone is a request read from bytes,
answered, and written as bytes, in this process. What it costs is measured by the processor's time, before and after each run, so that
other work on the machine counts little; a house of a batch is charged with all that any process of the run did, start included.
"""

from __future__ import annotations

import argparse
import gc
import http.client
import os
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from statistics import median
from typing import Any

import orjson
import psutil

from warmstead.demo.stock import housing_stock
from warmstead.exchange.batch.stating import Item, state
from warmstead.exchange.documents import read
from warmstead.questions.registry import QUESTIONS

QUESTION = "house-loss"
GOAL = 0.6
COMMAND = [sys.executable, "-m", "warmstead.cli"]


class Watched:
    """A process with all its children: their processor time and the most memory they had together."""

    def __init__(self, pid: int) -> None:
        self._root = psutil.Process(pid)
        self._cpu: dict[int, float] = {}
        self.peak_mb = 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch)
        self._thread.start()

    def _watch(self) -> None:
        while not self._over.wait(0.25):
            self._look()

    def _look(self) -> None:
        memory = 0.0
        try:
            for process in (self._root, *self._root.children(recursive=True)):
                times = process.cpu_times()
                self._cpu[process.pid] = times.user + times.system
                # What a process shares with the one it was forked from counts once.
                memory += process.memory_full_info().pss / 1e6
        except psutil.NoSuchProcess:
            return
        self.peak_mb = max(self.peak_mb, memory)

    def cpu_seconds(self) -> float:
        self._look()
        return sum(self._cpu.values())

    def stop(self) -> None:
        self._over.set()
        self._thread.join()


def alone(texts: list[bytes]) -> float:
    """Return the median processor time of a house alone, s."""
    asked = QUESTIONS[QUESTION]
    times = []
    for text in texts:
        started = time.process_time()
        orjson.dumps(asked.answer(read(asked.request, text)))
        times.append(time.process_time() - started)
    return median(times)


def in_a_line(texts: list[bytes], content: Any) -> float:
    """Return the median processor time of a house as a line, s."""
    times = []
    for number, text in enumerate(texts, start=1):
        started = time.process_time()
        state(QUESTION, Item(number, text), content, 1 << 20).line()
        times.append(time.process_time() - started)
    return median(times)


def houses(count: int) -> Iterator[bytes]:
    """Yield the requests of an invented stock."""
    for request in housing_stock(count):
        yield orjson.dumps(request)


def without_ids(count: int) -> list[bytes]:
    """Return requests as they are sent alone."""
    return [orjson.dumps({"house": request["house"]}) for request in housing_stock(count)]


def compare(rounds: int = 9) -> None:
    """Print what a line costs in process, as a share of a house alone."""
    texts = without_ids(60)
    alone(texts)
    ratios: dict[str, list[float]] = {"full": [], "summary": []}
    for _ in range(rounds):
        one = alone(texts)
        for content, found in ratios.items():
            found.append(in_a_line(texts, content) / one)
    for content, found in ratios.items():
        print(
            f"a line, {content:8} {median(found):.2f} × a house alone, one process (goal {GOAL}); {len(texts[0]):,} bytes"
        )


def charged(count: int, run: Callable[[], tuple[float, float, float]], what: str) -> None:
    """Print what a run costs for each house against a house alone, measured before and after it."""
    texts = without_ids(60)
    before = alone(texts)
    seconds, cpu, peak = run()
    one = (before + alone(texts)) / 2
    print(
        f"{what:38} {count:>7,} houses: {count / seconds:6.0f} a second, {seconds / count / one:.2f} × the time and "
        f"{cpu / count / one:.2f} × the work of a house alone, {peak:.0f} MB",
        flush=True,
    )


def command(source: Path, workers: int, content: str, form: str) -> tuple[float, float, float]:
    """Run the command; returns seconds, processor seconds and peak memory in MB."""
    output = source.with_name(f"out.{form}")
    asked = ["--question", QUESTION, "--content", content, "--workers", str(workers), "--overwrite"]
    started = time.perf_counter()
    run = subprocess.Popen([*COMMAND, "batch", str(source), str(output), *asked], stderr=subprocess.PIPE)
    watched = Watched(run.pid)
    _, said = run.communicate()
    seconds = time.perf_counter() - started
    watched.stop()
    assert run.returncode == 0, said
    output.unlink()
    return seconds, watched.cpu_seconds(), watched.peak_mb


@contextmanager
def serving(processes: int) -> Iterator[tuple[int, int]]:
    """Serve; yields port and process id."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    environment = {**os.environ, "WARMSTEAD_BATCH_PROCESSES": str(processes)}
    with subprocess.Popen(
        [*COMMAND, "serve", "--port", str(port)], env=environment, stderr=subprocess.DEVNULL
    ) as run:
        for _ in range(400):
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            except OSError:
                time.sleep(0.05)
        try:
            yield port, run.pid
        finally:
            run.terminate()


def over_http(source: Path, count: int, port: int, pid: int, content: str) -> tuple[float, float, float]:
    """Send a stock over HTTP and read the answers; returns seconds, processor seconds and peak memory in MB."""
    service = http.client.HTTPConnection("127.0.0.1", port)
    service.putrequest("POST", f"/v1/{QUESTION}/batch?content={content}")
    service.putheader("Content-Type", "application/x-ndjson")
    service.putheader("Transfer-Encoding", "chunked")
    service.endheaders()

    def send() -> None:
        with source.open("rb") as file:
            for line in islice(file, count):
                service.send(b"%x\r\n%b\r\n" % (len(line), line))
        service.send(b"0\r\n\r\n")

    watched = Watched(pid)
    before = watched.cpu_seconds()
    started = time.perf_counter()
    sender = threading.Thread(target=send)
    sender.start()
    answered = sum(b'"status":200' in line for line in service.getresponse())
    seconds = time.perf_counter() - started
    sender.join()
    cpu = watched.cpu_seconds() - before
    watched.stop()
    assert answered == count
    return seconds, cpu, watched.peak_mb


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--houses", type=int, nargs="+", default=[1000, 10_000])
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    parser.add_argument("--content", choices=["full", "summary"], default="summary")
    parser.add_argument("--as", dest="form", choices=["ndjson", "ndjson.gz", "parquet"], default="ndjson")
    parser.add_argument(
        "--only", nargs="+", choices=["alone", "command", "http"], default=["alone", "command", "http"]
    )
    arguments = parser.parse_args()
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    if "alone" in arguments.only:
        compare()
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        for count in arguments.houses:
            source = folder / "stock.ndjson"
            with source.open("wb") as file:
                file.writelines(house + b"\n" for house in houses(count))
            for workers in arguments.workers:
                measure(source, count, workers, arguments)


def measure(source: Path, count: int, workers: int, asked: argparse.Namespace) -> None:
    """Run a stock through the command and over HTTP, with so many processes at work."""
    if "command" in asked.only:
        what = f"command, {workers} workers, {asked.content}, {asked.form}"
        charged(count, lambda: command(source, workers, asked.content, asked.form), what)
    if "http" in asked.only:
        what = f"HTTP, {workers} processes, {asked.content}"
        with serving(workers) as (port, pid):
            over_http(source, min(count, 50), port, pid, asked.content)  # so that its processes are there
            charged(count, lambda: over_http(source, count, port, pid, asked.content), what)


if __name__ == "__main__":
    main()
