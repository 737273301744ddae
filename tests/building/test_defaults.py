"""Each default that is taken is told, at the place that could have said it, and no other is."""

from __future__ import annotations

import copy
from typing import Any, get_args

import pytest

import warmstead
from warmstead.building.findings import WarningCode
from warmstead.questions.registry import QUESTIONS

Json = dict[str, Any]


def _air(**changes: Any) -> Json:
    return {"kind": "air", "thickness_mm": 50, "ventilation": "unventilated", "emissivity": 0.9} | changes


SUSPENDED: Json = {
    "kind": "ground_floor",
    "floor": "suspended",
    "area_m2": 50,
    "exposed_perimeter_m": 30,
    "wall_thickness_mm": 300,
    "soil_conductivity_w_mk": 1.5,
    "floor_resistance_m2k_w": 0.5,
    "height_above_ground_m": 0.3,
    "ventilation_opening_m2_per_m": 0.0015,
    "wind_speed_m_s": 4,
    "wind_shielding": "average",
    "underfloor_wall_u_value_w_m2k": 1.7,
}
SLAB: Json = {
    "kind": "ground_floor",
    "floor": "slab_on_ground",
    "area_m2": 50,
    "exposed_perimeter_m": 30,
    "wall_thickness_mm": 300,
    "soil_conductivity_w_mk": 1.5,
    "floor_resistance_m2k_w": 0.5,
}
CAVITY: Json = {
    "kind": "layered",
    "heat_flow": "horizontal",
    "layers": [
        {"kind": "solid", "thickness_mm": 100, "conductivity_w_mk": 0.5},
        _air(),
        _air(ventilation="slightly_ventilated", openings_mm2_per_m=800),
    ],
}
HOUSE: Json = {
    "dimensions": "internal",
    "reheat_w_m2": 0,
    "conditions": {
        "external_temperature_c": -3,
        "annual_mean_external_temperature_c": 10,
        "national_annex": "GB",
        "ground_rule": "annual_mean",
        "ground_water": "deeper_than_1_m",
    },
    "constructions": {"wall": CAVITY, "slab": SLAB},
    "ventilation": {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.33},
    "thermal_bridges": {"surcharge_w_m2k": 0.05},
    "unheated_spaces": [{"id": "loft", "volume_m3": 40, "air_changes": 2, "elements": []}],
    "rooms": [
        {
            "id": "a",
            "use": "living_room",
            "design_temperature_c": 21,
            "floor_area_m2": 20,
            "height_m": 2.5,
            "ventilation": {"air_changes": 0.5},
            "flues": [{"kind": "closed_stove", "air_l_s": 2}],
            "elements": [
                {"id": "wall", "construction": "wall", "area_m2": 12, "boundary": {"to": "outside"}},
                {"id": "floor", "construction": "slab", "area_m2": 20, "boundary": {"to": "ground"}},
            ],
            "emitters": [
                {
                    "id": "radiator",
                    "kind": "radiator",
                    "standard_output_w": 1500,
                    "standard_excess_temperature_k": 50,
                    "exponent": 1.3,
                },
                {
                    "id": "panel",
                    "kind": "underfloor",
                    "area_m2": 10,
                    "pipe_spacing_mm": 150,
                    "covering_resistance_m2k_w": 0.05,
                    "screed_thickness_mm": 45,
                    "screed_conductivity_w_mk": 1.2,
                    "pipe_outside_diameter_mm": 16,
                    "pipe_wall_thickness_mm": 2,
                    "pipe_conductivity_w_mk": 0.35,
                    "system": "A",
                    "zone": "occupied",
                    "resistance_below_m2k_w": 1.25,
                    "temperature_below_c": 10,
                },
            ],
        }
    ],
}
AIRTIGHT: Json = copy.deepcopy(HOUSE) | {
    "ventilation": {
        "method": "airtightness",
        "edition": "2003",
        "air_changes_at_50pa": 6,
        "shielding": "moderate",
        "height_above_ground_m": 3,
        "air_heat_capacity_wh_m3k": 0.34,
    }
}
AIRTIGHT["rooms"][0]["ventilation"]["exposed_openings"] = "one"
SIZING: Json = {
    "house": HOUSE,
    "base_temperature_c": 18,
    "flow_temperature_c": 45,
    "thresholds": {"minimum_coverage": 1, "maximum_coverage": 1.3},
    "candidates": [
        {
            "id": "unit",
            "rating_basis": "integrated",
            "performance": [
                {
                    "external_temperature_c": outside,
                    "flow_temperature_c": 45,
                    "capacity_w": 5000,
                    "coefficient_of_performance": 3,
                }
                for outside in (-7, 2, 12)
            ],
        }
    ],
}
WATER: Json = {"flow_temperature_c": 45, "return_temperature_c": 38}
GAS: Json = {
    "energy": {
        "kind": "gas",
        "efficiency": 0.85,
        "efficiency_standard_uncertainty": 0.02,
        "calorific_value": "gross",
        "efficiency_calorific_value": "gross",
    },
    "base_use": {"kind": "from_summer"},
    "regression": "robust",
    "internal_temperature_c": 19,
    "accepted_half_width": 0.25,
    # 10 kWh a day, and 5 more for each kelvin under 15 °C, give or take one.
    "readings": [
        {
            "start": f"2025-{month:02}-{day:02}",
            "days": 1,
            "energy_kwh": 10 + 5 * max(0, 15 - temperature) + (day % 3 - 1),
            "external_temperature_c": temperature,
        }
        for month, offset in ((1, 0), (4, 6), (7, 14))
        for day in range(1, 29)
        for temperature in (offset + day % 7,)
    ],
}
DOUBTS: Json = {
    "house": HOUSE,
    "defaults": True,
    "draws": 1000,
    "seed": 1,
    "probability": 0.95,
    "confidence": {"wall": "documented", "slab": "assumed"},
    "quantities": [
        {
            "quantity": {"of": "area"},
            "distribution": {"kind": "normal", "relative_standard_uncertainty": 0.02},
        },
        {"quantity": {"of": "air_changes"}, "distribution": {"kind": "triangular", "low": 0.6, "high": 1.4}},
    ],
}
COMPLETE: dict[str, tuple[str, Json]] = {
    "cavity": ("u-value", {"construction": CAVITY}),
    "suspended floor": ("u-value", {"construction": SUSPENDED, "national_annex": "GB"}),
    "house": ("house-loss", {"house": HOUSE}),
    "airtight house": ("house-loss", {"house": AIRTIGHT}),
    "emitters": ("emitter-check", {"house": HOUSE, **WATER}),
    "sizing": ("heat-pump-sizing", SIZING),
    "radiator": (
        "radiator-output",
        {
            "standard_output_w": 1000,
            "standard_excess_temperature_k": 50,
            "exponent": 1.3,
            "room_temperature_c": 20,
            **WATER,
        },
    ),
    "place": ("outside-temperature", {"place": "Birmingham", "exceedance_percent": 99.6, "altitude_m": 100}),
    "meter": ("measured-heat-loss", GAS),
    "meter of electricity": (
        "measured-heat-loss",
        {**GAS, "energy": {"kind": "electricity", "efficiency": 1, "efficiency_standard_uncertainty": 0.02}},
    ),
    "meter of an airtight house": (
        "measured-heat-loss",
        {**GAS, "house": AIRTIGHT, "like_basis": {"mean_air_changes": 0.4}},
    ),
    "doubts": ("uncertainty", DOUBTS),
    "doubts of an airtight house": (
        "uncertainty",
        {
            **DOUBTS,
            "house": AIRTIGHT,
            "quantities": [
                DOUBTS["quantities"][0],
                {
                    "quantity": {"of": "airtightness"},
                    "distribution": {"kind": "normal", "relative_standard_uncertainty": 0.1},
                },
            ],
        },
    ),
}
ROOM = "/house/rooms/0"
LEFT_OUT: list[tuple[str, str, str, str]] = [
    # document, member that is left out, code, pointer (the member's own where empty)
    ("cavity", "/construction/layers/1/emissivity", "default.air_layer_emissivity", ""),
    ("cavity", "/construction/layers/2/openings_mm2_per_m", "default.air_layer_openings", ""),
    ("suspended floor", "/national_annex", "default.national_annex", ""),
    ("suspended floor", "/construction/soil_conductivity_w_mk", "default.soil_conductivity", ""),
    ("suspended floor", "/construction/ventilation_opening_m2_per_m", "default.underfloor_space", ""),
    ("suspended floor", "/construction/wind_speed_m_s", "default.underfloor_space", ""),
    ("suspended floor", "/construction/wind_shielding", "default.underfloor_space", ""),
    ("suspended floor", "/construction/underfloor_wall_u_value_w_m2k", "default.underfloor_space", ""),
    ("house", "/house/dimensions", "default.dimensions", ""),
    ("house", "/house/reheat_w_m2", "default.reheat", ""),
    ("house", "/house/conditions/national_annex", "default.national_annex", ""),
    ("house", "/house/conditions/ground_rule", "default.ground_rule", ""),
    ("house", "/house/conditions/ground_water", "default.ground_water", ""),
    ("house", "/house/constructions/slab/soil_conductivity_w_mk", "default.soil_conductivity", ""),
    ("house", "/house/thermal_bridges", "default.thermal_bridges", ""),
    ("house", "/house/thermal_bridges/surcharge_w_m2k", "default.thermal_bridges", "/house/thermal_bridges"),
    ("house", "/house/ventilation/air_heat_capacity_wh_m3k", "default.air_heat_capacity", ""),
    ("house", "/house/unheated_spaces/0/air_changes", "default.unheated_space_air_changes", ""),
    ("house", f"{ROOM}/design_temperature_c", "default.design_temperature", ""),
    ("house", f"{ROOM}/ventilation/air_changes", "default.air_changes", ""),
    ("house", f"{ROOM}/ventilation", "default.air_changes", f"{ROOM}/ventilation/air_changes"),
    ("house", f"{ROOM}/flues/0/air_l_s", "default.flue_air", ""),
    ("airtight house", "/house/ventilation/edition", "default.edition", ""),
    ("airtight house", "/house/ventilation/shielding", "default.shielding", ""),
    ("airtight house", "/house/ventilation/height_above_ground_m", "default.height", ""),
    ("airtight house", "/house/ventilation/air_heat_capacity_wh_m3k", "default.air_heat_capacity", ""),
    ("airtight house", f"{ROOM}/ventilation/exposed_openings", "default.exposed_openings", ""),
    ("airtight house", f"{ROOM}/ventilation/air_changes", "default.air_changes", ""),
    ("emitters", f"{ROOM}/emitters/0/exponent", "default.exponent", ""),
    (
        "emitters",
        f"{ROOM}/emitters/0/standard_excess_temperature_k",
        "default.standard_excess_temperature",
        "",
    ),
    ("emitters", f"{ROOM}/emitters/1/pipe_wall_thickness_mm", "default.pipe", f"{ROOM}/emitters/1"),
    ("emitters", f"{ROOM}/emitters/1/pipe_conductivity_w_mk", "default.pipe", f"{ROOM}/emitters/1"),
    ("emitters", f"{ROOM}/emitters/1/system", "default.underfloor_system", ""),
    ("emitters", f"{ROOM}/emitters/1/zone", "default.underfloor_zone", ""),
    (
        "emitters",
        f"{ROOM}/emitters/1/resistance_below_m2k_w",
        "default.underfloor_below",
        f"{ROOM}/emitters/1",
    ),
    ("emitters", f"{ROOM}/emitters/1/temperature_below_c", "default.underfloor_below", f"{ROOM}/emitters/1"),
    ("sizing", "/base_temperature_c", "default.base_temperature", ""),
    ("sizing", "/thresholds", "default.coverage_limits", ""),
    ("sizing", "/thresholds/minimum_coverage", "default.coverage_limits", "/thresholds"),
    ("sizing", "/thresholds/maximum_coverage", "default.coverage_limits", "/thresholds"),
    ("sizing", "/candidates/0/rating_basis", "default.rating_basis", ""),
    ("sizing", "/house/conditions/national_annex", "default.national_annex", ""),
    ("radiator", "/standard_excess_temperature_k", "default.standard_excess_temperature", ""),
    ("radiator", "/exponent", "default.exponent", ""),
    ("place", "/altitude_m", "default.altitude", ""),
    ("place", "/exceedance_percent", "default.exceedance", ""),
    ("meter of electricity", "/energy/efficiency", "default.efficiency", ""),
    ("meter", "/energy/calorific_value", "default.calorific_value", ""),
    ("meter", "/energy/efficiency_calorific_value", "default.calorific_value", ""),
    ("meter", "/base_use", "default.base_use", ""),
    ("meter", "/regression", "default.regression", ""),
    ("meter", "/accepted_half_width", "default.accepted_half_width", ""),
    ("meter", "/readings/3/days", "default.reading_days", "/readings"),
    ("meter of an airtight house", "/like_basis", "default.mean_air_changes", "/like_basis/mean_air_changes"),
    ("doubts", "/draws", "default.monte_carlo", ""),
    ("doubts", "/seed", "default.monte_carlo", ""),
    ("doubts", "/probability", "default.monte_carlo", ""),
    ("doubts", "/confidence/slab", "default.uncertainty", "/house/constructions/slab"),
    ("doubts", "/quantities/0", "default.uncertainty", "/house/rooms"),
    ("doubts", "/quantities/1", "default.uncertainty", "/house/ventilation"),
    ("doubts of an airtight house", "/quantities/1", "default.uncertainty", "/house/ventilation"),
]
ELSEWHERE = {"default.room_use", "default.ventilation_method", "default.interface_temperatures"}
"""Codes with a test of their own below: leaving the member out takes more than one default."""


