"""Heat pumps as their tables state them: warnings, reasons, hot water, and what a table does not cover."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead

Json = dict[str, Any]
Make = Callable[..., Any]


def rows(
    *outside: float, capacity: float = 5000, flows: tuple[float, ...] = (35, 55), **more: float
) -> list[Json]:
    return [
        {
            "external_temperature_c": t,
            "flow_temperature_c": f,
            "capacity_w": capacity,
            "coefficient_of_performance": 3,
            **more,
        }
        for t in outside
        for f in flows
    ]


def unit(id: str = "unit", performance: list[Json] | None = None, **changes: Any) -> Json:
    return {"id": id, "performance": performance or rows(-7, 2, 12), "rating_basis": "integrated", **changes}


def question(*candidates: Json, **changes: Any) -> Json:
    return {
        "design_heat_load_w": 5000,
        "external_temperature_c": -5,
        "base_temperature_c": 20,
        "flow_temperature_c": 35,
        "thresholds": {"minimum_coverage": 1, "maximum_coverage": 1.3},
        "candidates": list(candidates) or [unit()],
        **changes,
    }


def size(*candidates: Json, **changes: Any) -> Json:
    answer: Json = warmstead.heat_pump_sizing(question(*candidates, **changes))
    return answer


@pytest.mark.parametrize(
    ("capacity", "verdict", "short_w"),
    [(4999, "undersized", 1), (5000, "suitable", 0), (6500, "suitable", 0), (6501, "oversized", 0)],
)
def test_a_verdict_by_coverage_with_both_limits_suitable(
    capacity: float, verdict: str, short_w: float
) -> None:
    (told,) = size(unit(performance=rows(-7, 12, capacity=capacity)))["candidates"]
    assert told["verdict"] == verdict
    assert told["margin_w"] == pytest.approx(capacity - 5000)
    assert told["backup_at_design_w"] == pytest.approx(short_w)
    assert told["reduction_needed_w"] == pytest.approx(short_w)


def test_the_smallest_suitable_unit_is_named() -> None:
    candidates = [
        unit(name, rows(-7, 12, capacity=watts))
        for name, watts in (("large", 6400), ("tiny", 4000), ("right", 5200), ("huge", 9000))
    ]
    answer = size(*candidates)
    assert answer["smallest_suitable"] == "right"
    assert [told["verdict"] for told in answer["candidates"]] == [
        "suitable",
        "undersized",
        "suitable",
        "oversized",
    ]
    assert "smallest_suitable" not in size(candidates[1], candidates[3])


def test_hot_water_takes_its_hours_at_its_own_flow_temperature() -> None:
    performance = rows(-7, 12, capacity=6000, flows=(35,)) + rows(-7, 12, capacity=4000, flows=(55,))
    answer = size(
        unit(performance=performance), hot_water={"energy_kwh_per_day": 8, "storage_temperature_c": 55}
    )
    (told,) = answer["candidates"]
    # 8 kWh at 4 kW are 2 hours; 5000 · 24/22 W in the other 22
    assert told["hot_water_hours_per_day"] == pytest.approx(2)
    assert told["hot_water_share"] == pytest.approx(2 / 24)
    assert told["required_w"] == answer["required_w"] == pytest.approx(5000 * 24 / 22)
    assert told["capacity_at_design_w"] == pytest.approx(6000)
    assert told["reduction_needed_w"] == 0
    assert not {"hot_water_hours_per_day", "hot_water_share"} & set(size(unit())["candidates"][0])


def test_hot_water_that_takes_the_whole_day_is_refused(refused: Make) -> None:
    asked = question(hot_water={"energy_kwh_per_day": 120, "storage_temperature_c": 55})
    assert refused(warmstead.heat_pump_sizing, asked) == [("/hot_water/energy_kwh_per_day", "contradiction")]


@pytest.mark.parametrize(
    "changes",
    [
        {"external_temperature_c": -7.1},
        {"external_temperature_c": 12.1},
        {"flow_temperature_c": 34.9},
        {"flow_temperature_c": 55.1},
        {"hot_water": {"energy_kwh_per_day": 5, "storage_temperature_c": 56}},
    ],
)
def test_nothing_is_told_of_what_lies_outside_a_table(changes: Json, refused: Make) -> None:
    assert refused(warmstead.heat_pump_sizing, question(**changes)) == [
        ("/candidates/0/performance", "not_covered")
    ]


def test_the_edges_of_a_table_belong_to_it() -> None:
    for changes in (
        {"external_temperature_c": -7},
        {"external_temperature_c": 12},
        {"flow_temperature_c": 55},
    ):
        assert size(**changes)["candidates"][0]["capacity_at_design_w"] == pytest.approx(5000)


def test_a_bivalent_temperature_by_hand() -> None:
    # load(T) = 5000 · (20 − T)/25 is 4000 W at 0 °C
    (told,) = size(unit(performance=rows(-7, 12, capacity=4000)))["candidates"]
    assert told["bivalent_temperature_c"] == pytest.approx(0)


@pytest.mark.parametrize(("capacity", "where"), [(9000, "-7"), (1000, "12")])
def test_a_crossing_outside_the_table_is_a_reason(capacity: float, where: str) -> None:
    (told,) = size(unit(performance=rows(-7, 12, capacity=capacity)))["candidates"]
    assert "bivalent_temperature_c" not in told
    (reason,) = [reason for reason in told["reasons"] if "bivalent" in reason]
    assert where in reason


def test_cycling_by_hand() -> None:
    # 1000 W at lowest are the load at 15 °C; a table up to 20 °C holds that, one up to 12 °C does not
    (told,) = size(unit(performance=rows(-7, 20, minimum_capacity_w=1000)))["candidates"]
    assert told["cycling_above_external_temperature_c"] == pytest.approx(15)
    assert told["minimum_capacity_w"] == pytest.approx(1000)
    (told,) = size(unit(performance=rows(-7, 12, minimum_capacity_w=1000)))["candidates"]
    assert "cycling_above_external_temperature_c" not in told
    assert any("no cycling limit" in reason for reason in told["reasons"])


@pytest.mark.parametrize(("heater", "words"), [(1000, "covers"), (999, "does not cover")])
def test_a_backup_heater_is_weighed_against_what_is_short(heater: float, words: str) -> None:
    (told,) = size(unit(performance=rows(-7, 12, capacity=4000), backup_heater_w=heater))["candidates"]
    assert told["backup_at_design_w"] == pytest.approx(1000)
    (reason,) = [reason for reason in told["reasons"] if "backup" in reason]
    assert f"{words} the 1000 W" in reason


def test_ratings_without_defrosting_are_a_caution(warned: Make) -> None:
    assert warned(size(unit(rating_basis="peak")), "caution.peak_rating") == ["/candidates/0/rating_basis"]
    assert warned(size(unit()), "caution.peak_rating") == []


@pytest.mark.parametrize(
    ("outside", "gap"),
    [((-7, 12), True), ((-7, 2, 12), False), ((-7, 0, 12), False), ((-7, -5), False), ((-7, 7), True)],
)
def test_a_table_that_hides_the_dip_by_defrosting_is_a_caution(
    outside: tuple[float, ...], gap: bool, warned: Make
) -> None:
    answer = size(unit(performance=rows(*outside)))
    assert warned(answer, "caution.defrost_gap") == (["/candidates/0/performance"] if gap else [])


@pytest.mark.parametrize(("storage", "warns"), [(55, True), (59.9, True), (60, False), (65, False)])
def test_a_store_under_60_degrees_is_a_caution(storage: float, warns: bool, warned: Make) -> None:
    performance = rows(-7, 2, 12, flows=(35, 65))
    hot_water = {"energy_kwh_per_day": 5, "storage_temperature_c": storage}
    answer = size(unit(performance=performance), hot_water=hot_water)
    pointers = ["/hot_water/storage_temperature_c"] if warns else []
    assert warned(answer, "caution.legionella") == pointers
    assert warned(answer, "caution.scald") == ["/hot_water/storage_temperature_c"]
    assert warned(answer, "caution.unvented_cylinder") == ["/hot_water"]
    assert warned(size(unit()), "caution.unvented_cylinder") == []


def test_a_base_that_is_no_warmer_than_outside_is_refused(refused: Make) -> None:
    asked = question(external_temperature_c=5, base_temperature_c=5)
    assert refused(warmstead.heat_pump_sizing, asked) == [("/base_temperature_c", "contradiction")]


def test_a_base_of_ones_own_goes_with_a_house(house: Make, room: Make, element: Make, warned: Make) -> None:
    survey = house(room("a", element("w", 100, "outside"), element("v", 60, "outside", "half")))
    by_house = {"house": survey, "flow_temperature_c": 35, "candidates": [unit(performance=rows(-10, 12))]}
    answer = warmstead.heat_pump_sizing(by_house)
    assert answer["design_heat_load_w"] == pytest.approx(3900)
    assert answer["base_temperature_c"] == pytest.approx(20)
    assert warned(answer, "assumption.no_gains") == ["/base_temperature_c"]
    answer = warmstead.heat_pump_sizing(by_house | {"base_temperature_c": 15.5})
    assert answer["base_temperature_c"] == 15.5
    assert warned(answer, "assumption.no_gains") == []
