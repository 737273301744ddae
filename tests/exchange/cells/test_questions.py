"""Flat parameters make up the very request of the question."""

from __future__ import annotations

from typing import Any

import pytest

from warmstead.exchange.asking import ask as ask_document
from warmstead.exchange.cells.layers import MOST_LAYERS
from warmstead.exchange.cells.query import ParametersRefused, split
from warmstead.exchange.cells.questions import CELL_QUESTIONS, OPTIONS, ask, cells_of
from warmstead.questions.registry import QUESTIONS

BRICK = "layer_1_thickness_mm=215&layer_1_conductivity_w_mk=0.77"
WALL = f"heat_flow=horizontal&{BRICK}"


def asked(name: str, query: str) -> Any:
    return ask(CELL_QUESTIONS[name], split(query.encode()))


def refused(name: str, query: str) -> list[tuple[str, str]]:
    with pytest.raises(ParametersRefused) as caught:
        asked(name, query)
    return [(problem.parameter, problem.code) for problem in caught.value.problems]


def test_layers_of_each_kind_are_those_of_the_post() -> None:
    query = (
        "heat_flow=upwards&external_side=sheltered&edition=1996"
        "&layer_1_thickness_mm=12,5&layer_1_conductivity_w_mk=0,25"
        "&layer_2_thickness_mm=140&layer_2_conductivity_w_mk=0.035"
        "&layer_2_bridge_fraction=0.15&layer_2_bridge_conductivity_w_mk=0.13"
        "&layer_3_resistance_m2k_w=0.6"
        "&layer_4_thickness_mm=50&layer_4_ventilation=slightly_ventilated&layer_4_openings_mm2_per_m2=800"
    )
    layers = [
        {"kind": "solid", "thickness_mm": 12.5, "conductivity_w_mk": 0.25},
        {
            "kind": "solid",
            "thickness_mm": 140.0,
            "conductivity_w_mk": 0.035,
            "bridges": [{"fraction": 0.15, "conductivity_w_mk": 0.13}],
        },
        {"kind": "resistance", "resistance_m2k_w": 0.6},
        {
            "kind": "air",
            "thickness_mm": 50.0,
            "ventilation": "slightly_ventilated",
            "openings_mm2_per_m2": 800.0,
        },
    ]
    construction = {"kind": "layered", "heat_flow": "upwards", "layers": layers}
    construction |= {"external_side": "sheltered", "edition": "1996"}
    assert asked("u-value", query) == ask_document("u-value", {"construction": construction})


def test_layers_may_stand_in_any_order() -> None:
    straight = asked("u-value", f"{WALL}&layer_2_resistance_m2k_w=1")
    assert asked("u-value", f"layer_2_resistance_m2k_w=1&{BRICK}&heat_flow=horizontal") == straight


def test_the_layer_that_is_sought_needs_no_thickness() -> None:
    query = f"{WALL}&layer_2_conductivity_w_mk=0.036&sought_layer=2&target_u_value_w_m2k=0.3"
    # By hand: (1/0.3 − 0.13 − 0.04 − 0.215/0.77) · 36 = 103.828 mm
    assert asked("required-thickness", query)["thickness_mm"] == pytest.approx(103.828, abs=5e-4)
    assert asked("required-thickness", f"{query}&layer_2_thickness_mm=50") == asked(
        "required-thickness", query
    )


@pytest.mark.parametrize(
    ("query", "problems"),
    [
        ("", [("layer_1_thickness_mm", "missing_field"), ("heat_flow", "missing_field")]),
        (BRICK, [("heat_flow", "missing_field")]),
        (f"{WALL}&layer_3_resistance_m2k_w=1", [("layer_2_thickness_mm", "missing_field")]),
        (
            f"{WALL}&layer_1_resistance_m2k_w=1",
            [("layer_1_thickness_mm", "not_allowed_here"), ("layer_1_conductivity_w_mk", "not_allowed_here")],
        ),
        (f"{WALL}&layer_1_ventilation=unventilated", [("layer_1_conductivity_w_mk", "not_allowed_here")]),
        (
            f"{WALL}&layer_2_emissivity=0.1&layer_2_thickness_mm=20",
            [("layer_2_ventilation", "missing_field")],
        ),
        (f"{WALL}&layer_2_thickness_mm=20", [("layer_2_conductivity_w_mk", "incomplete")]),
        (f"{WALL}&layer_1_material=brick", [("layer_1_conductivity_w_mk", "ambiguous")]),
        (f"{WALL}&layer_2_thickness_mm=20&layer_2_material=brick", [("layer_2_material", "not_found")]),
        (f"{WALL}&layer_1_bridge_fraction=0.1", [("layer_1_bridge_conductivity_w_mk", "incomplete")]),
        (f"{WALL}&layer_1_bridge_conductivity_w_mk=1", [("layer_1_bridge_fraction", "missing_field")]),
        (
            f"{WALL}&layer_2_thickness_mm=0&layer_2_conductivity_w_mk=1",
            [("layer_2_thickness_mm", "out_of_range")],
        ),
        (
            f"{WALL}&layer_2_thickness_mm=1,234&layer_2_conductivity_w_mk=1",
            [("layer_2_thickness_mm", "not_a_number")],
        ),
        (f"{WALL}&layer_11_thickness_mm=1", [("layer_11_thickness_mm", "unknown_field")]),
        (f"{WALL}&layer_0_thickness_mm=1", [("layer_0_thickness_mm", "unknown_field")]),
        (f"{WALL}&layer_01_thickness_mm=1", [("layer_01_thickness_mm", "unknown_field")]),
        (f"{WALL}&workings=true", [("workings", "unknown_field")]),
        (f"{WALL}&edition=2020", [("edition", "unknown_choice")]),
        (f"{WALL}&heat_flow=horizontal", [("heat_flow", "duplicate_id")]),
    ],
)
def test_what_is_wrong_with_layers_is_told_at_the_parameter(
    query: str, problems: list[tuple[str, str]]
) -> None:
    assert refused("u-value", query) == problems


