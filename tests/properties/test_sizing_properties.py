"""What holds of every sizing: each number again by general-purpose interpolation and root finding, and no order matters."""

from __future__ import annotations

import copy
import math
import os
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator
from scipy.optimize import brentq

import warmstead

Json = dict[str, Any]
Draw = Callable[[st.SearchStrategy[Any]], Any]
Line = Callable[[float], float]

THOROUGH = bool(os.environ.get("WARMSTEAD_THOROUGH"))
"""Before a release; a build tries fewer, so that it ends in time."""
SIZINGS = settings(max_examples=80 if THOROUGH else 40)
OUTSIDE_C = (-20, -15, -10, -7, -2, 0, 2, 4, 7, 12, 15, 20)
FLOW_C = (30, 35, 40, 45, 50, 55, 60, 65)


# --- Questions ------------------------------------------------------------------------------------


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """Draw a number with three decimals."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda thousandths: thousandths / 1000)


@st.composite
def tables(draw: Draw, external_c: float, flows_c: list[float]) -> list[Json]:
    """Draw a full grid that covers an outside temperature and some flow temperatures, with numbers of no shape."""
    colder = [t for t in OUTSIDE_C if t <= external_c]
    warmer = [t for t in OUTSIDE_C if t >= external_c]
    outside = {draw(st.sampled_from(colder)), draw(st.sampled_from(warmer))}
    outside |= draw(st.sets(st.sampled_from(OUTSIDE_C), max_size=4))
    low = [f for f in FLOW_C if f <= min(flows_c)]
    high = [f for f in FLOW_C if f >= max(flows_c)]
    flow = {draw(st.sampled_from(low)), draw(st.sampled_from(high))}
    flow |= draw(st.sets(st.sampled_from(FLOW_C), max_size=2))
    modulating = draw(st.booleans())
    rows = []
    for t in sorted(outside):
        for f in sorted(flow):
            row = {
                "external_temperature_c": t,
                "flow_temperature_c": f,
                "capacity_w": draw(number(1500, 16000)),
                "coefficient_of_performance": draw(number(1, 7)),
            }
            if modulating:
                row["minimum_capacity_w"] = round(row["capacity_w"] * draw(number(0.1, 1)), 3)
            rows.append(row)
    return rows


@st.composite
def sizings(draw: Draw) -> Json:
    """Draw a load line and one to four candidates."""
    external_c = draw(number(-15, 5))
    flow_c = draw(number(30, 60))
    hot_water = None
    if draw(st.booleans()):
        hot_water = {
            "energy_kwh_per_day": draw(number(0, 20)),
            "storage_temperature_c": draw(number(40, 65)),
        }
    thresholds = None
    if draw(st.booleans()):
        least = draw(number(0.5, 1.5))
        thresholds = {"minimum_coverage": least, "maximum_coverage": least + draw(number(0, 1))}
    flows = [flow_c] + ([hot_water["storage_temperature_c"]] if hot_water else [])
    candidates = [
        {"id": f"unit-{index}", "performance": draw(tables(external_c, flows))}
        for index in range(draw(st.integers(1, 4)))
    ]
    question = {
        "design_heat_load_w": draw(number(1000, 15000)),
        "external_temperature_c": external_c,
        "base_temperature_c": draw(number(max(0.0, external_c + 3), 25)),
        "flow_temperature_c": flow_c,
        "candidates": candidates,
        "hot_water": hot_water,
        "thresholds": thresholds,
    }
    return {name: value for name, value in question.items() if value is not None}


def size(question: Json) -> Json:
    """Return the answer to the sizing question."""
    answer: Json = warmstead.heat_pump_sizing(question)
    return answer


# --- The same by other means ----------------------------------------------------------------------


def line(rows: list[Json], member: str, flow_c: float) -> Line:
    """Return a number of a table at one flow temperature, by a general-purpose interpolation."""
    outside = sorted({row["external_temperature_c"] for row in rows})
    flow = sorted({row["flow_temperature_c"] for row in rows})
    values = np.full((len(outside), len(flow)), np.nan)
    for row in rows:
        place = outside.index(row["external_temperature_c"]), flow.index(row["flow_temperature_c"])
        values[place] = row[member]
    if len(flow) == 1:
        return lambda t: float(np.interp(t, outside, values[:, 0]))
    if len(outside) == 1:
        return lambda t: float(np.interp(flow_c, flow, values[0]))
    surface = RegularGridInterpolator((outside, flow), values)
    return lambda t: float(surface((t, flow_c)))


def load_line(question: Json) -> Line:
    """Return the load by outside temperature, as the contract writes it."""
    base, external = question["base_temperature_c"], question["external_temperature_c"]
    load = question["design_heat_load_w"]
    return lambda t: load * (base - t) / (base - external)


def outside_temperatures(candidate: Json) -> list[float]:
    """Return the outside temperatures of a table, rising."""
    return sorted({row["external_temperature_c"] for row in candidate["performance"]})


def warmest_root(excess: Line, temperatures: list[float]) -> float | None:
    """Return where a line of straight pieces crosses zero first on the way from warm to cold; None where nowhere."""
    if excess(temperatures[-1]) < 0:
        return None
    for colder, warmer in zip(temperatures[-2::-1], temperatures[:0:-1], strict=True):
        if excess(colder) <= 0:
            return float(brentq(excess, colder, warmer, xtol=1e-12))
    return None


def check_crossing(
    told: float | None, capacity: Line, load: Line, temperatures: list[float], watts: float
) -> None:
    """Check a crossing against one found by root finding, but for a table that only just touches the line."""

    def excess(t: float) -> float:
        return capacity(t) - load(t)

    assume(all(abs(excess(t)) > 1e-6 * watts for t in temperatures))
    root = warmest_root(excess, temperatures)
    if root is None:
        assert told is None
        return
    assert told is not None
    # as near as rounding of some watts lets two lines of this slope meet
    steepness = min(abs(excess(b) - excess(a)) / (b - a) for a, b in pairwise(temperatures) if a <= root <= b)
    assert told == pytest.approx(root, abs=1e-9 + 1e-9 * watts / steepness)
    assert excess(told) == pytest.approx(0.0, abs=1e-7 * watts)
    assert all(excess(t) > 0 for t in temperatures if t > told + 1e-6)


@SIZINGS
@given(sizings())
def test_capacity_and_performance_are_interpolated_in_the_table(question: Json) -> None:
    external = question["external_temperature_c"]
    flow = question["flow_temperature_c"]
    for candidate, told in zip(question["candidates"], size(question)["candidates"], strict=True):
        rows = candidate["performance"]
        assert told["id"] == candidate["id"]
        assert told["capacity_at_design_w"] == pytest.approx(line(rows, "capacity_w", flow)(external))
        assert told["coefficient_of_performance_at_design"] == pytest.approx(
            line(rows, "coefficient_of_performance", flow)(external)
        )
        if "minimum_capacity_w" in rows[0]:
            least = line(rows, "minimum_capacity_w", flow)(external)
            assert told["minimum_capacity_w"] == pytest.approx(least)
        else:
            assert not {"minimum_capacity_w", "cycling_above_external_temperature_c"} & set(told)


@SIZINGS
@given(sizings())
def test_a_bivalent_temperature_is_where_capacity_meets_load(question: Json) -> None:
    flow, load = question["flow_temperature_c"], load_line(question)
    for candidate, told in zip(question["candidates"], size(question)["candidates"], strict=True):
        capacity = line(candidate["performance"], "capacity_w", flow)
        temperatures = outside_temperatures(candidate)
        watts = question["design_heat_load_w"] + 16000
        check_crossing(told.get("bivalent_temperature_c"), capacity, load, temperatures, watts)
        if "bivalent_temperature_c" not in told:
            assert any("bivalent" in reason for reason in told["reasons"])


@SIZINGS
@given(sizings())
def test_cycling_begins_where_the_lowest_capacity_meets_the_load(question: Json) -> None:
    flow, load = question["flow_temperature_c"], load_line(question)
    for candidate, told in zip(question["candidates"], size(question)["candidates"], strict=True):
        if "minimum_capacity_w" not in candidate["performance"][0]:
            continue
        lowest = line(candidate["performance"], "minimum_capacity_w", flow)
        temperatures = outside_temperatures(candidate)
        watts = question["design_heat_load_w"] + 16000
        told_at = told.get("cycling_above_external_temperature_c")
        check_crossing(told_at, lowest, load, temperatures, watts)
        if told_at is None:
            assert any("cycl" in reason for reason in told["reasons"])


@SIZINGS
@given(sizings())
def test_what_is_required_and_what_is_short(question: Json) -> None:
    """The contract's: load · 24/(24 − t), and coverage, margin, reduction, backup and verdict from it."""
    load = question["design_heat_load_w"]
    external = question["external_temperature_c"]
    thresholds = question.get("thresholds", {"minimum_coverage": 1.0, "maximum_coverage": 1.3})
    answer = size(question)
    for candidate, told in zip(question["candidates"], answer["candidates"], strict=True):
        hours = 0.0
        if "hot_water" in question:
            water = question["hot_water"]
            stored = line(candidate["performance"], "capacity_w", water["storage_temperature_c"])(external)
            hours = 1000 * water["energy_kwh_per_day"] / stored
            assert told["hot_water_hours_per_day"] == pytest.approx(hours)
            assert told["hot_water_share"] == pytest.approx(hours / 24)
        required = load * 24 / (24 - hours)
        capacity = told["capacity_at_design_w"]
        least = thresholds["minimum_coverage"]
        assert told["required_w"] == pytest.approx(required)
        assert told["coverage"] == pytest.approx(capacity / required)
        assert told["margin_w"] == pytest.approx(capacity - required, abs=1e-6)
        assert told["backup_at_design_w"] == pytest.approx(max(0.0, required - capacity), abs=1e-6)
        assert told["reduction_needed_w"] == pytest.approx(
            max(0.0, load - capacity / least * (24 - hours) / 24), abs=1e-6
        )
        coverage = told["coverage"]
        assume(min(abs(coverage - limit) for limit in thresholds.values()) > 1e-9)
        in_between = "oversized" if coverage > thresholds["maximum_coverage"] else "suitable"
        assert told["verdict"] == ("undersized" if coverage < least else in_between)
        assert told["reasons"]
    suitable = [told for told in answer["candidates"] if told["verdict"] == "suitable"]
    if suitable:
        smallest = min(told["capacity_at_design_w"] for told in suitable)
        (named,) = [told for told in suitable if told["id"] == answer["smallest_suitable"]]
        assert named["capacity_at_design_w"] == smallest
        assert answer["required_w"] == named["required_w"]
    else:
        assert "smallest_suitable" not in answer
        assert answer["required_w"] == max(told["required_w"] for told in answer["candidates"])


