"""The cheapest set, the nearest set and the frontier against brute force, and what holds of every answer.

Houses, measures and goals are drawn from a seed. Brute force edits the survey by hand, as a person would with a text editor,
for every set of measures, and asks the house's loss, the emitters and the heat pump of each: it shares no code with the
measures, their states or the solver.
"""

from __future__ import annotations

import copy
import os
import random
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Any, NamedTuple

import pytest

import warmstead

Json = dict[str, Any]
Chosen = tuple[str, ...]

THOROUGH = bool(os.environ.get("WARMSTEAD_THOROUGH"))
"""Before a release; a build tries fewer, so that it ends in time."""
HOUSES = 500 if THOROUGH else 150
"""The cheapest set equals brute force for so many generated houses."""
BATCH = 50
CLOSE = 1e-9
"""Relative: the same sums in another order differ in the last digits only."""


# --- Houses and measures --------------------------------------------------------------------------


def constructions(draw: random.Random) -> Json:
    plaster = {"kind": "solid", "thickness_mm": 15, "conductivity_w_mk": 0.7}
    brick = {"kind": "solid", "thickness_mm": draw.choice([105, 220]), "conductivity_w_mk": 0.77}
    stud = {"fraction": 0.15, "conductivity_w_mk": 0.13, "path": "stud"}
    wool = {"kind": "solid", "thickness_mm": draw.choice([50, 90]), "conductivity_w_mk": 0.04}
    cavity = {"kind": "air", "thickness_mm": 40, "ventilation": "well_ventilated"}
    return {
        "brick": {"kind": "layered", "heat_flow": "horizontal", "layers": [plaster, brick]},
        "frame": {
            "kind": "layered",
            "heat_flow": "horizontal",
            "layers": [plaster, wool | {"bridges": [stud]}, cavity, brick],
        },
        "given": {"kind": "declared", "u_value_w_m2k": draw.uniform(0.8, 2.5), "source": "invented"},
        "pane": {"kind": "declared", "u_value_w_m2k": draw.uniform(2.5, 5.5), "source": "invented"},
        "ceiling": {"kind": "layered", "heat_flow": "upwards", "layers": [plaster, wool]},
        "slab": {
            "kind": "ground_floor",
            "floor": draw.choice(["slab_on_ground", "basement_floor"]),
            "area_m2": 60,
            "exposed_perimeter_m": 30,
            "wall_thickness_mm": 300,
            "soil_conductivity_w_mk": 1.5,
            "floor_resistance_m2k_w": draw.choice([0, 0.5]),
        },
    }


def house(draw: random.Random) -> Json:
    names = [f"r{index}" for index in range(draw.randint(2, 3))]
    made = constructions(draw)
    if made["slab"]["floor"] == "basement_floor":
        made["slab"]["depth_m"] = 1.5
    rooms = []
    for index, name in enumerate(names):
        elements: list[Json] = [
            {
                "id": "wall",
                "construction": draw.choice(["brick", "frame", "given"]),
                "length_m": draw.uniform(4, 9),
                "height_m": 2.5,
                "boundary": {"to": "outside"},
                "openings": [{"id": "window", "construction": "pane", "area_m2": draw.uniform(0.8, 3)}],
            },
            {"id": "floor", "construction": "slab", "area_m2": 15, "boundary": {"to": "ground"}},
            {
                "id": "dividing",
                "construction": draw.choice(["brick", "given"]),
                "area_m2": draw.uniform(4, 12),
                "boundary": {"to": "unheated_space", "space": "shed"},
            },
        ]
        if index:
            side = {"to": "room", "room": names[index - 1]}
            elements.append({"id": "between", "construction": "brick", "area_m2": 10, "boundary": side})
        rooms.append(
            {
                "id": name,
                "design_temperature_c": draw.choice([18, 20, 21.5]),
                "floor_area_m2": 15,
                "height_m": 2.5,
                "ventilation": {
                    "air_changes": draw.uniform(0.4, 1.5),
                    "supply_l_s": draw.choice([0, 0, 5]),
                    "extract_l_s": draw.choice([0, 0, 8]),
                    "exposed_openings": "several",
                },
                "flues": draw.choice([[], [{"kind": "open_chimney", "air_l_s": draw.uniform(5, 25)}]]),
                "elements": elements,
                "emitters": [radiator("radiator", draw.uniform(900, 3200))],
            }
        )
    shed = {"to": "outside"}
    method: Json = {"method": "air_changes", "air_heat_capacity_wh_m3k": 0.33}
    if draw.random() < 0.35:
        method = {
            "method": "airtightness",
            "edition": "2003",
            "air_changes_at_50pa": draw.uniform(4, 14),
            "shielding": "none",
            "height_above_ground_m": 5,
            "air_heat_capacity_wh_m3k": 0.34,
        }
    return {
        "dimensions": "internal",
        "reheat_w_m2": draw.choice([0, 5]),
        "conditions": {
            "external_temperature_c": -4,
            "annual_mean_external_temperature_c": 9,
            "national_annex": "GB",
            "ground_rule": "annual_mean",
            "ground_water": "deeper_than_1_m",
        },
        "ventilation": method,
        "thermal_bridges": {"surcharge_w_m2k": 0.1},
        "constructions": made,
        "unheated_spaces": [
            {
                "id": "shed",
                "volume_m3": 40,
                "air_changes": draw.uniform(0.3, 2),
                "elements": [{"id": "side", "construction": "given", "area_m2": 25, "boundary": shed}],
            }
        ],
        "rooms": rooms,
    }


