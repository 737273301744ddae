"""The uncertain load against exact results: linear houses, shared quantities, the law of propagation by another library."""

from __future__ import annotations

import json
import math
import subprocess
import sys
from statistics import NormalDist
from typing import Any

import pytest
from scipy import integrate, stats
from uncertainties import ufloat

import warmstead
from warmstead.demo import requests

Json = dict[str, Any]
DRAWS = 20_000


def declared(u_value: float) -> Json:
    return {"kind": "declared", "u_value_w_m2k": u_value, "source": "the figures of this test"}


def wall(id: str, area_m2: float, construction: str = "wall", **boundary: Any) -> Json:
    return {
        "id": id,
        "construction": construction,
        "area_m2": area_m2,
        "boundary": boundary or {"to": "outside"},
    }


def house(*elements: Json, outside: float = 0.0, **changes: Any) -> Json:
    """Return a house of one room of 50 m³ at 20 °C, without air and without thermal bridges."""
    return {
        "dimensions": "internal",
        "reheat_w_m2": 0,
        "conditions": {"external_temperature_c": outside, "national_annex": "GB"},
        "constructions": {"wall": declared(1.0), "roof": declared(0.5), "floor": declared(0.25)},
        "ventilation": {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.33},
        "thermal_bridges": {"surcharge_w_m2k": 0},
        "rooms": [
            {
                "id": "a",
                "use": "living_room",
                "design_temperature_c": 20,
                "floor_area_m2": 20,
                "volume_m3": 50,
                "ventilation": {"air_changes": 0},
                "elements": list(elements),
            }
        ],
    } | changes


def normal(of: str, standard_uncertainty: float, **where: Any) -> Json:
    return {
        "quantity": {"of": of, **where},
        "distribution": {"kind": "normal", "standard_uncertainty": standard_uncertainty},
    }


def unit(id: str, *capacities: tuple[float, float]) -> Json:
    return {
        "id": id,
        "rating_basis": "integrated",
        "performance": [
            {
                "external_temperature_c": t,
                "flow_temperature_c": 45,
                "capacity_w": w,
                "coefficient_of_performance": 3,
            }
            for t, w in capacities
        ],
    }


def ask(document: Json, *quantities: Json, **more: Any) -> Json:
    request = {"house": document, "draws": DRAWS, "seed": 3, "probability": 0.95} | more
    if quantities:
        request["quantities"] = list(quantities)
    answer: Json = warmstead.uncertainty(request)
    return answer


def refused(document: Json, *quantities: Json, **more: Any) -> list[tuple[str, str]]:
    with pytest.raises(warmstead.Refused) as caught:
        ask(document, *quantities, **more)
    return [(problem.pointer, problem.code) for problem in caught.value.problems]


def codes(answer: Json, family: str) -> list[str]:
    return [w["code"] for w in answer["warnings"] if w["code"].startswith(family)]


# --- Linear houses, where everything is exact ---------------------------------------------------------


def test_independent_walls_add_by_their_squares() -> None:
    # Load 20 · (10 · 1.0 + 30 · 0.5) = 500 W; contributions 20 · 10 · 0.1 = 20 W and 20 · 30 · 0.05 = 30 W: u = √1300.
    answer = ask(
        house(wall("w", 10), wall("r", 30, "roof")),
        normal("u_value", 0.1, construction="wall"),
        normal("u_value", 0.05, construction="roof"),
    )
    exact, tolerances = math.sqrt(1300), answer["numerical_tolerances"]
    first = answer["first_order"]
    assert first["load_w"] == pytest.approx(500, rel=1e-12)
    assert first["standard_uncertainty_w"] == pytest.approx(exact, rel=1e-9)
    # Two of the stated tolerances are four standard errors.
    assert answer["mean_w"] == pytest.approx(500, abs=2 * tolerances["mean_w"])
    assert answer["median_w"] == pytest.approx(500, abs=3 * tolerances["mean_w"])
    assert answer["standard_uncertainty_w"] == pytest.approx(
        exact, abs=2 * tolerances["standard_uncertainty_w"]
    )
    k = NormalDist().inv_cdf(0.975)
    ends = answer["intervals"]["symmetric"]
    assert ends["low_w"] == pytest.approx(500 - k * exact, abs=2 * tolerances["low_w"])
    assert ends["high_w"] == pytest.approx(500 + k * exact, abs=2 * tolerances["high_w"])
    assert ends["width_w"] == ends["high_w"] - ends["low_w"]
    assert first["agreement"] == "agrees"
    # The roof's 900 of 1300, then the wall's 400.
    assert [row["construction"] for row in answer["inputs"]] == ["roof", "wall"]
    assert [row["first_order_share"] for row in answer["inputs"]] == pytest.approx([9 / 13, 4 / 13])
    assert [row["share_of_variance"] for row in answer["inputs"]] == pytest.approx([9 / 13, 4 / 13], abs=0.02)
    assert [row["sensitivity_coefficient"] for row in answer["inputs"]] == pytest.approx([600, 200])
    assert [row["contribution_w"] for row in answer["inputs"]] == pytest.approx([30, 20])
    assert answer["share_of_interactions"] == pytest.approx(0.0, abs=0.01)


