"""A second, tiny implementation with words and units of its own, for the tests of mappings and programs.

It knows walls of plain layers and radiators, over HTTP (`app`) or as a program (run as a file). It is wrong on
purpose in two ways: it does not see the studs in a layer, and it takes the arithmetic mean of any two temperatures.
"""

from __future__ import annotations

import json
import sys
from typing import Any

INSIDE = {"level": 0.13, "up": 0.10, "down": 0.17}
OUTSIDE = 0.04


def wall(asked: dict[str, Any]) -> dict[str, Any]:
    """Add up the layers, which are in metres."""
    resistance = asked.get("inside", INSIDE[asked["flow"]]) + asked.get("outside", OUTSIDE)
    for layer in asked["layers"]:
        resistance += layer["r"] if "r" in layer else layer["metres"] / layer["lambda"]
    return {"wall": {"uValue": 1 / resistance, "totalR": resistance, "text": f"{1 / resistance:.2f}"}}


def radiators(asked: dict[str, Any]) -> dict[str, Any]:
    """Give each radiator's output in kilowatts; temperatures are in kelvins."""
    rooms = []
    for room in asked["rooms"]:
        excess = (asked["flowK"] + asked["returnK"]) / 2 - room["airK"]
        if excess <= 0:
            raise ValueError("no heat from water that is colder than the room")
        listed = [
            {"name": one["name"], "kW": one["kW"] * (excess / one["ratedAt"]) ** one["n"], "excess": excess}
            for one in room["radiators"]
        ]
        rooms.append({"name": room["name"], "radiators": listed})
    return {"rooms": rooms}


QUESTIONS = {"/wall": wall, "/radiators": radiators}


def answer(path: str, body: Any) -> tuple[int, dict[str, Any]]:
    """Return a status and an answer."""
    if path not in QUESTIONS:
        return 404, {"sorry": path}
    try:
        return 200, QUESTIONS[path](body)
    except (KeyError, TypeError, ValueError) as error:
        return 400, {"sorry": repr(error)}


async def app(scope: dict[str, Any], receive: Any, send: Any) -> None:
    """Answer over HTTP."""
    content, more = b"", True
    while more:
        message = await receive()
        content, more = content + message.get("body", b""), message.get("more_body", False)
    status, told = answer(scope["path"], json.loads(content))
    headers = [(b"content-type", b"application/json")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": json.dumps(told).encode()})


def main() -> None:
    """Answer one request as a program."""
    asked = json.load(sys.stdin)
    status, told = answer(asked["path"], asked.get("body"))
    json.dump({"status": status, "body": told}, sys.stdout)


if __name__ == "__main__":
    main()
