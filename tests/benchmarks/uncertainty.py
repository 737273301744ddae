"""The uncertain load, for reading: time as a multiple of a house-loss request in process, and memory.

    python tests/benchmarks/uncertainty.py [--rounds 9]

Both requests are read from JSON and answered into JSON, interleaved in one run, so that only the ratio counts. Goal: 10,000 draws of the
demonstration house in at most 25 such requests, and memory that grows with the number of draws, never with draws times rows.
"""

from __future__ import annotations

import argparse
import json
import time
import tracemalloc
from statistics import median
from typing import Any

import orjson

from warmstead.demo import house, requests
from warmstead.questions.registry import QUESTIONS

GOAL = 25.0


def ask(question: str, text: bytes) -> None:
    """Answer one request as the service does."""
    asked = QUESTIONS[question]
    orjson.dumps(asked.answer(asked.request.model_validate_json(text)))


def seconds(question: str, text: bytes) -> float:
    """Return the processor's time for one answer: others on the machine do not count."""
    started = time.process_time()
    ask(question, text)
    return time.process_time() - started


def forty_rooms() -> dict[str, Any]:
    """Return the demonstration house's rooms several times over, 40 in all, each copy with its own neighbours."""
    document = house()
    rooms = []
    for copy in range(4):
        for room in json.loads(json.dumps(document["rooms"])):
            room["id"] = f"{room['id']}-{copy}"
            for element in room["elements"]:
                if element["boundary"]["to"] == "room":
                    element["boundary"]["room"] += f"-{copy}"
            rooms.append(room)
    kept = {room["id"] for room in rooms[:40]}
    for room in rooms[:40]:
        room["elements"] = [e for e in room["elements"] if e["boundary"].get("room", room["id"]) in kept]
    document["rooms"] = rooms[:40]
    return document


def of(document: dict[str, Any], draws: int) -> bytes:
    """Return the demonstration request for another house and another number of draws."""
    request = requests()["uncertainty"]
    names = {room["id"] for room in document["rooms"]}
    for item in request["quantities"]:
        room = item["quantity"].get("room")
        if room is not None and room not in names:
            item["quantity"]["room"] = f"{room}-0"
    return json.dumps({**request, "house": document, "draws": draws}).encode()


def peak_mb(text: bytes) -> float:
    """Return the most memory that one answer takes, NumPy's arrays included."""
    tracemalloc.start()
    ask("uncertainty", text)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def main() -> None:
    """Print times and memory."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=9)
    rounds = parser.parse_args().rounds
    large = forty_rooms()
    for name, document, goal in (
        ("demonstration house", house(), f" (goal {GOAL:g})"),
        ("40 rooms", large, ""),
    ):
        plain = json.dumps({"house": document}).encode()
        uncertain = of(document, 10_000)
        ask("house-loss", plain)
        ask("uncertainty", uncertain)
        pairs = [(seconds("house-loss", plain), seconds("uncertainty", uncertain)) for _ in range(rounds)]
        ratio = median(ours / house_loss for house_loss, ours in pairs)
        print(
            f"{name:20} 10,000 draws: {1000 * median(ours for _, ours in pairs):.1f} ms, {ratio:.1f} house-loss requests{goal}"
        )
        memory = ", ".join(
            f"{draws:,}: {peak_mb(of(document, draws)):.1f}" for draws in (1000, 10_000, 30_000)
        )
        print(f"{'':20} peak MB by draws: {memory}")


if __name__ == "__main__":
    main()
