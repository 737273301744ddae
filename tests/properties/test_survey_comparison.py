"""What holds of every comparison: it adds up, exchanging the surveys changes signs only, and the split is the one it claims to be.

Hybrid houses of both surveys' members, asked of house-loss, are the independent check: their loads give the worth of each set of
factors, and all orders in which factors may be exchanged give the shares.
"""

from __future__ import annotations

import copy
import math
import os
from collections.abc import Callable, Iterator, Sequence
from itertools import permutations, product
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import warmstead
from warmstead.building.comparison.owen import shares

Json = dict[str, Any]
Draw = Callable[[st.SearchStrategy[Any]], Any]

THOROUGH = bool(os.environ.get("WARMSTEAD_THOROUGH"))
"""Before a release; a build tries fewer, so that it ends in time."""
PAIRS = settings(max_examples=60 if THOROUGH else 25, deadline=None)
EXACT = 1e-12
"""Relative to both loads together, with the parts' sizes: additions in another order differ in the last digits only."""


# --- Pairs of surveys ------------------------------------------------------------------------------


def number(low: float, high: float) -> st.SearchStrategy[float]:
    """Draw a number with two decimals, often one of few, so that surveys often agree."""
    few = st.sampled_from([low, high, round((low + high) / 2, 2)])
    return few | st.integers(round(low * 100), round(high * 100)).map(lambda hundredths: hundredths / 100)


def some(draw: Draw, **members: st.SearchStrategy[Any]) -> Json:
    """Draw an object, each member present or not."""
    return {name: draw(strategy) for name, strategy in members.items() if draw(st.booleans())}


ROOMS = ("a", "b", "c")


@st.composite
def boundaries(draw: Draw, room: str, rooms: Sequence[str]) -> Json:
    to = draw(st.sampled_from(["outside", "outside", "ground", "room", "unheated_space", "neighbour"]))
    others = [other for other in rooms if other != room]
    if to == "room" and others:
        return {"to": "room", "room": draw(st.sampled_from(others))}
    if to == "neighbour":
        return {"to": "neighbour", "temperature_c": draw(number(5, 20))}
    if to == "unheated_space":
        way = draw(st.sampled_from(["space", "temperature_c", "temperature_reduction_factor"]))
        values: Json = {
            "space": draw(st.sampled_from(["garage", "loft"])),
            "temperature_c": draw(number(-5, 15)),
            "temperature_reduction_factor": draw(number(0, 1)),
        }
        return {"to": to, way: values[way]}
    return {"to": "ground" if to == "ground" else "outside"}


@st.composite
def elements(draw: Draw, room: str, rooms: Sequence[str]) -> list[Json]:
    drawn = []
    for name in draw(st.lists(st.sampled_from(["n", "e", "s", "w"]), unique=True, max_size=4)):
        element: Json = {
            "id": name,
            "construction": draw(st.sampled_from(["p", "q"])),
            "boundary": draw(boundaries(room, rooms)),
        }
        if draw(st.booleans()):
            element |= {"length_m": draw(number(2, 6)), "height_m": draw(number(2, 3))}
        else:
            element["area_m2"] = draw(number(4, 20))
        windows = draw(st.lists(st.sampled_from([f"{name}1", f"{name}2"]), unique=True, max_size=2))
        element["openings"] = [
            {"id": window, "construction": draw(st.sampled_from(["p", "g"])), "area_m2": draw(number(0.5, 2))}
            for window in windows
        ]
        drawn.append(element)
    return drawn


@st.composite
def houses(draw: Draw) -> Json:
    rooms = draw(st.lists(st.sampled_from(ROOMS), unique=True, min_size=1, max_size=3))
    return {
        "dimensions": draw(st.sampled_from(["internal", "internal", "external"])),
        **some(draw, reheat_w_m2=number(0, 20)),
        "conditions": {
            "external_temperature_c": draw(number(-12, 2)),
            "annual_mean_external_temperature_c": draw(number(8, 11)),
            **some(
                draw,
                ground_rule=st.sampled_from(["annual_mean", "external"]),
                ground_water=st.sampled_from(["deeper_than_1_m", "within_1_m"]),
            ),
        },
        "constructions": {
            name: {"kind": "declared", "u_value_w_m2k": draw(number(0.2, 3)), "source": "drawn"}
            for name in ("p", "q", "g")
        },
        "ventilation": draw(ventilations()),
        **some(draw, thermal_bridges=bridges(rooms)),
        "unheated_spaces": [
            {
                "id": name,
                "volume_m3": draw(number(10, 40)),
                "air_changes": draw(number(0.5, 3)),
                "elements": [
                    {
                        "id": "wall",
                        "construction": "q",
                        "area_m2": draw(number(5, 20)),
                        "boundary": {"to": draw(st.sampled_from(["outside", "ground"]))},
                    }
                ],
            }
            for name in ("garage", "loft")
        ],
        "rooms": [draw(surveyed_rooms(name, rooms)) for name in rooms],
    }