def radiator(name: str, output_w: float) -> Json:
    return {
        "id": name,
        "kind": "radiator",
        "standard_output_w": output_w,
        "standard_excess_temperature_k": 50,
        "exponent": 1.3,
    }


def action(draw: random.Random, survey: Json) -> Json:
    """Draw one action that the survey allows."""
    room = draw.choice(survey["rooms"])
    name = room["id"]
    wool = {
        "kind": "solid",
        "thickness_mm": draw.choice([20, 60, 100]),
        "conductivity_w_mk": draw.choice([0.022, 0.04]),
    }
    board = {"kind": "solid", "thickness_mm": 12.5, "conductivity_w_mk": 0.25}
    kinds = [
        "line",
        "line",
        "outside",
        "shed",
        "floor",
        "window",
        "air",
        "emitter",
        "bridges",
        "bridged",
        "wide",
    ]
    kinds += ["tight"] * 3 if survey["ventilation"]["method"] == "airtightness" else ["fan"]
    kinds += ["flue"] if room["flues"] else []
    kind = draw.choice(kinds)
    if kind in ("line", "outside", "floor", "bridged", "wide"):
        element = {"line": draw.choice(["wall", "dividing"]), "floor": "floor"}.get(kind, "wall")
        surfaces = [{"room": name, "element": element}]
        if kind == "wide":
            surfaces = [{"room": other["id"], "element": "wall"} for other in survey["rooms"]]
        if kind == "bridged":
            # Only where the layers are known, so that the editor can splice them in.
            if construction_of(survey, "room", name, "wall") not in ("brick", "frame"):
                return action(draw, survey)
            wool["bridges"] = [{"fraction": 0.1, "conductivity_w_mk": 0.13, "path": "stud"}]
        side = "outside" if kind == "outside" else "inside"
        layers = [wool, board] if side == "outside" else [board, wool]
        return {"kind": "add_layers", "surfaces": surfaces, "side": side, "layers": layers}
    if kind == "shed":
        return {
            "kind": "add_layers",
            "surfaces": [{"space": "shed", "element": "side"}],
            "side": "outside",
            "layers": [wool],
        }
    if kind == "window":
        u_value = draw.uniform(0.8, 1.6)
        return {
            "kind": "replace_construction",
            "surfaces": [{"room": name, "element": draw.choice(["window", "window", "wall"])}],
            "construction": {"kind": "declared", "u_value_w_m2k": u_value, "source": "invented"},
        }
    if kind == "air":
        return {"kind": "change_air", "rooms": [name], "air_changes": draw.uniform(0.2, 0.6)}
    if kind == "fan":
        changed: dict[str, Any] = draw.choice(
            [{"extract_l_s": 12}, {"supply_l_s": 9, "heat_recovery_efficiency": 0.8}]
        )
        return {"kind": "change_air", "rooms": [name], **changed}
    if kind == "flue":
        return {"kind": "change_air", "rooms": [name], "close_flues": True}
    if kind == "tight":
        return {"kind": "change_airtightness", "air_changes_at_50pa": draw.uniform(1, 6)}
    if kind == "bridges":
        return {"kind": "change_thermal_bridges", "surcharge_w_m2k": draw.choice([0.0, 0.03, 0.06])}
    return {
        "kind": "swap_emitter",
        "room": name,
        "emitter": "radiator",
        "replacement": radiator("radiator", draw.uniform(2000, 6000)),
    }