@SIZINGS
@given(sizings())
def test_the_reduction_needed_makes_a_unit_suitable(question: Json) -> None:
    """At exactly that reduction: both thresholds count as suitable."""
    for index, told in enumerate(size(question)["candidates"]):
        if told["verdict"] != "undersized":
            assert told["reduction_needed_w"] == pytest.approx(0.0, abs=1e-6)
            continue
        assert told["reduction_needed_w"] > 0
        again = {
            **question,
            "design_heat_load_w": question["design_heat_load_w"] - told["reduction_needed_w"],
        }
        later = size(again)["candidates"][index]
        assert later["verdict"] == "suitable"
        assert later["reduction_needed_w"] == pytest.approx(0.0, abs=1e-6)


@SIZINGS
@given(sizings(), number(1, 50))
def test_less_than_the_reduction_needed_is_not_enough(question: Json, short_by_w: float) -> None:
    for index, told in enumerate(size(question)["candidates"]):
        if told["reduction_needed_w"] > short_by_w:
            load = question["design_heat_load_w"] - told["reduction_needed_w"] + short_by_w
            later = size({**question, "design_heat_load_w": load})["candidates"][index]
            assert later["verdict"] == "undersized"
            assert later["reduction_needed_w"] == pytest.approx(short_by_w, abs=1e-6)


