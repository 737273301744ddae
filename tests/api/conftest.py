"""Requests to the service in this process, and a house in which every part of the document occurs."""

from __future__ import annotations

import asyncio
import copy
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import AsyncIterator, Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import httpx
import pytest

from warmstead.api.app import app

Send = Callable[..., httpx.Response]
Json = dict[str, Any]

WALL: Json = {
    "kind": "layered",
    "heat_flow": "horizontal",
    "layers": [
        {"kind": "solid", "thickness_mm": 13, "conductivity_w_mk": 0.25},
        {
            "kind": "solid",
            "thickness_mm": 90,
            "conductivity_w_mk": 0.035,
            "bridges": [{"fraction": 0.12, "conductivity_w_mk": 0.13}],
        },
        {"kind": "air", "thickness_mm": 50, "ventilation": "unventilated"},
        {"kind": "solid", "thickness_mm": 102, "conductivity_w_mk": 0.77},
    ],
    "corrections": {"air_gaps": {"layer": 1, "level": 1}},
}
SLAB: Json = {
    "kind": "ground_floor",
    "floor": "slab_on_ground",
    "area_m2": 52,
    "exposed_perimeter_m": 24,
    "wall_thickness_mm": 300,
    "floor_resistance_m2k_w": 1.5,
}
WINDOW: Json = {
    "kind": "window",
    "glazing_area_m2": 1.2,
    "frame_area_m2": 0.4,
    "u_glazing_w_m2k": 1.1,
    "u_frame_w_m2k": 1.4,
    "glazing_perimeter_m": 4.6,
    "psi_glazing_w_mk": 0.06,
}


def _declared(u_value: float) -> Json:
    return {"kind": "declared", "u_value_w_m2k": u_value, "source": "an invented certificate"}


WHOLE_HOUSE: Json = {
    "name": "an invented house",
    "dimensions": "internal",
    "reheat_w_m2": 5,
    "conditions": {
        "external_temperature_c": -3.2,
        "annual_mean_external_temperature_c": 10.1,
        "national_annex": "GB",
    },
    "constructions": {
        "wall": WALL,
        "slab": SLAB,
        "window": WINDOW,
        "ceiling": _declared(0.16),
        "partition": _declared(1.7),
        "door": _declared(1.8),
        "party": {"kind": "typical", "row": "wall-granite-thickness-rdsap-2012", "thickness_mm": 400},
    },
    "ventilation": {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.33},
    "thermal_bridges": {
        "junctions": [
            {"id": "corner", "room": "lounge", "psi_w_mk": 0.09, "length_m": 2.5},
            {
                "id": "sill",
                "room": "lounge",
                "psi_w_mk": 0.04,
                "length_m": 1.8,
                "boundary": {"to": "outside"},
            },
        ]
    },
    "unheated_spaces": [
        {
            "id": "loft",
            "volume_m3": 60,
            "air_changes": 3,
            "elements": [
                {"id": "slope", "construction": "door", "area_m2": 70, "boundary": {"to": "outside"}},
            ],
        }
    ],
    "rooms": [
        {
            "id": "lounge",
            "name": "the room by the road",
            "use": "living_room",
            "floor_area_m2": 22,
            "height_m": 2.5,
            "design_temperature_c": 21,
            "ventilation": {"air_changes": 0.5, "supply_l_s": 8, "heat_recovery_efficiency": 0.7},
            "flues": [{"kind": "closed_stove", "air_l_s": 2}],
            "elements": [
                {
                    "id": "front",
                    "construction": "wall",
                    "length_m": 5.5,
                    "height_m": 2.5,
                    "boundary": {"to": "outside"},
                    "openings": [{"id": "bay", "construction": "window", "area_m2": 1.6}],
                },
                {"id": "floor", "construction": "slab", "area_m2": 22, "boundary": {"to": "ground"}},
                {
                    "id": "between",
                    "construction": "partition",
                    "area_m2": 10,
                    "boundary": {"to": "room", "room": "kitchen"},
                    "openings": [{"id": "inner-door", "construction": "door", "area_m2": 1.8}],
                },
                {
                    "id": "party",
                    "construction": "party",
                    "area_m2": 12,
                    "boundary": {"to": "neighbour", "temperature_c": 15},
                },
            ],
            "emitters": [
                {
                    "id": "radiator",
                    "kind": "radiator",
                    "standard_output_w": 1500,
                    "standard_excess_temperature_k": 50,
                    "exponent": 1.28,
                    "output_factor": 0.95,
                }
            ],
        },
        {
            "id": "kitchen",
            "use": "kitchen",
            "floor_area_m2": 14,
            "volume_m3": 35,
            "design_temperature_c": 18,
            "ventilation": {"air_changes": 0.8, "extract_l_s": 13},
            "elements": [
                {"id": "back", "construction": "wall", "area_m2": 9, "boundary": {"to": "outside"}},
                {
                    "id": "store",
                    "construction": "partition",
                    "area_m2": 5,
                    "boundary": {"to": "unheated_space", "temperature_reduction_factor": 0.5},
                },
                {
                    "id": "garage",
                    "construction": "partition",
                    "area_m2": 6,
                    "boundary": {"to": "unheated_space", "temperature_c": 3},
                },
            ],
            "emitters": [
                {
                    "id": "panel",
                    "kind": "underfloor",
                    "area_m2": 11,
                    "pipe_spacing_mm": 150,
                    "covering_resistance_m2k_w": 0.05,
                    "screed_thickness_mm": 45,
                    "screed_conductivity_w_mk": 1.2,
                    "pipe_outside_diameter_mm": 16,
                    "circuit": "mixed",
                }
            ],
        },
        {
            "id": "bedroom",
            "use": "bedroom",
            "floor_area_m2": 16,
            "height_m": 2.4,
            "design_temperature_c": 18,
            "ventilation": {"air_changes": 0.5},
            "elements": [
                {
                    "id": "ceiling",
                    "construction": "ceiling",
                    "area_m2": 16,
                    "boundary": {"to": "unheated_space", "space": "loft"},
                },
            ],
            "emitters": [
                {
                    "id": "convector",
                    "kind": "fan_convector",
                    "outputs": [
                        {"excess_temperature_k": 10, "output_w": 300},
                        {"excess_temperature_k": 50, "output_w": 1600},
                    ],
                }
            ],
        },
    ],
}