def measures(draw: random.Random, survey: Json, count: int) -> list[Json]:
    made: list[Json] = []
    for index in range(count):
        actions: list[Json] = []
        for _ in range(draw.choice([1, 1, 2])):
            drawn = action(draw, survey)
            if not {*places(drawn)} & {place for other in actions for place in places(other)}:
                actions.append(drawn)
        measure: Json = {"id": f"m{index}", "cost": draw.randint(0, 12), "actions": actions}
        if index and draw.random() < 0.2:
            measure["excludes"] = [f"m{draw.randrange(index)}"]
        made.append(measure)
    return made


# --- The editor: a survey changed by hand ---------------------------------------------------------


def places(change: Json) -> Iterator[tuple[str, ...]]:
    """Yield what an action puts something else in the place of; layers replace nothing."""
    if change["kind"] == "replace_construction":
        for surface in change["surfaces"]:
            yield ("surface", *map(str, surface.values()))
    elif change["kind"] == "change_air":
        for room in change["rooms"]:
            for member in set(change) - {"kind", "rooms", "close_flues"}:
                yield (member, room)
    elif change["kind"] == "swap_emitter":
        yield ("emitter", change["room"])
    elif change["kind"] != "add_layers":
        yield (change["kind"],)


def allowed(chosen: Sequence[Json]) -> bool:
    """Whether measures can be taken together by what they say and do."""
    for one, other in combinations(chosen, 2):
        if other["id"] in one.get("excludes", []) or one["id"] in other.get("excludes", []):
            return False
        mine = {place for change in one["actions"] for place in places(change)}
        if any(place in mine for change in other["actions"] for place in places(change)):
            return False
    return True


def owner(survey: Json, kind: str, name: str) -> Json:
    owners = survey["rooms"] if kind == "room" else survey["unheated_spaces"]
    found: Json = next(item for item in owners if item["id"] == name)
    return found


def surface(survey: Json, kind: str, name: str, element: str) -> Json:
    for item in owner(survey, kind, name)["elements"]:
        for part in (item, *item.get("openings", [])):
            if part["id"] == element:
                found: Json = part
                return found
    raise KeyError(element)


def construction_of(survey: Json, kind: str, name: str, element: str) -> str:
    found: str = surface(survey, kind, name, element)["construction"]
    return found


def edited(survey: Json, chosen: Sequence[Json]) -> Json:
    """Return the survey with measures, replacements before layers."""
    after = copy.deepcopy(survey)
    changes = [(f"{m['id']}-{i}", change) for m in chosen for i, change in enumerate(m["actions"])]
    for _, change in changes:
        if change["kind"] == "replace_construction":
            name = f"new-{len(after['constructions'])}"
            after["constructions"][name] = change["construction"]
            for where in change["surfaces"]:
                kind, owned_by = next(iter(where.items()))
                surface(after, kind, owned_by, where["element"])["construction"] = name
    for name_of_change, change in changes:
        if change["kind"] == "add_layers":
            for where in change["surfaces"]:
                add_layers(after, where, change, name_of_change)
        elif change["kind"] == "change_air":
            for name in change["rooms"]:
                room = owner(after, "room", name)
                room["ventilation"] |= {
                    k: v for k, v in change.items() if k not in ("kind", "rooms", "close_flues")
                }
                if change.get("close_flues"):
                    room["flues"] = []
        elif change["kind"] == "change_airtightness":
            after["ventilation"]["air_changes_at_50pa"] = change["air_changes_at_50pa"]
        elif change["kind"] == "change_thermal_bridges":
            after["thermal_bridges"]["surcharge_w_m2k"] = change["surcharge_w_m2k"]
        elif change["kind"] == "swap_emitter":
            owner(after, "room", change["room"])["emitters"] = [change["replacement"]]
    return after


