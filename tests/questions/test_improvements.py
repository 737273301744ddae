"""What the question of improvements promises beside its choice: derivation, cautions, refusals, bounds. Numbers by hand."""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest

import warmstead
from warmstead import demo
from warmstead.building.improvement import study

Json = dict[str, Any]
DIFFERENCE_K = 23.0  # 20 °C inside, −3 °C outside


def house(wall: Json, **room: Any) -> Json:
    return {
        "dimensions": "internal",
        "reheat_w_m2": 0,
        "conditions": {"external_temperature_c": -3, "national_annex": "GB"},
        "ventilation": {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.33},
        "thermal_bridges": {"surcharge_w_m2k": 0},
        "constructions": {"wall": wall},
        "rooms": [
            {
                "id": "room",
                "design_temperature_c": 20,
                "floor_area_m2": 20,
                "height_m": 2.5,
                "ventilation": {"air_changes": 0},
                "elements": [
                    {"id": "wall", "construction": "wall", "area_m2": 10, "boundary": {"to": "outside"}}
                ],
                **room,
            }
        ],
    }


def wool(thickness_mm: float, **more: Any) -> Json:
    return {"kind": "solid", "thickness_mm": thickness_mm, "conductivity_w_mk": 0.04, **more}


def line(id: str = "line", layers: list[Json] | None = None, side: str = "inside", **more: Any) -> Json:
    surfaces = [{"room": "room", "element": "wall"}]
    adds = {"kind": "add_layers", "surfaces": surfaces, "side": side, "layers": layers or [wool(60)]}
    return {"id": id, "actions": [adds], **more}


def layered(*layers: Json, **more: Any) -> Json:
    return {"kind": "layered", "heat_flow": "horizontal", "layers": list(layers), **more}


BRICK = {"kind": "solid", "thickness_mm": 220, "conductivity_w_mk": 0.8}


def ask(wall: Json, measures: list[Json], **more: Any) -> Json:
    answer: Json = warmstead.improvements({"house": house(wall), "measures": measures, **more})
    return answer


def refused(request: Json) -> list[tuple[str, str]]:
    with pytest.raises(warmstead.Refused) as caught:
        warmstead.improvements(request)
    return sorted((problem.pointer, problem.code) for problem in caught.value.problems)


def u_after(answer: Json, index: int = 0) -> float:
    value: float = answer["measures"][index]["surfaces"][0]["u_value_after_w_m2k"]
    return value


def test_corrections_stay_at_their_layers_when_others_come_before_them() -> None:
    gaps = {"air_gaps": {"layer": 0, "level": 2}}
    wall = layered(wool(50), BRICK, corrections=gaps)
    # By hand: 0.13 + 1.25 + 0.275 + 0.04 = 1.695, lined 3.195 m²K/W; gaps of level 2 in the old layer add
    # 0.04 · (1.25/3.195)² (ISO 6946 annex, from memory): 1/3.195 + 0.0061226 = 0.319112; left out under 3 % (1.96 %).
    assert u_after(ask(wall, [line()])) == pytest.approx(1 / 3.195, abs=5e-7)
    # With 80 mm: 0.13 + 2.0 + 0.275 + 0.04 + 0.25 = 2.695; 0.04 · (2.0/2.695)² = 0.02203, over 3 % of 0.37106.
    thick = layered(wool(80), BRICK, corrections=gaps)
    assert u_after(ask(thick, [line(layers=[wool(10)])])) == pytest.approx(1 / 2.695 + 0.022030, abs=5e-6)


def test_a_path_does_not_go_through_older_layers() -> None:
    stud = {"fraction": 0.1, "conductivity_w_mk": 0.13, "path": "stud"}
    wall = layered(wool(100, bridges=[stud]))
    same = ask(wall, [line(layers=[wool(60, bridges=[stud])])])
    other = ask(wall, [line(layers=[wool(60, bridges=[{**stud, "path": "batten"}])])])
    assert u_after(same) == u_after(other)