def _performance() -> list[Json]:
    return [
        {
            "external_temperature_c": outside,
            "flow_temperature_c": flow,
            "capacity_w": 5000 + 60 * outside - 15 * (flow - 35),
            "coefficient_of_performance": 3.6 + 0.07 * outside - 0.05 * (flow - 35),
            "minimum_capacity_w": 1600 + 25 * outside,
        }
        for outside in (-10, -2, 2, 7, 12)
        for flow in (35, 45, 55)
    ]


def _surveyed_again() -> Json:
    """Return the whole house as somebody else surveyed it: one room of another name, colder outside, larger elements."""
    again: Json = json.loads(json.dumps(WHOLE_HOUSE).replace('"lounge"', '"front-room"'))
    again["conditions"]["external_temperature_c"] -= 2
    for room in again["rooms"]:
        for element in room["elements"]:
            if "area_m2" in element:
                element["area_m2"] *= 1.25
    again["rooms"][0]["elements"].append(
        {
            "id": "alcove",
            "construction": again["rooms"][0]["elements"][0]["construction"],
            "area_m2": 2,
            "boundary": {"to": "outside"},
        }
    )
    return again


REQUESTS: dict[str, Json] = {
    "u-value": {"construction": WALL, "internal_temperature_c": 20, "external_temperature_c": 0},
    "required-thickness": {"construction": WALL, "layer": 1, "target_u_value_w_m2k": 0.25},
    "room-loss": {"house": WHOLE_HOUSE, "room": "lounge"},
    "house-loss": {"house": WHOLE_HOUSE},
    "emitter-check": {
        "house": WHOLE_HOUSE,
        "flow_temperature_c": 55,
        "return_temperature_c": 47,
        "circuits": [{"id": "mixed", "flow_temperature_c": 38, "return_temperature_c": 33}],
    },
    "heat-pump-sizing": {
        "house": WHOLE_HOUSE,
        "flow_temperature_c": 45,
        "candidates": [
            {
                "id": "outdoor-unit",
                "performance": _performance(),
                "backup_heater_w": 3000,
                "rating_basis": "integrated",
            }
        ],
        "hot_water": {"energy_kwh_per_day": 6, "storage_temperature_c": 52},
        "thresholds": {"minimum_coverage": 1.0, "maximum_coverage": 1.3},
    },
    "improvements": {
        "house": WHOLE_HOUSE,
        "measures": [
            {
                "id": "line",
                "name": "line the front",
                "cost": 900,
                "life_years": 40,
                "disruption": "a week",
                "actions": [
                    {
                        "kind": "add_layers",
                        "side": "inside",
                        "surfaces": [{"room": "lounge", "element": "front"}],
                        "layers": [{"kind": "solid", "thickness_mm": 60, "conductivity_w_mk": 0.04}],
                    }
                ],
            },
            {
                "id": "openings",
                "cost": 700,
                "excludes": ["roof"],
                "actions": [
                    {
                        "kind": "replace_construction",
                        "surfaces": [{"room": "lounge", "element": "bay"}],
                        "construction": _declared(1.1),
                    },
                    {"kind": "change_air", "rooms": ["lounge"], "air_changes": 0.4, "close_flues": True},
                ],
            },
            {
                "id": "roof",
                "cost": 600,
                "actions": [
                    {
                        "kind": "add_layers",
                        "side": "outside",
                        "surfaces": [{"space": "loft", "element": "slope"}],
                        "layers": [{"kind": "resistance", "resistance_m2k_w": 2}],
                    }
                ],
            },
            {
                "id": "radiator",
                "cost": 250,
                "actions": [
                    {
                        "kind": "swap_emitter",
                        "room": "lounge",
                        "emitter": "radiator",
                        "replacement": {
                            "id": "radiator",
                            "kind": "radiator",
                            "standard_output_w": 3500,
                            "standard_excess_temperature_k": 50,
                            "exponent": 1.3,
                        },
                    }
                ],
            },
        ],
        "goal": {"kind": "house_load", "design_heat_load_w": 2400},
        "flow_temperature_c": 45,
        "return_temperature_c": 40,
        "circuits": [{"id": "mixed", "flow_temperature_c": 38, "return_temperature_c": 33}],
        "candidates": [{"id": "outdoor-unit", "performance": _performance(), "rating_basis": "integrated"}],
        "hot_water": {"energy_kwh_per_day": 6, "storage_temperature_c": 52},
        "thresholds": {"minimum_coverage": 1.0, "maximum_coverage": 1.3},
        "runners_up": 2,
        "frontier_points": 10,
        "least_thickness": {"measure": "line", "action": 0, "layer": 0, "with_measures": ["openings"]},
    },
    "measured-heat-loss": {
        "house": WHOLE_HOUSE,
        "readings": [
            {
                "start": f"2024-02-{day + 1:02d}",
                "days": 1,
                "energy_kwh": 20.0 + 9.0 * max(0, 16 - 2 * day) + (-1) ** day,
                "external_temperature_c": 2.0 * day,
                "solar_irradiation_kwh_m2": 1.0 + day % 3,
                "hot_water_kwh": 3.0,
                "away": day == 11,
            }
            for day in range(12)
        ],
        "energy": {
            "kind": "gas",
            "efficiency": 0.9,
            "efficiency_standard_uncertainty": 0.02,
            "calorific_value": "gross",
            "efficiency_calorific_value": "net",
        },
        "base_use": {"kind": "given", "energy_kwh_per_day": 15},
        "regression": "robust",
        "solar_aperture_m2": 0.5,
        "internal_temperature_c": 19,
        "accepted_half_width": 10,
        "like_basis": {
            "mean_air_changes": 0.5,
            "ground_response": 0.4,
            "relative_standard_uncertainty": 0.1,
        },
    },
    "survey-comparison": {
        "first": WHOLE_HOUSE,
        "second": _surveyed_again(),
        "first_name": "our survey",
        "second_name": "the installer",
        "rooms": [{"first": "lounge", "second": "front-room"}],
        "elements": [
            {
                "first": {"room": "lounge", "element": "front"},
                "second": {"room": "front-room", "element": "front"},
            }
        ],
    },
    "uncertainty": {
        "house": WHOLE_HOUSE,
        "quantities": [
            {
                "quantity": {"of": "u_value", "construction": "wall"},
                "distribution": {"kind": "normal", "relative_standard_uncertainty": 0.1},
            }
        ],
        "draws": 1000,
        "seed": 1,
        "probability": 0.95,
        "candidates": [{"id": "outdoor-unit", "performance": _performance(), "rating_basis": "integrated"}],
        "flow_temperature_c": 45,
        "thresholds": {"minimum_coverage": 1.0, "maximum_coverage": 1.3},
    },
    "radiator-output": {
        "standard_output_w": 1450,
        "standard_excess_temperature_k": 50,
        "exponent": 1.3,
        "output_factor": 0.95,
        "flow_temperature_c": 45,
        "return_temperature_c": 40,
        "room_temperature_c": 21,
    },
    "element-loss": {
        "area_m2": 9.8,
        "u_value_w_m2k": 2.1,
        "internal_temperature_c": 21,
        "external_temperature_c": -3,
        "temperature_reduction_factor": 0.8,
        "surcharge_w_m2k": 0.1,
    },
    "outside-temperature": {"place": "Birmingham", "altitude_m": 150, "exceedance_percent": 99},
}
"""A complete request to each question."""


