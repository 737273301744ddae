"""Layered constructions as surveyed: air layers by class and edition, tapers, corrections, materials, limits."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest

import warmstead
from warmstead.tables import table

Json = dict[str, Any]
Make = Callable[..., Any]

# Surfaces of ISO 6946:2017 table 7 (from memory): inside 0.13 horizontal, 0.10 upwards; outside 0.04. An unventilated air
# layer of 25 mm or more, heat flow horizontal, is 0.18 m²K/W (table 8, from memory).
RSI, RSI_UP, RSE, AIR = 0.13, 0.10, 0.04, 0.18


def resistance(value: float) -> Json:
    return {"kind": "resistance", "resistance_m2k_w": value}


def air(ventilation: str, openings: float | None = None, **changes: Any) -> Json:
    layer = {"kind": "air", "thickness_mm": 50, "ventilation": ventilation, **changes}
    return layer if openings is None else layer | {"openings_mm2_per_m": openings}


def ask(*layers: Json, heat_flow: str = "horizontal", **changes: Any) -> Json:
    construction = {"kind": "layered", "heat_flow": heat_flow, "layers": list(layers), **changes}
    answer: Json = warmstead.u_value({"construction": construction})
    return answer


def total(*layers: Json, **changes: Any) -> float:
    return 1 / float(ask(*layers, **changes)["u_value_w_m2k"])


def codes(answer: Json) -> list[str]:
    return [warning["code"] for warning in answer["warnings"]]


# --- Air layers -----------------------------------------------------------------------------------


def test_an_unventilated_air_layer_is_a_layer_among_others() -> None:
    assert total(resistance(1), air("unventilated"), resistance(0.2)) == pytest.approx(
        RSI + 1 + AIR + 0.2 + RSE
    )


def test_a_well_ventilated_air_layer_cuts_off_what_is_outside_it() -> None:
    answer = ask(resistance(1), air("well_ventilated"), resistance(5), air("unventilated"), resistance(7))
    # nothing from the air layer on counts, and the surface towards it is sheltered: Rse = Rsi
    assert answer["total_resistance_m2k_w"] == pytest.approx(RSI + 1 + RSI)
    assert [layer["resistance_m2k_w"] for layer in answer["layers"]] == [1, 0, 0, 0, 0]
    assert math.fsum(layer["share"] for layer in answer["layers"]) == pytest.approx(1 / 1.26)


def test_the_innermost_of_two_well_ventilated_air_layers_cuts_off() -> None:
    layers = [resistance(1), air("well_ventilated"), resistance(2), air("well_ventilated"), resistance(3)]
    assert total(*layers) == pytest.approx(RSI + 1 + RSI)


def test_what_is_outside_a_well_ventilated_air_layer_may_be_bridged() -> None:
    clad = {
        "kind": "solid",
        "thickness_mm": 100,
        "conductivity_w_mk": 0.04,
        "bridges": [{"fraction": 0.2, "conductivity_w_mk": 0.13}],
    }
    answer = ask(resistance(1), air("well_ventilated"), clad)
    assert answer["total_resistance_m2k_w"] == pytest.approx(RSI + 1 + RSI)
    assert "upper_limit_m2k_w" not in answer


def test_a_surface_resistance_beside_a_well_ventilated_air_layer_is_told(warned: Make) -> None:
    layers = [resistance(1), air("well_ventilated"), resistance(5)]
    told = ask(*layers, external_surface_resistance_m2k_w=0.08)
    assert warned(told, "assumption.surface_resistance_replaced") == [
        "/construction/external_surface_resistance_m2k_w"
    ]
    assert told["total_resistance_m2k_w"] == pytest.approx(RSI + 1 + RSI)
    assert warned(ask(*layers), "assumption.surface_resistance_replaced") == []


@pytest.mark.parametrize("openings", [500, 750, 1000, 1234, 1500])
def test_a_slightly_ventilated_air_layer_lies_between_its_two_ends(openings: float) -> None:
    inner, outer = resistance(1), resistance(0.4)
    # ISO 6946:2017, 6.9.3 (from memory): (1500 − Av)/1000 · RT,u + (Av − 500)/1000 · RT,v
    unventilated = RSI + 1 + AIR + 0.4 + RSE
    well_ventilated = RSI + 1 + RSI
    wanted = (1500 - openings) / 1000 * unventilated + (openings - 500) / 1000 * well_ventilated
    assert total(inner, air("slightly_ventilated", openings), outer) == pytest.approx(wanted)
    assert total(inner, air("unventilated"), outer) == pytest.approx(unventilated)
    assert total(inner, air("well_ventilated"), outer) == pytest.approx(well_ventilated)


def test_openings_of_a_roof_count_by_area() -> None:
    layer = air("slightly_ventilated", openings_mm2_per_m2=1500)
    assert total(resistance(1), layer, resistance(2), heat_flow="upwards") == pytest.approx(
        RSI_UP + 1 + RSI_UP
    )


def test_a_slightly_ventilated_air_layer_by_the_first_edition() -> None:
    # ISO 6946:1996, 5.3.3 (from memory): half the air layer's resistance, at most 0.15 m²K/W outside it
    layer = air("slightly_ventilated", 1000)
    assert total(resistance(1), layer, resistance(0.1), edition="1996") == pytest.approx(
        RSI + 1 + AIR / 2 + 0.1 + RSE
    )
    assert total(resistance(1), layer, resistance(0.4), edition="1996") == pytest.approx(
        RSI + 1 + AIR / 2 + 0.15 + RSE
    )
    assert total(resistance(1), layer, resistance(0.1), resistance(0.4), edition="1996") == pytest.approx(
        RSI + 1 + AIR / 2 + 0.15 + RSE
    )


def test_the_editions_differ_by_the_slightly_ventilated_air_layer_only() -> None:
    layers = [resistance(1), air("unventilated"), resistance(0.5)]
    assert total(*layers, edition="1996") == total(*layers, edition="2017") == total(*layers)
    layers[1] = air("well_ventilated")
    assert total(*layers, edition="1996") == total(*layers, edition="2017") == total(*layers)
    layers[1] = air("slightly_ventilated", 1000)
    assert total(*layers, edition="2017") == total(*layers)
    assert total(*layers, edition="1996") != pytest.approx(total(*layers))


@pytest.mark.parametrize("where", ["inside", "outside"])
def test_the_first_edition_beside_a_well_ventilated_air_layer(where: str) -> None:
    slightly, well = air("slightly_ventilated", 1000), air("well_ventilated")
    if where == "inside":  # cut off before the slightly ventilated one is reached
        layers = [resistance(1), well, resistance(2), slightly, resistance(3)]
        assert total(*layers, edition="1996") == pytest.approx(RSI + 1 + RSI)
    else:  # the outside begins at the well-ventilated one: half the inner air layer, then 0.1, then R_si once more
        layers = [resistance(1), slightly, resistance(0.1), well, resistance(3)]
        assert total(*layers, edition="1996") == pytest.approx(RSI + 1 + AIR / 2 + 0.1 + RSI)


@pytest.mark.parametrize(
    ("ventilation", "openings", "taken"),
    [
        ("unventilated", 0, True),
        ("unventilated", 500, True),
        ("unventilated", 501, False),
        ("slightly_ventilated", 499, False),
        ("slightly_ventilated", 500, True),
        ("slightly_ventilated", 1500, True),
        ("slightly_ventilated", 1501, False),
        ("well_ventilated", 1499, False),
        ("well_ventilated", 1500, True),
    ],
)
def test_openings_fit_the_class_of_the_air_layer(
    ventilation: str, openings: float, taken: bool, refused: Make
) -> None:
    layers = [resistance(1), air(ventilation, openings), resistance(1)]
    construction = {"kind": "layered", "heat_flow": "horizontal", "layers": layers}
    if taken:
        warmstead.u_value({"construction": construction})
    else:
        assert refused(warmstead.u_value, {"construction": construction}) == [
            ("/construction/layers/1/openings_mm2_per_m", "contradiction")
        ]


def test_openings_are_given_in_one_way(refused: Make) -> None:
    layer = air("slightly_ventilated", 1000, openings_mm2_per_m2=1000)
    construction = {"kind": "layered", "heat_flow": "horizontal", "layers": [resistance(1), layer]}
    assert refused(warmstead.u_value, {"construction": construction}) == [
        ("/construction/layers/1/openings_mm2_per_m2", "ambiguous")
    ]


def test_a_reflective_air_layer_resists_more() -> None:
    plain = total(air("unventilated"), resistance(0.5))
    shiny = total(air("unventilated", emissivity=0.1), resistance(0.5))
    # ISO 6946:2017 annex D (from memory): h_a = 1.25, h_r = E · 4 σ T³ at 10 °C, 1/E = 1/0.1 + 1/0.9 − 1
    radiation = 1 / (1 / 0.1 + 1 / 0.9 - 1) * 4 * 5.67e-8 * 283.15**3
    assert shiny - plain == pytest.approx(1 / (1.25 + radiation) - AIR, abs=1e-6)


# --- Tapered layers -------------------------------------------------------------------------------

R0 = RSI_UP + 0.5 + 0.02 / 0.04 + RSE
"""Surfaces, the layer below, and 20 mm of 0.04 W/(m·K), which is everywhere."""
R2 = 0.1 / 0.04
"""100 mm more at the thickest place."""


def taper(shape: str, **changes: Any) -> Json:
    return {
        "kind": "tapered",
        "shape": shape,
        "minimum_thickness_mm": 20,
        "maximum_thickness_mm": 120,
        "conductivity_w_mk": 0.04,
        **changes,
    }


@pytest.mark.parametrize(
    ("shape", "u_value"),
    # ISO 6946:2017 annex E (from memory), with R0 = 1.14 and R2 = 2.5 m²K/W
    [
        ("rectangle", math.log(1 + R2 / R0) / R2),
        ("triangle_thickest_at_apex", 2 / R2 * ((1 + R0 / R2) * math.log(1 + R2 / R0) - 1)),
        ("triangle_thinnest_at_apex", 2 / R2 * (1 - R0 / R2 * math.log(1 + R2 / R0))),
    ],
)
def test_a_tapered_layer_by_the_shape_of_its_plan(shape: str, u_value: float) -> None:
    answer = ask(resistance(0.5), taper(shape), heat_flow="upwards")
    assert answer["u_value_w_m2k"] == pytest.approx(u_value)
    # what is told of the layer fits the whole
    assert math.fsum(layer["resistance_m2k_w"] for layer in answer["layers"]) == pytest.approx(
        1 / u_value - RSI_UP - RSE
    )
    assert answer["total_resistance_m2k_w"] == pytest.approx(1 / u_value)


def test_a_tapered_layer_of_three_thicknesses() -> None:
    answer = ask(
        resistance(0.5),
        taper("triangle_three_thicknesses", intermediate_thickness_mm=60),
        heat_flow="upwards",
    )
    r1 = 0.04 / 0.04
    # ISO 6946:2017 annex E (from memory):
    # U = 2 [R0 R1 ln(1 + R2/R0) − R0 R2 ln(1 + R1/R0) + R1 R2 ln((R0 + R2)/(R0 + R1))]/(R1 R2 (R2 − R1))
    wanted = (
        2
        * (
            R0 * r1 * math.log(1 + R2 / R0)
            - R0 * R2 * math.log(1 + r1 / R0)
            + r1 * R2 * math.log((R0 + R2) / (R0 + r1))
        )
        / (r1 * R2 * (R2 - r1))
    )
    assert answer["u_value_w_m2k"] == pytest.approx(wanted)


def test_a_tapered_layer_of_one_thickness_is_a_layer() -> None:
    flat = taper("rectangle", minimum_thickness_mm=100, maximum_thickness_mm=100)
    assert total(resistance(0.5), flat, heat_flow="upwards") == pytest.approx(RSI_UP + 0.5 + 2.5 + RSE)


@pytest.mark.parametrize(
    ("changes", "member", "code"),
    [
        ({"maximum_thickness_mm": 10}, "maximum_thickness_mm", "contradiction"),
        ({"intermediate_thickness_mm": 60}, "intermediate_thickness_mm", "not_allowed_here"),
        ({"shape": "triangle_three_thicknesses"}, "intermediate_thickness_mm", "incomplete"),
        (
            {"shape": "triangle_three_thicknesses", "intermediate_thickness_mm": 130},
            "intermediate_thickness_mm",
            "contradiction",
        ),
        ({"material": "steel"}, "conductivity_w_mk", "ambiguous"),
    ],
)
def test_a_tapered_layer_that_contradicts_itself(
    changes: Json, member: str, code: str, refused: Make
) -> None:
    construction = {"kind": "layered", "heat_flow": "upwards", "layers": [taper("rectangle") | changes]}
    assert refused(warmstead.u_value, {"construction": construction}) == [
        (f"/construction/layers/0/{member}", code)
    ]


def test_one_tapered_layer_is_covered_and_no_ventilated_air_beside_it(refused: Make) -> None:
    construction = {"kind": "layered", "heat_flow": "upwards", "layers": [taper("rectangle")] * 2}
    assert refused(warmstead.u_value, {"construction": construction}) == [
        ("/construction/layers/1", "not_covered")
    ]
    construction["layers"] = [air("slightly_ventilated", 1000), taper("rectangle")]
    ((_, code),) = refused(warmstead.u_value, {"construction": construction})
    assert code == "not_covered"


# --- Corrections ----------------------------------------------------------------------------------


def insulated(resistance_of_insulation: float, thickness_mm: float = 120) -> list[Json]:
    """Return a layer of insulation, and as much besides as makes the whole 4 m²K/W."""
    conductivity = thickness_mm / 1000 / resistance_of_insulation
    solid = {"kind": "solid", "thickness_mm": thickness_mm, "conductivity_w_mk": conductivity}
    return [solid, resistance(4 - RSI - RSE - resistance_of_insulation)]


def test_corrections_under_3_percent_are_left_out_and_told(warned: Make) -> None:
    # ISO 6946:2017 annex F (from memory): ΔU = 0.01 · (R1/RT)²; U = 0.25, of which 3 % are 0.0075
    answer = ask(
        *insulated(3), corrections={"air_gaps": {"layer": 0, "level": 1}}
    )  # 0.01 · 0.5625 = 0.005625
    assert answer["u_value_w_m2k"] == pytest.approx(0.25)
    assert answer["correction_w_m2k"] == 0
    assert warned(answer, "assumption.correction_left_out") == ["/construction/corrections"]


def test_corrections_of_3_percent_and_more_are_in_the_u_value(warned: Make) -> None:
    answer = ask(*insulated(3.6), corrections={"air_gaps": {"layer": 0, "level": 1}})  # 0.01 · 0.81 = 0.0081
    assert answer["correction_w_m2k"] == pytest.approx(0.0081)
    assert answer["u_value_w_m2k"] == pytest.approx(0.2581)
    assert answer["total_resistance_m2k_w"] == pytest.approx(4)
    assert warned(answer, "assumption.correction_left_out") == []


def test_small_corrections_count_where_they_are_3_percent_together() -> None:
    fastener = {"layer": 0, "conductivity_w_mk": 17, "cross_section_mm2": 12, "count_per_m2": 4}
    both = {"air_gaps": {"layer": 0, "level": 1}, "fasteners": [fastener]}
    # R1/RT = 0.75; gaps 0.005625; fasteners 0.8 · 17 · 12e-6 · 4/0.12 · 0.5625 = 0.00306; together 0.008685 > 0.0075
    gaps, ties = 0.005625, 0.8 * 17 * 12e-6 * 4 / 0.12 * 0.5625
    assert max(gaps, ties) < 0.0075 < gaps + ties
    assert ask(*insulated(3), corrections={"fasteners": [fastener]})["correction_w_m2k"] == 0
    assert ask(*insulated(3), corrections=both)["correction_w_m2k"] == pytest.approx(gaps + ties)


def test_fasteners_that_are_recessed_count_less() -> None:
    fastener = {"layer": 0, "conductivity_w_mk": 50, "cross_section_mm2": 20, "count_per_m2": 5}
    through = ask(*insulated(3), corrections={"fasteners": [fastener]})
    recessed = ask(*insulated(3), corrections={"fasteners": [fastener | {"penetration_mm": 60}]})
    # ISO 6946:2017 annex F (from memory): α = 0.8 · d1/d0
    assert through["correction_w_m2k"] == pytest.approx(0.8 * 50 * 20e-6 * 5 / 0.12 * 0.5625)
    assert recessed["correction_w_m2k"] == pytest.approx(through["correction_w_m2k"] / 2)


def test_rain_on_an_inverted_roof() -> None:
    roof = {"layer": 0, "rainfall_mm_per_day": 3, "drainage_factor": 1, "heat_loss_factor": 0.04}
    layers = insulated(3.6)
    layers[1] = resistance(4 - RSI_UP - RSE - 3.6)
    answer = ask(*layers, heat_flow="upwards", corrections={"inverted_roof": roof})
    # ISO 6946:2017 annex F (from memory): p · f · x · (R1/RT)²
    assert answer["correction_w_m2k"] == pytest.approx(3 * 0.04 * 0.81)
    assert answer["u_value_w_m2k"] == pytest.approx(0.25 + 3 * 0.04 * 0.81)


def test_no_gaps_are_no_correction(warned: Make) -> None:
    answer = ask(*insulated(3), corrections={"air_gaps": {"layer": 0, "level": 0}})
    assert answer["correction_w_m2k"] == 0
    assert warned(answer, "assumption.correction_left_out") == []
    assert "correction_w_m2k" not in ask(*insulated(3))


@pytest.mark.parametrize(
    ("corrections", "pointer", "code"),
    [
        ({"air_gaps": {"layer": 5, "level": 1}}, "/air_gaps/layer", "not_found"),
        (
            {
                "fasteners": [
                    {"layer": 1, "conductivity_w_mk": 50, "cross_section_mm2": 20, "count_per_m2": 5}
                ]
            },
            "/fasteners/0/layer",
            "contradiction",
        ),
        (
            {
                "fasteners": [
                    {
                        "layer": 0,
                        "conductivity_w_mk": 50,
                        "cross_section_mm2": 20,
                        "count_per_m2": 5,
                        "penetration_mm": 121,
                    }
                ]
            },
            "/fasteners/0/penetration_mm",
            "contradiction",
        ),
        (
            {
                "inverted_roof": {
                    "layer": 9,
                    "rainfall_mm_per_day": 3,
                    "drainage_factor": 1,
                    "heat_loss_factor": 0.04,
                }
            },
            "/inverted_roof/layer",
            "not_found",
        ),
    ],
)
def test_corrections_are_of_layers_that_are_there(
    corrections: Json, pointer: str, code: str, refused: Make
) -> None:
    construction = {
        "kind": "layered",
        "heat_flow": "horizontal",
        "layers": insulated(3),
        "corrections": corrections,
    }
    assert refused(warmstead.u_value, {"construction": construction}) == [
        (f"/construction/corrections{pointer}", code)
    ]


# --- Bridges, materials, limits -------------------------------------------------------------------


def solid(conductivity: float, thickness_mm: float = 100, **changes: Any) -> Json:
    return {"kind": "solid", "thickness_mm": thickness_mm, "conductivity_w_mk": conductivity, **changes}


def test_bridges_of_one_layer_by_hand() -> None:
    layer = solid(0.04, bridges=[{"fraction": 0.2, "conductivity_w_mk": 0.13}])
    answer = ask(resistance(0.1), layer)
    # ISO 6946:2017, 6.7.2 (from memory): sections of 0.27 + 2.5 and 0.27 + 0.1/0.13 m²K/W
    upper = 1 / (0.8 / 2.77 + 0.2 / (0.27 + 0.1 / 0.13))
    lower = 0.27 + 1 / (0.8 / 2.5 + 0.2 * 1.3)
    assert answer["upper_limit_m2k_w"] == pytest.approx(upper)
    assert answer["lower_limit_m2k_w"] == pytest.approx(lower)
    assert answer["total_resistance_m2k_w"] == pytest.approx((upper + lower) / 2)
    assert answer["relative_error"] == pytest.approx((upper - lower) / (upper + lower))


def test_limits_that_lie_far_apart_are_a_caution(warned: Make) -> None:
    layer = solid(0.03, 300, bridges=[{"fraction": 0.1, "conductivity_w_mk": 9.9}])
    answer = ask(layer)
    assert answer["upper_limit_m2k_w"] > 1.5 * answer["lower_limit_m2k_w"]
    assert warned(answer, "caution.method_limit") == ["/construction"]
    mild = ask(solid(0.04, bridges=[{"fraction": 0.2, "conductivity_w_mk": 0.13}]))
    assert mild["upper_limit_m2k_w"] < 1.5 * mild["lower_limit_m2k_w"]
    assert warned(mild, "caution.method_limit") == []


def test_a_bridge_of_metal_is_a_caution(warned: Make) -> None:
    answer = ask(solid(0.04, bridges=[{"fraction": 0.0001, "conductivity_w_mk": 50}]))
    assert "/construction/layers/0/bridges/0" in warned(answer, "caution.method_limit")


def test_a_bridge_of_a_metal_by_material_is_a_caution(warned: Make) -> None:
    metal = next(row for row in table("materials").rows if row["group"] == "metal")
    answer = ask(solid(0.04, bridges=[{"fraction": 0.0001, "material": metal["id"]}]))
    assert "/construction/layers/0/bridges/0" in warned(answer, "caution.method_limit")


def test_a_material_stands_for_its_conductivity(warned: Make) -> None:
    seen = next(row for row in table("materials").rows if row["provenance"] == "published_table")
    remembered = next(row for row in table("materials").rows if row["provenance"] == "from_memory")
    for row in (seen, remembered):
        layer = {"kind": "solid", "thickness_mm": 100, "material": row["id"]}
        answer = ask(layer)
        assert answer["total_resistance_m2k_w"] == pytest.approx(
            RSI + 0.1 / float(row["conductivity_w_mk"]) + RSE
        )
        told = warned(answer, "memory.table_row")
        assert told == (["/construction/layers/0/material"] if row is remembered else [])


@pytest.mark.parametrize(
    ("layer", "pointer", "code"),
    [
        ({"kind": "solid", "thickness_mm": 100}, "/conductivity_w_mk", "incomplete"),
        (solid(0.5, material="x"), "/conductivity_w_mk", "ambiguous"),
        ({"kind": "solid", "thickness_mm": 100, "material": "unobtainium"}, "/material", "not_found"),
        (solid(0.5, bridges=[{"fraction": 0.1}]), "/bridges/0/conductivity_w_mk", "incomplete"),
        (
            solid(0.5, bridges=[{"fraction": 0.1, "material": "unobtainium"}]),
            "/bridges/0/material",
            "not_found",
        ),
        (
            solid(
                0.5,
                bridges=[
                    {"fraction": 0.6, "conductivity_w_mk": 1},
                    {"fraction": 0.4, "conductivity_w_mk": 2},
                ],
            ),
            "/bridges",
            "contradiction",
        ),
    ],
)
def test_a_layer_says_in_one_way_what_it_is_made_of(
    layer: Json, pointer: str, code: str, refused: Make
) -> None:
    construction = {"kind": "layered", "heat_flow": "horizontal", "layers": [layer]}
    assert refused(warmstead.u_value, {"construction": construction}) == [
        (f"/construction/layers/0{pointer}", code)
    ]


def test_a_component_without_resistance_is_refused(refused: Make) -> None:
    construction = {
        "kind": "layered",
        "heat_flow": "horizontal",
        "layers": [resistance(0)],
        "internal_surface_resistance_m2k_w": 0,
        "external_surface_resistance_m2k_w": 0,
    }
    assert len(refused(warmstead.u_value, {"construction": construction})) == 1
    for tiny in (1e-320, 1e-300, 1e-30):
        construction["layers"] = [resistance(tiny)]
        assert len(refused(warmstead.u_value, {"construction": construction})) == 1


@pytest.mark.parametrize(
    ("layers", "code"),
    [
        # the insulation is on the inside of the bricks, between two leaves, or outside
        ([solid(0.035), solid(0.77, 215)], "caution.internal_insulation"),
        ([solid(0.77, 102), solid(0.035), solid(0.77, 102)], "caution.filled_cavity"),
        ([solid(0.77, 215), solid(0.035)], None),
        ([solid(0.77, 215)], None),
    ],
)
def test_damp_is_a_caution_where_insulation_stands_inside_masonry(
    layers: list[Json], code: str | None
) -> None:
    told = {found for found in codes(ask(*layers)) if found.startswith("caution.")}
    assert told == ({code} if code else set())


# --- The thickness that is required ---------------------------------------------------------------


@pytest.mark.parametrize("target", [1.0, 0.5, 0.3, 0.2, 0.15])
def test_the_required_thickness_reaches_its_target(target: float) -> None:
    construction = {
        "kind": "layered",
        "heat_flow": "horizontal",
        "layers": [solid(0.5, 200), solid(0.04, 1)],
    }
    answer = warmstead.required_thickness(
        {"construction": construction, "layer": 1, "target_u_value_w_m2k": target}
    )
    # R = 1/U − 0.13 − 0.4 − 0.04
    assert answer["thickness_mm"] == pytest.approx((1 / target - 0.57) * 0.04 * 1000)
    assert answer["u_value_w_m2k"] == pytest.approx(target)