def test_a_construction_is_one_quantity_over_all_its_elements() -> None:
    # 20 · (10 + 30) · 0.1 = 80 W in one, not √(20² + 60²) = 63 W as of two.
    answer = ask(house(wall("w1", 10), wall("w2", 30)), normal("u_value", 0.1, construction="wall"))
    assert answer["first_order"]["standard_uncertainty_w"] == pytest.approx(80, rel=1e-9)
    assert answer["standard_uncertainty_w"] == pytest.approx(
        80, abs=2 * answer["numerical_tolerances"]["standard_uncertainty_w"]
    )
    assert len(answer["inputs"]) == 1


def test_what_would_be_left_if_one_were_known() -> None:
    # Of √1300 W the roof's 30 W go: 20 W stay, so that the interval shrinks by 20/√1300.
    answer = ask(
        house(wall("w", 10), wall("r", 30, "roof")),
        normal("u_value", 0.1, construction="wall"),
        normal("u_value", 0.05, construction="roof"),
    )
    roof, width = answer["inputs"][0], answer["intervals"]["symmetric"]["width_w"]
    assert roof["interval_width_if_known_w"] / width == pytest.approx(20 / math.sqrt(1300), abs=0.02)
    assert roof["narrowing_w"] == pytest.approx(width - roof["interval_width_if_known_w"])
    assert answer["measure_next"]["pointer"] == "/quantities/1"
    assert answer["measure_next"]["narrowing_w"] == roof["narrowing_w"]
    assert "candidates" not in answer
    assert "choice" not in answer


def test_four_rectangular_walls_are_the_additive_model() -> None:
    # JCGM 101:2008, 9.2.3 (from memory; the closed solution is in the test of the standard): ± 3.88 for u = 2.00.
    # Four walls of 5 m² at 20 K: 100 W for each W/(m²K); half widths of 0.1·√3 make each u = 10 W.
    document = house(*(wall(f"w{n}", 5, f"c{n}") for n in range(4)))
    document["constructions"] = {f"c{n}": declared(1.0) for n in range(4)}
    quantities = [
        {
            "quantity": {"of": "u_value", "construction": f"c{n}"},
            "distribution": {"kind": "rectangular", "half_width": 0.1 * math.sqrt(3)},
        }
        for n in range(4)
    ]
    answer = ask(document, *quantities, draws=100_000)
    tolerances, ends = answer["numerical_tolerances"], answer["intervals"]["symmetric"]
    assert answer["standard_uncertainty_w"] == pytest.approx(
        20.0, abs=2 * tolerances["standard_uncertainty_w"]
    )
    assert ends["low_w"] == pytest.approx(400 - 38.8, abs=0.05 + 2 * tolerances["low_w"])
    assert ends["high_w"] == pytest.approx(400 + 38.8, abs=0.05 + 2 * tolerances["high_w"])


def test_two_inputs_of_one_row_interact() -> None:
    # (10 m² ± 3)(1 ± 0.3): variances 3² + 3² + 0.9² in 20 K; 0.81/18.81 is by neither alone, and the law of propagation misses it.
    answer = ask(
        house(wall("w", 10)),
        normal("u_value", 0.3, construction="wall"),
        normal("area", 3.0, room="a", element="w"),
        draws=100_000,
    )
    assert answer["share_of_interactions"] == pytest.approx(0.81 / 18.81, abs=0.01)
    assert answer["first_order"]["standard_uncertainty_w"] == pytest.approx(20 * math.sqrt(18), rel=1e-9)
    assert answer["standard_uncertainty_w"] == pytest.approx(
        20 * math.sqrt(18.81), abs=2 * answer["numerical_tolerances"]["standard_uncertainty_w"]
    )