@SIZINGS
@given(sizings())
def test_both_thresholds_count_as_suitable(question: Json) -> None:
    """A threshold set to the very coverage of a unit leaves it suitable."""
    for index, told in enumerate(size(question)["candidates"]):
        coverage = told["coverage"]
        assume(coverage <= 10)
        at_least = {"minimum_coverage": coverage, "maximum_coverage": 10}
        assert size({**question, "thresholds": at_least})["candidates"][index]["verdict"] == "suitable"
        at_most = {"minimum_coverage": 0.01, "maximum_coverage": coverage}
        assume(coverage >= 0.01)
        assert size({**question, "thresholds": at_most})["candidates"][index]["verdict"] == "suitable"


# --- Order ----------------------------------------------------------------------------------------


@SIZINGS
@given(sizings(), st.randoms(use_true_random=False))
def test_order_of_candidates_does_not_matter(question: Json, random: Any) -> None:
    shuffled = copy.deepcopy(question)
    random.shuffle(shuffled["candidates"])
    before, after = size(question), size(shuffled)
    by_id = {told["id"]: told for told in before["candidates"]}
    assert {told["id"]: told for told in after["candidates"]} == by_id
    suitable = [told["capacity_at_design_w"] for told in by_id.values() if told["verdict"] == "suitable"]
    assume(len(set(suitable)) == len(suitable))
    assert after.get("smallest_suitable") == before.get("smallest_suitable")
    assert after["required_w"] == before["required_w"]


