"""ISO 6946 against published examples, independent numerical solutions, and what holds for any component."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING, Any, get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import dblquad, quad
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from warmstead.standards.errors import MethodError, NotPhysical, OutOfScope
from warmstead.standards.iso_6946 import (
    MAXIMUM_SECTIONS,
    Bridge,
    HeatFlow,
    Layer,
    Section,
    TaperShape,
    air_gap_correction,
    correction_may_be_left_out,
    emissive_air_layer,
    fastener_correction,
    interface_temperatures,
    inverted_roof_correction,
    slightly_ventilated_1996,
    slightly_ventilated_total,
    stated,
    tabulated_air_layer,
    tapered_u_value,
    total_resistance,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

QUICK = settings(max_examples=60, deadline=None)


def agrees(value: float, printed: str) -> bool:
    """Within half a unit of the last printed place."""
    places = len(printed.partition(".")[2])
    return abs(value - float(printed)) <= 0.5 * 10.0**-places + 1e-12


def refused(call: Callable[[], object], kind: type[MethodError], field: str) -> None:
    with pytest.raises(kind) as caught:
        call()
    assert caught.value.field == field
    assert caught.value.limit
    assert "ISO 6946" in caught.value.clause


# --- Published components --------------------------------------------------------------------------


def test_timber_frame_wall() -> None:
    # Scottish building standards guidance, annex 6.B, worked example 6.B.2 (read in a transcription, as
    # recorded in the project's list of evidence). The source rounds each resistance first, and those are
    # entered here.
    wall = [
        Layer(0.060),
        Layer(3.500, (Bridge(0.15, 1.167),)),
        Layer(0.069),
        Layer(0.18),
        Layer(0.132),
    ]
    result = total_resistance(wall, 0.13, 0.04)
    assert agrees(result.upper_m2k_w, "3.435")
    assert agrees(result.lower_m2k_w, "3.304")
    assert stated(1.0 / result.total_m2k_w) == "0.30"


def test_solid_brick_wall() -> None:
    # conserveandsave.co.uk, Calculations, page "Wall U-values", double thickness brick wall without air
    # gap (read): the resistances from inside to outside air as printed there, their sum 0.54 and U 1.85.
    wall = [Layer(0.02), Layer(0.18), Layer(0.13), Layer(0.04)]
    result = total_resistance(wall, 0.13, 0.04)
    assert agrees(result.total_m2k_w, "0.54")
    assert agrees(1.0 / result.total_m2k_w, "1.85")


def test_upper_limit_of_a_clad_brick_wall() -> None:
    # The same page, cladding on battens: 1/(0.9/0.59 + 0.1/0.88) = 0.61. Sheltered air beside the battens
    # counts 0.13 there, so 0.09 more than the outside surface.
    wall = [Layer(0.02), Layer(0.18), Layer(0.13), Layer(0.09, (Bridge(0.1, 0.38),))]
    assert agrees(total_resistance(wall, 0.13, 0.04).upper_m2k_w, "0.61")


# Building textbook, table of the thickness of continuous roof insulation, surfaces 0.10 and 0.04 only (as
# recorded in the project's list of evidence, there marked as read): U-value → mm for each conductivity.
CONDUCTIVITIES = (0.020, 0.025, 0.030, 0.035, 0.040, 0.045, 0.050)
ROOF_INSULATION_MM = {
    0.15: (131, 163, 196, 228, 261, 294, 326),
    0.20: (97, 122, 146, 170, 194, 219, 243),
    0.25: (77, 97, 116, 135, 154, 174, 193),
    0.30: (64, 80, 96, 112, 128, 144, 160),
    0.35: (54, 68, 82, 95, 109, 122, 136),
    0.40: (47, 59, 71, 83, 94, 106, 118),
}


@pytest.mark.parametrize("target", ROOF_INSULATION_MM)
def test_continuous_roof_insulation(target: float) -> None:
    for conductivity, printed_mm in zip(CONDUCTIVITIES, ROOF_INSULATION_MM[target], strict=True):
        thinner, thicker = (
            1.0
            / total_resistance([Layer((printed_mm + half) / 1000.0 / conductivity)], 0.10, 0.04).total_m2k_w
            for half in (-0.5, 0.5)
        )
        assert thicker - 1e-9 <= target <= thinner + 1e-9, (target, conductivity)


# --- What total resistance is made of --------------------------------------------------------------


def test_without_bridges_the_limits_are_one() -> None:
    result = total_resistance([Layer(0.1), Layer(2.3), Layer(0.7)], 0.13, 0.04)
    assert result.upper_m2k_w == result.lower_m2k_w == result.total_m2k_w
    assert result.relative_error == 0.0
    assert result.layer_resistances_m2k_w == (0.1, 2.3, 0.7)
    assert result.sections == (Section(1.0, (0.1, 2.3, 0.7)),)


def test_surfaces_alone() -> None:
    # By definition: nothing between the two surfaces.
    assert total_resistance([], 0.13, 0.04).total_m2k_w == pytest.approx(0.17)


def test_relative_error_is_half_the_spread_over_the_mean() -> None:
    result = total_resistance([Layer(4.0, (Bridge(0.1, 0.5),))], 0.10, 0.04)
    # By hand: upper 1/(0.9/4.14 + 0.1/0.64) = 2.676364, lower 0.14 + 1/(0.9/4 + 0.1/0.5) = 2.492941;
    # half their difference 0.091711 over their mean 2.584652.
    assert result.upper_m2k_w == pytest.approx(2.676364, abs=1e-6)
    assert result.lower_m2k_w == pytest.approx(2.492941, abs=1e-6)
    assert result.relative_error == pytest.approx(0.035483, abs=1e-6)


def test_crossing_bridges_multiply() -> None:
    layers = [Layer(2.0, (Bridge(0.1, 0.5),)), Layer(3.0, (Bridge(0.2, 0.8), Bridge(0.05, 0.3)))]
    result = total_resistance(layers, 0.13, 0.04)
    # By hand: each of two ways through the first layer with each of three through the second.
    expected = {
        (2.0, 3.0): 0.9 * 0.75,
        (2.0, 0.8): 0.9 * 0.2,
        (2.0, 0.3): 0.9 * 0.05,
        (0.5, 3.0): 0.1 * 0.75,
        (0.5, 0.8): 0.1 * 0.2,
        (0.5, 0.3): 0.1 * 0.05,
    }
    assert {
        section.resistances_m2k_w: pytest.approx(section.fraction) for section in result.sections
    } == expected
    conductance = sum(share / (0.17 + sum(through)) for through, share in expected.items())
    assert result.upper_m2k_w == pytest.approx(1.0 / conductance)


def test_one_stud_through_two_layers_is_counted_once() -> None:
    stud = "stud"
    layers = [
        Layer(2.5, (Bridge(0.15, 0.8, stud),)),
        Layer(1.0, (Bridge(0.10, 0.2),)),
        Layer(1.5, (Bridge(0.15, 0.5, stud), Bridge(0.17, 0.6))),
    ]
    result = total_resistance(layers, 0.13, 0.04)
    # By hand: in the stud's 0.15 it fills both its layers; in the other 0.85 its place in the third layer
    # is gone, and the second bridge has 0.17/0.85 = 0.2 of what is left.
    expected = {
        (0.8, 1.0, 0.5): 0.15 * 0.9,
        (0.8, 0.2, 0.5): 0.15 * 0.1,
        (2.5, 1.0, 1.5): 0.85 * 0.9 * 0.8,
        (2.5, 1.0, 0.6): 0.85 * 0.9 * 0.2,
        (2.5, 0.2, 1.5): 0.85 * 0.1 * 0.8,
        (2.5, 0.2, 0.6): 0.85 * 0.1 * 0.2,
    }
    assert {
        section.resistances_m2k_w: pytest.approx(section.fraction) for section in result.sections
    } == expected


def test_two_paths_side_by_side_in_two_layers() -> None:
    layers = [
        Layer(2.0, (Bridge(0.1, 0.5, "stud"), Bridge(0.2, 0.7, "plate"))),
        Layer(3.0, (Bridge(0.2, 0.9, "plate"), Bridge(0.1, 0.6, "stud"))),
    ]
    result = total_resistance(layers, 0.13, 0.04)
    # By hand: three ways, no mixed ones.
    expected = {(2.0, 3.0): 0.7, (0.5, 0.6): 0.1, (0.7, 0.9): 0.2}
    assert {
        section.resistances_m2k_w: pytest.approx(section.fraction) for section in result.sections
    } == expected


def test_paths_that_cross_and_lie_side_by_side_are_refused() -> None:
    layers = [
        Layer(2.0, (Bridge(0.1, 0.5, "stud"),)),
        Layer(3.0, (Bridge(0.2, 0.9, "batten"),)),
        Layer(1.0, (Bridge(0.1, 0.3, "stud"), Bridge(0.2, 0.4, "batten"))),
    ]
    refused(lambda: total_resistance(layers, 0.13, 0.04), NotPhysical, "layers/2/bridges")


def test_unequal_shares_of_one_path_are_refused() -> None:
    layers = [Layer(2.0, (Bridge(0.1, 0.5, "stud"),)), Layer(2.0, (Bridge(0.12, 0.5, "stud"),))]
    refused(lambda: total_resistance(layers, 0.13, 0.04), NotPhysical, "layers/1/bridges/0/fraction")


def test_a_path_named_twice_in_a_layer_is_refused() -> None:
    layers = [Layer(2.0, (Bridge(0.1, 0.5, "stud"), Bridge(0.1, 0.5, "stud")))]
    refused(lambda: total_resistance(layers, 0.13, 0.04), NotPhysical, "layers/0/bridges/1/path")


@pytest.mark.parametrize(
    ("layer", "field"),
    [
        (Layer(-0.1), "layers/1/resistance_m2k_w"),
        (Layer(math.nan), "layers/1/resistance_m2k_w"),
        (Layer(math.inf), "layers/1/resistance_m2k_w"),
        (Layer(0.0, (Bridge(0.1, 1.0),)), "layers/1/resistance_m2k_w"),
        (Layer(1.0, (Bridge(0.1, 0.0),)), "layers/1/bridges/0/resistance_m2k_w"),
        (Layer(1.0, (Bridge(-0.1, 1.0),)), "layers/1/bridges/0/fraction"),
        (Layer(1.0, (Bridge(0.6, 1.0), Bridge(0.4, 2.0))), "layers/1/bridges"),
    ],
)
def test_layers_that_cannot_be(layer: Layer, field: str) -> None:
    refused(lambda: total_resistance([Layer(1.0), layer], 0.13, 0.04), NotPhysical, field)


def test_no_resistance_at_all_is_refused() -> None:
    refused(lambda: total_resistance([Layer(0.0)], 0.0, 0.0), NotPhysical, "layers")


def test_surfaces_below_zero_are_refused() -> None:
    refused(lambda: total_resistance([Layer(1.0)], -0.13, 0.04), NotPhysical, "internal_surface_m2k_w")
    refused(lambda: total_resistance([Layer(1.0)], 0.13, -0.04), NotPhysical, "external_surface_m2k_w")


def test_the_number_of_sections_is_limited() -> None:
    bridged = Layer(1.0, (Bridge(0.1, 0.5),))
    # 2^7 = 128.
    assert len(total_resistance([bridged] * 7, 0.13, 0.04).sections) == MAXIMUM_SECTIONS == 128
    refused(lambda: total_resistance([bridged] * 8, 0.13, 0.04), OutOfScope, "layers")
    one_path = Layer(1.0, (Bridge(0.1, 0.5, "stud"),))
    assert len(total_resistance([one_path] * 40, 0.13, 0.04).sections) == 2


# --- Against the heat equation ---------------------------------------------------------------------


def true_resistance(
    thicknesses_m: Sequence[float],
    conductivities: np.ndarray[Any, Any],
    pitch_m: float,
    surfaces: tuple[float, float],
) -> float:
    """Surface to surface resistance by finite volumes; conductivities[layer, row, column] over one pitch."""
    cuts = 8
    grid = np.repeat(conductivities, cuts, axis=0)
    heights = np.repeat(np.asarray(thicknesses_m) / cuts, cuts)
    rows, columns = grid.shape[1:]
    width, breadth = pitch_m / columns, pitch_m / rows
    number = np.arange(grid.size).reshape(grid.shape)
    half = heights[:, None, None] / 2.0 / grid
    joints = [(number[:-1], number[1:], width * breadth / (half[:-1] + half[1:]))]
    thin = np.broadcast_to(heights[:, None, None], grid.shape)
    for axis, along, across in ((1, breadth, width), (2, width, breadth)):
        if grid.shape[axis] > 1:
            here = np.take(grid, range(grid.shape[axis] - 1), axis)
            there = np.take(grid, range(1, grid.shape[axis]), axis)
            face = np.take(thin, range(grid.shape[axis] - 1), axis) * across
            first = np.take(number, range(grid.shape[axis] - 1), axis)
            second = np.take(number, range(1, grid.shape[axis]), axis)
            joints.append((first, second, face / (along / 2.0 / here + along / 2.0 / there)))
    one = np.concatenate([joint[0].ravel() for joint in joints])
    other = np.concatenate([joint[1].ravel() for joint in joints])
    conductance = np.concatenate([joint[2].ravel() for joint in joints])
    to_inside = width * breadth / (surfaces[0] + half[0]).ravel()
    to_outside = width * breadth / (surfaces[1] + half[-1]).ravel()
    diagonal = np.zeros(grid.size)
    np.add.at(diagonal, one, conductance)
    np.add.at(diagonal, other, conductance)
    diagonal[number[0].ravel()] += to_inside
    diagonal[number[-1].ravel()] += to_outside
    source = np.zeros(grid.size)
    source[number[0].ravel()] = to_inside
    everyone = np.arange(grid.size)
    matrix = coo_matrix(
        (
            np.concatenate([-conductance, -conductance, diagonal]),
            (np.concatenate([one, other, everyone]), np.concatenate([other, one, everyone])),
        )
    ).tocsc()
    temperature = spsolve(matrix, source)
    heat = float(np.sum(to_outside * temperature[number[-1].ravel()]))
    return pitch_m * pitch_m / heat


def test_true_resistance_of_a_plain_wall() -> None:
    # The solver itself: 0.13 + 0.1/0.5 + 0.2/0.04 + 0.04.
    plain = np.array([0.5, 0.04])[:, None, None] * np.ones((2, 1, 5))
    assert true_resistance([0.1, 0.2], plain, 0.4, (0.13, 0.04)) == pytest.approx(5.37)


# Conductivities of no one material: a plasterboard, an insulation with studs of an eighth, a masonry.
BOARD, WOOL, STUD, MASONRY = 0.2, 0.035, 0.13, 0.8
THICKNESSES = (0.0125, 0.10, 0.05, 0.10)


def layer_of(
    thickness_m: float, conductivity: float, stud: str | None = None, bridged: bool = False
) -> Layer:
    bridges = (Bridge(0.125, thickness_m / STUD, stud),) if bridged else ()
    return Layer(thickness_m / conductivity, bridges)


def test_a_stud_wall_lies_between_the_limits() -> None:
    grid = np.ones((4, 1, 16)) * np.array([BOARD, WOOL, WOOL, MASONRY])[:, None, None]
    grid[1:3, :, :2] = STUD
    true = true_resistance(THICKNESSES, grid, 0.4, (0.13, 0.04))
    layers = [
        layer_of(0.0125, BOARD),
        layer_of(0.10, WOOL, "stud", bridged=True),
        layer_of(0.05, WOOL, "stud", bridged=True),
        layer_of(0.10, MASONRY),
    ]
    result = total_resistance(layers, 0.13, 0.04)
    assert result.lower_m2k_w < true < result.upper_m2k_w
    assert abs(result.total_m2k_w - true) / true < result.relative_error


def test_crossing_battens_lie_between_the_limits() -> None:
    grid = np.ones((4, 16, 16)) * np.array([BOARD, WOOL, WOOL, MASONRY])[:, None, None]
    grid[1, :, :2] = STUD
    grid[2, :2, :] = STUD
    true = true_resistance(THICKNESSES, grid, 0.4, (0.13, 0.04))
    layers = [
        layer_of(0.0125, BOARD),
        layer_of(0.10, WOOL, bridged=True),
        layer_of(0.05, WOOL, bridged=True),
        layer_of(0.10, MASONRY),
    ]
    result = total_resistance(layers, 0.13, 0.04)
    assert result.lower_m2k_w < true < result.upper_m2k_w
    assert abs(result.total_m2k_w - true) / true < result.relative_error


# --- What holds for any component ------------------------------------------------------------------

resistances = st.floats(0.01, 8.0)
fractions = st.floats(0.01, 0.4)
crossing_bridges = st.tuples(fractions, resistances).map(lambda values: Bridge(*values))
plain_layers = resistances.map(Layer)
bridged_layers = st.tuples(resistances, st.lists(crossing_bridges, min_size=1, max_size=2)).map(
    lambda values: Layer(values[0], tuple(values[1]))
)
components = st.lists(st.one_of(plain_layers, bridged_layers), min_size=1, max_size=5).filter(
    lambda layers: math.prod(1 + len(layer.bridges) for layer in layers) <= MAXIMUM_SECTIONS
)


@QUICK
@given(components)
def test_sections_are_every_way_through(layers: list[Layer]) -> None:
    result = total_resistance(layers, 0.13, 0.04)
    # Independent of the code: each choice of one material in each layer, with the product of their shares.
    through = [
        [(1.0 - sum(bridge.fraction for bridge in layer.bridges), layer.resistance_m2k_w)]
        + [(bridge.fraction, bridge.resistance_m2k_w) for bridge in layer.bridges]
        for layer in layers
    ]
    ways = list(itertools.product(*through))
    conductance = math.fsum(
        math.prod(share for share, _ in way) / (0.17 + math.fsum(resistance for _, resistance in way))
        for way in ways
    )
    assert len(result.sections) == len(ways)
    assert math.fsum(section.fraction for section in result.sections) == pytest.approx(1.0)
    assert result.upper_m2k_w == pytest.approx(1.0 / conductance)
    assert result.upper_m2k_w >= result.lower_m2k_w * (1.0 - 1e-12)


@QUICK
@given(components, st.integers(0, 4), resistances)
def test_more_insulation_never_loses_more(layers: list[Layer], which: int, added: float) -> None:
    index = which % len(layers)
    thicker = [*layers]
    factor = 1.0 + added
    old = layers[index]
    thicker[index] = Layer(
        old.resistance_m2k_w * factor,
        tuple(Bridge(bridge.fraction, bridge.resistance_m2k_w * factor) for bridge in old.bridges),
    )
    before, after = total_resistance(layers, 0.13, 0.04), total_resistance(thicker, 0.13, 0.04)
    assert after.total_m2k_w > before.total_m2k_w
    assert after.upper_m2k_w > before.upper_m2k_w
    assert after.lower_m2k_w > before.lower_m2k_w


@QUICK
@given(components, st.integers(0, 4), st.floats(0.1, 0.9))
def test_a_layer_cut_in_two_is_the_same_layer(layers: list[Layer], which: int, at: float) -> None:
    index = which % len(layers)
    whole = [*layers]
    # Only a path says that a bridge goes on in the other half.
    whole[index] = Layer(
        layers[index].resistance_m2k_w,
        tuple(
            Bridge(bridge.fraction, bridge.resistance_m2k_w, f"path {number}")
            for number, bridge in enumerate(layers[index].bridges)
        ),
    )
    halves = [
        Layer(
            whole[index].resistance_m2k_w * part,
            tuple(
                bridge._replace(resistance_m2k_w=bridge.resistance_m2k_w * part)
                for bridge in whole[index].bridges
            ),
        )
        for part in (at, 1.0 - at)
    ]
    uncut = total_resistance(whole, 0.13, 0.04)
    cut = total_resistance([*whole[:index], *halves, *whole[index + 1 :]], 0.13, 0.04)
    assert cut.upper_m2k_w == pytest.approx(uncut.upper_m2k_w)
    assert cut.lower_m2k_w == pytest.approx(uncut.lower_m2k_w)
    assert len(cut.sections) == len(uncut.sections)


@QUICK
@given(components, st.integers(0, 4), resistances)
def test_a_bridge_without_area_is_none(layers: list[Layer], which: int, resistance: float) -> None:
    index = which % len(layers)
    more = [*layers]
    more[index] = Layer(layers[index].resistance_m2k_w, (*layers[index].bridges, Bridge(0.0, resistance)))
    assert total_resistance(more, 0.13, 0.04) == total_resistance(layers, 0.13, 0.04)


@QUICK
@given(st.lists(resistances, min_size=2, max_size=4), fractions, st.floats(0.05, 0.95))
def test_a_shared_path_never_loses_less_than_crossing_ones(
    between: list[float], fraction: float, part: float
) -> None:
    def wall(path: str | None) -> list[Layer]:
        return [Layer(resistance, (Bridge(fraction, resistance * part, path),)) for resistance in between]

    shared, crossing = total_resistance(wall("stud"), 0.13, 0.04), total_resistance(wall(None), 0.13, 0.04)
    # The mean of a convex function is greater where the resistances in the way go together.
    assert shared.upper_m2k_w <= crossing.upper_m2k_w * (1.0 + 1e-12)
    assert shared.lower_m2k_w == crossing.lower_m2k_w
    assert len(shared.sections) == 2
    assert len(crossing.sections) == 2 ** len(between)


@QUICK
@given(
    st.floats(0.02, 0.3),
    st.floats(0.02, 0.3),
    st.floats(0.02, 0.3),
    st.lists(st.booleans(), min_size=2, max_size=5),
)
def test_each_bridge_has_its_share_in_each_layer(
    stud: float, batten: float, tie: float, with_stud: list[bool]
) -> None:
    layers = []
    for index, has_stud in enumerate(with_stud):
        # A resistance of its own for each material, to find it again in the sections.
        bridges = [Bridge(batten, 100.0 + index)]
        if has_stud:
            bridges += [Bridge(stud, 200.0 + index, "stud"), Bridge(tie, 300.0 + index, "tie")]
        layers.append(Layer(1.0 + index, tuple(bridges)))
    sections = total_resistance(layers, 0.13, 0.04).sections
    assert math.fsum(section.fraction for section in sections) == pytest.approx(1.0)
    for index, layer in enumerate(layers):
        for bridge in layer.bridges:
            share = math.fsum(
                section.fraction
                for section in sections
                if section.resistances_m2k_w[index] == bridge.resistance_m2k_w
            )
            assert share == pytest.approx(bridge.fraction)


# --- Air layers ------------------------------------------------------------------------------------

# Table of EN ISO 6946 as the Walloon Government's decree of 17 April 2008 sets it, annex VII, 5.4.2.2
# (read at energieplus-lesite.be, "Résistance thermique des couches d'air"): mm → up, horizontal, down.
AIR_LAYERS = {
    5: ("0.11", "0.11", "0.11"),
    7: ("0.13", "0.13", "0.13"),
    10: ("0.15", "0.15", "0.15"),
    15: ("0.16", "0.17", "0.17"),
    25: ("0.16", "0.18", "0.19"),
    50: ("0.16", "0.18", "0.21"),
    100: ("0.16", "0.18", "0.22"),
    300: ("0.16", "0.18", "0.23"),
}
DIRECTIONS: tuple[HeatFlow, ...] = ("upwards", "horizontal", "downwards")


def points_for(direction: HeatFlow) -> list[tuple[float, float]]:
    column = DIRECTIONS.index(direction)
    return [(0.0, 0.0), *((mm / 1000.0, float(row[column])) for mm, row in AIR_LAYERS.items())]


@pytest.mark.parametrize("direction", DIRECTIONS)
def test_the_formula_gives_the_table_of_air_layers(direction: HeatFlow) -> None:
    for mm, row in AIR_LAYERS.items():
        layer = emissive_air_layer(mm / 1000.0, direction, 0.9)
        assert agrees(layer.resistance_m2k_w, row[DIRECTIONS.index(direction)]), (mm, layer)
        assert layer.resistance_m2k_w == pytest.approx(1.0 / (layer.convective_w_m2k + layer.radiative_w_m2k))


@pytest.mark.parametrize("direction", DIRECTIONS)
def test_the_table_of_air_layers_at_its_rows(direction: HeatFlow) -> None:
    points = points_for(direction)
    for thickness, resistance in points:
        assert tabulated_air_layer(thickness, points) == resistance


def test_the_table_of_air_layers_between_its_rows() -> None:
    # By hand, downwards: halfway from 0 to 5 mm; a quarter of the way from 15 to 25; halfway from 100 to
    # 300.
    assert tabulated_air_layer(0.0025, points_for("downwards")) == pytest.approx(0.055)
    assert tabulated_air_layer(0.0175, points_for("downwards")) == pytest.approx(0.175)
    assert tabulated_air_layer(0.2, points_for("downwards")) == pytest.approx(0.225)


def test_air_layers_outside_the_method() -> None:
    points = points_for("horizontal")
    refused(lambda: tabulated_air_layer(0.301, points), OutOfScope, "thickness_m")
    refused(lambda: tabulated_air_layer(-0.01, points), NotPhysical, "thickness_m")
    refused(lambda: emissive_air_layer(0.301, "upwards", 0.9), OutOfScope, "thickness_m")
    refused(lambda: emissive_air_layer(0.0, "upwards", 0.9), NotPhysical, "thickness_m")
    refused(lambda: emissive_air_layer(0.05, "upwards", 0.0), NotPhysical, "emissivity")
    refused(lambda: emissive_air_layer(0.05, "upwards", 0.9, 1.1), NotPhysical, "opposite_emissivity")
    refused(lambda: emissive_air_layer(0.05, "upwards", 0.9, 0.9, -280.0), NotPhysical, "mean_temperature_c")


def test_a_reflecting_side() -> None:
    # By hand, 25 mm horizontal, 0.05 against 0.9, 10 °C: h_a = 1.25; E = 1/(20 + 1/0.9 − 1) = 0.049724;
    # 4 σ T³ = 4 · 5.67e-8 · 283.15³ = 5.14865; h_r = 0.256010; R = 1/1.506010 = 0.664006.
    layer = emissive_air_layer(0.025, "horizontal", 0.05)
    assert layer.convective_w_m2k == 1.25
    assert layer.radiative_w_m2k == pytest.approx(0.256010, abs=2e-6)
    assert layer.resistance_m2k_w == pytest.approx(0.664006, abs=2e-6)
    # By hand, 100 mm downwards (coefficients from memory): h_a = 0.12 · 0.1^−0.44 = 0.12 · 2.754229
    # = 0.330507; R = 1/(0.330507 + 0.256010) = 1.704980.
    thick = emissive_air_layer(0.1, "downwards", 0.05)
    assert thick.convective_w_m2k == pytest.approx(0.330507, abs=2e-6)
    assert thick.resistance_m2k_w == pytest.approx(1.704980, abs=1e-5)


@QUICK
@given(st.floats(0.001, 0.3), st.sampled_from(DIRECTIONS), st.floats(0.02, 1.0), st.floats(0.02, 1.0))
def test_either_side_of_an_air_layer_may_reflect(
    thickness: float, direction: HeatFlow, one: float, other: float
) -> None:
    layer = emissive_air_layer(thickness, direction, one, other)
    turned = emissive_air_layer(thickness, direction, other, one)
    assert layer.resistance_m2k_w == pytest.approx(turned.resistance_m2k_w)
    dull = emissive_air_layer(thickness, direction, 1.0, other)
    assert layer.resistance_m2k_w >= dull.resistance_m2k_w * (1.0 - 1e-12)


def test_slightly_ventilated_by_openings() -> None:
    # By definition at the ends; halfway the mean: (3.0 + 2.6)/2.
    assert slightly_ventilated_total(500.0, 3.0, 2.6) == 3.0
    assert slightly_ventilated_total(1500.0, 3.0, 2.6) == 2.6
    assert slightly_ventilated_total(1000.0, 3.0, 2.6) == pytest.approx(2.8)
    # By hand: 0.75 · 3.0 + 0.25 · 2.6.
    assert slightly_ventilated_total(750.0, 3.0, 2.6) == pytest.approx(2.9)
    refused(lambda: slightly_ventilated_total(499.0, 3.0, 2.6), OutOfScope, "openings_mm2")
    refused(lambda: slightly_ventilated_total(1501.0, 3.0, 2.6), OutOfScope, "openings_mm2")
    refused(lambda: slightly_ventilated_total(800.0, 0.0, 2.6), NotPhysical, "unventilated_total_m2k_w")
    refused(
        lambda: slightly_ventilated_total(800.0, 3.0, math.nan), NotPhysical, "well_ventilated_total_m2k_w"
    )


def test_slightly_ventilated_by_the_first_edition() -> None:
    # Half the table's value: the same page as the table. The cap of 0.15 outside it: from memory.
    assert slightly_ventilated_1996(0.18, 0.12) == (0.09, 0.12)
    assert slightly_ventilated_1996(0.18, 0.60) == (0.09, 0.15)
    refused(lambda: slightly_ventilated_1996(-0.18, 0.1), NotPhysical, "air_layer_resistance_m2k_w")
    refused(lambda: slightly_ventilated_1996(0.18, -0.1), NotPhysical, "outer_resistance_m2k_w")


# --- Tapered layers --------------------------------------------------------------------------------


def taper(shape: TaperShape, base: float, thickest: float, intermediate: float) -> float:
    between = intermediate if shape == "triangle_three_thicknesses" else None
    return tapered_u_value(shape, base, thickest, between)


def mean_over_the_plan(shape: TaperShape, base: float, thickest: float, intermediate: float) -> float:
    """The mean of 1/(R0 + r) by quadrature over the plan itself."""
    if shape == "rectangle":
        return float(quad(lambda s: 1.0 / (base + thickest * s), 0.0, 1.0, epsabs=1e-12)[0])
    corners = {
        "triangle_thickest_at_apex": (thickest, 0.0, 0.0),
        "triangle_thinnest_at_apex": (0.0, thickest, thickest),
        "triangle_three_thicknesses": (0.0, intermediate, thickest),
    }[shape]

    def conductance(y: float, x: float) -> float:
        return 1.0 / (base + corners[0] + (corners[1] - corners[0]) * x + (corners[2] - corners[0]) * y)

    return float(2.0 * dblquad(conductance, 0.0, 1.0, 0.0, lambda x: 1.0 - x, epsabs=1e-13)[0])


@pytest.mark.parametrize("shape", get_args(TaperShape))
@pytest.mark.parametrize(
    ("base", "thickest", "intermediate"),
    [
        (1.0, 3.0, 1.5),
        (0.5, 8.0, 0.4),
        (2.0, 2.0, 2.0),
        (0.2, 12.0, 11.9),
        (1.3, 0.12, 0.05),
        (1.3, 0.14, 0.135),
        (3.0, 1e-4, 2e-5),
        (3.0, 1e-9, 1e-10),
    ],
)
def test_taper_against_the_mean_over_its_plan(
    shape: TaperShape, base: float, thickest: float, intermediate: float
) -> None:
    expected = mean_over_the_plan(shape, base, thickest, intermediate)
    assert taper(shape, base, thickest, intermediate) == pytest.approx(expected, rel=1e-12)


def annex_formula(shape: TaperShape, base: float, thickest: float, intermediate: float) -> float:
    """As remembered from the annex; singular where resistances meet."""
    log = math.log(1.0 + thickest / base)
    if shape == "rectangle":
        return log / thickest
    if shape == "triangle_thickest_at_apex":
        return 2.0 / thickest * ((1.0 + base / thickest) * log - 1.0)
    if shape == "triangle_thinnest_at_apex":
        return 2.0 / thickest * (1.0 - base / thickest * log)
    return (
        2.0
        * (
            base * intermediate * log
            - base * thickest * math.log(1.0 + intermediate / base)
            + intermediate * thickest * math.log((base + thickest) / (base + intermediate))
        )
        / (intermediate * thickest * (thickest - intermediate))
    )


@pytest.mark.parametrize(
    ("shape", "printed"),
    [
        # The annex's formulas, from memory, with R0 1.0, thickest 3.0, intermediate 1.5; each also by
        # quadrature.
        ("rectangle", "0.4621"),
        ("triangle_thickest_at_apex", "0.5656"),
        ("triangle_thinnest_at_apex", "0.3586"),
        ("triangle_three_thicknesses", "0.4283"),
    ],
)
def test_taper_by_the_annex(shape: TaperShape, printed: str) -> None:
    assert agrees(taper(shape, 1.0, 3.0, 1.5), printed)
    assert taper(shape, 1.0, 3.0, 1.5) == pytest.approx(annex_formula(shape, 1.0, 3.0, 1.5), rel=1e-12)


def test_what_a_taper_loses_against_an_even_layer() -> None:
    # ASHRAE Transactions 117 (2011), part 1, "Determining the average R-value of tapered insulation",
    # abstract (read): by the ratio of resistances at the high and low points, 1 to 10, from 100 % to
    # about 70 %.
    def efficiency(ratio: float) -> float:
        return 1.0 / tapered_u_value("rectangle", 1.0, ratio - 1.0) / (0.5 * (1.0 + ratio))

    assert efficiency(1.0) == 1.0
    assert 0.65 <= efficiency(10.0) <= 0.75


@QUICK
@given(
    st.sampled_from(get_args(TaperShape)),
    st.floats(0.1, 10.0),
    st.floats(0.0, 20.0),
    st.floats(0.0, 1.0),
)
def test_taper_lies_between_its_ends(shape: TaperShape, base: float, thickest: float, part: float) -> None:
    u_value = taper(shape, base, thickest, part * thickest)
    assert 1.0 / (base + thickest) * (1.0 - 1e-12) <= u_value <= 1.0 / base * (1.0 + 1e-12)


@QUICK
@given(
    st.sampled_from(get_args(TaperShape)), st.floats(0.1, 10.0), st.floats(-16.0, 1.5), st.floats(0.0, 1.0)
)
def test_taper_has_no_steps(shape: TaperShape, base: float, exponent: float, part: float) -> None:
    thickest = 10.0**exponent
    near = thickest * (1.0 + 1e-7)
    u_value, beside = (taper(shape, base, value, part * value) for value in (thickest, near))
    # The slope of the mean is at most that of 1/R0; a step of the closed form would be larger.
    assert 0.0 <= u_value - beside + 4e-15 / base <= 1e-7 * thickest / base**2 + 8e-15 / base


@pytest.mark.parametrize("thickest", [1e-12, 1e-6, 0.0999999, 0.1, 0.1000001, 3.0, 1e6])
def test_taper_of_three_thicknesses_becomes_the_others(thickest: float) -> None:
    for shape, intermediate in (("triangle_thickest_at_apex", 0.0), ("triangle_thinnest_at_apex", thickest)):
        three = tapered_u_value("triangle_three_thicknesses", 1.0, thickest, intermediate)
        assert three == pytest.approx(taper(shape, 1.0, thickest, 0.0), rel=1e-14)  # type: ignore[arg-type]  # a shape by its name


@pytest.mark.parametrize("shape", get_args(TaperShape))
def test_no_taper_is_the_rest_alone(shape: TaperShape) -> None:
    assert taper(shape, 2.5, 0.0, 0.0) == 0.4
    # The mean of the two triangles is the rectangle they make up.
    both = taper("triangle_thickest_at_apex", 1.0, 3.0, 0.0) + taper(
        "triangle_thinnest_at_apex", 1.0, 3.0, 0.0
    )
    assert both / 2.0 == pytest.approx(taper("rectangle", 1.0, 3.0, 0.0))


def test_tapers_that_cannot_be() -> None:
    field = "intermediate_taper_resistance_m2k_w"
    refused(lambda: tapered_u_value("rectangle", 0.0, 1.0), NotPhysical, "base_resistance_m2k_w")
    refused(lambda: tapered_u_value("rectangle", 1.0, -1.0), NotPhysical, "taper_resistance_m2k_w")
    refused(lambda: tapered_u_value("rectangle", 1.0, 1.0, 0.5), NotPhysical, field)
    refused(lambda: tapered_u_value("triangle_three_thicknesses", 1.0, 1.0), NotPhysical, field)
    refused(lambda: tapered_u_value("triangle_three_thicknesses", 1.0, 1.0, 1.1), NotPhysical, field)


# --- Corrections -----------------------------------------------------------------------------------


def test_air_gaps() -> None:
    # Levels from memory; by hand: 0.01 · (2.5/3)² and 0.04 · (2.5/3)².
    assert air_gap_correction(0, 2.5, 3.0) == 0.0
    assert air_gap_correction(1, 2.5, 3.0) == pytest.approx(0.0069444, abs=5e-8)
    assert air_gap_correction(2, 2.5, 3.0) == pytest.approx(0.0277778, abs=5e-8)
    refused(lambda: air_gap_correction(3, 2.5, 3.0), NotPhysical, "level")
    refused(lambda: air_gap_correction(1, 3.1, 3.0), NotPhysical, "insulation_resistance_m2k_w")
    refused(lambda: air_gap_correction(1, 0.0, 3.0), NotPhysical, "insulation_resistance_m2k_w")
    refused(lambda: air_gap_correction(1, 2.5, math.inf), NotPhysical, "total_m2k_w")


def test_fasteners() -> None:
    # Rule from memory; by hand: 0.8 · 50 · 2e-5 · 4/0.1 · (2.5/3)² = 0.032 · 25/36.
    assert fastener_correction(50.0, 2e-5, 4.0, 0.1, 0.1, 2.5, 3.0) == pytest.approx(0.0222222, abs=5e-8)
    # Recessed by a quarter of the thickness: three quarters of it.
    assert fastener_correction(50.0, 2e-5, 4.0, 0.1, 0.075, 2.5, 3.0) == pytest.approx(0.0166667, abs=5e-8)
    assert fastener_correction(50.0, 2e-5, 0.0, 0.1, 0.1, 2.5, 3.0) == 0.0


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ((0.0, 2e-5, 4.0, 0.1, 0.1, 2.5, 3.0), "conductivity_w_mk"),
        ((50.0, 0.0, 4.0, 0.1, 0.1, 2.5, 3.0), "cross_section_m2"),
        ((50.0, 2e-5, -1.0, 0.1, 0.1, 2.5, 3.0), "count_per_m2"),
        ((50.0, 2e-5, 4.0, 0.0, 0.1, 2.5, 3.0), "insulation_thickness_m"),
        ((50.0, 2e-5, 4.0, 0.1, 0.0, 2.5, 3.0), "penetration_m"),
        ((50.0, 2e-5, 4.0, 0.1, 0.11, 2.5, 3.0), "penetration_m"),
    ],
)
def test_fasteners_that_cannot_be(values: tuple[float, ...], field: str) -> None:
    refused(lambda: fastener_correction(*values), NotPhysical, field)


def test_inverted_roof() -> None:
    # By hand from the annex's rule (from memory), p = 3 mm/day, f · x = 0.04: 3 · 0.04 · (0.9/1.0)² = 0.0972, and
    # 3 · 0.04 = 0.12 where the insulation is all there is.
    assert inverted_roof_correction(3.0, 1.0, 0.04, 0.9, 1.0) == pytest.approx(0.0972)
    assert inverted_roof_correction(3.0, 1.0, 0.04, 1.0, 1.0) == pytest.approx(0.12)


def test_an_inverted_roof_comes_no_lower_than_its_rain() -> None:
    # By hand: with ever more insulation 1/R_tot tends to 0 and the correction to p · f · x = 0.12.
    def corrected(thickness_m: float) -> float:
        insulation = thickness_m / 0.032
        total = total_resistance([Layer(0.2), Layer(insulation)], 0.10, 0.04).total_m2k_w
        return 1.0 / total + inverted_roof_correction(3.0, 1.0, 0.04, insulation, total)

    assert 0.12 < corrected(50.0) < corrected(5.0) < 0.13


def test_inverted_roofs_that_cannot_be() -> None:
    refused(lambda: inverted_roof_correction(-1.0, 0.5, 0.04, 2.0, 3.0), NotPhysical, "rainfall_mm_per_day")
    refused(lambda: inverted_roof_correction(3.0, 1.5, 0.04, 2.0, 3.0), NotPhysical, "drainage_factor")
    refused(lambda: inverted_roof_correction(3.0, 0.5, -0.04, 2.0, 3.0), NotPhysical, "heat_loss_factor")


def test_small_corrections_may_be_left_out() -> None:
    # Insulate Magazine 11 (2018), page 24 (read): amended where the corrections total more than 3 %.
    assert correction_may_be_left_out(0.0, 0.2)
    assert correction_may_be_left_out(0.00599, 0.2)
    assert not correction_may_be_left_out(0.00601, 0.2)
    refused(lambda: correction_may_be_left_out(-0.01, 0.2), NotPhysical, "correction_w_m2k")
    refused(lambda: correction_may_be_left_out(0.01, 0.0), NotPhysical, "u_value_w_m2k")


# --- Temperatures and statement --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("resistances_m2k_w", "interface", "printed"),
    [
        # A wall of brick 0.333 and insulation 3.333 m²K/W between 20 and 0 °C, by hand from the shares:
        # outside and inside insulation, without surfaces and with 0.13 and 0.04.
        ((0.333, 3.333), 1, "18.2"),
        ((3.333, 0.333), 1, "1.8"),
        ((0.13, 0.333, 3.333, 0.04), 2, "17.6"),
        ((0.13, 3.333, 0.333, 0.04), 2, "1.9"),
    ],
)
def test_temperature_behind_the_insulation(
    resistances_m2k_w: tuple[float, ...], interface: int, printed: str
) -> None:
    temperatures = interface_temperatures(resistances_m2k_w, 20.0, 0.0)
    assert len(temperatures) == len(resistances_m2k_w) + 1
    assert agrees(temperatures[interface], printed)


@QUICK
@given(
    st.lists(st.floats(0.0, 5.0), min_size=1, max_size=8).filter(lambda values: sum(values) > 0.01),
    st.floats(-30.0, 40.0),
    st.floats(-30.0, 40.0),
)
def test_temperatures_fall_by_resistance(values: list[float], inside: float, outside: float) -> None:
    temperatures = interface_temperatures(values, inside, outside)
    assert temperatures[0] == inside
    assert temperatures[-1] == outside
    flow = (inside - outside) / math.fsum(values)
    for before, after, resistance in zip(temperatures, temperatures[1:], values, strict=False):
        assert before - after == pytest.approx(flow * resistance, abs=1e-9)


def test_temperatures_without_resistance() -> None:
    refused(lambda: interface_temperatures((), 20.0, 0.0), NotPhysical, "resistances_m2k_w")
    refused(lambda: interface_temperatures((1.0, -0.1), 20.0, 0.0), NotPhysical, "resistances_m2k_w/1")


@pytest.mark.parametrize(
    ("u_value", "text"),
    # By the rule: two decimals, a half rounded up.
    [
        (0.296801, "0.30"),
        (0.285, "0.29"),
        (0.2849999, "0.28"),
        (1.005, "1.01"),
        (2, "2.00"),
        (0.0, "0.00"),
        (1e-9, "0.00"),
    ],
)
def test_u_values_as_stated(u_value: float, text: str) -> None:
    assert stated(u_value) == text


@pytest.mark.parametrize("u_value", [-0.1, math.nan, math.inf])
def test_u_values_that_cannot_be_stated(u_value: float) -> None:
    refused(lambda: stated(u_value), NotPhysical, "u_value")