def test_a_construction_on_two_sides_keeps_the_ratio_of_its_u_values() -> None:
    # One layer of R = 0.4 m²K/W: 1/(0.13 + 0.4 + 0.04) = 1.754386 outside, 1/(0.13 + 0.4 + 0.13) = 1.515152 to an unheated space
    # at 10 °C. 10 % of either: 0.1 · (10 · 1.754386 · 20 + 6 · 1.515152 · 10) = 44.1786 W, in one.
    document = house(wall("w", 10), wall("u", 6, to="unheated_space", temperature_c=10))
    document["constructions"]["wall"] = {
        "kind": "layered",
        "heat_flow": "horizontal",
        "layers": [{"kind": "resistance", "resistance_m2k_w": 0.4}],
    }
    share = {"kind": "normal", "relative_standard_uncertainty": 0.1}
    answer = ask(document, {"quantity": {"of": "u_value", "construction": "wall"}, "distribution": share})
    assert answer["first_order"]["standard_uncertainty_w"] == pytest.approx(44.1786, abs=5e-5)
    assert answer["standard_uncertainty_w"] == pytest.approx(
        44.1786, abs=2 * answer["numerical_tolerances"]["standard_uncertainty_w"]
    )


# --- The law of propagation by another library ---------------------------------------------------------


def test_first_order_agrees_with_automatic_differentiation() -> None:
    document = house(
        wall("w", 12),
        wall("g", 8, "roof", to="unheated_space", space="garage"),
        wall("n", 9, "roof", to="neighbour", temperature_c=17),
        wall("l", 15, "floor", to="unheated_space", temperature_reduction_factor=0.8),
        outside=-3.0,
        unheated_spaces=[
            {"id": "garage", "volume_m3": 30, "air_changes": 1.5, "elements": [wall("own", 20, "floor")]}
        ],
        thermal_bridges={"surcharge_w_m2k": 0.1},
    )
    document["rooms"][0]["ventilation"] = {"air_changes": 0.8}
    answer = ask(
        document,
        normal("u_value", 0.15, construction="wall"),
        normal("u_value", 0.07, construction="roof"),
        normal("u_value", 0.03, construction="floor"),
        normal("area", 0.02),
        normal("air_changes", 0.1, room="a"),
        normal("unheated_space_air_changes", 0.3, space="garage"),
        normal("external_temperature", 0.5),
        normal("room_temperature", 0.4),
        normal("neighbour_temperature", 1.0, room="a", element="n"),
        normal("temperature_reduction_factor", 0.05, room="a", element="l"),
        normal("thermal_bridge_surcharge", 0.02),
    )
    w, r, f = ufloat(1.0, 0.15), ufloat(0.5, 0.07), ufloat(0.25, 0.03)
    k, n, ng = ufloat(1.0, 0.02), ufloat(0.8, 0.1), ufloat(1.5, 0.3)
    te, ti, tn = ufloat(-3.0, 0.5), 20.0 + ufloat(0.0, 0.4), ufloat(17.0, 1.0)
    b, s = ufloat(0.8, 0.05), ufloat(0.1, 0.02)
    inside, own, air = 8 * k * (r + s), 20 * k * (f + s), 0.33 * ng * 30
    tu = (inside * ti + (own + air) * te) / (inside + own + air)
    load = (
        12 * k * (w + s) * (ti - te)
        + inside * (ti - tu)
        + 9 * k * r * (ti - tn)
        + 15 * k * (f + s) * b * (ti - te)
        + 0.33 * n * 50 * (ti - te)
    )
    first = answer["first_order"]
    assert first["load_w"] == pytest.approx(load.nominal_value, rel=1e-12)
    assert first["standard_uncertainty_w"] == pytest.approx(load.std_dev, rel=1e-7)
    assert answer["design_heat_load_w"] == pytest.approx(load.nominal_value, rel=1e-12)
    assert first["agreement"] == "agrees"


