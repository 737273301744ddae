"""Emitters as surveyed: what is taken from the room, circuits, limits, and what the answer leaves out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead

Json = dict[str, Any]
Make = Callable[..., Any]

RADIATOR: Json = {
    "id": "r",
    "kind": "radiator",
    "standard_output_w": 1000,
    "standard_excess_temperature_k": 50,
    "exponent": 1.3,
}
PANEL: Json = {
    "id": "p",
    "kind": "underfloor",
    "area_m2": 10,
    "pipe_spacing_mm": 150,
    "covering_resistance_m2k_w": 0.1,
    "screed_thickness_mm": 45,
    "screed_conductivity_w_mk": 1.2,
    "pipe_outside_diameter_mm": 16,
    "pipe_wall_thickness_mm": 2,
    "pipe_conductivity_w_mk": 0.35,
    "system": "A",
    "zone": "occupied",
    "resistance_below_m2k_w": 1.25,
    "temperature_below_c": 10,
}


@pytest.fixture
def check(house: Make, room: Make, element: Make) -> Callable[..., Json]:
    """Return a function that asks about emitters in a room at 20 °C that loses 300 W."""

    def asked(*emitters: Json, flow: float = 75, back: float = 65, **changes: Any) -> Json:
        of_room = changes.pop("room", {})
        survey = house(room("a", element("w", 10, "outside"), emitters=list(emitters), **of_room))
        water = {"flow_temperature_c": flow, "return_temperature_c": back}
        answer: Json = warmstead.emitter_check({"house": survey, **water, **changes})
        return answer

    return asked


def test_a_radiator_at_standard_water_gives_its_standard_output(check: Make) -> None:
    (room,) = check(RADIATOR)["rooms"]
    # 75/65/20 °C is an excess of 50 K (EN 442-2:2014, from memory)
    assert room["emitters"] == [
        {
            "id": "r",
            "output_w": pytest.approx(1000),
            "excess_temperature_k": 50,
            "mean": "arithmetic",
            "flow_l_s": pytest.approx(1000 / (4.1 * 1000 * 10), rel=0.03),
        }
    ]
    assert room["coverage"] == pytest.approx(1000 / 300)
    assert room["standard_output_needed_w"] == pytest.approx(300)


def test_an_older_standard_excess_is_turned_into_50_k(check: Make) -> None:
    (room,) = check(RADIATOR | {"standard_excess_temperature_k": 60})["rooms"]
    assert room["emitters"][0]["output_w"] == pytest.approx(1000 * (50 / 60) ** 1.3)


def test_an_output_factor_weighs_on_the_output(check: Make) -> None:
    (room,) = check(RADIATOR | {"output_factor": 0.9})["rooms"]
    assert room["emitters"][0]["output_w"] == pytest.approx(900)
    # a replacement stands in the same place
    assert room["standard_output_needed_w"] == pytest.approx(300 / 0.9)


def test_water_that_does_not_cool_has_no_flow(check: Make, warned: Make) -> None:
    answer = check(RADIATOR, flow=70, back=70)
    assert "flow_l_s" not in answer["rooms"][0]["emitters"][0]
    assert answer["rooms"][0]["emitters"][0]["output_w"] == pytest.approx(1000)
    assert warned(answer, "unusual.no_temperature_drop") == ["/return_temperature_c"]


@pytest.mark.parametrize(("flow", "hot"), [(54.9, False), (55, True), (70, True)])
def test_hot_water_is_a_caution(flow: float, hot: bool, check: Make, warned: Make) -> None:
    pointers = ["/flow_temperature_c"] if hot else []
    assert warned(check(RADIATOR, flow=flow, back=45), "caution.hot_surface") == pointers


@pytest.mark.parametrize(
    ("flow", "back", "pointers"),
    [
        (75, 20, ["/return_temperature_c"]),
        (75, 19, ["/return_temperature_c"]),
        (50, 60, ["/return_temperature_c"]),
        (15, 10, ["/flow_temperature_c", "/return_temperature_c"]),
        (20, 18, ["/flow_temperature_c", "/return_temperature_c"]),
        # above the flow, and colder than the room besides
        (15, 18, ["/flow_temperature_c", "/return_temperature_c", "/return_temperature_c"]),
    ],
)
def test_water_that_cannot_heat_is_refused(
    flow: float, back: float, pointers: list[str], house: Make, room: Make, element: Make, refused: Make
) -> None:
    survey = house(room("a", element("w", 10, "outside"), emitters=[RADIATOR]))
    question = {"house": survey, "flow_temperature_c": flow, "return_temperature_c": back}
    errors = refused(warmstead.emitter_check, question)
    assert sorted(errors) == [(pointer, "contradiction") for pointer in pointers]


def test_water_is_warmer_than_a_room_that_has_no_emitter_yet(house: Make, room: Make, refused: Make) -> None:
    question = {"house": house(room("a")), "flow_temperature_c": 22, "return_temperature_c": 18}
    assert refused(warmstead.emitter_check, question) == [("/return_temperature_c", "contradiction")]


def test_a_circuit_may_be_colder_than_a_room_that_it_does_not_heat(
    house: Make, room: Make, element: Make
) -> None:
    cool = room("cool", element("w", 10, "outside"), design_temperature_c=14)
    warm = room("warm", element("w", 10, "outside"), design_temperature_c=24)
    cool["emitters"], warm["emitters"] = [RADIATOR | {"circuit": "low"}], [RADIATOR]
    question = {
        "house": house(cool, warm),
        "flow_temperature_c": 50,
        "return_temperature_c": 40,
        "circuits": [{"id": "low", "flow_temperature_c": 23, "return_temperature_c": 20}],
    }
    answer = warmstead.emitter_check(question)
    assert [len(one["emitters"]) for one in answer["rooms"]] == [1, 1]


def test_an_emitter_has_the_water_of_its_circuit(check: Make) -> None:
    circuits = [{"id": "low", "flow_temperature_c": 45, "return_temperature_c": 35}]
    both = check(RADIATOR | {"circuit": "low"}, RADIATOR | {"id": "s"}, circuits=circuits)
    low, main = both["rooms"][0]["emitters"]
    assert (low["circuit"], low["excess_temperature_k"], low["mean"]) == (
        "low",
        pytest.approx(19.576, abs=1e-3),
        "logarithmic",
    )
    assert "circuit" not in main
    assert main["excess_temperature_k"] == 50
    assert [warning["code"] for warning in both["warnings"]] == [
        "assumption.circuits_move_together",
        "caution.hot_surface",
    ]


@pytest.mark.parametrize(
    ("of_room", "zone"),
    [
        ({"use": "bathroom"}, "bathroom"),
        ({"use": "shower_room"}, "bathroom"),
        ({"use": "kitchen"}, "occupied"),
    ],
)
def test_the_use_of_a_room_sets_the_zone_of_its_panel(
    of_room: Json, zone: str, check: Make, warned: Make
) -> None:
    bare = {name: value for name, value in PANEL.items() if name != "zone"}
    of_room = of_room | {"design_temperature_c": 24}  # so warm that the zones' limits differ
    taken = check(bare, flow=100, back=95, room=of_room)
    said = check(PANEL | {"zone": zone}, flow=100, back=95, room=of_room)
    assert taken["rooms"] == said["rooms"]
    assert warned(taken, "default.underfloor_zone") == ["/house/rooms/0/emitters/0/zone"]


def test_a_bathroom_floor_may_be_warmer_by_9_k(check: Make, warned: Make) -> None:
    """EN 1264-2 (from memory): 29 °C in occupied zones, 9 K above the room in bathrooms, 35 °C at the periphery."""
    most = {}
    for zone, inside in (
        ("occupied", 20),
        ("bathroom", 20),
        ("peripheral", 20),
        ("bathroom", 24),
        ("occupied", 24),
    ):
        answer = check(PANEL | {"zone": zone}, flow=110, back=109, room={"design_temperature_c": inside})
        most[zone, inside] = answer["rooms"][0]["available_w"]
        assert warned(answer, "caution.surface_limit") == ["/house/rooms/0/emitters/0"]
    assert most["occupied", 20] == pytest.approx(most["bathroom", 20])  # 29 °C is 9 K above 20 °C
    assert most["peripheral", 20] > most["occupied", 20]
    assert most["bathroom", 24] > most["occupied", 24]


def test_a_panel_in_a_room_as_warm_as_its_surface_may_be_gives_nothing(check: Make) -> None:
    answer = check(PANEL, flow=60, back=55, room={"design_temperature_c": 29})
    (room,) = answer["rooms"]
    assert room["available_w"] == 0
    assert "lowest_flow_temperature_c" not in room
    assert answer["governing_room"] == "a"


def test_downward_loss_is_carried_and_not_counted(check: Make) -> None:
    cold, warm = (
        check(PANEL | {"temperature_below_c": below}, flow=40, back=35)["rooms"][0] for below in (0, 20)
    )
    assert cold["available_w"] == warm["available_w"]
    assert cold["emitters"][0]["downward_loss_w"] > warm["emitters"][0]["downward_loss_w"] > 0
    # EN 1264-3 (read in a transcription, as the equation's docstring says): (R_o · φ + θi − θu)/R_u on 10 m²; 20 K more
    # below are 20/1.25 W/m² more
    more = cold["emitters"][0]["downward_loss_w"] - warm["emitters"][0]["downward_loss_w"]
    assert more == pytest.approx(10 * 20 / 1.25)
    assert cold["emitters"][0]["flow_l_s"] > warm["emitters"][0]["flow_l_s"]


def test_what_stands_on_ground_has_the_annual_mean_below(house: Make, room: Make, element: Make) -> None:
    bare = {
        name: value
        for name, value in PANEL.items()
        if name not in ("resistance_below_m2k_w", "temperature_below_c")
    }

    def downward(*elements: Json, **below: float) -> float:
        survey = house(room("a", element("w", 10, "outside"), *elements, emitters=[bare | below]))
        water = {"flow_temperature_c": 40, "return_temperature_c": 35}
        answer = warmstead.emitter_check({"house": survey, **water})
        return float(answer["rooms"][0]["emitters"][0]["downward_loss_w"])

    floor = element("floor", 24, "ground", "half")
    # EN 1264-4 (from memory): 1.25 m²K/W over ground, 0.75 over a heated room; the annual mean here is 10 °C
    assert downward(floor) == pytest.approx(
        downward(floor, resistance_below_m2k_w=1.25, temperature_below_c=10)
    )
    assert downward() == pytest.approx(downward(resistance_below_m2k_w=0.75, temperature_below_c=20))


def test_a_fan_convector_gives_what_its_table_says(check: Make) -> None:
    outputs = [{"excess_temperature_k": 20, "output_w": 800}, {"excess_temperature_k": 40, "output_w": 1800}]
    convector = {"id": "f", "kind": "fan_convector", "outputs": outputs}
    (room,) = check(convector, flow=52, back=48)["rooms"]  # an excess of 30 K
    assert room["emitters"][0]["output_w"] == pytest.approx(1300)
    # 800 W at 20 K are more than the 300 W that are needed, and nothing is known below
    assert room["lowest_flow_temperature_c"] == pytest.approx(42, abs=1e-6)


@pytest.mark.parametrize(("flow", "back"), [(39, 38), (70, 60)])
def test_a_fan_convector_outside_its_table_is_not_covered(
    flow: float, back: float, house: Make, room: Make, element: Make, refused: Make
) -> None:
    outputs = [{"excess_temperature_k": 20, "output_w": 800}, {"excess_temperature_k": 40, "output_w": 1800}]
    convector = {"id": "f", "kind": "fan_convector", "outputs": outputs}
    survey = house(room("a", element("w", 10, "outside"), emitters=[convector]))
    question = {"house": survey, "flow_temperature_c": flow, "return_temperature_c": back}
    assert refused(warmstead.emitter_check, question) == [("/house/rooms/0/emitters/0", "not_covered")]


@pytest.mark.parametrize(
    ("changes", "member", "code"),
    [
        ({"covering_resistance_m2k_w": 0.2}, "covering_resistance_m2k_w", "not_covered"),
        ({"pipe_spacing_mm": 20}, "pipe_spacing_mm", "not_covered"),
        ({"pipe_outside_diameter_mm": 40}, "pipe_outside_diameter_mm", "not_covered"),
        ({"system": "B"}, "conducting_device", "not_covered"),
        (
            {"conducting_device": {"width_mm": 100, "thickness_mm": 1, "conductivity_w_mk": 200}},
            "conducting_device",
            "not_allowed_here",
        ),
    ],
)
def test_a_panel_outside_the_method_is_refused_at_its_member(
    changes: Json, member: str, code: str, house: Make, room: Make, element: Make, refused: Make
) -> None:
    survey = house(room("a", element("w", 10, "outside"), emitters=[PANEL | changes]))
    question = {"house": survey, "flow_temperature_c": 40, "return_temperature_c": 35}
    assert refused(warmstead.emitter_check, question) == [(f"/house/rooms/0/emitters/0/{member}", code)]


def test_a_room_that_gains_heat_needs_no_emitter(check: Make, house: Make, room: Make, element: Make) -> None:
    warm = element("w", 10, {"to": "neighbour", "temperature_c": 25})
    survey = house(
        room("a", warm, emitters=[RADIATOR]), room("b", element("w", 10, "outside"), emitters=[RADIATOR])
    )
    answer = warmstead.emitter_check({"house": survey, "flow_temperature_c": 60, "return_temperature_c": 50})
    gaining, losing = answer["rooms"]
    assert gaining["required_w"] == pytest.approx(-50)
    assert not {"coverage", "lowest_flow_temperature_c", "standard_output_needed_w"} & set(gaining)
    assert answer["governing_room"] == "b"
    assert answer["lowest_flow_temperature_c"] == losing["lowest_flow_temperature_c"]
