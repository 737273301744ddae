"""What holds of every room with emitters: the lowest flow temperature is that, and the output needed suffices."""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import warmstead

Json = dict[str, Any]
Draw = Callable[[st.SearchStrategy[Any]], Any]

ROOMS = settings(max_examples=60)
STEP_K = 0.01
HIGHEST_FLOW_C = 110.0


# --- Rooms with emitters --------------------------------------------------------------------------


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """Draw a number with three decimals."""
    return st.integers(round(low * 1000), round(high * 1000)).map(lambda thousandths: thousandths / 1000)


@st.composite
def radiators(draw: Draw) -> Json:
    """Draw a radiator, its standard output at 50 K or at another excess."""
    radiator = {
        "kind": "radiator",
        "standard_output_w": draw(number(200, 4000)),
        "standard_excess_temperature_k": draw(st.sampled_from([50, 60, 30, None])),
        "exponent": draw(st.none() | number(1.1, 1.5)),
        "output_factor": draw(st.none() | number(0.7, 1.1)),
    }
    return {name: value for name, value in radiator.items() if value is not None}


@st.composite
def panels(draw: Draw) -> Json:
    """Draw an underfloor panel of type A."""
    return {
        "kind": "underfloor",
        "area_m2": draw(number(3, 30)),
        "pipe_spacing_mm": draw(st.sampled_from([100, 150, 200, 300])),
        "covering_resistance_m2k_w": draw(number(0, 0.15)),
        "screed_thickness_mm": draw(number(35, 65)),
        "screed_conductivity_w_mk": draw(number(1, 2)),
        "pipe_outside_diameter_mm": draw(st.sampled_from([14, 16, 17, 20])),
        "zone": draw(st.sampled_from(["occupied", "peripheral", "bathroom"])),
    }


@st.composite
def convectors(draw: Draw) -> Json:
    """Draw a fan convector whose table covers every excess temperature that occurs."""
    outputs = sorted(draw(st.lists(number(100, 3000), min_size=3, max_size=3)))
    excesses = [0.1, draw(number(10, 40)), 100]
    rows = [
        {"excess_temperature_k": excess, "output_w": output}
        for excess, output in zip(excesses, outputs, strict=True)
    ]
    return {"kind": "fan_convector", "outputs": rows}


@st.composite
def questions(draw: Draw, emitters: st.SearchStrategy[list[Json]]) -> Json:
    """Draw a room that loses by one wall only, its emitters, and water that is warmer than it."""
    inside = draw(number(15, 24))
    feed = draw(number(inside + 8, 75))
    # the return's excess over the flow's: as it comes, or about the 0.7 where the mean changes
    drop = (feed - inside) * (1 - draw(number(0.4, 0.98) | number(0.68, 0.72)))
    room = {
        "id": "room",
        "design_temperature_c": inside,
        "floor_area_m2": 20,
        "height_m": 2.5,
        "ventilation": {"air_changes": 0},
        "elements": [
            {
                "id": "wall",
                "construction": "wall",
                "area_m2": draw(number(2, 60)),
                "boundary": {"to": "outside"},
            }
        ],
        "emitters": [{"id": f"e{index}", **emitter} for index, emitter in enumerate(draw(emitters))],
    }
    return {
        "house": {
            "conditions": {"external_temperature_c": -5},
            "constructions": {"wall": {"kind": "declared", "u_value_w_m2k": 1.5, "source": "an example"}},
            "thermal_bridges": {"surcharge_w_m2k": 0},
            "rooms": [room],
        },
        "flow_temperature_c": feed,
        "return_temperature_c": feed - drop,
    }


ANY = st.lists(radiators() | panels() | convectors(), max_size=4)
SOME = st.lists(radiators() | panels() | convectors(), min_size=1, max_size=4)


def check(question: Json) -> Json:
    """Return what is said of the only room."""
    answer = warmstead.emitter_check(question)
    room: Json = answer["rooms"][0]
    return room