# --- Candidates ------------------------------------------------------------------------------------------


def test_a_unit_of_just_the_load_is_too_small_in_half_of_the_draws() -> None:
    # The load is symmetric around 200 W, u = 20 W; 230 W suffice for all but 1 − Φ(1.5) = 6.68 %, and are not too large
    # (over 1.3 · load) where the load is 176.9 W or more: Φ(−1.154) = 12.43 %.
    answer = ask(
        house(wall("w", 10)),
        normal("u_value", 0.1, construction="wall"),
        candidates=[unit("just", (-10, 200), (10, 200)), unit("more", (-10, 230), (10, 230))],
        flow_temperature_c=45,
        thresholds={"minimum_coverage": 1.0, "maximum_coverage": 1.3},
    )
    just, more = answer["candidates"]
    tolerance = 2 * answer["numerical_tolerances"]["probability"]
    assert just["verdict"] == "suitable"
    assert just["coverage"] == pytest.approx(1.0)
    assert just["probability_undersized"] == pytest.approx(0.5, abs=tolerance)
    phi = NormalDist().cdf
    assert more["probability_undersized"] == pytest.approx(1 - phi(1.5), abs=tolerance)
    assert more["probability_oversized"] == pytest.approx(phi((230 / 1.3 - 200) / 20), abs=tolerance)
    for row in answer["candidates"]:
        total = sum(row[f"probability_{kind}"] for kind in ("suitable", "undersized", "oversized"))
        assert total == pytest.approx(1.0)
    assert answer["choice"]["best"] == "more"
    assert answer["choice"]["probability_of_wrong_choice"] == pytest.approx(1 - more["probability_suitable"])


def test_capacity_follows_the_outside_temperature_of_each_draw() -> None:
    # Load 10 · (20 − θ) W and capacity 200 + 4 · θ W with θ = 0 ± 2 °C: undersized where 200 + 4 θ < 200 − 10 θ, θ < 0: one half.
    answer = ask(
        house(wall("w", 10)),
        normal("external_temperature", 2.0),
        candidates=[unit("unit", (-10, 160), (10, 240))],
        flow_temperature_c=45,
        thresholds={"minimum_coverage": 1.0, "maximum_coverage": 10.0},
    )
    (row,) = answer["candidates"]
    assert row["outside_table"] == 0.0
    assert row["probability_undersized"] == pytest.approx(
        0.5, abs=2 * answer["numerical_tolerances"]["probability"]
    )


def test_draws_outside_a_table_are_told_and_never_extrapolated() -> None:
    # Φ(−1) = 15.87 % of the draws are colder than the table's −2 °C.
    answer = ask(
        house(wall("w", 10)),
        normal("external_temperature", 2.0),
        candidates=[unit("unit", (-2, 500), (20, 500))],
        flow_temperature_c=45,
    )
    (row,) = answer["candidates"]
    tolerance = 2 * answer["numerical_tolerances"]["probability"]
    assert row["outside_table"] == pytest.approx(NormalDist().cdf(-1.0), abs=tolerance)
    assert "unusual.outside_table" in codes(answer, "unusual.")


def test_what_decides_the_choice_is_measured_next() -> None:
    # Two units that meet at the survey's load, so that a wrong choice is a coin's toss now. Of the load's variance the wall has
    # 400/500 and the roof 100/500: knowing the wall, the choice is wrong where the roof outweighs it: arctan(½)/π = 14.8 %.
    answer = ask(
        house(wall("w", 10), wall("r", 20, "roof")),
        normal("u_value", 0.1, construction="wall"),
        normal("u_value", 0.025, construction="roof"),
        candidates=[unit("small", (-10, 400), (10, 400)), unit("large", (-10, 700), (10, 700))],
        flow_temperature_c=45,
        thresholds={"minimum_coverage": 1.0, "maximum_coverage": 1.75},
        draws=100_000,
    )
    tolerance = 2 * answer["numerical_tolerances"]["probability"]
    by_name = {row["construction"]: row["probability_of_wrong_choice_if_known"] for row in answer["inputs"]}
    # The small one suits loads of 400/1.75 to 400 W, the large one of 400 to 700 W.
    assert answer["choice"]["probability_of_wrong_choice"] == pytest.approx(0.5, abs=tolerance)
    assert answer["choice"]["probability_if_all_known"] == pytest.approx(0.0, abs=1e-3)
    assert by_name["wall"] == pytest.approx(math.atan(0.5) / math.pi, abs=tolerance)
    assert by_name["roof"] == pytest.approx(math.atan(2.0) / math.pi, abs=tolerance)
    following = answer["measure_next"]
    assert following["pointer"] == "/quantities/0"
    assert following["drop_in_wrong_choice"] == pytest.approx(
        0.5 - math.atan(0.5) / math.pi, abs=2 * tolerance
    )
    assert "percentage points" in following["reason"]