def defaults(question: str, document: Json, **options: Any) -> list[tuple[str, str]]:
    """Ask, and list code and pointer of each default that was taken."""
    answer = getattr(warmstead, QUESTIONS[question].python_name)(document, **options)
    return [
        (warning["code"], warning["pointer"])
        for warning in answer["warnings"]
        if warning["code"].startswith("default.")
    ]


def without(document: Json, pointer: str) -> Json:
    """Return a document without the member that a pointer leads to."""
    changed = copy.deepcopy(document)
    node: Any = changed
    *path, last = pointer.split("/")[1:]
    for step in path:
        node = node[int(step)] if isinstance(node, list) else node[step]
    del node[int(last) if isinstance(node, list) else last]
    return changed


@pytest.mark.parametrize("name", COMPLETE)
def test_a_complete_document_takes_no_default(name: str) -> None:
    question, document = COMPLETE[name]
    assert defaults(question, document) == []


@pytest.mark.parametrize(("name", "left_out", "code", "pointer"), LEFT_OUT)
def test_a_member_that_is_left_out_is_the_only_default_told(
    name: str, left_out: str, code: str, pointer: str
) -> None:
    question, document = COMPLETE[name]
    assert defaults(question, without(document, left_out)) == [(code, pointer or left_out)]


def test_every_default_is_tried_here() -> None:
    published = {code for code in get_args(WarningCode) if code.startswith("default.")}
    assert {code for _, _, code, _ in LEFT_OUT} | ELSEWHERE == published