def test_cladding_outside_a_ventilated_cavity_follows_the_standard() -> None:
    cavity = {"kind": "air", "thickness_mm": 40, "ventilation": "well_ventilated"}
    answer = ask(layered(BRICK), [line(layers=[wool(60), cavity, wool(20)], side="outside")])
    # By hand (ISO 6946, 6.9.4): 0.13 + 0.275 + 1.5 + 0.13 for the cavity's still face = 2.035; what lies outside is left out.
    assert u_after(answer) == pytest.approx(1 / 2.035, abs=5e-7)


def test_a_bridged_layer_on_a_wall_of_unknown_layers_is_weighed_beside_it() -> None:
    bridge = {"fraction": 0.2, "conductivity_w_mk": 0.13}
    wall = {"kind": "declared", "u_value_w_m2k": 2.0, "source": "invented"}
    answer = ask(wall, [line(layers=[wool(60, bridges=[bridge])])])
    # By hand: upper 1/(0.2/(0.5 + 0.461538) + 0.8/2.0) = 1.644737; lower 0.5 + 1/(0.2/0.461538 + 0.8/1.5) = 1.534483.
    assert 1 / u_after(answer) == pytest.approx((1.644737 + 1.534483) / 2, abs=5e-6)


def test_the_survey_is_left_as_it_was_sent() -> None:
    request = {"house": house(layered(BRICK)), "measures": [line(cost=5), line("more", cost=7)]}
    before = copy.deepcopy(request)
    warmstead.improvements(request)
    assert request == before


def test_measures_in_another_order_are_chosen_all_the_same() -> None:
    request = demo.requests()["improvements"]
    other = {**request, "measures": list(reversed(request["measures"]))}
    one, two = warmstead.improvements(request), warmstead.improvements(other)
    assert sorted(one["cheapest"]["measures"]) == sorted(two["cheapest"]["measures"])
    assert [p["cost"] for p in one["frontier"]] == [p["cost"] for p in two["frontier"]]
    savings = {m["id"]: m["saving_alone_w"] for m in two["measures"]}
    assert {m["id"]: m["saving_alone_w"] for m in one["measures"]} == pytest.approx(savings, rel=1e-9)


def test_the_same_request_has_the_same_answer() -> None:
    text = json.dumps(demo.requests()["improvements"])
    assert json.dumps(warmstead.improvements(text)) == json.dumps(warmstead.improvements(text))


def test_the_demonstration_has_two_ways_to_the_middle_unit() -> None:
    answer = warmstead.improvements(demo.requests()["improvements"])
    assert answer["cheapest"]["measures"] == ["close-chimney"]
    assert ["line-bare-walls"] in [row["measures"] for row in answer["runners_up"]]
    assert answer["now"]["suitable_candidates"] == ["unit-11"]
    after = {row["id"]: row["saving_after_others_w"] for row in answer["measures"]}
    alone = {row["id"]: row["saving_alone_w"] for row in answer["measures"]}
    assert after["line-bare-walls"] < 0.2 * alone["line-bare-walls"]  # the same walls insulated from outside


def test_measures_that_only_the_method_keeps_apart_are_a_conflict() -> None:
    tapered = {
        "kind": "tapered",
        "shape": "rectangle",
        "minimum_thickness_mm": 20,
        "maximum_thickness_mm": 60,
        "conductivity_w_mk": 0.04,
    }
    answer = ask(layered(BRICK), [line("one", [tapered]), line("two", [tapered])])
    assert [conflict["measures"] for conflict in answer["conflicts"]] == [["one", "two"]]
    assert answer["all_measures"]["left_out"] == ["two"]