# --- Distributions and defaults --------------------------------------------------------------------------


def test_a_distribution_may_state_its_own_value() -> None:
    answer = ask(
        house(wall("w", 10)),
        {
            "quantity": {"of": "u_value", "construction": "wall"},
            "distribution": {"kind": "lognormal", "value": 1.3, "relative_standard_uncertainty": 0.3},
        },
    )
    assert answer["design_heat_load_w"] == 200.0
    assert answer["first_order"]["load_w"] == pytest.approx(260.0)
    tolerances = answer["numerical_tolerances"]
    law = stats.lognorm(
        math.sqrt(math.log(1.09)), scale=1.3 / math.sqrt(1.09)
    )  # 200 W for each W/(m²K): exact
    assert answer["mean_w"] == pytest.approx(200 * law.mean(), abs=2 * tolerances["mean_w"])
    assert answer["intervals"]["symmetric"]["low_w"] == pytest.approx(
        200 * law.ppf(0.025), abs=2 * tolerances["low_w"]
    )
    assert answer["intervals"]["symmetric"]["high_w"] == pytest.approx(
        200 * law.ppf(0.975), abs=2 * tolerances["high_w"]
    )


def test_a_triangle_of_air_changes() -> None:
    # 0.33 · 50 · 20 = 330 W for one air change; 0.4 to 1.0 is 0.7 ± 0.3/√6.
    document = house()
    document["rooms"][0]["ventilation"] = {"air_changes": 0.7}
    answer = ask(
        document,
        {
            "quantity": {"of": "air_changes", "room": "a"},
            "distribution": {"kind": "triangular", "low": 0.4, "high": 1.0},
        },
    )
    assert answer["first_order"]["load_w"] == pytest.approx(231.0)
    assert answer["first_order"]["standard_uncertainty_w"] == pytest.approx(
        330 * 0.3 / math.sqrt(6), rel=1e-9
    )
    assert answer["rooms"][0]["low_w"] == answer["intervals"]["symmetric"]["low_w"]


def test_airtightness_bends_where_the_hygienic_minimum_takes_over() -> None:
    # EN 12831:2003, 7.2 (from memory): the larger of 2 · 50 · n50 · 0.02 · 1 and 0.5 · 50 m³/h, halved infiltration for the house:
    # n50 of 10 to 30 gives 10 to 30 m³/h for the house against 25 m³/h. Mean of max(n50, 25): 25 · 0.75 + 27.5 · 0.25 m³/h.
    document = house(
        ventilation={
            "method": "airtightness",
            "edition": "2003",
            "air_changes_at_50pa": 20,
            "shielding": "moderate",
            "height_above_ground_m": 3,
            "air_heat_capacity_wh_m3k": 0.34,
        }
    )
    document["rooms"][0]["ventilation"] = {"air_changes": 0.5, "exposed_openings": "one"}
    answer = ask(
        document,
        {"quantity": {"of": "airtightness"}, "distribution": {"kind": "rectangular", "low": 10, "high": 30}},
    )
    flow = integrate.quad(lambda n: max(n, 25.0) / 20.0, 10, 30)[0]
    assert flow == pytest.approx(25 * 0.75 + 27.5 * 0.25)
    assert answer["mean_w"] == pytest.approx(
        0.34 * flow * 20, abs=2 * answer["numerical_tolerances"]["mean_w"]
    )
    assert answer["first_order"]["agreement"] == "differs"  # no straight line through a bend


