"""Whatever may be sent is answered with finite numbers or refused with pointers: no exception, no infinity."""

from __future__ import annotations

import json
import math
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from warmstead.building.findings import Refused
from warmstead.questions.uncertainty import UncertaintyRequest, answer

Json = dict[str, Any]

ROOMS = st.sampled_from(["a", "b", "nowhere"])
ELEMENTS = st.sampled_from(["wall", "window", "ground", "party", "garage", "loft", "nothing"])
AMOUNTS = st.sampled_from([-100_000.0, -20.0, 0.0, 1e-6, 0.5, 1.0, 20.0, 100_000.0])
SPREADS = st.sampled_from([1e-6, 0.01, 0.3, 3.0, 100_000.0])
SHARES = st.sampled_from([1e-6, 0.1, 0.3, 2.0])


def member(name: str, values: st.SearchStrategy[Any]) -> st.SearchStrategy[Json]:
    return st.one_of(st.just({}), values.map(lambda value: {name: value}))


def together(*parts: st.SearchStrategy[Json]) -> st.SearchStrategy[Json]:
    return st.tuples(*parts).map(lambda found: {key: value for part in found for key, value in part.items()})


QUANTITIES = st.one_of(
    st.sampled_from(["wall", "roof", "slab", "nothing"]).map(
        lambda name: {"of": "u_value", "construction": name}
    ),
    together(st.just({"of": "area"}), member("room", ROOMS), member("element", ELEMENTS)),
    together(st.just({"of": "air_changes"}), member("room", ROOMS)),
    together(st.just({"of": "room_temperature"}), member("room", ROOMS)),
    together(st.just({"of": "neighbour_temperature"}), member("room", ROOMS), member("element", ELEMENTS)),
    st.sampled_from(
        [
            "external_temperature",
            "annual_mean_external_temperature",
            "airtightness",
            "thermal_bridge_surcharge",
        ]
    ).map(lambda of: {"of": of}),
    st.builds(
        lambda of, room, element: {"of": of, "room": room, "element": element},
        st.sampled_from(["adjacent_temperature", "temperature_reduction_factor"]),
        ROOMS,
        ELEMENTS,
    ),
    st.sampled_from(["garage", "nowhere"]).map(
        lambda name: {"of": "unheated_space_air_changes", "space": name}
    ),
)
DISTRIBUTIONS = st.one_of(
    together(
        st.sampled_from(["normal", "lognormal"]).map(lambda kind: {"kind": kind}),
        member("value", AMOUNTS),
        member("standard_uncertainty", SPREADS),
        member("relative_standard_uncertainty", SHARES),
    ),
    together(
        st.sampled_from(["rectangular", "triangular"]).map(lambda kind: {"kind": kind}),
        member("value", AMOUNTS),
        member("half_width", SPREADS),
        member("relative_half_width", SHARES),
        member("low", AMOUNTS),
        member("high", AMOUNTS),
    ),
)


def declared(u_value: float) -> Json:
    return {"kind": "declared", "u_value_w_m2k": u_value, "source": "this test"}


def element(id: str, construction: str, **boundary: Any) -> Json:
    return {"id": id, "construction": construction, "area_m2": 8, "boundary": boundary}


HOUSE: Json = {
    "conditions": {"external_temperature_c": -3, "annual_mean_external_temperature_c": 10},
    "constructions": {"wall": declared(1.5), "roof": declared(0.3), "slab": declared(0.4)},
    "unheated_spaces": [
        {
            "id": "garage",
            "volume_m3": 30,
            "air_changes": 1,
            "elements": [element("own", "wall", to="outside")],
        }
    ],
    "rooms": [
        {
            "id": "a",
            "floor_area_m2": 20,
            "height_m": 2.5,
            "elements": [
                element("wall", "wall", to="outside")
                | {"openings": [{"id": "window", "construction": "roof", "area_m2": 2}]},
                element("ground", "slab", to="ground"),
                element("party", "wall", to="neighbour", temperature_c=16),
                element("garage", "wall", to="unheated_space", space="garage"),
                element("loft", "roof", to="unheated_space", temperature_reduction_factor=0.9),
                element("between", "wall", to="room", room="b"),
            ],
        },
        {"id": "b", "floor_area_m2": 10, "height_m": 2.5, "elements": []},
    ],
}
CANDIDATE: Json = {
    "id": "unit",
    "performance": [
        {
            "external_temperature_c": t,
            "flow_temperature_c": 45,
            "capacity_w": 2000 + 50 * t,
            "coefficient_of_performance": 3,
        }
        for t in (-10, 5)
    ],
}


def numbers(value: Any) -> list[float]:
    if isinstance(value, dict):
        return [number for member in value.values() for number in numbers(member)]
    if isinstance(value, list):
        return [number for member in value for number in numbers(member)]
    return [float(value)] if isinstance(value, int | float) else []


@settings(max_examples=150)
@given(
    listed=st.lists(
        st.builds(lambda q, d: {"quantity": q, "distribution": d}, QUANTITIES, DISTRIBUTIONS), max_size=3
    ),
    confidence=st.dictionaries(
        st.sampled_from(["wall", "roof", "slab"]), st.sampled_from(["measured", "assumed"]), max_size=2
    ),
    defaults=st.booleans(),
    airtight=st.sampled_from([None, 0, 5]),
    chosen=st.booleans(),
)
def test_everything_is_answered_in_finite_numbers_or_refused(
    listed: list[Json], confidence: Json, defaults: bool, airtight: float | None, chosen: bool
) -> None:
    house = HOUSE
    if airtight is not None:
        house = HOUSE | {"ventilation": {"method": "airtightness", "air_changes_at_50pa": airtight}}
    request: Json = {"house": house, "defaults": defaults, "draws": 1000}
    if listed:
        request["quantities"] = listed
    if confidence:
        request["confidence"] = confidence
    if chosen:
        request |= {"candidates": [CANDIDATE], "flow_temperature_c": 45}
    try:
        found = answer(UncertaintyRequest.model_validate_json(json.dumps(request)), workings=True)
    except Refused as refusal:
        found = None
        pointers = [problem.pointer for problem in refusal.problems]
    if found is None:
        assert pointers
        assert all(pointer.startswith("/") for pointer in pointers)
        return
    assert all(math.isfinite(number) for number in numbers(found))
    for row in found["inputs"]:
        assert 0.0 <= row["share_of_variance"] <= 1.0
        assert row["narrowing_w"] >= 0.0
    shares = [row["first_order_share"] for row in found["inputs"]]
    assert sum(shares) == 0.0 or math.isclose(sum(shares), 1.0, rel_tol=1e-9)
    shortest, symmetric = found["intervals"]["shortest"], found["intervals"]["symmetric"]
    assert shortest["width_w"] <= symmetric["width_w"] * (1.0 + 1e-12)
    if "choice" in found:
        now = found["choice"]["probability_of_wrong_choice"]
        assert found["choice"]["probability_if_all_known"] <= now
        assert all(row["probability_of_wrong_choice_if_known"] <= now for row in found["inputs"])
