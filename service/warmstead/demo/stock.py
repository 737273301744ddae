"""An invented housing stock: the demonstration house over and over, each with numbers of its own, drawn with a seed.

Nobody lives there. The houses differ in size, in how the layers of their walls, roofs and floors were built, in air changes, in
design temperatures and in the place they stand at; so each is a calculation of its own. The numbers are drawn evenly within what is
common; the stock stands for no real one.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import Any

import orjson

from warmstead.demo import house

SMALLEST, LARGEST = 0.7, 1.5
"""Shares of the demonstration house's lengths."""


def housing_stock(houses: int, seed: int = 1) -> Iterator[dict[str, Any]]:
    """Yield invented houses as requests to `house-loss`, with ids `invented-000001` and so on.

    Args:
        houses: how many.
        seed: of the numbers that are drawn; the same seed gives the same houses.
    """
    drawn = Random(seed)
    pattern = orjson.dumps(house())
    for number in range(1, houses + 1):
        yield {"id": f"invented-{number:06}", "house": _varied(orjson.loads(pattern), drawn)}


def _varied(document: dict[str, Any], drawn: Random) -> dict[str, Any]:
    document["name"] = "An invented house of an invented stock"
    conditions = document["conditions"]
    conditions["external_temperature_c"] = round(drawn.uniform(-6.0, 0.0), 1)
    conditions["annual_mean_external_temperature_c"] = round(drawn.uniform(8.5, 11.5), 1)
    length = drawn.uniform(SMALLEST, LARGEST)
    for construction in document["constructions"].values():
        _vary_construction(construction, length, drawn)
    for room in document["rooms"]:
        _vary_room(room, length, drawn)
    for space in document.get("unheated_spaces", ()):
        space["volume_m3"] = _scaled(space["volume_m3"], length**2)
        _vary_elements(space["elements"], length)
    return document


def _vary_construction(construction: dict[str, Any], length: float, drawn: Random) -> None:
    for layer in construction.get("layers", ()):
        if layer["kind"] == "solid":
            layer["thickness_mm"] = _scaled(layer["thickness_mm"], drawn.uniform(0.8, 1.25))
    if construction["kind"] == "ground_floor":
        construction["area_m2"] = _scaled(construction["area_m2"], length**2)
        construction["exposed_perimeter_m"] = _scaled(construction["exposed_perimeter_m"], length)


def _vary_room(room: dict[str, Any], length: float, drawn: Random) -> None:
    room["floor_area_m2"] = _scaled(room["floor_area_m2"], length**2)
    if "design_temperature_c" in room:
        room["design_temperature_c"] += drawn.choice((-1, 0, 0, 1))
    if "air_changes" in room.get("ventilation", {}):
        room["ventilation"]["air_changes"] = _scaled(
            room["ventilation"]["air_changes"], drawn.uniform(0.8, 1.4)
        )
    _vary_elements(room["elements"], length)


def _vary_elements(elements: list[dict[str, Any]], length: float) -> None:
    for element in elements:
        for name in ("area_m2", "length_m"):
            if name in element:
                element[name] = _scaled(element[name], length**2 if name == "area_m2" else length)
        for opening in element.get("openings", ()):
            if "area_m2" in opening:
                opening["area_m2"] = _scaled(opening["area_m2"], length)


def _scaled(value: float, share: float) -> float:
    return round(value * share, 4)
