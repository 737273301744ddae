"""The demonstration house, three candidate heat pumps, and one request for each question. All of it is invented.

No such house, street or unit exists; nothing here was measured. It is made the way older British houses are: a
semi-detached house of about 1930 in solid brick, a garage with a bedroom over it of about 1975, a kitchen extension
in timber frame of about 2005, and half of what should have been insulated since.

Plan, in metres between finished surfaces (x from the flank eastwards, y from the street northwards):

    ground storey, 2.6 high                            first storey, 2.5 high

            0         2.0 2.1     4.0      6.2                 0         2.0 2.1              6.2
    11.135  +----------------------+
            |       kitchen        |
     7.535  +----------+-----------+-------+           7.3     +----------+-------------------+
            | utility  |  dining           |                   | bathroom |  bedroom-2        | next
            |          |                   | next      5.1/5.0 +----------+                   | door
     3.9/3.8+----------+-------------------+ door      3.9/3.8 | landing  +-------------------+
     garage | hall     |  living           |           bed-3   |          |  bedroom-1        |
            | (stairs) |                   |           2.3/2.2 +----------+                   |
            |          |                   |                   | study    |                   |
     0      +----------+-------------------+           0       +----------+-------------------+

    room        x               y              floor    height
    hall        0 to 2.0        0 to 3.8       7.60     2.6     suspended timber floor
    living      2.1 to 6.2      0 to 3.8       15.58    2.6     suspended timber floor, open chimney
    dining      2.1 to 6.2      3.9 to 7.3     13.94    2.6     suspended timber floor
    utility     0 to 2.0        3.9 to 7.3     6.80     2.6     suspended timber floor
    kitchen     0 to 4.0        7.535 to 11.135  14.40  2.6     slab of its own, flat roof
    garage      -2.835 to -0.235  0 to 5.0     13.00    2.6     unheated, slab of its own
    landing     0 to 2.0        2.3 to 5.0     5.40     2.5
    bedroom-1   2.1 to 6.2      0 to 3.8       15.58    2.5     over the living room
    bedroom-2   2.1 to 6.2      3.9 to 7.3     13.94    2.5     over the dining room
    study       0 to 2.0        0 to 2.2       4.40     2.5     over the hall
    bathroom    0 to 2.0        5.1 to 7.3     4.40     2.5     over the utility room
    bedroom-3   -2.835 to -0.235  0 to 5.0     13.00    2.5     over the garage

Outside walls, by construction:

    wall-solid-bare     brick of 220 mm, plastered: hall, dining, utility, bedroom-1 and study; the bathroom's flank;
                        1.5 m of the living room's front
    wall-solid-lined    the same, lined on the inside: bedroom-2, the bathroom's rear, and the other 2.6 m of the
                        living room's front
    wall-cavity-filled  bedroom-3
    wall-timber-frame   kitchen

Each partition is declared once, in one of its two rooms, those between rooms of equal temperature included, so that
other temperatures can be tried. Of a wall that a partition meets, the 0.1 m that it covers are left out, and so is
the open stairwell of 3.0 m² between hall and landing. Internal doors count with their partitions, the step in the
living room's front where its lining ends counts for nothing. The whole suspended floor is 6.2 by 7.3 m; exposed are
its front, its flank (towards the garage too) and the 2.2 m of its rear beside the extension.

The survey states all but three things, so that a reader sees what a default's warning looks like: the air that the
chimney draws, the depth of the ground water, and the exponent of the utility room's radiator.

At 45 °C flow and 40 °C return four rooms fall short: hall, living, study and bathroom. The load lies a little above
the middle unit's capacity, by less than what the open chimney costs: take the larger unit, or close the chimney?
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any

from warmstead.demo.second_survey import second_survey

__all__ = ["candidates", "house", "requests", "survey"]


def house() -> dict[str, Any]:
    """Return the demonstration house, a copy of the caller's own."""
    document: dict[str, Any] = json.loads(_text("house.json"))
    return document


def candidates() -> list[dict[str, Any]]:
    """Return three heat pumps to choose from, smallest first, a copy of the caller's own."""
    documents: list[dict[str, Any]] = json.loads(_text("candidates.json"))
    return documents


def requests() -> dict[str, dict[str, Any]]:
    """Return one complete request for each question, by the question's name in URLs."""
    constructions = house()["constructions"]
    return {
        "u-value": {"construction": constructions["wall-timber-frame"]},
        "required-thickness": {
            "construction": constructions["wall-solid-lined"],
            "layer": 1,
            "target_u_value_w_m2k": 0.3,
        },
        "room-loss": {"house": house(), "room": "living"},
        "house-loss": {"house": house()},
        "emitter-check": {"house": house(), "flow_temperature_c": 45, "return_temperature_c": 40},
        "heat-pump-sizing": {
            "house": house(),
            "flow_temperature_c": 45,
            "hot_water": {"energy_kwh_per_day": 6.5, "storage_temperature_c": 55},
            "candidates": candidates(),
        },
        "improvements": {
            "house": house(),
            "candidates": candidates(),
            **json.loads(_text("improvements.json")),
        },
        "survey-comparison": {
            "first": house(),
            "second": second_survey(house()),
            **json.loads(_text("survey-comparison.json")),
        },
        "uncertainty": {
            "house": house(),
            "candidates": candidates(),
            **json.loads(_text("uncertainty.json")),
        },
        "measured-heat-loss": {"house": house(), **json.loads(_text("measured-heat-loss.json"))},
        "radiator-output": {
            "standard_output_w": 1450,
            "standard_excess_temperature_k": 50,
            "exponent": 1.3,
            "flow_temperature_c": 45,
            "return_temperature_c": 40,
            "room_temperature_c": 21,
        },
        "element-loss": {
            "area_m2": 9.8,
            "u_value_w_m2k": 2.1,
            "internal_temperature_c": 21,
            "external_temperature_c": -3.2,
            "surcharge_w_m2k": 0.1,
        },
        "outside-temperature": {"place": "Birmingham", "altitude_m": 150, "exceedance_percent": 99.6},
    }


def survey() -> dict[str, Any]:
    """Return the demonstration house with what a workbook holds beside it: water temperatures, hot water, candidates."""
    asked = requests()
    emitters = asked["emitter-check"]
    return asked["heat-pump-sizing"] | {"return_temperature_c": emitters["return_temperature_c"]}


@cache
def _text(file: str) -> str:
    from importlib.resources import files  # slow to import, and nobody needs it before the demo is asked for

    return files(__name__).joinpath(file).read_text(encoding="utf-8")
