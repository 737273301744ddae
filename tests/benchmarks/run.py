"""Benchmarks, for reading: ratios, each measured interleaved with what it is a ratio to, every request distinct, nothing cached.

    python tests/benchmarks/run.py [--rounds 5] [--requests 300] [--question house-loss …] [--part over-http …]

The machine's other work moves absolute times, so that only the ratios say anything. The server is pinned to the first processor
and the load generator to the second where there are two. RESULTS.md keeps what was measured, by date of change.
"""

from __future__ import annotations

import argparse
import gc

from in_process import growth, in_process
from over_http import over_http
from requests_sent import MEASURED
from server import pin
from starting import starting

PARTS = ("in-process", "growth", "start", "over-http")
GOALS_OVER_HTTP = {"house-loss": "goal 0.30", "u-value": "goal 0.28"}
GOALS_IN_PROCESS = {"house-loss": "goal 1.5"}
SHARE_OF_REQUESTS = {"uncertainty": 0.1}
"""Of the number asked for: a request of 10,000 draws takes as long as many others."""


def _say(what: str, measured: object, goal: str | None = None) -> None:
    print(f"{what:20} {measured}{f' ({goal})' if goal else ''}", flush=True)


def _quiet_collector() -> None:
    """Set the garbage collector as the service does."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)


def main() -> None:
    """Run what is asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--requests", type=int, default=300)
    parser.add_argument("--question", choices=MEASURED, action="append")
    parser.add_argument("--part", choices=PARTS, action="append")
    arguments = parser.parse_args()
    questions, parts = arguments.question or MEASURED, arguments.part or PARTS
    counts = {
        name: max(50, round(SHARE_OF_REQUESTS.get(name, 1.0) * arguments.requests)) for name in MEASURED
    }
    pin(1)
    _quiet_collector()
    if "in-process" in parts:
        for name in questions:
            _say(name, in_process(name, counts[name]), GOALS_IN_PROCESS.get(name))
    if "growth" in parts:
        _say("growth", growth(arguments.rounds), "goal: linear")
    if "start" in parts:
        _say("start and memory", starting(arguments.rounds), "goals 1.5 and 1.3")
    if "over-http" in parts:
        for name in questions:
            _say(name, over_http(name, arguments.rounds, counts[name]), GOALS_OVER_HTTP.get(name))


if __name__ == "__main__":
    main()
