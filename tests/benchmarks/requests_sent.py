"""The requests that are sent: each distinct, the demonstration house's, with a bad one here and there."""

from __future__ import annotations

import json
from typing import Any

from warmstead.demo import requests

MEASURED = (
    "u-value",
    "required-thickness",
    "room-loss",
    "house-loss",
    "emitter-check",
    "heat-pump-sizing",
    "uncertainty",
)
"""The questions whose speed is followed."""
BAD_EVERY = 50
"""Every so many requests one is bad, and must still get its 422."""
BAD = b'{"unknown": 1}'


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


def is_bad(index: int) -> bool:
    """Say whether the request of this number is one of the bad ones."""
    return index % BAD_EVERY == 1


def with_bad_ones(good: list[bytes]) -> list[bytes]:
    """Return the requests with a bad one in every so many places."""
    return [BAD if is_bad(index) else body for index, body in enumerate(good)]


def house_of(elements: int) -> bytes:
    """Return a house-loss request for a house of so many walls, at most 100 of them in a room."""
    house: dict[str, Any] = requests()["house-loss"]["house"]
    pattern = {**house["rooms"][0], "elements": []}
    wall = {**house["rooms"][0]["elements"][0], "openings": []}
    rooms = []
    for first in range(0, elements, 100):
        walls = [{**wall, "id": f"wall-{place}"} for place in range(first, min(first + 100, elements))]
        rooms.append({**pattern, "id": f"room-{first}", "elements": walls})
    return json.dumps({"house": {**house, "rooms": rooms}}).encode()