@st.composite
def ventilations(draw: Draw) -> Json:
    capacity = some(draw, air_heat_capacity_wh_m3k=st.sampled_from([0.33, 0.34]))
    if draw(st.booleans()):
        return {"method": "air_changes", **capacity}
    return {"method": "airtightness", "air_changes_at_50pa": draw(number(1, 12)), **capacity}


@st.composite
def bridges(draw: Draw, rooms: Sequence[str]) -> Json:
    if draw(st.booleans()):
        return {"surcharge_w_m2k": draw(number(0, 0.2))}
    return {
        "junctions": [
            {"id": f"j{room}", "room": room, "psi_w_mk": draw(number(0, 0.3)), "length_m": draw(number(1, 9))}
            for room in rooms
        ]
    }


@st.composite
def surveyed_rooms(draw: Draw, name: str, rooms: Sequence[str]) -> Json:
    return {
        "id": name,
        "floor_area_m2": draw(number(5, 30)),
        "height_m": draw(number(2.2, 3)),
        **some(draw, design_temperature_c=number(16, 24), use=st.sampled_from(["bedroom", "kitchen"])),
        "ventilation": some(
            draw,
            air_changes=number(0, 2),
            supply_l_s=number(0, 15),
            extract_l_s=number(0, 15),
            heat_recovery_efficiency=number(0, 0.9),
        ),
        **some(draw, flues=st.just([{"kind": "open_chimney"}])),
        "elements": draw(elements(name, rooms)),
    }


@st.composite
def pairs(draw: Draw) -> tuple[Json, Json]:
    """Draw two surveys: of their own, or the second a few changes away from the first."""
    first, second = draw(houses()), draw(houses())
    if draw(st.booleans()):
        mixed = copy.deepcopy(first)
        for member in draw(
            st.lists(st.sampled_from(["conditions", "constructions", "ventilation", "rooms"]), max_size=2)
        ):
            mixed[member] = second[member]
        second = mixed
    return first, second


def compared(first: Json, second: Json, **more: Any) -> Json:
    """Return the comparison; pairs in which a survey contradicts itself are not of interest."""
    try:
        result: Json = warmstead.survey_comparison({"first": first, "second": second, **more})
    except warmstead.Refused:
        assume(False)
    return result


def watts(parts: Sequence[Json]) -> float:
    return math.fsum(part["difference_w"] for part in parts)


def scale(result: Json) -> float:
    """Return the size of what is added up: both loads, and all rows that only one survey has."""
    alone = result["unmatched"]["first_elements"] + result["unmatched"]["second_elements"]
    rooms = [abs(room.get("first_w", 0.0)) + abs(room.get("second_w", 0.0)) for room in result["by_room"]]
    shares_w = [abs(statement["difference_w"]) for statement in result["statements"]]
    return 1.0 + math.fsum(rooms) + math.fsum(shares_w) + math.fsum(abs(row["heat_loss_w"]) for row in alone)


@PAIRS
@given(pairs())
def test_every_view_adds_up_to_the_difference(pair: tuple[Json, Json]) -> None:
    result = compared(*pair)
    whole, close = result["difference_w"], EXACT * scale(result)
    assert whole == result["second"]["design_heat_load_w"] - result["first"]["design_heat_load_w"]
    assert watts(result["statements"]) == pytest.approx(whole, abs=close)
    assert watts(result["by_cause"]) == pytest.approx(whole, abs=close)
    assert watts(result["by_room"]) + watts(result["beyond_rooms"]) == pytest.approx(whole, abs=close)
    for part in (*result["by_cause"], *result["by_room"], *result["statements"]):
        assert watts(part["causes"]) == pytest.approx(part["difference_w"], abs=close)
    for room in result["by_room"]:
        moved = math.fsum(
            share["difference_w"]
            for statement in result["statements"]
            for share in statement["rooms"]
            if share["room"] == room["room"]
        )
        assert moved == pytest.approx(room["difference_w"], abs=close)