def test_whatever_is_wrong_is_told_together() -> None:
    assert refused("element-loss", "area_m2=&u_value_w_m2k=x&internal_temperature_c=900&heigth_m=1") == [
        ("area_m2", "invalid_text"),
        ("u_value_w_m2k", "not_a_number"),
        ("heigth_m", "unknown_field"),
        ("internal_temperature_c", "out_of_range"),
    ]


def test_contradictions_are_told_at_their_parameters() -> None:
    query = "standard_output_w=1&flow_temperature_c=40&return_temperature_c=50&room_temperature_c=20"
    assert refused("radiator-output", query) == [("return_temperature_c", "contradiction")]
    assert refused("outside-temperature", "place=Nowhere") == [("place", "not_found")]
    query = f"{WALL}&sought_layer=1&target_u_value_w_m2k=0.001"
    assert refused("required-thickness", query) == [("target_u_value_w_m2k", "unreachable")]


@pytest.mark.parametrize(
    ("sought", "code"),
    [("2", "not_found"), ("0", "not_found"), ("1.5", "not_a_number"), ("x", "not_a_number")],
)
def test_only_a_solid_layer_can_be_sought(sought: str, code: str) -> None:
    query = f"{WALL}&layer_2_resistance_m2k_w=1&sought_layer={sought}&target_u_value_w_m2k=0.3"
    assert refused("required-thickness", query) == [("sought_layer", code)]


def test_only_the_first_misspelt_names_are_guessed_at() -> None:
    query = "&".join(f"layer_1_thicknes_mm{number}=1" for number in range(40))
    with pytest.raises(ParametersRefused) as caught:
        asked("u-value", query)
    guessed = [problem for problem in caught.value.problems if "did you mean" in problem.detail]
    assert len(guessed) == 5


@pytest.mark.parametrize("name", CELL_QUESTIONS)
def test_no_parameter_has_the_name_of_an_option(name: str) -> None:
    assert not set(CELL_QUESTIONS[name].parameters) & set(OPTIONS)


@pytest.mark.parametrize("name", ["radiator-output", "element-loss", "outside-temperature"])
def test_small_questions_are_flat(name: str) -> None:
    assert set(CELL_QUESTIONS[name].parameters) == set(QUESTIONS[name].request.model_fields)


def test_codes_of_warnings_stand_in_the_last_cell() -> None:
    cell = CELL_QUESTIONS["element-loss"]
    query = "area_m2=10&u_value_w_m2k=0.5&internal_temperature_c=20&external_temperature_c=0"
    cells = cells_of(cell, asked("element-loss", query))
    assert [(c.name, c.unit) for c in cells[:2]] == [("heat_loss_w", "W"), ("thermal_bridge_w_k", "W/K")]
    assert (cells[-1].name, cells[-1].value) == ("warnings", "default.thermal_bridges")


def test_ten_bridged_layers_fit_an_address() -> None:
    parts = ["format=text", "errors=in_cell", "heat_flow=horizontal"]
    parts += [
        f"layer_{number}_thickness_mm=112.5&layer_{number}_conductivity_w_mk=0.0355"
        f"&layer_{number}_bridge_fraction=0.125&layer_{number}_bridge_conductivity_w_mk=0.13"
        for number in range(1, MOST_LAYERS + 1)
    ]
    address = f"https://heat-loss.some-installers-domain.example/v1/u-value?{'&'.join(parts)}"
    # Documented limit of the two large spreadsheet programs: 2,048 characters.
    assert len(address) <= 2048
