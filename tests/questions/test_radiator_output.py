"""A radiator's output: by a published table, by hand, and as the emitter check has it."""

from __future__ import annotations

from typing import Any

import pytest

import warmstead

RADIATOR = {"standard_output_w": 1000, "standard_excess_temperature_k": 50, "exponent": 1.3}


def ask(flow: float, back: float, room: float = 20.0, **more: Any) -> dict[str, Any]:
    water = {"flow_temperature_c": flow, "return_temperature_c": back, "room_temperature_c": room}
    answer: dict[str, Any] = warmstead.radiator_output(RADIATOR | water | more)
    return answer


def refused(*arguments: float, **more: Any) -> list[tuple[str, str]]:
    with pytest.raises(warmstead.Refused) as caught:
        ask(*arguments, **more)
    return [(problem.pointer, problem.code) for problem in caught.value.problems]


@pytest.mark.parametrize(
    ("excess_k", "factor"),
    # Trade index table of correction factors, mean difference → factor (seen in transcription)
    [(5, 0.050), (15, 0.209), (30, 0.515), (40, 0.748), (50, 1.000), (55, 1.132), (65, 1.406), (70, 1.549)],
)
def test_the_share_is_the_printed_factor(excess_k: float, factor: float) -> None:
    answer = ask(20 + excess_k + 0.5, 20 + excess_k - 0.5)
    assert answer["mean"] == "arithmetic"
    assert answer["output_share"] == pytest.approx(factor, abs=0.0005)


def test_the_answer_is_that_of_the_emitter_check() -> None:
    house = {
        "dimensions": "internal",
        "conditions": {"external_temperature_c": 0},
        "constructions": {},
        "rooms": [
            {
                "id": "a",
                "design_temperature_c": 20,
                "floor_area_m2": 10,
                "height_m": 2.5,
                "elements": [],
                "emitters": [{"id": "r", "kind": "radiator", "output_factor": 0.95, **RADIATOR}],
            }
        ],
    }
    for flow, back in ((55, 45), (55, 30), (75, 65)):
        checked = warmstead.emitter_check(
            {"house": house, "flow_temperature_c": flow, "return_temperature_c": back}
        )["rooms"][0]["emitters"][0]
        answer = ask(flow, back, output_factor=0.95)
        assert {name: answer[name] for name in checked if name != "id"} == {
            name: value for name, value in checked.items() if name != "id"
        }


def test_hot_surfaces_are_told_of() -> None:
    assert "caution.hot_surface" in [warning["code"] for warning in ask(55, 45)["warnings"]]
    assert "caution.hot_surface" not in [warning["code"] for warning in ask(54.9, 45)["warnings"]]


def test_both_contradictions_are_told_together() -> None:
    assert refused(18, 19) == [
        ("/return_temperature_c", "contradiction"),
        ("/return_temperature_c", "contradiction"),
    ]


def test_workings_end_in_the_output_and_the_flow() -> None:
    request = RADIATOR | {"flow_temperature_c": 55, "return_temperature_c": 30, "room_temperature_c": 20}
    answer = warmstead.radiator_output(request, workings=True)
    assert [step["symbol"] for step in answer["workings"]] == ["ΔT", "Φ", "q"]
    assert [step["value"] for step in answer["workings"]] == [
        answer["excess_temperature_k"],
        answer["output_w"],
        answer["flow_l_s"],
    ]