@PAIRS
@given(pairs())
def test_exchanging_the_surveys_changes_signs_only(pair: tuple[Json, Json]) -> None:
    there, back = compared(*pair), compared(*reversed(pair))
    close = EXACT * scale(there)
    for view, name in (("by_cause", "group"), ("by_room", "room")):
        forward = {part[name]: part for part in there[view]}
        backward = {part[name]: part for part in back[view]}
        assert set(forward) == set(backward)
        for key, part in forward.items():
            mirrored = backward[key]
            assert part["difference_w"] == pytest.approx(-mirrored["difference_w"], abs=close)
            causes = {cause["cause"]: -cause["difference_w"] for cause in mirrored["causes"]}
            assert {c["cause"]: c["difference_w"] for c in part["causes"]} == pytest.approx(causes, abs=close)

    def told(result: Json, sign: float) -> list[tuple[Any, ...]]:
        return sorted(
            (round(sign * s["difference_w"], 5) + 0.0, s["cause"], s.get("pattern", ""), s.get("room", ""))
            for s in result["statements"]
        )

    for one, other in zip(told(there, 1.0), told(back, -1.0), strict=True):
        assert one[0] == pytest.approx(other[0], abs=2e-5)
        assert one[1:] == other[1:]


@PAIRS
@given(houses())
def test_a_survey_does_not_differ_from_itself(house: Json) -> None:
    result = compared(house, copy.deepcopy(house))
    assert (result["difference_w"], result["statements"], result["by_cause"]) == (0.0, [], [])
    assert all(room["causes"] == [] for room in result["by_room"])


@PAIRS
@given(pairs(), st.randoms(use_true_random=False))
def test_the_order_of_rooms_and_elements_does_not_matter(pair: tuple[Json, Json], random: Any) -> None:
    straight = compared(*pair)
    shuffled = copy.deepcopy(pair[1])
    random.shuffle(shuffled["rooms"])
    for room in shuffled["rooms"]:
        random.shuffle(room["elements"])
    other = compared(pair[0], shuffled)
    close = EXACT * scale(straight)
    assert {g["group"]: g["difference_w"] for g in other["by_cause"]} == pytest.approx(
        {g["group"]: g["difference_w"] for g in straight["by_cause"]}, abs=close
    )
    sizes = [sorted(round(abs(s["difference_w"]), 6) for s in one["statements"]) for one in (other, straight)]
    assert sizes[0] == pytest.approx(sizes[1], abs=2e-6)


@PAIRS
@given(pairs())
def test_statements_come_by_size(pair: tuple[Json, Json]) -> None:
    sizes = [round(abs(statement["difference_w"]), 6) for statement in compared(*pair)["statements"]]
    assert sizes == sorted(sizes, reverse=True)


# --- What is alike gets nothing --------------------------------------------------------------------

MEMBERS: dict[str, tuple[Callable[[Json], Json], set[str]]] = {
    "external_temperature_c": (lambda house: house["conditions"], {"outside_temperature"}),
    "annual_mean_external_temperature_c": (lambda house: house["conditions"], {"annual_mean_temperature"}),
    "air_heat_capacity_wh_m3k": (lambda house: house["ventilation"], {"air_heat_capacity"}),
    "constructions": (lambda house: house, {"u_value", "space_temperature"}),
    "reheat_w_m2": (lambda house: house, {"reheat"}),
}


@PAIRS
@given(houses(), houses(), st.sampled_from(sorted(MEMBERS)))
def test_what_both_have_alike_gets_nothing(first: Json, other: Json, member: str) -> None:
    second = copy.deepcopy(first)
    where, causes = MEMBERS[member]
    assume(member in where(other))
    where(second)[member] = where(other)[member]
    result = compared(first, second)
    found = {cause["cause"] for group in result["by_cause"] for cause in group["causes"]}
    assert found <= causes


# --- The split against all orders of exchange -------------------------------------------------------


def orders(unions: Sequence[Sequence[str]]) -> Iterator[list[str]]:
    """Yield every order of the factors in which the members of a union stand together."""
    for arranged in permutations(unions):
        for inner in product(*(permutations(union) for union in arranged)):
            yield [factor for union in inner for factor in union]