@SIZINGS
@given(sizings(), st.randoms(use_true_random=False))
def test_order_of_rows_does_not_matter(question: Json, random: Any) -> None:
    shuffled = copy.deepcopy(question)
    for candidate in shuffled["candidates"]:
        random.shuffle(candidate["performance"])
    assert size(shuffled) == size(question)


@SIZINGS
@given(sizings())
def test_a_candidate_is_judged_by_itself(question: Json) -> None:
    told = size(question)["candidates"]
    for candidate, among_others in zip(question["candidates"], told, strict=True):
        assert size({**question, "candidates": [candidate]})["candidates"] == [among_others]


# --- From a house ---------------------------------------------------------------------------------


@SIZINGS
@given(
    st.lists(st.tuples(number(16, 24), number(1, 60), number(10, 80)), min_size=1, max_size=4), number(-12, 3)
)
def test_a_house_gives_its_load_and_its_loss_weighted_temperature(
    rooms: list[tuple[float, float, float]], external: float
) -> None:
    """base = Σ H θ / Σ H over the rooms, heat between rooms left out."""
    house = {
        "conditions": {"external_temperature_c": external},
        "constructions": {"wall": {"kind": "declared", "u_value_w_m2k": 0.8, "source": "an example"}},
        "thermal_bridges": {"surcharge_w_m2k": 0},
        "reheat_w_m2": 0,
        "ventilation": {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.33},
        "rooms": [
            {
                "id": f"room-{index}",
                "design_temperature_c": inside,
                "floor_area_m2": 10,
                "volume_m3": volume,
                "ventilation": {"air_changes": 0.5},
                "elements": [
                    {"id": "wall", "construction": "wall", "area_m2": area, "boundary": {"to": "outside"}},
                    *(
                        [
                            {
                                "id": "inner",
                                "construction": "wall",
                                "area_m2": 7,
                                "boundary": {"to": "room", "room": "room-0"},
                            }
                        ]
                        if index
                        else []
                    ),
                ],
            }
            for index, (inside, area, volume) in enumerate(rooms)
        ],
    }
    coefficients = [0.8 * area + 0.33 * 0.5 * volume for _, area, volume in rooms]
    load = math.fsum(h * (inside - external) for h, (inside, _, _) in zip(coefficients, rooms, strict=True))
    base = math.fsum(h * inside for h, (inside, _, _) in zip(coefficients, rooms, strict=True)) / math.fsum(
        coefficients
    )
    rows = [
        {
            "external_temperature_c": t,
            "flow_temperature_c": 35,
            "capacity_w": 5000,
            "coefficient_of_performance": 3,
        }
        for t in (-15, 15)
    ]
    question = {
        "house": house,
        "flow_temperature_c": 35,
        "candidates": [{"id": "unit", "performance": rows}],
    }
    answer = size(question)
    assert answer["design_heat_load_w"] == pytest.approx(load)
    assert answer["base_temperature_c"] == pytest.approx(base)
    assert answer["external_temperature_c"] == external
    in_numbers = {
        "design_heat_load_w": answer["design_heat_load_w"],
        "external_temperature_c": external,
        "base_temperature_c": answer["base_temperature_c"],
        "flow_temperature_c": 35,
        "candidates": question["candidates"],
    }
    assert size(in_numbers)["candidates"] == answer["candidates"]