def add_layers(survey: Json, where: Json, change: Json, path: str) -> None:
    part = surface(survey, *next(iter(where.items())), where["element"])
    before = survey["constructions"][part["construction"]]
    layers = copy.deepcopy(change["layers"])
    for layer in layers:
        for bridge in layer.get("bridges", []):
            bridge["path"] = path  # of its own: no piece goes through other layers
    if before["kind"] == "layered":
        both = [*before["layers"], *layers] if change["side"] == "outside" else [*layers, *before["layers"]]
        made = {**before, "layers": both}
    elif before["kind"] == "declared":
        made = {**before, "u_value_w_m2k": 1 / total_with(layers, 1 / before["u_value_w_m2k"])}
    else:
        rest = before["floor_resistance_m2k_w"]
        made = {**before, "floor_resistance_m2k_w": total_with(layers, rest)}
    name = f"new-{len(survey['constructions'])}"
    survey["constructions"][name] = made
    part["construction"] = name


def total_with(layers: list[Json], rest: float) -> float:
    """Return a resistance after layers, one of them bridged at most: the mean of both limits (ISO 6946:2017, 6.7.2)."""
    plain, fraction, wool, bridge = rest, 0.0, 0.0, 0.0
    for layer in layers:
        thickness_m = layer["thickness_mm"] / 1000
        if "bridges" in layer:
            (piece,) = layer["bridges"]
            fraction = piece["fraction"]
            wool, bridge = thickness_m / layer["conductivity_w_mk"], thickness_m / piece["conductivity_w_mk"]
        else:
            plain += thickness_m / layer["conductivity_w_mk"]
    if not fraction:
        return plain
    upper = 1 / (fraction / (plain + bridge) + (1 - fraction) / (plain + wool))
    lower = plain + 1 / (fraction / bridge + (1 - fraction) / wool)
    return (upper + lower) / 2


# --- Brute force ----------------------------------------------------------------------------------


class Outcome(NamedTuple):
    chosen: Chosen
    cost: int
    load: float
    missed_w: float


def candidate(capacity_w: float) -> Json:
    rows = [
        {
            "external_temperature_c": outside,
            "flow_temperature_c": 45,
            "capacity_w": capacity_w,
            "coefficient_of_performance": 3,
        }
        for outside in (-10, 10)
    ]
    return {"id": "unit", "rating_basis": "integrated", "performance": rows}


def missed_w(goal: Json, request: Json, survey: Json, load: float) -> float:
    """Return by how many watts an edited house misses a goal, by the questions that are asked of it."""
    if goal["kind"] == "house_load":
        return max(0.0, load - goal["design_heat_load_w"])
    if goal["kind"] == "flow_temperature":
        temperatures = {k: v for k, v in goal.items() if k != "kind"}
        checked = warmstead.emitter_check({"house": survey, **temperatures})["rooms"]
        return sum(max(0.0, room["required_w"] - room["available_w"]) for room in checked)
    sized = warmstead.heat_pump_sizing(
        {
            "house": survey,
            "flow_temperature_c": request["flow_temperature_c"],
            "candidates": request["candidates"],
            "thresholds": request["thresholds"],
        }
    )["candidates"][0]
    if sized["verdict"] == "suitable":
        return 0.0
    limits = request["thresholds"]
    over = load - sized["capacity_at_design_w"] / limits["minimum_coverage"]
    under = sized["capacity_at_design_w"] / limits["maximum_coverage"] - load
    return max(over, under)


def brute_force(request: Json) -> list[Outcome]:
    """Return every set of measures that can stand together, with what it costs and needs."""
    survey, possible = request["house"], request["measures"]
    outcomes = []
    for size in range(len(possible) + 1):
        for chosen in combinations(possible, size):
            if allowed(chosen):
                after = edited(survey, chosen)
                load = warmstead.house_loss({"house": after})["design_heat_load_w"]
                missed = missed_w(request["goal"], request, after, load)
                cost = sum(measure["cost"] for measure in chosen)
                outcomes.append(Outcome(tuple(measure["id"] for measure in chosen), cost, load, missed))
    return outcomes