def test_confidence_is_looked_up_and_defaults_are_told() -> None:
    document = house(wall("w", 10), wall("r", 30, "roof"))
    document["rooms"][0]["ventilation"] = {"air_changes": 1}
    answer = ask(document, confidence={"wall": "assumed"}, defaults=True)
    found = {row["description"]: row["standard_uncertainty"] / row["mean"] for row in answer["inputs"]}
    # Table uncertainty-classes: assumed 0.31, documented (what is declared) 0.15, areas 0.02, air changes 0.40.
    assert found == pytest.approx(
        {
            "U-value of 'wall'": 0.31,
            "U-value of 'roof'": 0.15,
            "all areas of the house (factor)": 0.02,
            "air changes of all rooms (factor)": 0.40,
        }
    )
    assert sorted(codes(answer, "default.uncertainty")) == ["default.uncertainty"] * 3


def test_a_class_from_memory_says_so() -> None:
    answer = ask(house(wall("w", 10)), confidence={"wall": "measured"})
    assert "memory.table_row" in codes(answer, "memory.")
    assert codes(ask(house(wall("w", 10)), confidence={"wall": "inspected"}), "memory.") == []


def test_what_was_taken_of_the_method_is_told() -> None:
    request = {"house": house(wall("w", 10)), "quantities": [normal("u_value", 0.1, construction="wall")]}
    answer = warmstead.uncertainty(request)
    assert answer["draws"] == 10_000
    assert codes(answer, "default.monte_carlo") == ["default.monte_carlo"] * 3
    assert codes(answer, "assumption.independent") == ["assumption.independent_inputs"]


def test_values_beyond_what_can_be_are_drawn_again_and_told() -> None:
    answer = ask(house(wall("w", 10)), normal("u_value", 0.32, construction="wall"), draws=100_000)
    assert "assumption.drawn_again" in codes(answer, "assumption.")


def test_draws_that_contradict_themselves_are_left_out_and_told() -> None:
    # 12 ± 0.6 m² with 10 m² of windows: 1 − Φ(3.33) = 0.04 % have too little wall.
    element = wall("w", 12) | {"openings": [{"id": "window", "construction": "roof", "area_m2": 10}]}
    answer = ask(house(element), normal("area", 0.6, room="a", element="w"), draws=100_000)
    assert codes(answer, "unusual.") == ["unusual.draws_left_out"]
    assert 0 < 100_000 - answer["draws"] <= 100
    assert refused(house(element), normal("area", 1.5, room="a", element="w")) == [
        ("/quantities", "contradiction")
    ]


def test_what_matters_to_no_load_is_not_measured() -> None:
    answer = ask(
        house(wall("w", 10), wall("g", 3, "roof", to="unheated_space", temperature_c=20)),
        normal("u_value", 0.1, construction="roof"),
    )
    assert answer["standard_uncertainty_w"] == pytest.approx(0.0, abs=1e-9)
    assert answer["inputs"][0]["share_of_variance"] == 0.0
    assert "measure_next" not in answer
    assert answer["first_order"]["agreement"] == "agrees"


def test_a_shared_construction_between_rooms_moves_heat_and_loses_none() -> None:
    document = house(wall("w", 10), wall("p", 8, "roof", to="room", room="b"))
    document["rooms"].append(document["rooms"][0] | {"id": "b", "design_temperature_c": 16, "elements": []})
    answer = ask(document, normal("u_value", 0.1, construction="roof"))
    # 8 m² · 4 K · 0.1 = 3.2 W from one room to the other.
    assert answer["standard_uncertainty_w"] == pytest.approx(0.0, abs=1e-9)
    for row in answer["rooms"]:
        assert row["standard_uncertainty_w"] == pytest.approx(3.2, rel=0.03)


