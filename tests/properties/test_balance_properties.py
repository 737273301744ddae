"""The balance of many draws at once is the balance of each draw by itself.

Random houses with everything that a survey may hold; random values for every input. The reference is the scalar resolver asked
about a document in which those values are written down: two programs that share no arithmetic but the equations.
"""

from __future__ import annotations

import json
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from warmstead.building.balance import Balance
from warmstead.building.balance_inputs import HouseInputs, Key
from warmstead.building.findings import Findings, Refused
from warmstead.building.house import ResolvedHouse, resolve_house
from warmstead.survey.house import House

Json = dict[str, Any]
DRAWS = 3
WALLS = ("bare", "lined", "layers")


def resolved(document: Json) -> ResolvedHouse:
    return resolve_house(House.model_validate_json(json.dumps(document)), Findings())


def a_house(random: Random) -> Json:
    """Return a random house: 1 to 4 rooms, up to two unheated spaces, every kind of boundary."""
    rooms = [f"room-{place}" for place in range(random.randint(1, 4))]
    spaces = [f"space-{place}" for place in range(random.randint(0, 2))]
    by_junctions = random.random() < 0.5
    house: Json = {
        "reheat_w_m2": random.choice([0, 10]),
        "conditions": {
            "external_temperature_c": random.uniform(-10, 5),
            "annual_mean_external_temperature_c": random.uniform(6, 12),
            "ground_rule": random.choice(["annual_mean", "external"]),
            "ground_water": random.choice(["within_1_m", "deeper_than_1_m"]),
        },
        "constructions": {
            "bare": {"kind": "declared", "u_value_w_m2k": 2.1, "source": "this test"},
            "lined": {"kind": "declared", "u_value_w_m2k": 0.4, "source": "this test"},
            "layers": {
                "kind": "layered",
                "heat_flow": "horizontal",
                "layers": [{"kind": "solid", "thickness_mm": 200, "conductivity_w_mk": 0.5}],
            },
            "slab": {"kind": "declared", "u_value_w_m2k": 0.3, "source": "this test"},
            "suspended": {
                "kind": "ground_floor",
                "floor": "suspended",
                "area_m2": 1000,
                "exposed_perimeter_m": 30,
                "wall_thickness_mm": 250,
                "floor_resistance_m2k_w": 0.3,
                "height_above_ground_m": 0.3,
            },
        },
        "ventilation": random.choice(
            [
                {"method": "air_changes"},
                {"method": "airtightness", "air_changes_at_50pa": random.uniform(0.5, 12)},
                {"method": "airtightness", "air_permeability_50pa_m3_h_m2": 3, "envelope_area_m2": 100},
            ]
        ),
        "thermal_bridges": {"surcharge_w_m2k": random.choice([0, 0.1])},
        "unheated_spaces": [
            {
                "id": name,
                "volume_m3": random.uniform(10, 60),
                "air_changes": random.uniform(0.1, 3),
                "elements": [
                    an_element(random, f"own-{place}", {"to": to})
                    if to != "neighbour"
                    else an_element(random, f"own-{place}", {"to": to, "temperature_c": 17})
                    for place, to in enumerate(random.sample(["outside", "ground", "neighbour"], 2))
                ],
            }
            for name in spaces
        ],
        "rooms": [a_room(random, name, rooms, spaces) for name in rooms],
    }
    if random.random() < 0.2:
        del house["thermal_bridges"]
    elif by_junctions:
        boundaries: list[Json] = [{"to": "outside"}, {"to": "neighbour", "temperature_c": 18}]
        boundaries += [{"to": "unheated_space", "space": name} for name in spaces]
        house["thermal_bridges"] = {
            "junctions": [
                {
                    "id": f"junction-{place}",
                    "room": random.choice(rooms),
                    "psi_w_mk": random.uniform(-0.1, 0.3),
                    "length_m": random.uniform(1, 8),
                    "boundary": boundary,
                }
                for place, boundary in enumerate(boundaries)
            ]
        }
    return house