def carries(question: Json) -> bool:
    """Say whether the emitters carry the room; a fan convector below its table gives nothing that is known."""
    try:
        return bool(check(question)["coverage"] >= 1)
    except warmstead.Refused as refused:
        if {problem.code for problem in refused.problems} == {"not_covered"}:
            return False
        raise


def moved(question: Json, flow_c: float) -> Json:
    """Return the question at another flow temperature, the difference to the return kept, all circuits moved."""
    by = flow_c - max(circuit["flow_temperature_c"] for circuit in [question, *question.get("circuits", [])])
    again = copy.deepcopy(question)
    for circuit in [again, *again.get("circuits", [])]:
        circuit["flow_temperature_c"] += by
        circuit["return_temperature_c"] += by
    return again


def emitters_of(question: Json) -> list[Json]:
    """Return the emitters of the only room."""
    emitters: list[Json] = question["house"]["rooms"][0]["emitters"]
    return emitters


# --- The lowest flow temperature ------------------------------------------------------------------


def check_lowest(question: Json) -> None:
    """Ask again just above and just below the lowest flow temperature, or at the highest where there is none."""
    room = check(question)
    inside = question["house"]["rooms"][0]["design_temperature_c"]
    circuits = [question, *question.get("circuits", [])]
    if "lowest_flow_temperature_c" not in room:
        hottest = check(moved(question, HIGHEST_FLOW_C))
        assert hottest["coverage"] < 1
        return
    lowest = room["lowest_flow_temperature_c"]
    warmest = max(circuit["flow_temperature_c"] for circuit in circuits)
    coldest_return = min(circuit["return_temperature_c"] for circuit in circuits) + lowest - warmest
    if lowest + STEP_K <= HIGHEST_FLOW_C:
        assert carries(moved(question, lowest + STEP_K))
    if coldest_return - STEP_K > inside:
        assert not carries(moved(question, lowest - STEP_K))


@ROOMS
@given(questions(st.lists(radiators(), min_size=1, max_size=1)))
def test_the_lowest_flow_temperature_of_a_radiator(question: Json) -> None:
    check_lowest(question)


@ROOMS
@given(questions(st.lists(panels(), min_size=1, max_size=1)))
def test_the_lowest_flow_temperature_of_a_panel(question: Json) -> None:
    check_lowest(question)


@ROOMS
@given(questions(SOME))
def test_the_lowest_flow_temperature_of_several_emitters(question: Json) -> None:
    check_lowest(question)


@ROOMS
@given(questions(SOME), number(1, 15), number(0.5, 6))
def test_the_lowest_flow_temperature_with_a_mixed_circuit(
    question: Json, cooler_by: float, drop: float
) -> None:
    """Both circuits move together; the warmer flow is stated."""
    inside = question["house"]["rooms"][0]["design_temperature_c"]
    feed = question["flow_temperature_c"] - cooler_by
    assume(feed - drop > inside + 1)
    question["circuits"] = [{"id": "mixed", "flow_temperature_c": feed, "return_temperature_c": feed - drop}]
    # one emitter at least stays on the question's own temperatures, which then are the warmer ones
    for emitter in emitters_of(question)[1:]:
        emitter["circuit"] = "mixed"
    check_lowest(question)


@ROOMS
@given(questions(SOME))
def test_the_lowest_flow_temperature_does_not_depend_on_the_one_asked_at(question: Json) -> None:
    lowest = check(question).get("lowest_flow_temperature_c")
    again = check(moved(question, question["flow_temperature_c"] + 7)).get("lowest_flow_temperature_c")
    if lowest is None:
        assert again is None
    else:
        assert again == pytest.approx(lowest, abs=1e-6)


@ROOMS
@given(questions(SOME))
def test_coverage_tells_on_which_side_of_the_lowest_flow_temperature_the_question_stands(
    question: Json,
) -> None:
    room = check(question)
    if "lowest_flow_temperature_c" not in room:
        assert room["coverage"] < 1
    else:
        away = question["flow_temperature_c"] - room["lowest_flow_temperature_c"]
        assume(abs(away) > 1e-6)
        assert (room["coverage"] >= 1) == (away > 0)