def test_what_does_not_fit_the_house_is_refused_all_at_once() -> None:
    share = {"kind": "normal", "relative_standard_uncertainty": 0.1}
    document = house(wall("w", 10))
    problems = refused(
        document,
        {"quantity": {"of": "u_value", "construction": "nowhere"}, "distribution": share},
        {"quantity": {"of": "u_value", "construction": "roof"}, "distribution": share},
        {"quantity": {"of": "external_temperature"}, "distribution": share},
        {"quantity": {"of": "air_changes", "room": "a"}, "distribution": share},
        {"quantity": {"of": "area", "element": "w"}, "distribution": share},
        {"quantity": {"of": "area", "construction": "wall", "room": "a"}, "distribution": share},
        {"quantity": {"of": "airtightness"}, "distribution": share},
        {
            "quantity": {"of": "annual_mean_external_temperature"},
            "distribution": {"kind": "normal", "standard_uncertainty": 1},
        },
        normal("u_value", 0.4, construction="wall"),
    )
    assert problems == [
        ("/quantities/0/quantity/construction", "not_found"),
        ("/quantities/1/quantity/construction", "not_found"),
        ("/quantities/2/distribution/relative_standard_uncertainty", "not_allowed_here"),
        ("/quantities/3/distribution/relative_standard_uncertainty", "contradiction"),
        ("/quantities/4/quantity", "incomplete"),
        ("/quantities/5/quantity", "ambiguous"),
        ("/quantities/6/quantity", "contradiction"),
        ("/quantities/7/quantity", "contradiction"),
        ("/quantities/8/distribution", "contradiction"),
    ]


@pytest.mark.parametrize(
    ("distribution", "pointer", "code"),
    [
        ({"kind": "normal"}, "/standard_uncertainty", "incomplete"),
        (
            {"kind": "normal", "standard_uncertainty": 0.1, "relative_standard_uncertainty": 0.1},
            "/standard_uncertainty",
            "ambiguous",
        ),
        ({"kind": "rectangular", "low": 0.5}, "", "incomplete"),
        ({"kind": "rectangular", "low": 1.5, "high": 0.5}, "/high", "contradiction"),
        ({"kind": "rectangular", "low": 0.5, "high": 1.5, "half_width": 0.1}, "/half_width", "ambiguous"),
        ({"kind": "triangular", "half_width": 1.1}, "", "contradiction"),
        ({"kind": "lognormal", "value": -1, "standard_uncertainty": 0.1}, "", "contradiction"),
    ],
)
def test_distributions_that_say_too_little_or_too_much_are_refused(
    distribution: Json, pointer: str, code: str
) -> None:
    quantity = {"quantity": {"of": "u_value", "construction": "wall"}, "distribution": distribution}
    assert refused(house(wall("w", 10)), quantity) == [(f"/quantities/0/distribution{pointer}", code)]


def test_what_has_an_upper_limit_is_not_lognormal() -> None:
    element = wall("l", 10, to="unheated_space", temperature_reduction_factor=0.8)
    quantity = {
        "quantity": {"of": "temperature_reduction_factor", "room": "a", "element": "l"},
        "distribution": {"kind": "lognormal", "relative_standard_uncertainty": 0.1},
    }
    assert refused(house(element), quantity) == [("/quantities/0/distribution/kind", "not_allowed_here")]


def test_nothing_is_uncertain_twice() -> None:
    once = normal("u_value", 0.1, construction="wall")
    assert refused(house(wall("w", 10)), once, once) == [("/quantities/1", "ambiguous")]
    assert refused(house(wall("w", 10)), once, confidence={"wall": "assumed"}) == [
        ("/confidence/wall", "ambiguous")
    ]


def test_nothing_uncertain_at_all_is_refused() -> None:
    assert refused(house(wall("w", 10))) == [("/quantities", "incomplete")]
    assert refused(house(wall("w", 10)), defaults=False) == [("/quantities", "incomplete")]


def test_candidates_and_their_temperature_belong_together() -> None:
    quantity = normal("u_value", 0.1, construction="wall")
    document = house(wall("w", 10))
    assert refused(document, quantity, flow_temperature_c=45) == [("/candidates", "incomplete")]
    units = [unit("unit", (-10, 200), (10, 200))]
    assert refused(document, quantity, candidates=units) == [("/flow_temperature_c", "missing_field")]
    assert refused(document, quantity, candidates=units, flow_temperature_c=20) == [
        ("/flow_temperature_c", "contradiction"),
        ("/candidates/0/performance", "not_covered"),
    ]


def test_more_draws_than_a_house_is_worth_are_refused() -> None:
    document = house(*(wall(f"w{n}", 1, f"c{n}") for n in range(300)))
    document["constructions"] = {f"c{n}": declared(1.0) for n in range(300)}
    assert refused(document, confidence={f"c{n}": "assumed" for n in range(300)}, draws=100_000) == [
        ("/draws", "out_of_range")
    ]


