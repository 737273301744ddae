"""Houses of which only what a test is about has to be written."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead

Json = dict[str, Any]


def _declared(u_value: float) -> Json:
    return {"kind": "declared", "u_value_w_m2k": u_value, "source": "the figures of this test"}


@pytest.fixture
def room() -> Callable[..., Json]:
    """Return a function that makes a room of 24 m² and 60 m³ at 20 °C without air and without walls."""

    def made(id: str = "a", *elements: Json, **changes: Any) -> Json:
        return {
            "id": id,
            "use": "living_room",
            "design_temperature_c": 20,
            "floor_area_m2": 24,
            "volume_m3": 60,
            "ventilation": {"air_changes": 0},
            "elements": list(elements),
        } | changes

    return made


@pytest.fixture
def element() -> Callable[..., Json]:
    """Return a function that makes an element of the construction `wall`, or another one."""

    def made(id: str, area_m2: float, to: str | Json, construction: str = "wall", **changes: Any) -> Json:
        boundary = {"to": to} if isinstance(to, str) else to
        return {"id": id, "construction": construction, "area_m2": area_m2, "boundary": boundary} | changes

    return made


@pytest.fixture
def house() -> Callable[..., Json]:
    """Return a function that makes a house at −10 °C outside and 10 °C in the ground, with no default taken.

    Its constructions: `wall` of 1 W/(m²K), `half` of 0.5 W/(m²K), and what is given besides.
    """

    def made(*rooms: Json, constructions: Json | None = None, **changes: Any) -> Json:
        return {
            "dimensions": "internal",
            "reheat_w_m2": 0,
            "conditions": {
                "external_temperature_c": -10,
                "annual_mean_external_temperature_c": 10,
                "national_annex": "GB",
                "ground_rule": "annual_mean",
                "ground_water": "deeper_than_1_m",
            },
            "constructions": {"wall": _declared(1.0), "half": _declared(0.5), **(constructions or {})},
            "ventilation": {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.34},
            "thermal_bridges": {"surcharge_w_m2k": 0},
            "rooms": list(rooms),
        } | changes

    return made


@pytest.fixture
def loss() -> Callable[[Json], Json]:
    """Return a function that asks for a house's loss."""

    def asked(house: Json) -> Json:
        answer: Json = warmstead.house_loss({"house": house})
        return answer

    return asked


@pytest.fixture
def row() -> Callable[[Json, str, str], Json]:
    """Return a function that picks the row of one element of one room out of an answer."""

    def picked(answer: Json, room: str, id: str) -> Json:
        (statement,) = [one for one in answer["rooms"] if one["id"] == room]
        (found,) = [one for one in statement["elements"] if one["id"] == id]
        return dict(found)

    return picked


@pytest.fixture
def warned() -> Callable[..., list[str]]:
    """Return a function that lists where an answer warns with a code."""

    def listed(answer: Json, code: str) -> list[str]:
        return [warning["pointer"] for warning in answer["warnings"] if warning["code"] == code]

    return listed


@pytest.fixture
def refused() -> Callable[..., list[tuple[str, str]]]:
    """Return a function that asks a question and lists pointer and code of each problem."""

    def listed(question: Callable[[Json], Any], document: Json) -> list[tuple[str, str]]:
        with pytest.raises(warmstead.Refused) as caught:
            question(document)
        return [(problem.pointer, problem.code) for problem in caught.value.problems]

    return listed