def a_room(random: Random, name: str, rooms: list[str], spaces: list[str]) -> Json:
    boundaries: list[Json] = [
        {"to": "outside"},
        {"to": "outside"},
        {"to": "ground"},
        {"to": "neighbour", "temperature_c": random.uniform(10, 20)},
        {"to": "unheated_space", "temperature_c": random.uniform(0, 15)},
        {"to": "unheated_space", "temperature_reduction_factor": random.uniform(0, 1)},
    ]
    boundaries += [{"to": "unheated_space", "space": space} for space in spaces]
    boundaries += [{"to": "room", "room": other} for other in rooms if other != name][:1]
    room: Json = {
        "id": name,
        "design_temperature_c": random.uniform(16, 24),
        "floor_area_m2": random.uniform(5, 30),
        "volume_m3": random.uniform(12, 80),
        "ventilation": {"air_changes": random.uniform(0, 2)},
        "elements": [an_element(random, f"element-{place}", b) for place, b in enumerate(boundaries)],
    }
    if random.random() < 0.5:
        room["ventilation"] |= {"extract_l_s": random.uniform(0, 30), "supply_l_s": random.uniform(0, 20)}
        room["ventilation"]["heat_recovery_efficiency"] = random.uniform(0, 0.9)
    if random.random() < 0.5:
        room["flues"] = [{"kind": "open_chimney", "air_l_s": 20}, {"kind": "closed_stove", "air_l_s": 3}]
    return room


def an_element(random: Random, name: str, boundary: Json) -> Json:
    floors = ["slab", "suspended"]
    element: Json = {
        "id": name,
        "construction": random.choice(floors if boundary["to"] == "ground" else list(WALLS)),
        "area_m2": random.uniform(4, 20),
        "boundary": boundary,
    }
    if boundary["to"] != "ground" and random.random() < 0.5:
        element["openings"] = [
            {
                "id": f"{name}-{place}",
                "construction": random.choice(WALLS),
                "area_m2": random.uniform(0.3, 1.8),
            }
            for place in range(random.randint(1, 2))
        ]
    return element


def some_values(inputs: HouseInputs, random: Random, everything: bool) -> dict[Key, list[float]]:
    """Return values of all inputs, or of some of them, DRAWS of each."""
    values: dict[Key, list[float]] = {}
    for key, nominal in inputs.nominal.items():
        if key[:2] == ("u_value", "suspended") or (not everything and random.random() < 0.7):
            continue
        kind = key[0]
        if kind in ("reduction_factor", "heat_recovery"):
            values[key] = [random.uniform(0, 1) for _ in range(DRAWS)]
        elif kind == "surcharge":
            values[key] = [random.uniform(0, 0.2) for _ in range(DRAWS)] if nominal else [0.0] * DRAWS
        elif kind in ("temperature", "temperature_shift", "neighbour_shift", "neighbour", "adjacent"):
            values[key] = [nominal + random.uniform(-3, 3) for _ in range(DRAWS)]
        elif kind in ("external", "annual_mean"):
            values[key] = [nominal + random.uniform(-4, 4) for _ in range(DRAWS)]
        elif kind == "junction":
            values[key] = [nominal + random.uniform(-0.05, 0.05) for _ in range(DRAWS)]
        else:
            values[key] = [nominal * random.uniform(0.5, 1.6) for _ in range(DRAWS)]
    return values