# --- The same again ----------------------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_draws_and_another_seed_others() -> None:
    quantity = normal("u_value", 0.1, construction="wall")
    first, again = ask(house(wall("w", 10)), quantity), ask(house(wall("w", 10)), quantity)
    assert json.dumps(first) == json.dumps(again)
    other = ask(house(wall("w", 10)), quantity, seed=4)
    assert other["mean_w"] != first["mean_w"]
    assert other["mean_w"] == pytest.approx(first["mean_w"], abs=4 * first["numerical_tolerances"]["mean_w"])


def test_workings_list_each_contribution() -> None:
    request = {
        "house": house(wall("w", 10)),
        "quantities": [normal("u_value", 0.1, construction="wall")],
        "draws": 1000,
    }
    steps = warmstead.uncertainty(request, workings=True)["workings"]
    assert [(step["symbol"], step["value"]) for step in steps[:4]] == [
        ("x_i", 1.0),
        ("u(x_i)", 0.1),
        ("c_i", pytest.approx(200.0)),
        ("|c_i|·u(x_i)", pytest.approx(20.0)),
    ]
    assert steps[-5]["symbol"] == "u_c(y)"
    assert steps[-5]["value"] == pytest.approx(20.0)


def test_the_demo_measures_the_bare_walls_next() -> None:
    answer = warmstead.uncertainty(requests()["uncertainty"])
    by_id = {row["id"]: row for row in answer["candidates"]}
    assert by_id["unit-8"]["verdict"] == "undersized"
    assert 0.1 < by_id["unit-8"]["probability_suitable"] < 0.5
    assert by_id["unit-11"]["probability_suitable"] > 0.7
    assert answer["measure_next"]["pointer"] == "/confidence/wall-solid-bare"
    # A lognormal wall, half of the variance: the load is skewed, and the law of propagation's ± 1.96 u does not fit.
    assert answer["first_order"]["agreement"] == "differs"


def test_the_question_is_there_without_numpy_until_it_is_asked() -> None:
    code = "import sys, warmstead.questions.uncertainty; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], timeout=60, check=False).returncode == 0


def test_naming_one_room_or_area_leaves_the_others_as_uncertain_as_usual() -> None:
    document = house(wall("w", 10), wall("v", 30))
    document["rooms"][0]["ventilation"] = {"air_changes": 1}
    other = {**document["rooms"][0], "id": "b", "elements": [], "ventilation": {"air_changes": 0.5}}
    document["rooms"].append(other)
    named = [
        normal("area", 0.001, room="a", element="w"),
        normal("air_changes", 0.001, room="a"),
    ]
    answer = ask(document, *named, defaults=True)
    row = {item["of"]: item for item in answer["inputs"] if not item["pointer"].startswith("/quantities")}
    # Table uncertainty-classes: areas 0.02, air changes 0.40. Of 'v' 30 m², of 'b' 0.5 /h: what was named is not drawn again.
    assert row["area"]["standard_uncertainty"] == pytest.approx(0.02 * 30)
    assert row["air_changes"]["standard_uncertainty"] == pytest.approx(0.40 * 0.5)
    loss = warmstead.house_loss({"house": document})["rooms"]
    v_w = next(element["heat_loss_w"] for element in loss[0]["elements"] if element["id"] == "v")
    assert row["area"]["contribution_w"] == pytest.approx(0.02 * v_w)
    assert row["air_changes"]["contribution_w"] == pytest.approx(0.40 * loss[1]["ventilation_w"])
    assert sorted(w["pointer"] for w in answer["warnings"] if w["code"] == "default.uncertainty") == [
        "/house/constructions/wall",
        "/house/rooms",
        "/house/ventilation",
    ]


def test_a_named_construction_or_the_whole_house_is_not_drawn_again_by_default() -> None:
    document = house(wall("w", 10), wall("r", 30, "roof"))
    answer = ask(document, normal("area", 0.01, construction="wall"), defaults=True)
    areas = [item for item in answer["inputs"] if item["of"] == "area"]
    # 0.01 as a factor on 'wall'; 0.02 of the 30 m² of roof by the table uncertainty-classes.
    assert sorted(item["standard_uncertainty"] for item in areas) == pytest.approx([0.01, 0.6])
    answer = ask(document, normal("area", 0.01), defaults=True)
    assert [item["standard_uncertainty"] for item in answer["inputs"] if item["of"] == "area"] == [0.01]
