"""The survey's coefficient on the basis of a meter, part by part, worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest

from warmstead.building.findings import Findings
from warmstead.building.house import resolve_house
from warmstead.building.measured.like_basis import LikeForLike, like_for_like
from warmstead.survey.house import House
from warmstead.survey.meter_readings import LikeBasis

WALL = {"kind": "declared", "u_value_w_m2k": 1.0, "source": "made up"}
SUSPENDED = {
    "kind": "ground_floor",
    "floor": "suspended",
    "area_m2": 40,
    "exposed_perimeter_m": 20,
    "wall_thickness_mm": 300,
    "soil_conductivity_w_mk": 1.5,
    "floor_resistance_m2k_w": 1.0,
    "height_above_ground_m": 0.3,
    "ventilation_opening_m2_per_m": 0.0015,
    "wind_speed_m_s": 5,
    "wind_shielding": "average",
    "underfloor_wall_u_value_w_m2k": 1.7,
}


def house(*elements: dict[str, Any], **more: Any) -> dict[str, Any]:
    room = {
        "id": "a",
        "design_temperature_c": 20,
        "floor_area_m2": 40,
        "height_m": 2.5,
        "ventilation": {"air_changes": 1.0} | more.pop("room_air", {}),
        "elements": list(elements),
    } | more.pop("room", {})
    return {
        "dimensions": "internal",
        "reheat_w_m2": 0,
        "conditions": {
            "external_temperature_c": -5,
            "annual_mean_external_temperature_c": 10,
            "national_annex": "GB",
            "ground_rule": "annual_mean",
            "ground_water": "deeper_than_1_m",
        },
        "constructions": {"wall": WALL, "floor": SUSPENDED},
        "ventilation": {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.33},
        "thermal_bridges": {"surcharge_w_m2k": 0},
        "rooms": [room],
    } | more


def element(area: float, boundary: dict[str, Any], construction: str = "wall") -> dict[str, Any]:
    return {"id": boundary["to"], "construction": construction, "area_m2": area, "boundary": boundary}


def compared(document: dict[str, Any], **options: Any) -> tuple[LikeForLike, list[str]]:
    findings = Findings()
    resolved = resolve_house(House.model_validate(document), findings)
    found = like_for_like(resolved, LikeBasis(**options), findings)
    # Whatever the house: the parts in the survey are the survey's coefficient.
    assert sum(part.survey_w_k for part in found.parts) == pytest.approx(resolved.heat_loss_coefficient_w_k)
    assert sum(part.like_basis_w_k for part in found.parts) == pytest.approx(found.like_basis_w_k)
    return found, [warning["code"] for warning in findings.warnings()]


def part(found: LikeForLike, name: str) -> tuple[float, float]:
    (row,) = (row for row in found.parts if row.part == name)
    return row.survey_w_k, row.like_basis_w_k


def test_a_wall_to_outside_stays_and_neighbours_go() -> None:
    # By hand: 50 · 1; a neighbour at 15 °C takes 30 · 1 · 5 W on the design day, over 25 K 6 W/K.
    found, told = compared(
        house(element(50, {"to": "outside"}), element(30, {"to": "neighbour", "temperature_c": 15}))
    )
    assert part(found, "outside") == pytest.approx((50.0, 50.0))
    assert part(found, "neighbour") == pytest.approx((6.0, 0.0))
    assert "assumption.neighbour_left_out" in told


def test_ground_is_half_of_its_steady_loss_unless_said() -> None:
    # By hand: the survey has 1.45 · 40 · 1 · (20 − 10)/25 = 23.2 W/K; steady 40 W/K, half of it 20, 40/√12 = 11.547.
    document = house(element(40, {"to": "ground"}))
    found, told = compared(document)
    assert part(found, "ground") == pytest.approx((23.2, 20.0))
    assert found.standard_uncertainty_w_k == pytest.approx(11.547, abs=0.0005)
    assert "assumption.ground_response" in told
    found, told = compared(document, ground_response=0.3)
    assert part(found, "ground")[1] == pytest.approx(12.0)
    assert found.standard_uncertainty_w_k == 0.0
    assert "assumption.ground_response" not in told


def test_a_suspended_floor_follows_the_outside_temperature() -> None:
    found, _ = compared(house(element(40, {"to": "ground"}, "floor")))
    survey, like_basis = part(found, "suspended_floors")
    assert survey == pytest.approx(like_basis)
    assert like_basis > 0.0
    assert "ground" not in [row.part for row in found.parts]


def test_an_unheated_space_by_factor_keeps_its_factor() -> None:
    boundary = {"to": "unheated_space", "temperature_reduction_factor": 0.6}
    found, _ = compared(house(element(20, boundary)))
    # By hand: 0.6 · 20 · 1.
    assert part(found, "unheated_spaces") == pytest.approx((12.0, 12.0))


def test_an_unheated_space_by_balance_follows_by_its_sides_to_outside() -> None:
    space = {
        "id": "shed",
        "volume_m3": 30,
        "air_changes": 0,
        "elements": [
            element(25, {"to": "outside"}),
            {
                "id": "next",
                "construction": "wall",
                "area_m2": 15,
                "boundary": {"to": "neighbour", "temperature_c": 10},
            },
        ],
    }
    found, _ = compared(
        house(element(10, {"to": "unheated_space", "space": "shed"}), unheated_spaces=[space])
    )
    # By hand: θu = (10·20 + 25·(−5) + 15·10)/50 = 4.5 °C, so 10 · 15.5/25 = 6.2 W/K on the design day;
    # each K colder outside makes it 25/50 K colder, so 10 · 0.5 = 5 W/K.
    assert part(found, "unheated_spaces") == pytest.approx((6.2, 5.0))


def test_air_by_air_changes() -> None:
    # By hand: 0.33 · 1.0 · 100 = 33 W/K in the survey; at 0.4 mean air changes 13.2; 20 l/s supply at 0.5 recovered 0.33·3.6·10 = 11.88.
    found, told = compared(house())
    assert part(found, "air") == pytest.approx((33.0, 33.0))
    assert "assumption.survey_air_kept" in told
    document = house(room_air={"supply_l_s": 20, "heat_recovery_efficiency": 0.5})
    found, told = compared(document, mean_air_changes=0.4)
    assert part(found, "air") == pytest.approx((33.0 + 11.88, 13.2 + 11.88))
    assert "assumption.survey_air_kept" not in told


def test_air_by_airtightness_loses_the_hygienic_minimum() -> None:
    # By hand: hygienic 1.0 · 100 · 0.34 = 34 W/K in the survey (infiltration 2 · 100 · 6 · 0.02 = 24 m³/h is less);
    # a twentieth of 6 is 0.3: 0.34 · 0.3 · 100 = 10.2 W/K; the flue's 10 l/s stays, 0.34 · 3.6 · 10 = 12.24.
    method = {
        "method": "airtightness",
        "edition": "2003",
        "air_changes_at_50pa": 6,
        "shielding": "moderate",
        "height_above_ground_m": 5,
        "air_heat_capacity_wh_m3k": 0.34,
    }
    flue = {"flues": [{"kind": "open_flue", "air_l_s": 10}]}
    found, told = compared(house(ventilation=method, room=flue, room_air={"exposed_openings": "one"}))
    assert part(found, "air") == pytest.approx((34.0 + 12.24, 10.2 + 12.24))
    assert "default.mean_air_changes" in told
    # The same air tightness as a permeability: 6 · 100/150 = 4 m³/(h·m²) over 150 m².
    del method["air_changes_at_50pa"]
    method |= {"air_permeability_50pa_m3_h_m2": 4, "envelope_area_m2": 150}
    by_area, _ = compared(house(ventilation=method, room=flue))
    assert part(by_area, "air")[1] == pytest.approx(10.2 + 12.24)


def test_the_survey_s_own_uncertainty_joins() -> None:
    # By hand: 10 % of (50 + 33) W/K.
    found, told = compared(house(element(50, {"to": "outside"})), relative_standard_uncertainty=0.1)
    assert found.standard_uncertainty_w_k == pytest.approx(8.3)
    assert "assumption.survey_exact" not in told


def test_a_house_that_loses_nothing_has_no_parts() -> None:
    found, _ = compared(house(room_air={"air_changes": 0}))
    assert (found.parts, found.like_basis_w_k, found.standard_uncertainty_w_k) == ([], 0.0, 0.0)