@settings(max_examples=40)
@given(st.lists(questions(SOME), min_size=2, max_size=4))
def test_the_room_that_needs_the_warmest_water_governs(several: list[Json]) -> None:
    """One house of all these rooms, asked at the water of the first; each room alone says what it needs."""
    rooms = [question["house"]["rooms"][0] for question in several]
    for index, room in enumerate(rooms):
        room["id"] = f"room-{index}"
    feed, back = (
        several[0][name] + 25 for name in ("flow_temperature_c", "return_temperature_c")
    )  # warmer than every room
    house = {**several[0]["house"], "rooms": rooms}
    answer = warmstead.emitter_check(
        {"house": house, "flow_temperature_c": feed, "return_temperature_c": back}
    )
    alone = [
        check({"house": {**house, "rooms": [room]}, "flow_temperature_c": feed, "return_temperature_c": back})
        for room in rooms
    ]
    assert answer["rooms"] == alone
    needs = {room["id"]: room.get("lowest_flow_temperature_c", math.inf) for room in alone}
    governing = answer["governing_room"]
    assert needs[governing] == max(needs.values())
    if math.inf in needs.values():
        assert "lowest_flow_temperature_c" not in answer
    else:
        assert answer["lowest_flow_temperature_c"] == needs[governing]


# --- Outputs --------------------------------------------------------------------------------------


@ROOMS
@given(questions(SOME), number(0.1, 30))
def test_output_rises_with_the_water_at_one_difference(question: Json, warmer_by: float) -> None:
    before = check(question)
    after = check(moved(question, question["flow_temperature_c"] + warmer_by))
    for one, other, emitter in zip(before["emitters"], after["emitters"], emitters_of(question), strict=True):
        assert other["excess_temperature_k"] > one["excess_temperature_k"]
        assert other["output_w"] >= one["output_w"]
        if emitter["kind"] == "radiator":
            assert other["output_w"] > one["output_w"]
    assert after["available_w"] == pytest.approx(math.fsum(e["output_w"] for e in after["emitters"]))


@ROOMS
@given(questions(SOME))
def test_the_excess_temperature_is_the_mean_that_the_contract_asks_for(question: Json) -> None:
    inside = question["house"]["rooms"][0]["design_temperature_c"]
    feed = question["flow_temperature_c"] - inside
    back = question["return_temperature_c"] - inside
    assume(abs(back / feed - 0.7) > 1e-9)
    logarithmic = (feed - back) / math.log(feed / back)
    for told, emitter in zip(check(question)["emitters"], emitters_of(question), strict=True):
        by_logarithm = emitter["kind"] == "underfloor" or back / feed < 0.7
        assert told["mean"] == ("logarithmic" if by_logarithm else "arithmetic")
        wanted = logarithmic if by_logarithm else (feed + back) / 2
        assert told["excess_temperature_k"] == pytest.approx(wanted, rel=1e-9)
        if emitter["kind"] == "radiator":
            # EN 442-2: Φ = Φs (ΔT/ΔTs)^n; 50 K and, by common practice, n = 1.3 where nothing is said
            standard = emitter.get("standard_excess_temperature_k", 50)
            full = emitter["standard_output_w"] * (wanted / standard) ** emitter.get("exponent", 1.3)
            assert told["output_w"] == pytest.approx(emitter.get("output_factor", 1) * full, rel=1e-9)


@ROOMS
@given(questions(SOME))
def test_the_flow_carries_what_is_given(question: Json) -> None:
    drop = question["flow_temperature_c"] - question["return_temperature_c"]
    for told in check(question)["emitters"]:
        carried = told["output_w"] + told.get("downward_loss_w", 0.0)
        assert told["flow_l_s"] >= 0
        # a litre of water takes 4.0 to 4.2 kJ for each kelvin, hot or cold (common knowledge)
        assert 4000 * told["flow_l_s"] * drop <= carried * (1 + 1e-9)
        assert carried <= 4200 * told["flow_l_s"] * drop