@pytest.fixture(scope="session")
def send() -> Send:
    """Return a function that sends one request to the application; an exception in it comes out here."""

    def sends(method: str, path: str, *, raising: bool = True, **request: Any) -> httpx.Response:
        async def once() -> httpx.Response:
            transport = httpx.ASGITransport(app, raise_app_exceptions=raising)
            async with httpx.AsyncClient(transport=transport, base_url="http://service.example") as client:
                return await client.request(method, path, **request)

        return asyncio.run(once())

    return sends


@pytest.fixture(scope="session")
def ask(send: Send) -> Send:
    """Return a function that posts a body to a question: text or bytes as they are, anything else as JSON."""

    def asks(question: str, body: Any, *, query: str = "", **request: Any) -> httpx.Response:
        content = body
        if not isinstance(body, bytes | str | AsyncIterator):
            content = json.dumps(body, allow_nan=False)
        headers = {"content-type": "application/json"} | request.pop("headers", {})
        return send("POST", f"/v1/{question}{query}", content=content, headers=headers, **request)

    return asks


@pytest.fixture(scope="session")
def lasting_headers() -> Callable[[httpx.Response], dict[str, str]]:
    """Return a function that gives an answer's headers without those that each answer has for itself."""

    def lasting(response: httpx.Response) -> dict[str, str]:
        headers = dict(response.headers)
        assert headers.pop("x-request-id")
        if response.request.url.path == "/metrics":
            del headers["content-length"]  # each request changes the figures
        return headers

    return lasting