def test_a_room_of_no_use_is_told_where_the_use_would_set_its_temperature() -> None:
    house = without(HOUSE, "/rooms/0/use")
    assert defaults("house-loss", {"house": house}) == []
    assert sorted(defaults("house-loss", {"house": without(house, "/rooms/0/design_temperature_c")})) == [
        ("default.design_temperature", f"{ROOM}/design_temperature_c"),
        ("default.room_use", f"{ROOM}/use"),
    ]


def test_a_room_of_no_use_is_told_where_the_use_would_set_its_air() -> None:
    house = without(without(HOUSE, "/rooms/0/use"), "/rooms/0/ventilation/air_changes")
    assert sorted(defaults("house-loss", {"house": house})) == [
        ("default.air_changes", f"{ROOM}/ventilation/air_changes"),
        ("default.room_use", f"{ROOM}/use"),
    ]


def test_a_house_without_a_method_takes_air_changes_and_their_heat_capacity() -> None:
    house = without(HOUSE, "/ventilation")
    assert sorted(defaults("house-loss", {"house": house})) == [
        ("default.air_heat_capacity", "/house/ventilation/air_heat_capacity_wh_m3k"),
        ("default.ventilation_method", "/house/ventilation"),
    ]


def test_interface_temperatures_are_of_the_workings_only() -> None:
    document: Json = {"construction": CAVITY}
    given = {"internal_temperature_c": 20, "external_temperature_c": 0}
    assert defaults("u-value", document) == []
    assert defaults("u-value", document, workings=True) == [("default.interface_temperatures", "")]
    assert defaults("u-value", document | given, workings=True) == []