def written_down(document: Json, value: dict[Key, float]) -> Json:
    """Return the document with the values of one draw in place of the survey's."""
    house: Json = json.loads(json.dumps(document))
    conditions = house["conditions"]
    conditions["external_temperature_c"] = value[("external",)]
    conditions["annual_mean_external_temperature_c"] = value[("annual_mean",)]
    for key, u_value in value.items():
        if key[0] == "u_value" and key[1] != "suspended":
            house["constructions"][f"{key[1]}.{key[2]}"] = {
                "kind": "declared",
                "u_value_w_m2k": u_value,
                "source": "this test",
            }

    def part(kind: str, owner: str, it: Json, to: str) -> None:
        name = it["construction"]
        it["area_m2"] = (
            value["area", kind, owner, it["id"]] * value["area_factor", name] * value[("area_factor",)]
        )
        if name != "suspended":
            it["construction"] = f"{name}.{'outside' if to in ('outside', 'ground') else 'internal'}"

    def side(kind: str, owner: str, element: Json) -> None:
        boundary = element["boundary"]
        part(kind, owner, element, boundary["to"])
        for opening in element.get("openings", ()):
            part(kind, owner, opening, boundary["to"])
        behind(kind, owner, element["id"], boundary)

    def behind(kind: str, owner: str, name: str, boundary: Json) -> None:
        if boundary["to"] == "neighbour":
            shift = value[("neighbour_shift",)]
            boundary["temperature_c"] = value["neighbour", kind, owner, name] + shift
        elif "temperature_c" in boundary:
            boundary["temperature_c"] = value["adjacent", owner, name]
        elif "temperature_reduction_factor" in boundary:
            boundary["temperature_reduction_factor"] = value["reduction_factor", owner, name]

    for room in house["rooms"]:
        name = room["id"]
        room["design_temperature_c"] = value["temperature", name] + value[("temperature_shift",)]
        room["ventilation"]["air_changes"] = value["air_changes", name] * value[("air_factor",)]
        room["ventilation"]["heat_recovery_efficiency"] = value["heat_recovery", name]
        room["flues"] = [{"kind": "open_flue", "air_l_s": value["flue_air", name]}]
        for element in room["elements"]:
            side("room", name, element)
    for space in house["unheated_spaces"]:
        if ("space_air", space["id"]) in value:
            space["air_changes"] = value["space_air", space["id"]]
            for element in space["elements"]:
                side("space", space["id"], element)
    bridges = house.get("thermal_bridges", {})
    for junction in bridges.get("junctions", ()):
        junction["psi_w_mk"] = value["junction", junction["room"], junction["id"]]
        behind("room", junction["room"], junction["id"], junction["boundary"])
    if "junctions" not in bridges:
        house["thermal_bridges"] = {"surcharge_w_m2k": value[("surcharge",)]}
    if ("airtightness",) in value:
        house["ventilation"] = {"method": "airtightness", "air_changes_at_50pa": value[("airtightness",)]}
    return house


@settings(max_examples=80)
@given(seed=st.integers(0, 2**32), everything=st.booleans())
def test_each_draw_is_the_house_with_its_values_written_down(seed: int, everything: bool) -> None:
    random = Random(seed)
    document = a_house(random)
    try:
        house = resolved(document)
    except Refused:
        return  # a negative junction can outweigh an unheated space
    inputs = HouseInputs(house)
    values = some_values(inputs, random, everything)
    balance = Balance(house, inputs, values)
    loads = balance.loads({key: np.array(drawn) for key, drawn in values.items()}, DRAWS)
    for draw in range(DRAWS):
        value = inputs.nominal | {key: drawn[draw] for key, drawn in values.items()}
        try:
            alone = resolved(written_down(document, value))
        except Refused:
            assert not loads.physical[draw]
            continue
        assert loads.physical[draw]
        # Sums in another order: rounding grows with the losses that are added, not with the load that is left.
        size = sum(abs(face.heat_loss_w) for room in alone.rooms for face in room.faces) + alone.ventilation_w
        assert loads.house_w[draw] == pytest.approx(alone.design_heat_load_w, rel=0, abs=1e-12 * size + 1e-9)
        for place, room in enumerate(alone.rooms):
            assert loads.rooms_w[place, draw] == pytest.approx(
                room.design_heat_load_w, rel=0, abs=1e-12 * size + 1e-9
            )


@settings(max_examples=30)
@given(seed=st.integers(0, 2**32))
def test_nothing_varied_is_the_survey(seed: int) -> None:
    try:
        house = resolved(a_house(Random(seed)))
    except Refused:
        return
    loads = Balance(house, HouseInputs(house), ()).loads({}, 2)
    assert loads.physical.all()
    assert loads.house_w.tolist() == pytest.approx([house.design_heat_load_w] * 2, rel=1e-12, abs=1e-9)


def test_contradicting_draws_are_told_apart() -> None:
    """Hand-made: an opening larger than its wall, and a room as cold as outside, each in one of three draws."""
    document = a_house(Random(1))
    document["rooms"][0]["elements"][0] |= {
        "area_m2": 5.0,
        "openings": [{"id": "window", "construction": "bare", "area_m2": 2.0}],
    }
    house = resolved(document)
    inputs = HouseInputs(house)
    name = document["rooms"][0]["id"]
    window: Key = ("area", "room", name, "window")
    loads = Balance(house, inputs, [window]).loads({window: np.array([2.0, 5.0, 5.1])}, 3)
    assert loads.physical.tolist() == [True, True, False]
    outside: Key = ("external",)
    coldest = min(room.temperature_c for room in house.rooms)
    loads = Balance(house, inputs, [outside]).loads({outside: np.array([0.0, coldest - 0.1, coldest])}, 3)
    assert loads.physical.tolist() == [True, True, False]