@pytest.fixture
def requests() -> dict[str, Json]:
    """Return a complete request to each question, to be changed at will."""
    return copy.deepcopy(REQUESTS)


@pytest.fixture
def house() -> Json:
    """Return a house in which every part of the document occurs, to be changed at will."""
    return copy.deepcopy(WHOLE_HOUSE)


@pytest.fixture
def refusal(ask: Send) -> Callable[..., list[tuple[str, str]]]:
    """Return a function that posts a body and gives pointer and code of every error of its refusal."""

    def refused(question: str, body: Any) -> list[tuple[str, str]]:
        response = ask(question, body)
        assert response.status_code == 422, response.text
        return [(error["pointer"], error["code"]) for error in response.json()["errors"]]

    return refused


# --- A service in a process of its own ------------------------------------------------------------

SECONDS_TO_START = 60.0


class Served(NamedTuple):
    """A service that runs."""

    address: str
    process: subprocess.Popen[bytes]
    output: Path
    errors: Path

    def written(self) -> str:
        """Return all that it has written so far."""
        return self.output.read_text() + self.errors.read_text()

    def ended(self) -> int:
        """End it and return its status."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(20)


Serve = Callable[..., Served]


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Serve]:
    """Return a function that starts a service: by its command, or by what is given in its place."""
    started: list[Served] = []

    def start(
        *options: str,
        environment: dict[str, str] | None = None,
        command: tuple[str, ...] = ("warmstead.cli", "serve"),
        through: tuple[str, ...] = ("-m",),
    ) -> Served:
        port = free_port()
        name = f"service-{len(started)}"
        output, errors = tmp_path / f"{name}.out", tmp_path / f"{name}.err"
        own = {
            k: v for k, v in os.environ.items() if not k.startswith(("WARMSTEAD_", "OTEL_", "PROMETHEUS_"))
        }
        with output.open("wb") as out, errors.open("wb") as err:
            process = subprocess.Popen(
                [sys.executable, *through, *command, "--port", str(port), *options],
                stdout=out,
                stderr=err,
                env=own | (environment or {}),
            )
        served = Served(f"http://127.0.0.1:{port}", process, output, errors)
        started.append(served)
        deadline = time.monotonic() + SECONDS_TO_START
        while True:
            try:
                httpx.get(f"{served.address}/healthz")
                return served
            except httpx.HTTPError:
                assert process.poll() is None, served.written()
                assert time.monotonic() < deadline, served.written()
                time.sleep(0.05)

    yield start
    for served in started:
        if served.process.poll() is None:
            served.process.terminate()
            try:
                served.process.wait(20)
            except subprocess.TimeoutExpired:
                served.process.kill()
                served.process.wait()