@ROOMS
@given(questions(SOME), number(0.2, 5))
def test_a_panel_never_gives_more_than_its_surface_allows(question: Json, factor: float) -> None:
    """Hotter water than the limit gives the same, and a warning says so."""
    panels_here = [
        index for index, emitter in enumerate(emitters_of(question)) if emitter["kind"] == "underfloor"
    ]
    assume(panels_here)
    hottest = warmstead.emitter_check(moved(question, HIGHEST_FLOW_C))
    hotter = warmstead.emitter_check(moved(question, HIGHEST_FLOW_C - factor))
    warned = {
        warning["pointer"] for warning in hottest["warnings"] if warning["code"] == "caution.surface_limit"
    }
    for index in panels_here:
        most = hottest["rooms"][0]["emitters"][index]["output_w"]
        if f"/house/rooms/0/emitters/{index}" in warned:
            assert hotter["rooms"][0]["emitters"][index]["output_w"] <= most
        else:
            assert hotter["rooms"][0]["emitters"][index]["output_w"] < most


# --- What would suffice ---------------------------------------------------------------------------


@ROOMS
@given(questions(st.lists(radiators(), min_size=1, max_size=1)))
def test_a_radiator_of_the_output_needed_just_carries_the_load(question: Json) -> None:
    needed = check(question)["standard_output_needed_w"]
    (radiator,) = emitters_of(question)
    radiator |= {"standard_output_w": needed, "standard_excess_temperature_k": 50}
    assume(needed <= 10_000_000)
    assert check(question)["coverage"] == pytest.approx(1.0, rel=1e-9)


@ROOMS
@given(questions(ANY))
def test_radiators_of_the_output_needed_just_carry_what_others_leave(question: Json) -> None:
    room = check(question)
    emitters = emitters_of(question)
    others = [
        told["output_w"]
        for told, emitter in zip(room["emitters"], emitters, strict=True)
        if emitter["kind"] != "radiator"
    ]
    if "standard_output_needed_w" not in room:
        assert math.fsum(others) >= room["required_w"] * (1 - 1e-9)
        return
    needed = room["standard_output_needed_w"]
    radiators_here = [emitter for emitter in emitters if emitter["kind"] == "radiator"]
    if radiators_here:
        for radiator in radiators_here:  # each at 50 K, where the outputs can be added
            exponent = radiator.get("exponent", 1.3)
            standard = radiator.get("standard_excess_temperature_k", 50)
            radiator["standard_output_w"] *= (50 / standard) ** exponent
            radiator["standard_excess_temperature_k"] = 50
        share = needed / math.fsum(radiator["standard_output_w"] for radiator in radiators_here)
        for radiator in radiators_here:
            radiator["standard_output_w"] *= share
    else:
        emitters.append({"id": "new", "kind": "radiator", "standard_output_w": needed})
    assert check(question)["coverage"] == pytest.approx(1.0, rel=1e-9)


@ROOMS
@given(questions(ANY))
def test_a_room_without_load_has_no_coverage(question: Json) -> None:
    question["house"]["rooms"][0]["elements"] = []
    answer = warmstead.emitter_check(question)
    (room,) = answer["rooms"]
    assert room["required_w"] == 0
    assert not {"coverage", "lowest_flow_temperature_c", "standard_output_needed_w"} & set(room)
    assert not {"governing_room", "lowest_flow_temperature_c"} & set(answer)


@ROOMS
@given(questions(st.just([])))
def test_a_load_without_emitter_governs(question: Json) -> None:
    answer = warmstead.emitter_check(question)
    (room,) = answer["rooms"]
    assert (room["available_w"], room["coverage"], room["emitters"]) == (0, 0, [])
    assert "lowest_flow_temperature_c" not in room
    assert answer["governing_room"] == "room"
    assert "lowest_flow_temperature_c" not in answer
