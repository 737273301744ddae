"""A second survey of the demonstration house, as invented as the first: what a hurried surveyor would have made of it.

Four things are done as they often are. All walls of the living room are taken for its worst one; windows and doors are
left in the areas of their walls; every room has 1.5 air changes; and the outside temperature is another place's.
"""

from __future__ import annotations

from typing import Any

AIR_CHANGES = 1.5
OUTSIDE_C = -5.0
WORST_WALL = "wall-solid-bare"


def second_survey(house: dict[str, Any]) -> dict[str, Any]:
    """Return the second survey, made of the first, which is changed."""
    house["name"] = "Demonstration house (invented), second survey"
    house["conditions"]["external_temperature_c"] = OUTSIDE_C
    for room in house["rooms"]:
        room["ventilation"]["air_changes"] = AIR_CHANGES
        for element in room["elements"]:
            if room["id"] == "living" and element["construction"].startswith("wall-solid"):
                element["construction"] = WORST_WALL
            if element.get("openings"):
                _leave_openings_in(element)
    return house


def _leave_openings_in(element: dict[str, Any]) -> None:
    """Make an element's area so large that what is left without its openings is the whole of it."""
    whole = element.pop("length_m") * element.pop("height_m")
    openings = sum(opening["area_m2"] for opening in element["openings"])
    element["area_m2"] = round(whole + openings, 3)
