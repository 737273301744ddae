"""The thickness that reaches a U-value, and the refusals where none does."""

from __future__ import annotations

from typing import Any

import pytest

import warmstead

BRICK = {"kind": "solid", "thickness_mm": 220, "conductivity_w_mk": 0.77}
BOARD = {"kind": "solid", "thickness_mm": 1, "conductivity_w_mk": 0.022}


def ask(layers: list[dict[str, Any]], layer: int, target: float, **more: Any) -> dict[str, Any]:
    construction = {"kind": "layered", "heat_flow": "horizontal", "layers": layers, **more}
    answer: dict[str, Any] = warmstead.required_thickness(
        {"construction": construction, "layer": layer, "target_u_value_w_m2k": target}
    )
    return answer


def refused(*arguments: Any, **more: Any) -> list[tuple[str, str]]:
    with pytest.raises(warmstead.Refused) as caught:
        ask(*arguments, **more)
    return [(problem.pointer, problem.code) for problem in caught.value.problems]


def test_a_plain_wall_by_hand() -> None:
    # By hand: 1/0.30 − 0.13 − 0.04 − 0.22/0.77 = 2.8776190 m²K/W; times 0.022 W/(m·K) is 63.30762 mm.
    answer = ask([BOARD, BRICK], 0, 0.30)
    assert answer["thickness_mm"] == pytest.approx(63.30762, abs=5e-6)
    assert answer["u_value_w_m2k"] == pytest.approx(0.30, abs=1e-9)


def test_the_least_thickness_is_the_least() -> None:
    bridged = {**BOARD, "bridges": [{"fraction": 0.1, "conductivity_w_mk": 0.13}]}
    thickness = ask([bridged, BRICK], 0, 0.35)["thickness_mm"]

    def u_value(thickness_mm: float) -> float:
        layers = [{**bridged, "thickness_mm": thickness_mm}, BRICK]
        construction = {"kind": "layered", "heat_flow": "horizontal", "layers": layers}
        value: float = warmstead.u_value({"construction": construction})["u_value_w_m2k"]
        return value

    assert u_value(thickness) <= 0.35 < u_value(thickness - 0.001)


def test_nothing_is_needed_where_the_rest_suffices() -> None:
    answer = ask([BOARD, BRICK], 0, 2.5)
    assert answer["thickness_mm"] == 0
    assert "unusual.already_reached" in [warning["code"] for warning in answer["warnings"]]


def test_a_layer_outside_a_well_ventilated_cavity_reaches_nothing() -> None:
    cavity = {"kind": "air", "thickness_mm": 50, "ventilation": "well_ventilated"}
    assert refused([BRICK, cavity, BOARD], 2, 0.5) == [("/target_u_value_w_m2k", "unreachable")]


def test_air_gaps_leave_a_rest_that_no_thickness_takes_away() -> None:
    # ISO 6946 annex (from memory): level 2 adds 0.04 · (R1/RT)², which tends to 0.04 W/(m²·K) as the layer thickens.
    corrections = {"air_gaps": {"layer": 0, "level": 2}}
    assert refused([BOARD, BRICK], 0, 0.03, corrections=corrections) == [
        ("/target_u_value_w_m2k", "unreachable")
    ]
    assert ask([BOARD, BRICK], 0, 0.06, corrections=corrections)["u_value_w_m2k"] <= 0.06


@pytest.mark.parametrize("layer", [1, 2])
def test_only_a_solid_layer_has_a_thickness_to_seek(layer: int) -> None:
    cavity = {"kind": "air", "thickness_mm": 50, "ventilation": "unventilated"}
    assert refused([BOARD, cavity], layer, 0.3) == [("/layer", "not_found")]


def test_insulation_work_carries_its_cautions() -> None:
    codes = {warning["code"] for warning in ask([BOARD, BRICK], 0, 0.3)["warnings"]}
    assert {
        "caution.internal_insulation",
        "caution.asbestos",
        "caution.cables_in_insulation",
        "caution.fire_behaviour",
        "caution.listed_building",
    } <= codes