def request_of(seed: int) -> Json:
    draw = random.Random(seed)
    survey = house(draw)
    possible = measures(draw, survey, draw.choice([2, 3, 4, 4, 5]))
    load = warmstead.house_loss({"house": survey})["design_heat_load_w"]
    request: Json = {"house": survey, "measures": possible, "runners_up": 1}
    kind = draw.choice(["house_load", "house_load", "candidate", "flow_temperature"])
    if kind == "house_load":
        request["goal"] = {"kind": kind, "design_heat_load_w": load * draw.uniform(0.6, 1.02)}
    elif kind == "candidate":
        request |= {
            "goal": {"kind": kind, "candidate": "unit"},
            "flow_temperature_c": 45,
            "candidates": [candidate(load * draw.uniform(0.65, 1.1))],
            "thresholds": {"minimum_coverage": 1.0, "maximum_coverage": draw.choice([1.05, 1.3])},
        }
    else:
        request["goal"] = {
            "kind": kind,
            "flow_temperature_c": draw.choice([45, 55]),
            "return_temperature_c": draw.choice([38, 42]),
        }
    return request


def close(value: float, scale: float) -> Any:
    return pytest.approx(value, rel=CLOSE, abs=CLOSE * max(1.0, abs(scale)))


@pytest.mark.parametrize("first", range(0, HOUSES, BATCH))
def test_the_choice_is_that_of_brute_force(first: int) -> None:
    for seed in range(first, first + BATCH):
        request = request_of(seed)
        outcomes = brute_force(request)
        answer = warmstead.improvements(request)
        check_choice(answer, outcomes, seed)
        check_frontier(answer, outcomes, seed)
        check_savings(answer, outcomes, seed)


def check_choice(answer: Json, outcomes: list[Outcome], seed: int) -> None:
    scale = answer["design_heat_load_w"]
    reaching = [o for o in outcomes if o.missed_w <= CLOSE * scale]
    if not reaching:
        nearest = min(o.missed_w for o in outcomes)
        assert "cheapest" not in answer, seed
        assert answer["shortfall"]["proved_unreachable"], seed
        assert answer["shortfall"]["proved_nearest"], seed
        assert answer["shortfall"]["shortfall_w"] == pytest.approx(nearest, rel=1e-6, abs=1e-6 * scale), seed
        return
    best = min(reaching, key=lambda o: (o.cost, o.load))
    cheapest = answer["cheapest"]
    assert "shortfall" not in answer, seed
    assert cheapest["proved_optimal"], seed
    assert cheapest["cost"] == best.cost, seed
    assert cheapest["design_heat_load_w"] == close(best.load, scale), seed
    assert tuple(cheapest["measures"]) in {o.chosen for o in reaching}, seed
    others = [o for o in reaching if not set(cheapest["measures"]) <= set(o.chosen)]
    listed = answer["runners_up"]
    assert len(listed) == min(1, len(others)), seed
    if listed:
        second = min(others, key=lambda o: (o.cost, o.load))
        assert listed[0]["cost"] == second.cost >= best.cost, seed
        assert listed[0]["design_heat_load_w"] == close(second.load, scale), seed


def check_frontier(answer: Json, outcomes: list[Outcome], seed: int) -> None:
    assert answer["frontier_complete"], seed
    wanted: list[Outcome] = []
    for outcome in sorted(outcomes, key=lambda o: (o.cost, o.load)):
        if not wanted or outcome.load < wanted[-1].load - CLOSE * answer["design_heat_load_w"]:
            wanted.append(outcome)
    assert [point["cost"] for point in answer["frontier"]] == [o.cost for o in wanted], seed
    loads = [point["design_heat_load_w"] for point in answer["frontier"]]
    assert loads == [close(o.load, loads[0]) for o in wanted], seed
    assert loads == sorted(loads, reverse=True), seed


def check_savings(answer: Json, outcomes: list[Outcome], seed: int) -> None:
    loads = {outcome.chosen: outcome.load for outcome in outcomes}
    now = loads[()]
    order = [measure["id"] for measure in answer["measures"]]
    for measure in answer["measures"]:
        name, others = measure["id"], set(measure["others"])
        before = tuple(m for m in order if m in others)
        after = tuple(m for m in order if m in others | {name})
        assert measure["saving_alone_w"] == close(now - loads[(name,)], now), seed
        assert measure["saving_after_others_w"] == close(loads[before] - loads[after], now), seed
    together = answer["all_measures"]
    assert together["saving_w"] == close(now - loads[tuple(together["measures"])], now), seed