def test_a_default_is_told_once_for_each_place() -> None:
    house = copy.deepcopy(HOUSE)
    house["rooms"][0]["elements"].append({**house["rooms"][0]["elements"][1], "id": "floor-2"})
    house["rooms"].append(copy.deepcopy(house["rooms"][0]) | {"id": "b"})
    del house["constructions"]["slab"]["soil_conductivity_w_mk"]
    for room in house["rooms"]:
        del room["ventilation"]["air_changes"]
    assert sorted(defaults("house-loss", {"house": house})) == [
        ("default.air_changes", "/house/rooms/0/ventilation/air_changes"),
        ("default.air_changes", "/house/rooms/1/ventilation/air_changes"),
        ("default.soil_conductivity", "/house/constructions/slab/soil_conductivity_w_mk"),
    ]


@pytest.mark.parametrize(
    ("annex", "use", "temperature_c", "air_changes"),
    [
        # NHBC Standards chapter 8.1, 8.1.10, table 7, as the table `room-defaults` cites it (not seen again here)
        ("GB", "living_room", 21, 1.5),
        ("GB", "dining_room", 21, 1.5),
        # EN 12831:2003 annex D, informative defaults (from memory)
        ("EN", "living_room", 20, 0.5),
        ("EN", "bathroom", 24, 1.5),
    ],
)
def test_a_room_is_heated_and_aired_by_its_use(
    annex: str, use: str, temperature_c: float, air_changes: float
) -> None:
    house = without(without(HOUSE, "/rooms/0/ventilation/air_changes"), "/rooms/0/design_temperature_c")
    house["conditions"]["national_annex"] = annex
    house["rooms"][0] |= {"use": use, "flues": []}
    (room,) = warmstead.house_loss({"house": house})["rooms"]
    assert room["design_temperature_c"] == temperature_c
    # c · n · V · ΔT with c = 0.33 Wh/(m³K) and V = 20 · 2.5
    assert room["ventilation_w"] == pytest.approx(0.33 * air_changes * 50 * (temperature_c + 3))