def test_what_is_wrong_with_measures_is_told_together_and_at_its_place() -> None:
    request = {
        "house": house(layered(BRICK)),
        "measures": [
            line(cost=1, excludes=["line", "nobody"]),
            {"id": "air", "cost": 1, "actions": [{"kind": "change_air", "rooms": ["room", "attic"]}]},
            {
                "id": "window",
                "cost": 1,
                "actions": [
                    {
                        "kind": "replace_construction",
                        "surfaces": [{"element": "wall"}, {"room": "room", "space": "s", "element": "wall"}],
                        "construction": layered(BRICK),
                    }
                ],
            },
        ],
    }
    assert refused(request) == [
        ("/measures/0/excludes/0", "contradiction"),
        ("/measures/0/excludes/1", "not_found"),
        ("/measures/1/actions/0", "incomplete"),
        ("/measures/1/actions/0/rooms/1", "not_found"),
        ("/measures/2/actions/0/surfaces/0/room", "incomplete"),
        ("/measures/2/actions/0/surfaces/1/room", "ambiguous"),
    ]


def test_a_refused_construction_is_told_within_the_measure() -> None:
    window = {
        "kind": "replace_construction",
        "surfaces": [{"room": "room", "element": "wall"}],
        "construction": layered({"kind": "solid", "thickness_mm": 10, "material": "no-such-row"}),
    }
    request = {"house": house(layered(BRICK)), "measures": [{"id": "new", "actions": [window]}]}
    ((pointer, code),) = refused(request)
    assert pointer.startswith("/measures/0/actions/0/construction/layers/0")
    assert code == "not_found"


def test_water_that_heats_no_room_is_refused() -> None:
    request = {
        "house": house(layered(BRICK)),
        "measures": [line()],
        "goal": {"kind": "flow_temperature", "flow_temperature_c": 30, "return_temperature_c": 19},
    }
    assert refused(request) == [("/goal/return_temperature_c", "contradiction")]


def test_too_many_joint_states_are_refused_before_any_work(monkeypatch: pytest.MonkeyPatch) -> None:
    measures = [line(f"m{index}") for index in range(12)]  # 2¹² states on one wall
    request = {"house": house(layered(BRICK)), "measures": measures}
    assert refused(request) == [("/measures", "not_covered")]
    exclusive = [line(f"m{i}", excludes=[f"m{j}" for j in range(i)]) for i in range(12)]
    assert len(warmstead.improvements({**request, "measures": exclusive})["conflicts"]) == 66
    monkeypatch.setattr(study, "MOST_WORK", 100)
    assert refused({**request, "measures": exclusive}) == [("/measures", "not_covered")]


def test_a_measure_that_does_nothing_is_told() -> None:
    cavity = {"kind": "air", "thickness_mm": 40, "ventilation": "well_ventilated"}
    wall = layered(BRICK, cavity, {"kind": "solid", "thickness_mm": 20, "conductivity_w_mk": 0.13})
    codes = [w["code"] for w in ask(wall, [line(side="outside")])["warnings"]]
    assert "unusual.measure_without_effect" in codes


def test_extract_beside_an_open_flue_is_a_caution_of_the_measure_that_brings_it() -> None:
    survey = house(layered(BRICK), flues=[{"kind": "open_flue", "air_l_s": 5}])
    fan = {"id": "fan", "actions": [{"kind": "change_air", "rooms": ["room"], "extract_l_s": 15}]}
    answer = warmstead.improvements({"house": survey, "measures": [fan]})
    told = [w["pointer"] for w in answer["warnings"] if w["code"] == "caution.flue_and_extract"]
    assert told == ["/measures/0"]


def test_workings_lead_to_every_saving() -> None:
    steps = warmstead.improvements(demo.requests()["improvements"], workings=True)["workings"]
    values = {(step["of"], step["symbol"]): step["value"] for step in steps}
    now = values["house", "Φ_0"]
    assert values["top-up-loft", "ΔΦ"] == pytest.approx(now - values["top-up-loft", "Φ_m"])
    assert values["top-up-loft", "ΔΦ_o"] == pytest.approx(
        values["top-up-loft", "Φ_o"] - values["top-up-loft", "Φ_om"]
    )