def by_orders(unions: Sequence[Sequence[str]], worth: Callable[[frozenset[str]], float]) -> dict[str, float]:
    """Return each factor's mean contribution over these orders."""
    gained: dict[str, list[float]] = {factor: [] for union in unions for factor in union}
    known: dict[frozenset[str], float] = {}
    for order in orders(unions):
        before: frozenset[str] = frozenset()
        for factor in order:
            after = before | {factor}
            for members in (before, after):
                if members not in known:
                    known[members] = worth(members)
            gained[factor].append(known[after] - known[before])
            before = after
    return {factor: math.fsum(values) / len(values) for factor, values in gained.items()}


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(1, 3), min_size=1, max_size=3), st.data())
def test_the_split_is_the_mean_over_all_orders(sizes: list[int], data: st.DataObject) -> None:
    count = sum(sizes)
    worths = data.draw(st.lists(number(-9, 9), min_size=1 << count, max_size=1 << count))
    names = iter(range(count))
    unions = [[str(next(names)) for _ in range(size)] for size in sizes]
    expected = by_orders(unions, lambda members: worths[sum(1 << int(name) for name in members)])
    assert shares(tuple(sizes), worths.__getitem__) == pytest.approx(
        [expected[str(name)] for name in range(count)], abs=1e-9
    )


def one_room(values: Json) -> Json:
    """Return a house of one room with one wall, from its factors."""
    return {
        "dimensions": "internal",
        "reheat_w_m2": 0,
        "conditions": {"external_temperature_c": values["outside_temperature"], "national_annex": "GB"},
        "constructions": {
            "wall": {"kind": "declared", "u_value_w_m2k": values["u_value"], "source": "drawn"},
            "pane": {"kind": "declared", "u_value_w_m2k": 2.0, "source": "drawn"},
        },
        "ventilation": {
            "method": "airtightness",
            "edition": "2003",
            "air_changes_at_50pa": values["airtightness"],
            "shielding": "moderate",
            "height_above_ground_m": 5,
            "air_heat_capacity_wh_m3k": 0.34,
        },
        "thermal_bridges": {"surcharge_w_m2k": values["thermal_bridges"]},
        "rooms": [
            {
                "id": "room",
                "design_temperature_c": values["room_temperature"],
                "floor_area_m2": 12,
                "volume_m3": values["volume"],
                "ventilation": {
                    "air_changes": values["air_changes"],
                    "supply_l_s": values["mechanical_air"],
                    "heat_recovery_efficiency": 0.5,
                    "exposed_openings": "several",
                },
                "elements": [
                    {
                        "id": "wall",
                        "construction": "wall",
                        "area_m2": values["area"],
                        "boundary": {"to": "outside"},
                        "openings": [
                            {"id": "pane", "construction": "pane", "area_m2": values["opening_area"]}
                        ],
                    }
                ],
            }
        ],
    }


FACTORS: dict[str, tuple[str, st.SearchStrategy[float]]] = {
    "area": ("dimensions", number(5, 20)),
    "opening_area": ("dimensions", number(1, 4)),
    "volume": ("dimensions", number(25, 36)),
    "u_value": ("constructions", number(0.2, 3)),
    "thermal_bridges": ("thermal_bridges", number(0, 0.2)),
    "room_temperature": ("temperatures", number(16, 24)),
    "outside_temperature": ("temperatures", number(-12, 2)),
    "air_changes": ("air", number(0, 2)),
    "airtightness": ("air", number(0, 20)),
    "mechanical_air": ("air", number(0, 20)),
}


@settings(max_examples=25, deadline=None)
@given(st.data(), st.sets(st.sampled_from(sorted(FACTORS)), min_size=1, max_size=5))
def test_causes_get_what_hybrid_houses_say(data: st.DataObject, differing: set[str]) -> None:
    first = {name: data.draw(strategy, name) for name, (_, strategy) in FACTORS.items()}
    second = {
        name: data.draw(FACTORS[name][1], name) if name in differing else value
        for name, value in first.items()
    }
    unions = [
        [name for name in FACTORS if name in differing and FACTORS[name][0] == union]
        for union in dict.fromkeys(union for union, _ in FACTORS.values())
    ]

    def load_w(members: frozenset[str]) -> float:
        mixed = {name: second[name] if name in members else first[name] for name in FACTORS}
        answer: Json = warmstead.house_loss({"house": one_room(mixed)})
        return float(answer["design_heat_load_w"])

    expected = by_orders([union for union in unions if union], load_w)
    result = compared(one_room(first), one_room(second))
    found = {
        cause["cause"]: cause["difference_w"] for group in result["by_cause"] for cause in group["causes"]
    }
    for name in differing:
        assert found.get(name, 0.0) == pytest.approx(expected[name], abs=1e-8), name
    assert set(found) <= differing