def test_an_annex_from_memory_is_told_once_for_each_table() -> None:
    house = without(HOUSE, "/constructions/slab/soil_conductivity_w_mk")
    house["rooms"] = [copy.deepcopy(house["rooms"][0]) | {"id": id, "use": "kitchen"} for id in "ab"]
    for room in house["rooms"]:
        del room["ventilation"]["air_changes"]
    told = [
        w["detail"]
        for w in warmstead.house_loss({"house": house})["warnings"]
        if w["code"] == "memory.table_row"
    ]
    assert len([detail for detail in told if "room-defaults" in detail]) == 1
    assert len([detail for detail in told if "national-annexes" in detail]) == 1


@pytest.mark.parametrize("asked", ["a", "b"])
def test_a_room_is_told_of_the_memory_that_it_stands_on_itself(asked: str) -> None:
    house = copy.deepcopy(HOUSE)
    house["rooms"] = [copy.deepcopy(house["rooms"][0]) | {"id": id, "use": "kitchen"} for id in "ab"]
    for room in house["rooms"]:
        del room["ventilation"]["air_changes"]
    warnings = warmstead.room_loss({"house": house, "room": asked})["warnings"]
    assert [w["code"] for w in warnings if "room-defaults" in w["detail"]] == ["memory.table_row"]
