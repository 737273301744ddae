"""Air of rooms and house: by air changes, by airtightness (EN 12831:2003), mechanical, and through flues."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import warmstead

Json = dict[str, Any]
Make = Callable[..., Any]

C = 0.34
"""Heat capacity of air of the houses here, Wh/(m³K)."""
DIFFERENCE_K = 30
"""20 °C inside, −10 °C outside."""


def rooms_of(answer: Json) -> list[float]:
    return [room["ventilation_w"] for room in answer["rooms"]]


# --- Air changes ----------------------------------------------------------------------------------


def test_air_changes(house: Make, room: Make, loss: Make) -> None:
    answer = loss(
        house(room("a", ventilation={"air_changes": 0.5}), room("b", ventilation={"air_changes": 2}))
    )
    assert rooms_of(answer) == pytest.approx([C * 0.5 * 60 * 30, C * 2 * 60 * 30])
    assert answer["ventilation_w"] == pytest.approx(C * 2.5 * 60 * 30)


def test_mechanical_air_is_added(house: Make, room: Make, loss: Make, warned: Make) -> None:
    survey = house(
        room("a", ventilation={"air_changes": 0.1, "supply_l_s": 10, "heat_recovery_efficiency": 0.8}),
        room("b", ventilation={"air_changes": 0.1, "extract_l_s": 16}, volume_m3=40),
    )
    answer = loss(survey)
    # the contract's: c·n·V + 3.6·c·(1 − η)·supply + 3.6·c·share by volume of (16 − 10); shares 0.6 and 0.4
    first = C * (0.1 * 60 + 3.6 * 0.2 * 10 + 3.6 * 0.6 * 6)
    second = C * (0.1 * 40 + 3.6 * 0.4 * 6)
    assert rooms_of(answer) == pytest.approx([first * 30, second * 30])
    assert answer["ventilation_w"] == pytest.approx((first + second) * 30)
    assert warned(answer, "assumption.air_changes_exclude_mechanical") == ["/house/ventilation"]


def test_supply_beyond_extract_draws_nothing_in(house: Make, room: Make, loss: Make) -> None:
    survey = house(
        room("a", ventilation={"air_changes": 0, "supply_l_s": 20}),
        room("b", ventilation={"air_changes": 0, "extract_l_s": 15}),
    )
    assert rooms_of(loss(survey)) == pytest.approx([C * 3.6 * 20 * 30, 0])


def test_air_without_machines_is_told_no_assumption(
    house: Make, room: Make, loss: Make, warned: Make
) -> None:
    answer = loss(house(room("a", ventilation={"air_changes": 0.5})))
    assert warned(answer, "assumption.air_changes_exclude_mechanical") == []


def test_recovery_without_supply_is_unusual(house: Make, room: Make, loss: Make, warned: Make) -> None:
    survey = house(room("a", ventilation={"air_changes": 1, "heat_recovery_efficiency": 0.8}))
    answer = loss(survey)
    assert warned(answer, "unusual.heat_recovery_without_supply") == [
        "/house/rooms/0/ventilation/heat_recovery_efficiency"
    ]
    assert rooms_of(answer) == pytest.approx([C * 60 * 30])
    survey["rooms"][0]["ventilation"]["supply_l_s"] = 1
    assert warned(loss(survey), "unusual.heat_recovery_without_supply") == []


def test_all_heat_recovered_leaves_the_air_changes(house: Make, room: Make, loss: Make) -> None:
    air = {"air_changes": 0.2, "supply_l_s": 50, "heat_recovery_efficiency": 1}
    assert rooms_of(loss(house(room("a", ventilation=air)))) == pytest.approx([C * 0.2 * 60 * 30])


# --- Flues ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "printed_m3_h"),
    # SAP 10.2 table 2.1 (from memory); a room-sealed appliance takes its air from outside (common practice)
    [("open_chimney", 80), ("open_flue", 20), ("closed_stove", 10), ("room_sealed", 0)],
)
def test_a_flue_draws_the_air_of_its_kind(
    kind: str, printed_m3_h: float, house: Make, room: Make, loss: Make
) -> None:
    answer = loss(house(room("a", flues=[{"kind": kind}])))
    assert answer["ventilation_w"] == pytest.approx(C * printed_m3_h * DIFFERENCE_K, abs=0.01)


def test_flues_add_up_to_the_rooms_air(house: Make, room: Make, loss: Make, warned: Make) -> None:
    flues = [{"kind": "open_flue", "air_l_s": 10}, {"kind": "closed_stove", "air_l_s": 2.5}]
    answer = loss(house(room("a", ventilation={"air_changes": 0.5}, flues=flues), room("b")))
    assert rooms_of(answer) == pytest.approx([(C * 0.5 * 60 + C * 3.6 * 12.5) * 30, 0])
    assert warned(answer, "assumption.flue_air_added") == ["/house/rooms/0/flues"]


@pytest.mark.parametrize(
    ("kind", "extract_l_s", "codes"),
    [
        ("open_chimney", None, {"caution.open_flue"}),
        ("open_flue", None, {"caution.open_flue"}),
        ("open_flue", 15, {"caution.flue_and_extract"}),
        ("open_chimney", 15, {"caution.flue_and_extract"}),
        ("closed_stove", None, {"caution.open_flue"}),
        ("closed_stove", 15, {"caution.flue_and_extract"}),
        ("room_sealed", 15, set()),
    ],
)
def test_an_open_flue_is_a_caution_and_more_so_beside_an_extract(
    kind: str, extract_l_s: float | None, codes: set[str], house: Make, room: Make, loss: Make
) -> None:
    air = {"air_changes": 0.5} | ({} if extract_l_s is None else {"extract_l_s": extract_l_s})
    survey = house(room("a", flues=[{"kind": kind, "air_l_s": 1}]), room("b", ventilation=air))
    told = {w["code"]: w["pointer"] for w in loss(survey)["warnings"] if "flue" in w["code"]}
    assert {code for code in told if code.startswith("caution")} == codes
    assert all(told[code] == "/house/rooms/0/flues/0" for code in codes)


# --- Airtightness (EN 12831:2003) -----------------------------------------------------------------
#
# The formulas, from memory (EN 12831:2003, 7.2, and annex D for e and ε):
#   V_inf = 2 · V · n50 · e · ε;  V_min = n_min · V
#   without a ventilation system V = max(V_inf, V_min); with one V = V_inf + V_su · (1 − η) + V_mech,inf
#   V_mech,inf is the house's extract beyond supply, to each room by its share of the volume
#   for the building half of Σ V_inf counts: max(0.5 Σ V_inf, Σ V_min), or 0.5 Σ V_inf + Σ V_su (1 − η) + V_mech,inf
#   Φ = 0.34 · V · (θi − θe)
# e: moderate shielding 0, 0.02, 0.03 with no, one, several exposed openings; none 0, 0.03, 0.05; heavy 0, 0.01, 0.02


def airtight(house: Make, *rooms: Json, **method: Any) -> Json:
    given = {
        "method": "airtightness",
        "edition": "2003",
        "air_changes_at_50pa": 4,
        "shielding": "moderate",
        "height_above_ground_m": 3,
        "air_heat_capacity_wh_m3k": C,
    }
    survey: Json = house(*rooms, ventilation={**given, **method})
    return survey


def test_airtightness_by_hand_where_the_hygienic_minimum_governs(house: Make, room: Make, loss: Make) -> None:
    survey = airtight(
        house,
        room("a", ventilation={"air_changes": 0.5, "exposed_openings": "several"}),
        room("b", ventilation={"air_changes": 0, "exposed_openings": "one"}, volume_m3=40),
    )
    # a: V_inf = 2 · 60 · 4 · 0.03 = 14.4, V_min = 30 → 30 m³/h; b: V_inf = 2 · 40 · 4 · 0.02 = 6.4, V_min = 0 → 6.4 m³/h
    answer = loss(survey)
    assert rooms_of(answer) == pytest.approx([0.34 * 30 * 30, 0.34 * 6.4 * 30])
    # house: max(0.5 · 20.8, 30) = 30 m³/h
    assert answer["ventilation_w"] == pytest.approx(0.34 * 30 * 30)
    assert answer["design_heat_load_w"] == pytest.approx(0.34 * 30 * 30)


def test_airtightness_by_hand_where_infiltration_governs(house: Make, room: Make, loss: Make) -> None:
    survey = airtight(
        house,
        room("a", ventilation={"air_changes": 0.5, "exposed_openings": "several"}),
        room("b", ventilation={"air_changes": 0.5, "exposed_openings": "several"}, volume_m3=40),
        air_changes_at_50pa=12,
        shielding="none",
    )
    # V_inf = 2 · 60 · 12 · 0.05 = 72 and 2 · 40 · 12 · 0.05 = 48 m³/h, both above V_min of 30 and 20
    answer = loss(survey)
    assert rooms_of(answer) == pytest.approx([0.34 * 72 * 30, 0.34 * 48 * 30])
    # house: max(0.5 · 120, 50) = 60 m³/h: half of the rooms' sum
    assert answer["ventilation_w"] == pytest.approx(0.34 * 60 * 30)


def test_airtightness_by_hand_with_a_ventilation_system(
    house: Make, room: Make, loss: Make, warned: Make
) -> None:
    supply = {
        "air_changes": 0,
        "exposed_openings": "several",
        "supply_l_s": 10,
        "heat_recovery_efficiency": 0.8,
    }
    survey = airtight(
        house,
        room("a", ventilation=supply),
        room("b", ventilation={"air_changes": 0, "exposed_openings": "one", "extract_l_s": 15}, volume_m3=40),
    )
    # supply 36 m³/h · 0.2 = 7.2; extract beyond supply 5 l/s = 18 m³/h, shared 60 : 40 as 10.8 and 7.2
    # a: 14.4 + 7.2 + 10.8 = 32.4 m³/h; b: 6.4 + 0 + 7.2 = 13.6 m³/h
    answer = loss(survey)
    assert rooms_of(answer) == pytest.approx([0.34 * 32.4 * 30, 0.34 * 13.6 * 30])
    # house: 0.5 · (14.4 + 6.4) + 7.2 + 18 = 35.6 m³/h
    assert answer["ventilation_w"] == pytest.approx(0.34 * 35.6 * 30)
    assert warned(answer, "assumption.air_changes_exclude_mechanical") == []


def test_permeability_of_the_envelope_is_turned_into_air_changes(house: Make, room: Make, loss: Make) -> None:
    air = {"air_changes": 0, "exposed_openings": "several"}
    by_permeability = {"air_permeability_50pa_m3_h_m2": 5, "envelope_area_m2": 80}
    survey = airtight(
        house, room("a", ventilation=air), room("b", ventilation=air, volume_m3=40), **by_permeability
    )
    del survey["ventilation"]["air_changes_at_50pa"]
    # n50 = 5 · 80/100 = 4 per hour: 2 · 60 · 4 · 0.03 and 2 · 40 · 4 · 0.03 m³/h
    assert rooms_of(loss(survey)) == pytest.approx([0.34 * 14.4 * 30, 0.34 * 9.6 * 30])


@pytest.mark.parametrize(
    ("shielding", "openings", "coefficient"),
    [
        ("none", "none", 0),
        ("none", "one", 0.03),
        ("none", "several", 0.05),
        ("moderate", "none", 0),
        ("moderate", "one", 0.02),
        ("moderate", "several", 0.03),
        ("heavy", "none", 0),
        ("heavy", "one", 0.01),
        ("heavy", "several", 0.02),
    ],
)
def test_shielding_coefficients(
    shielding: str, openings: str, coefficient: float, house: Make, room: Make, loss: Make
) -> None:
    air = {"air_changes": 0, "exposed_openings": openings}
    answer = loss(airtight(house, room("a", ventilation=air), shielding=shielding))
    # EN 12831:2003 annex D, shielding coefficient e (from memory)
    assert rooms_of(answer) == pytest.approx([0.34 * 2 * 60 * 4 * coefficient * 30])


@pytest.mark.parametrize(
    ("height_m", "factor"), [(3, 1.0), (10, 1.0), (10.1, 1.2), (30, 1.2), (30.1, 1.5), (100, 1.5)]
)
def test_height_factors(height_m: float, factor: float, house: Make, room: Make, loss: Make) -> None:
    air = {"air_changes": 0, "exposed_openings": "several"}
    answer = loss(airtight(house, room("a", ventilation=air), height_above_ground_m=height_m))
    # EN 12831:2003 annex D, height correction factor ε (from memory)
    assert rooms_of(answer) == pytest.approx([0.34 * 14.4 * factor * 30])


def test_heights_beyond_the_table_are_not_covered(house: Make, room: Make, refused: Make) -> None:
    survey = airtight(house, room("a", ventilation={"air_changes": 0}), height_above_ground_m=100.5)
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/ventilation/height_above_ground_m", "not_covered")
    ]


@pytest.mark.parametrize(("count", "coefficient"), [(0, 0), (1, 0.02), (2, 0.03), (3, 0.03)])
def test_exposed_openings_are_counted_where_nothing_is_said(
    count: int, coefficient: float, house: Make, room: Make, element: Make, loss: Make, warned: Make
) -> None:
    def openings(prefix: str, number: int) -> list[Json]:
        return [{"id": f"{prefix}{i}", "construction": "half", "area_m2": 1} for i in range(number)]

    survey = airtight(
        house,
        room(
            "a",
            element("w", 10, "outside", openings=openings("o", count)),
            # openings to other places are not exposed to wind
            element("v", 10, {"to": "unheated_space", "temperature_c": 5}, openings=openings("p", 2)),
        ),
    )
    answer = loss(survey)
    assert rooms_of(answer) == pytest.approx([0.34 * 2 * 60 * 4 * coefficient * 30])
    assert warned(answer, "default.exposed_openings") == ["/house/rooms/0/ventilation/exposed_openings"]


def test_air_through_flues_is_added_to_room_and_house(house: Make, room: Make, loss: Make) -> None:
    air = {"air_changes": 0.5, "exposed_openings": "none"}
    survey = airtight(house, room("a", ventilation=air, flues=[{"kind": "open_flue", "air_l_s": 10}]))
    answer = loss(survey)
    assert rooms_of(answer) == pytest.approx([0.34 * (30 + 36) * 30])
    assert answer["ventilation_w"] == pytest.approx(0.34 * (30 + 36) * 30)


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({}, "incomplete"),
        ({"air_permeability_50pa_m3_h_m2": 5}, "incomplete"),
        ({"envelope_area_m2": 100}, "incomplete"),
        ({"air_changes_at_50pa": 4, "envelope_area_m2": 100}, "ambiguous"),
        (
            {"air_changes_at_50pa": 4, "air_permeability_50pa_m3_h_m2": 5, "envelope_area_m2": 100},
            "ambiguous",
        ),
    ],
)
def test_airtightness_is_given_in_one_way(
    given: Json, code: str, house: Make, room: Make, refused: Make
) -> None:
    survey = airtight(house, room("a"))
    del survey["ventilation"]["air_changes_at_50pa"]
    survey["ventilation"] |= given
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/ventilation/air_changes_at_50pa", code)
    ]


def test_an_edition_that_nobody_saw_is_refused(house: Make, room: Make, refused: Make) -> None:
    survey = airtight(house, room("a"), edition="2017")
    assert refused(warmstead.house_loss, {"house": survey}) == [
        ("/house/ventilation/edition", "unknown_choice")
    ]
