"""What a reviewer found wrong once: each stays mended."""

from __future__ import annotations

import json
from typing import Any

import pytest

import warmstead
from warmstead.demo import requests
from warmstead.exchange.documents import read
from warmstead.questions.house_loss import HouseLossRequest

Json = dict[str, Any]
WALL = {"kind": "declared", "u_value_w_m2k": 1.0, "source": "invented"}


def house(*rooms: Json, **more: Json) -> Json:
    return {
        "conditions": {"external_temperature_c": -3, "national_annex": "GB"},
        "constructions": {"wall": WALL},
        "rooms": list(rooms),
        **more,
    }


def room(id: str = "a", **more: Any) -> Json:
    return {
        "id": id,
        "design_temperature_c": 21,
        "floor_area_m2": 10,
        "height_m": 2.5,
        "elements": [],
        **more,
    }


def refused(question: Any, document: Json) -> list[tuple[str, str]]:
    with pytest.raises(warmstead.Refused) as caught:
        question(document)
    return [(problem.pointer, problem.code) for problem in caught.value.problems]


def codes(answer: Json) -> set[str]:
    return {warning["code"] for warning in answer["warnings"]}


@pytest.mark.parametrize("gap", ["", " ", "\n\t"])
def test_a_name_twice_is_seen_whatever_stands_before_the_colon(gap: str) -> None:
    text = json.dumps({"house": house(room())}).replace(
        '"u_value_w_m2k":', f'"u_value_w_m2k"{gap}: 2, "u_value_w_m2k"{gap}:'
    )
    with pytest.raises(warmstead.Refused) as caught:
        read(HouseLossRequest, text)
    assert [problem.pointer for problem in caught.value.problems] == [
        "/house/constructions/wall/u_value_w_m2k"
    ]


def test_a_construction_that_nothing_uses_is_checked_and_warns_of_nothing() -> None:
    survey = house(room())
    survey["constructions"]["spare"] = {"kind": "typical", "row": "nope"}
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/constructions/spare/row", "not_found")
    ]
    slab = {"floor": "slab_on_ground", "area_m2": 9, "exposed_perimeter_m": 9, "wall_thickness_mm": 300}
    survey["constructions"]["spare"] = {"kind": "ground_floor", "floor_resistance_m2k_w": 0, **slab}
    assert not codes(warmstead.house_loss({"house": survey})) & {"caution.radon", "default.soil_conductivity"}


def test_contradictions_of_emitters_and_house_are_told_together() -> None:
    emitter = {"id": "r", "kind": "radiator", "standard_output_w": 900}
    element = {"id": "w", "construction": "none", "area_m2": 1, "boundary": {"to": "outside"}}
    survey = house(room(emitters=[emitter, {**emitter, "circuit": "low"}], elements=[element]))
    asked = {"house": survey, "flow_temperature_c": 45, "return_temperature_c": 40}
    assert sorted(refused(warmstead.emitter_check, asked)) == [
        ("/house/rooms/0/elements/0/construction", "not_found"),
        ("/house/rooms/0/emitters/1/circuit", "not_found"),
        ("/house/rooms/0/emitters/1/id", "duplicate_id"),
    ]


def test_a_small_fan_does_not_take_the_hygienic_minimum_away() -> None:
    airtight = {
        "method": "airtightness",
        "air_changes_at_50pa": 1,
        "shielding": "moderate",
        "edition": "2003",
    }
    air = {"air_changes": 0.5, "exposed_openings": "one"}
    without = warmstead.house_loss({"house": house(room(ventilation=air), ventilation=airtight)})
    fan = {**air, "extract_l_s": 0.1}
    beside = warmstead.house_loss({"house": house(room(ventilation=fan), ventilation=airtight)})
    assert beside["ventilation_w"] == pytest.approx(without["ventilation_w"])


def test_a_unit_that_dips_in_milder_weather_says_so() -> None:
    rows = [(-15, 6500), (-3, 6450), (2, 3500), (7, 8000)]
    performance = [
        {
            "external_temperature_c": t,
            "flow_temperature_c": 35,
            "capacity_w": w,
            "coefficient_of_performance": 3,
        }
        for t, w in rows
    ]
    asked = {
        "design_heat_load_w": 6000,
        "external_temperature_c": -3,
        "base_temperature_c": 16,
        "flow_temperature_c": 35,
        "candidates": [{"id": "u", "performance": performance}],
    }
    answer = warmstead.heat_pump_sizing(asked)
    assert answer["candidates"][0]["verdict"] == "suitable"
    assert "caution.short_in_milder_weather" in codes(answer)
    assert any("milder weather" in reason for reason in answer["candidates"][0]["reasons"])


def test_sizing_refuses_water_no_warmer_than_a_room() -> None:
    asked = requests()["heat-pump-sizing"] | {"flow_temperature_c": 20}
    assert ("/flow_temperature_c", "contradiction") in refused(warmstead.heat_pump_sizing, asked)


def test_more_floor_in_a_room_than_the_whole_floor_is_unusual() -> None:
    slab = {"floor": "slab_on_ground", "area_m2": 40, "exposed_perimeter_m": 26, "wall_thickness_mm": 300}
    floor = {"id": "f", "construction": "slab", "area_m2": 400, "boundary": {"to": "ground"}}
    survey = house(room(elements=[floor]))
    survey["constructions"]["slab"] = {"kind": "ground_floor", "floor_resistance_m2k_w": 0, **slab}
    survey["conditions"]["annual_mean_external_temperature_c"] = 10
    assert "unusual.floor_area" in codes(warmstead.house_loss({"house": survey}))


def test_only_the_first_unknown_names_are_guessed_at() -> None:
    # Comparing each with every known name took seconds for a document of 300 kB.
    elements = [
        {"id": f"e{n}", "construction": "wal", "area_m2": 1, "boundary": {"to": "outside"}}
        for n in range(1000)
    ]
    with pytest.raises(warmstead.Refused) as caught:
        warmstead.house_loss({"house": house(room(elements=elements))})
    assert len(caught.value.problems) == 1000
    assert sum("did you mean" in problem.detail for problem in caught.value.problems) == 20


def test_missing_rows_of_a_table_are_counted_and_a_few_named() -> None:
    # 2000 rows that fit nowhere make a grid of 4 million; listing what is missing took 15 seconds for 30 units.
    rows = [
        {
            "external_temperature_c": -20 + n / 100,
            "flow_temperature_c": 30 + n / 100,
            "capacity_w": 5000,
            "coefficient_of_performance": 3,
        }
        for n in range(2000)
    ]
    asked = {
        "design_heat_load_w": 6000,
        "external_temperature_c": -3,
        "base_temperature_c": 16,
        "flow_temperature_c": 35,
        "candidates": [{"id": "u", "performance": rows}],
    }
    with pytest.raises(warmstead.Refused) as caught:
        warmstead.heat_pump_sizing(asked)
    (problem,) = caught.value.problems
    assert problem.detail.endswith(f"and {2000 * 2000 - 2000 - 6} more")
