"""ISO 13370 against published floors, the heat equation in the ground, and what must hold for any floor."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from warmstead.standards.errors import MethodError, NotPhysical, OutOfScope
from warmstead.standards.iso_13370 import (
    EdgeInsulation,
    SlabOnGround,
    SuspendedFloor,
    basement_floor,
    basement_wall,
    slab_on_ground,
    suspended_floor,
)

if TYPE_CHECKING:
    from collections.abc import Callable

QUICK = settings(max_examples=60, deadline=None)


def slab(
    perimeter_to_area: float,
    resistance: float = 0.0,
    *,
    soil: float = 1.5,
    wall: float = 0.3,
    edge: EdgeInsulation | None = None,
) -> SlabOnGround:
    return slab_on_ground(
        area_m2=100.0,
        exposed_perimeter_m=100.0 * perimeter_to_area,
        wall_thickness_m=wall,
        soil_conductivity_w_mk=soil,
        floor_resistance_m2k_w=resistance,
        edge_insulation=edge,
    )


def suspended(perimeter_to_area: float, resistance: float = 0.2, **changes: float) -> SuspendedFloor:
    values = {
        "wall_thickness_m": 0.3,
        "soil_conductivity_w_mk": 1.5,
        "height_above_ground_m": 0.3,
        "ventilation_opening_m2_per_m": 0.0015,
        "wind_speed_m_s": 5.0,
        "wind_shielding_factor": 0.05,
        "underfloor_wall_u_value_w_m2k": 1.7,
    } | changes
    return suspended_floor(
        area_m2=60.0,
        exposed_perimeter_m=60.0 * perimeter_to_area,
        floor_resistance_m2k_w=resistance,
        **values,
    )


def refused(call: Callable[[], object], kind: type[MethodError], field: str) -> None:
    with pytest.raises(kind) as caught:
        call()
    assert caught.value.field == field
    assert caught.value.limit
    assert "ISO 13370" in caught.value.clause


# --- Published floors ------------------------------------------------------------------------------

# Approved Document L1 2002, table C1 (from memory, not seen): clay 1.5 W/(mK), wall 0.3 m, R_si 0.17,
# R_se 0.04; perimeter to area → U-value for all-over insulation of 0, 0.5, 1.0 and 2.0 m²K/W.
SOLID_FLOORS = {
    0.10: (0.22, 0.18, 0.16, 0.13),
    0.20: (0.37, 0.29, 0.25, 0.19),
    0.30: (0.49, 0.38, 0.31, 0.23),
    0.40: (0.60, 0.44, 0.36, 0.26),
    0.50: (0.70, 0.50, 0.40, 0.28),
    0.60: (0.78, 0.55, 0.43, 0.29),
    0.70: (0.86, 0.59, 0.45, 0.30),
    0.80: (0.93, 0.62, 0.47, 0.32),
    0.90: (0.99, 0.65, 0.48, 0.32),
    1.00: (1.05, 0.68, 0.50, 0.33),
}


@pytest.mark.parametrize("perimeter_to_area", SOLID_FLOORS)
def test_table_of_solid_floors(perimeter_to_area: float) -> None:
    for resistance, printed in zip((0.0, 0.5, 1.0, 2.0), SOLID_FLOORS[perimeter_to_area], strict=True):
        value = slab(perimeter_to_area, resistance).u_value_w_m2k
        assert value == pytest.approx(printed, abs=0.005), resistance


def test_clay_floors_that_need_no_insulation() -> None:
    # Scottish Executive, annex 6.C, 6.C.0 (read): U of at most 0.25 on clay below P/A 0.12, solid floors.
    # Rounded as U-values are stated, it holds up to there and no further.
    assert round(slab(0.12).u_value_w_m2k, 2) == 0.25
    assert round(slab(0.13).u_value_w_m2k, 2) > 0.25
    # The same for suspended floors below 0.09; void, walls and wind are our assumption, not printed there.
    assert suspended(0.09).u_value_w_m2k <= 0.25


@pytest.mark.parametrize("perimeter_to_area", [step / 10.0 for step in range(1, 11)])
def test_simple_formula_for_uninsulated_floors(perimeter_to_area: float) -> None:
    # U = 0.05 + 1.65 P/A − 0.6 (P/A)² (read at bit1024.com; from memory it is of BRE Information Paper
    # 3/90): a fit to other calculations, so wider than its digits. They agree to 6 %.
    simple = 0.05 + 1.65 * perimeter_to_area - 0.6 * perimeter_to_area**2
    assert slab(perimeter_to_area).u_value_w_m2k == pytest.approx(simple, rel=0.06)


@pytest.mark.parametrize(
    ("length_m", "breadth_m", "printed"),
    [
        # IHVE Guide 1977, A3, solid floors with four exposed edges (read in a national design handbook on
        # passive solar heating, nzdl.org). None is of infinite length there: "very long" is 1e9 m here.
        (1e9, 30.0, 0.16),
        (1e9, 15.0, 0.28),
        (1e9, 7.5, 0.48),
        (150.0, 60.0, 0.11),
        (150.0, 30.0, 0.18),
        (60.0, 60.0, 0.15),
        (60.0, 30.0, 0.21),
        (60.0, 15.0, 0.32),
        (30.0, 30.0, 0.26),
        (30.0, 15.0, 0.36),
        (30.0, 7.5, 0.55),
        (15.0, 15.0, 0.45),
        (15.0, 7.5, 0.62),
        (7.5, 7.5, 0.76),
    ],
)
def test_floors_of_an_older_method(length_m: float, breadth_m: float, printed: float) -> None:
    # Another method with other surfaces and soil, so wider than its digits: 7 %, and half a unit of its
    # last place.
    perimeter_to_area = 2.0 * (length_m + breadth_m) / (length_m * breadth_m)
    assert slab(perimeter_to_area).u_value_w_m2k == pytest.approx(printed, abs=0.07 * printed + 0.005)


# --- By hand ---------------------------------------------------------------------------------------


def tiled_slab(position: str | None) -> SlabOnGround:
    edge = None
    if position is not None:
        edge = EdgeInsulation("horizontal" if position == "horizontal" else "vertical", 1.5, 0.05, 0.04)
    return slab_on_ground(
        area_m2=20.0,
        exposed_perimeter_m=18.0,
        wall_thickness_m=0.25,
        soil_conductivity_w_mk=1.5,
        floor_resistance_m2k_w=0.015 / 0.85 + 0.15 / 2.0,
        edge_insulation=edge,
    )


def test_slab_with_edge_insulation() -> None:
    # Inputs and formulas of a course example, apalis.fr, "Exemple de calcul plancher", edge insulation
    # (read; its results were not): 5 × 4 m, wall 0.25, clay 1.5, tiles 15 mm of 0.85, slab 150 mm of 2,
    # insulation 50 mm of 0.04 over 1.5 m. Then by hand: B′ = 20/9 = 2.222222; d_t = 0.25 + 1.5 (0.21 +
    # 0.092647) = 0.703971; U0 = 3/(6.981317 + 0.703971) · ln(10.917058) = 0.933079; R′ = 1.25 − 0.033333;
    # d′ = 1.825; Ψ = −1.5/π · (ln 3.130770 − ln 1.593126) = −0.322566; U = 0.933079 − 0.290309 =
    # 0.642769.
    result = tiled_slab("horizontal")
    assert result.characteristic_dimension_m == pytest.approx(2.222222, abs=1e-6)
    assert result.equivalent_thickness_m == pytest.approx(0.703971, abs=1e-6)
    assert result.u_value_without_edge_w_m2k == pytest.approx(0.933079, abs=1e-6)
    assert result.edge_psi_w_mk == pytest.approx(-0.322566, abs=1e-6)
    assert result.u_value_w_m2k == pytest.approx(0.642769, abs=1e-6)


def test_slab_with_upright_edge_insulation() -> None:
    # By hand, the same with 2 D = 3 m: Ψ = −1.5/π · (ln 5.261540 − ln 2.186253) = −0.419326.
    result = tiled_slab("vertical")
    assert result.edge_psi_w_mk == pytest.approx(-0.419326, abs=1e-6)
    assert result.u_value_w_m2k == pytest.approx(0.555685, abs=1e-6)


def test_slab_without_edge_insulation() -> None:
    result = tiled_slab(None)
    assert result.edge_psi_w_mk == 0.0
    assert result.u_value_w_m2k == result.u_value_without_edge_w_m2k


def test_well_insulated_slab() -> None:
    # By hand, second branch: P/A 1 → B′ 2; R_f 5 → d_t = 0.3 + 1.5 · 5.21 = 8.115; U = 1.5/(0.914 +
    # 8.115).
    result = slab(1.0, 5.0)
    assert result.characteristic_dimension_m == pytest.approx(2.0)
    assert result.equivalent_thickness_m == pytest.approx(8.115)
    assert result.u_value_w_m2k == pytest.approx(0.166131, abs=1e-6)


def test_suspended_floor() -> None:
    # By hand (formulas from memory): A 60, P 16·2 → B′ 3.75; U_f = 1/(0.2 + 0.34); d_g = 0.3 + 1.5 · 0.21
    # = 0.615; U_g = 3/(11.780972 + 0.615) · ln(20.156052) = 0.726890; U_x = (2 · 0.3 · 1.7 + 1450 ·
    # 0.0015 · 5 · 0.05)/3.75 = (1.02 + 0.54375)/3.75 = 0.417; U = 1/(0.54 + 1/1.143890).
    result = suspended(32.0 / 60.0)
    assert result.characteristic_dimension_m == pytest.approx(3.75)
    assert result.equivalent_thickness_m == pytest.approx(0.615)
    assert result.floor_u_value_w_m2k == pytest.approx(1.851852, abs=1e-6)
    assert result.ground_u_value_w_m2k == pytest.approx(0.726890, abs=1e-6)
    assert result.sides_u_value_w_m2k == pytest.approx(0.417)
    assert result.u_value_w_m2k == pytest.approx(0.707109, abs=1e-6)


def test_suspended_floor_over_insulated_ground() -> None:
    # By hand, 1.0 m²K/W on the ground: d_g = 0.3 + 1.5 · 1.21 = 2.115; U_g = 3/13.895972 · ln(6.570199) =
    # 0.406422; U = 1/(0.54 + 1/0.823422).
    result = suspended(32.0 / 60.0, ground_resistance_m2k_w=1.0)
    assert result.ground_u_value_w_m2k == pytest.approx(0.406422, abs=1e-6)
    assert result.u_value_w_m2k == pytest.approx(0.569981, abs=1e-6)


class Basement(NamedTuple):
    """Floor and wall of one basement, for one call."""

    floor_resistance: float
    wall_resistance: float
    depth: float

    def floor_u_value(self, dimension: float = 3.75) -> float:
        """60 m², soil 2.0, wall 0.3 m."""
        return basement_floor(
            area_m2=60.0,
            exposed_perimeter_m=120.0 / dimension,
            wall_thickness_m=0.3,
            soil_conductivity_w_mk=2.0,
            floor_resistance_m2k_w=self.floor_resistance,
            depth_m=self.depth,
        ).u_value_w_m2k

    def wall_u_value(self) -> float:
        """Soil 2.0, wall 0.3 m."""
        return basement_wall(
            wall_thickness_m=0.3,
            soil_conductivity_w_mk=2.0,
            floor_resistance_m2k_w=self.floor_resistance,
            depth_m=self.depth,
            wall_resistance_m2k_w=self.wall_resistance,
        ).u_value_w_m2k


def test_basement_floor() -> None:
    # By hand (formulas from memory): B′ 3.75; d_t = 0.3 + 2 · 1.21 = 2.72, with half of 1.5 m 3.47;
    # U = 4/(11.780972 + 3.47) · ln(4.395093) = 0.388300.
    assert Basement(1.0, 1.2, 1.5).floor_u_value() == pytest.approx(0.388300, abs=1e-6)
    # By hand, second branch: R_f 1.4 → d_t 3.52, with half the depth 4.27 ≥ B′: U = 2/(1.713750 + 4.27).
    assert Basement(1.4, 1.2, 1.5).floor_u_value() == pytest.approx(0.334239, abs=1e-6)


def test_basement_wall() -> None:
    # By hand (formulas from memory): d_t 2.72; d_w = 2 · (0.17 + 2.5) = 5.34;
    # U = 4/(π 1.5) · (1 + 1.36/4.22) · ln(1.5/5.34 + 1) = 0.277859.
    assert Basement(1.0, 2.5, 1.5).wall_u_value() == pytest.approx(0.277859, abs=1e-6)
    # By hand, d_w = 2 · (0.17 + 0.3) = 0.94 under d_t and in its place:
    # U = 4/(π 1.5) · (1 + 0.47/2.44) · ln(1.5/0.94 + 1) = 0.965635.
    assert Basement(1.0, 0.3, 1.5).wall_u_value() == pytest.approx(0.965635, abs=1e-6)


def test_basement_wall_reports_both_thicknesses() -> None:
    result = basement_wall(
        wall_thickness_m=0.3,
        soil_conductivity_w_mk=2.0,
        floor_resistance_m2k_w=1.0,
        depth_m=1.5,
        wall_resistance_m2k_w=0.3,
    )
    # By hand: as above, before one stands for the other.
    assert result.floor_equivalent_thickness_m == pytest.approx(2.72)
    assert result.wall_equivalent_thickness_m == pytest.approx(0.94)


# --- Against the heat equation in the ground -------------------------------------------------------


class Ground(NamedTuple):
    """A long building on soil, cut across: half of it is modelled, for 1 K between inside and outside."""

    half_width: float
    wall: float
    soil: float
    floor_resistance: float
    depth: float = 0.0
    wall_resistance: float = 1.0
    edge_reach: float = 0.0
    edge_resistance: float = 0.0
    edge_upright: bool = False

    def heat(self) -> tuple[float, float]:
        """Heat through the floor and through the wall under the ground, in W/m, by finite volumes.

        Soil to 2.5 B′ beside and under it; no heat through the far faces, nor through the wall's top.
        """
        far = 5.0 * self.half_width
        upright_to = self.edge_reach if self.edge_upright else 0.0
        x = grid_lines(0.0, self.half_width, self.half_width + self.wall, self.half_width + self.wall + far)
        y = grid_lines(0.0, *sorted({self.depth, upright_to} - {0.0}), self.depth + far)
        dx, dy = np.diff(x), np.diff(y)
        across, down = (x[1:] + x[:-1]) / 2.0, (y[1:] + y[:-1]) / 2.0
        inside = across < self.half_width
        room = inside[:, None] & (down < self.depth)[None, :]
        conductivity = np.full((dx.size, dy.size), self.soil)
        under_wall = ~inside & (across < self.half_width + self.wall)
        conductivity[under_wall[:, None] & (down < self.depth)[None, :]] = self.wall / self.wall_resistance
        half_x, half_y = dx[:, None] / 2.0 / conductivity, dy[None, :] / 2.0 / conductivity

        corner = int(np.searchsorted(x, self.half_width - 1e-9)) - 1
        sideways = half_x[:-1] + half_x[1:]
        if self.edge_upright:
            sideways[corner, down < self.edge_reach] += self.edge_resistance
        number = np.arange(conductivity.size).reshape(conductivity.shape)
        joints = [
            (number[:-1], number[1:], np.broadcast_to(dy, sideways.shape) / sideways, room[:-1] | room[1:]),
            (
                number[:, :-1],
                number[:, 1:],
                dx[:, None] / (half_y[:, :-1] + half_y[:, 1:]),
                room[:, :-1] | room[:, 1:],
            ),
        ]
        top = int(np.searchsorted(y, self.depth - 1e-9))
        resistance = np.full(dx.size, 0.17 + self.floor_resistance)
        if not self.edge_upright:
            resistance[across > self.half_width - self.edge_reach] += self.edge_resistance
        to_floor = dx[inside] / (resistance[inside] + half_y[inside, top])
        at_floor = number[inside, top]
        at_wall = number[corner + 1, :top]
        to_wall = dy[:top] / (0.13 + half_x[corner + 1, :top])
        open_air = across > self.half_width + self.wall
        to_outside = dx[open_air] / (0.04 + half_y[open_air, 0])

        diagonal = np.where(room.ravel(), 1.0, 0.0)
        source = np.zeros(conductivity.size)
        for place, conductance in (
            (at_floor, to_floor),
            (at_wall, to_wall),
            (number[open_air, 0], to_outside),
        ):
            diagonal[place] += conductance
        source[at_floor] += to_floor
        source[at_wall] += to_wall
        temperature = solve(joints, diagonal, source)
        through_floor = float(np.sum(to_floor * (1.0 - temperature[at_floor])))
        return through_floor, float(np.sum(to_wall * (1.0 - temperature[at_wall])))


def grid_lines(*breaks: float) -> np.ndarray[Any, Any]:
    """Lines through the breaks, 2 cm apart beside each and a quarter wider from line to line."""
    lines = [breaks[0]]
    for start, end in pairwise(breaks):
        half = (end - start) / 2.0
        steps: list[float] = []
        step = min(0.02, half)
        while sum(steps) + step < half + 1e-9:
            steps.append(step)
            step *= 1.25
        widths = np.array(steps) * half / sum(steps)
        lines += [*(start + np.cumsum(widths)), *(end - np.cumsum(widths)[::-1][1:]), end]
    return np.array(lines)


def solve(
    joints: list[tuple[Any, Any, Any, Any]], diagonal: np.ndarray[Any, Any], source: np.ndarray[Any, Any]
) -> np.ndarray[Any, Any]:
    """Temperatures of the cells that the joints tie together, but for those marked as cut."""
    one, other, conductance = (
        np.concatenate([np.broadcast_to(joint[part], joint[0].shape)[~joint[3]] for joint in joints])
        for part in range(3)
    )
    np.add.at(diagonal, one, conductance)
    np.add.at(diagonal, other, conductance)
    everyone = np.arange(diagonal.size)
    rows, columns = np.concatenate([one, other, everyone]), np.concatenate([other, one, everyone])
    matrix = coo_matrix((np.concatenate([-conductance, -conductance, diagonal]), (rows, columns))).tocsc()
    temperatures: np.ndarray[Any, Any] = spsolve(matrix, source)
    return temperatures


@pytest.mark.parametrize(
    ("half_width", "wall", "soil", "resistance"),
    [
        (2.0, 0.3, 1.5, 0.0),
        (4.0, 0.3, 2.0, 0.0),
        (4.0, 0.3, 2.0, 2.5),
        (4.0, 0.3, 1.5, 5.5),
        (7.5, 0.5, 2.0, 0.5),
    ],
)
def test_slab_against_the_heat_equation(
    half_width: float, wall: float, soil: float, resistance: float
) -> None:
    true = Ground(half_width, wall, soil, resistance).heat()[0] / half_width
    # For a long floor B′ is its width. The standard's formulas are approximations: 1.5 to 4 % under the
    # solution.
    value = slab(1.0 / half_width, resistance, soil=soil, wall=wall).u_value_w_m2k
    assert value == pytest.approx(true, rel=0.045)


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("reach", [0.5, 1.0])
@pytest.mark.parametrize("additional", [0.5, 1.5])
def test_edge_insulation_against_the_heat_equation(upright: bool, reach: float, additional: float) -> None:
    ground = Ground(4.0, 0.3, 2.0, 0.0)
    edged = ground._replace(edge_reach=reach, edge_resistance=additional, edge_upright=upright)
    true = edged.heat()[0] - ground.heat()[0]
    # A board of 0.1 m whose resistance is `additional` above that of 0.1 m of soil.
    edge = EdgeInsulation("vertical" if upright else "horizontal", reach, 0.1, 0.1 / (additional + 0.05))
    psi = slab(1.0 / 4.0, soil=2.0, edge=edge).edge_psi_w_mk
    # The standard's approximation of a small difference: 8 to 18 % under flat, 2 to 27 % over upright.
    assert psi == pytest.approx(true, rel=0.3 if upright else 0.2)


@pytest.mark.parametrize("depth", [0.5, 1.5, 2.5])
@pytest.mark.parametrize(("floor_resistance", "wall_resistance"), [(0.0, 0.3), (1.0, 1.3), (1.0, 2.5)])
def test_basement_against_the_heat_equation(
    depth: float, floor_resistance: float, wall_resistance: float
) -> None:
    true = sum(Ground(4.0, 0.3, 2.0, floor_resistance, depth, wall_resistance).heat())
    basement = Basement(floor_resistance, wall_resistance, depth)
    # Floor and wall together, as they share what is under the corner: the standard comes within 5 %.
    together = basement.floor_u_value(8.0) * 4.0 + basement.wall_u_value() * depth
    assert together == pytest.approx(true, rel=0.05)


@pytest.mark.parametrize("depth", [0.5, 1.5, 2.5])
def test_bare_basement_wall_beside_an_insulated_floor(depth: float) -> None:
    true = sum(Ground(4.0, 0.3, 2.0, 2.5, depth, 0.3).heat())
    basement = Basement(2.5, 0.3, depth)
    together = basement.floor_u_value(8.0) * 4.0 + basement.wall_u_value() * depth
    # Where d_w stands for d_t the standard's rule is 11 to 16 % under the solution: this records how far
    # off it is.
    assert 0.83 <= together / true <= 0.90


# --- What holds for any floor ----------------------------------------------------------------------

ratios = st.floats(0.03, 1.5)
resistances = st.floats(0.0, 8.0)
soils = st.floats(0.8, 3.5)
walls = st.floats(0.0, 0.8)

STEP_BETWEEN_BRANCHES = 1.5e-4
"""By hand, at d_t = B′: 1/1.457 against 2/(π + 1) · ln(π + 1), 0.686342 against 0.686248."""


@QUICK
@given(ratios, resistances, st.floats(0.01, 4.0), soils, walls)
def test_more_floor_insulation_never_loses_more(
    ratio: float, resistance: float, added: float, soil: float, wall: float
) -> None:
    before, after = (
        slab(ratio, value, soil=soil, wall=wall).u_value_w_m2k for value in (resistance, resistance + added)
    )
    assert 0.0 < after <= before * (1.0 + STEP_BETWEEN_BRANCHES)


def test_the_step_between_the_branches() -> None:
    # P/A 0.4 → B′ 5 on soil 2.0 without wall: d_t reaches B′ at R_f = 2.5 − 0.21.
    below, above = (slab(0.4, 2.29 + nudge, soil=2.0, wall=0.0).u_value_w_m2k for nudge in (-1e-9, 1e-9))
    # By hand: 0.4 · 0.686248 and 0.4 · 0.686342.
    assert below == pytest.approx(0.274499, abs=1e-6)
    assert above == pytest.approx(0.274537, abs=1e-6)


@QUICK
@given(ratios, st.floats(1.01, 3.0), resistances, soils, walls)
def test_more_perimeter_always_loses_more(
    ratio: float, factor: float, resistance: float, soil: float, wall: float
) -> None:
    before, after = (
        slab(value, resistance, soil=soil, wall=wall).u_value_w_m2k for value in (ratio, ratio * factor)
    )
    assert after >= before * (1.0 - STEP_BETWEEN_BRANCHES)


@QUICK
@given(ratios, resistances, soils, walls)
def test_a_floor_loses_less_than_to_outside_air(
    ratio: float, resistance: float, soil: float, wall: float
) -> None:
    value = slab(ratio, resistance, soil=soil, wall=wall).u_value_w_m2k
    assert 0.0 < value < 1.0 / (0.21 + resistance)


@QUICK
@given(
    st.floats(0.05, 0.6),
    resistances,
    st.sampled_from(["horizontal", "vertical"]),
    st.floats(0.1, 1.0),
    st.floats(0.02, 0.2),
    st.floats(0.02, 0.8),
)
def test_edge_insulation_never_loses_more(
    ratio: float, resistance: float, position: Any, width: float, thickness: float, conductivity: float
) -> None:
    edge = EdgeInsulation(position, width, thickness, conductivity)
    thicker = edge._replace(thickness_m=2.0 * thickness)
    plain, edged, more = (slab(ratio, resistance, edge=value) for value in (None, edge, thicker))
    assert edged.u_value_without_edge_w_m2k == plain.u_value_w_m2k
    assert more.u_value_w_m2k <= edged.u_value_w_m2k <= plain.u_value_w_m2k
    assert edged.u_value_w_m2k > 0.0


def test_edge_insulation_as_good_as_soil_changes_nothing() -> None:
    result = slab(0.4, edge=EdgeInsulation("horizontal", 1.0, 0.1, 1.5))
    assert result.edge_psi_w_mk == 0.0


@QUICK
@given(ratios, resistances, st.floats(0.0, 4.0))
def test_a_deeper_basement_floor_loses_less(ratio: float, resistance: float, depth: float) -> None:
    floor = Basement(resistance, 1.0, depth).floor_u_value(2.0 / ratio)
    deeper = Basement(resistance, 1.0, depth + 0.5).floor_u_value(2.0 / ratio)
    assert deeper <= floor * (1.0 + STEP_BETWEEN_BRANCHES)


@QUICK
@given(ratios, resistances)
def test_a_basement_floor_at_ground_level_is_a_slab(ratio: float, resistance: float) -> None:
    floor = Basement(resistance, 1.0, 0.0).floor_u_value(2.0 / ratio)
    assert floor == pytest.approx(slab(ratio, resistance, soil=2.0).u_value_w_m2k)


@QUICK
@given(resistances, resistances, st.floats(0.01, 4.0), st.floats(0.05, 4.0))
def test_more_basement_wall_insulation_never_loses_more(
    floor: float, wall: float, added: float, depth: float
) -> None:
    assert Basement(floor, wall + added, depth).wall_u_value() < Basement(floor, wall, depth).wall_u_value()


@QUICK
@given(ratios, resistances, st.floats(0.0, 10.0), st.floats(0.0, 0.1), st.floats(0.0, 0.01))
def test_a_void_lies_between_the_floor_and_outside(
    ratio: float, resistance: float, wind: float, shielding: float, opening: float
) -> None:
    result = suspended(
        ratio,
        resistance,
        wind_speed_m_s=wind,
        wind_shielding_factor=shielding,
        ventilation_opening_m2_per_m=opening,
    )
    assert 0.0 < result.u_value_w_m2k < result.floor_u_value_w_m2k
    assert result.u_value_w_m2k < result.ground_u_value_w_m2k + result.sides_u_value_w_m2k
    stronger = suspended(
        ratio,
        resistance,
        wind_speed_m_s=wind + 1.0,
        wind_shielding_factor=shielding,
        ventilation_opening_m2_per_m=opening,
    )
    assert stronger.u_value_w_m2k >= result.u_value_w_m2k
    assert suspended(ratio, resistance + 1.0).u_value_w_m2k < suspended(ratio, resistance).u_value_w_m2k


def test_a_still_void_without_walls_is_the_ground_behind_the_floor() -> None:
    result = suspended(0.4, height_above_ground_m=0.0, wind_speed_m_s=0.0)
    assert result.sides_u_value_w_m2k == 0.0
    # The ground under it is that of a slab without insulation.
    assert result.ground_u_value_w_m2k == pytest.approx(slab(0.4).u_value_w_m2k)
    assert 1.0 / result.u_value_w_m2k == pytest.approx(0.54 + 1.0 / slab(0.4).u_value_w_m2k)


# --- Refusals --------------------------------------------------------------------------------------


def test_floors_without_exposed_perimeter_are_out_of_scope() -> None:
    refused(lambda: slab(0.0), OutOfScope, "exposed_perimeter_m")
    refused(lambda: suspended(0.0), OutOfScope, "exposed_perimeter_m")
    # The formula itself tends to nothing.
    assert slab(1e-9).u_value_w_m2k < 1e-7


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("area_m2", 0.0),
        ("area_m2", math.nan),
        ("exposed_perimeter_m", -1.0),
        ("wall_thickness_m", -0.1),
        ("soil_conductivity_w_mk", 0.0),
        ("floor_resistance_m2k_w", -0.1),
        ("floor_resistance_m2k_w", math.inf),
        ("internal_surface_m2k_w", -0.1),
        ("external_surface_m2k_w", -0.1),
    ],
)
def test_slabs_that_cannot_be(field: str, value: float) -> None:
    values = {
        "area_m2": 50.0,
        "exposed_perimeter_m": 30.0,
        "wall_thickness_m": 0.3,
        "soil_conductivity_w_mk": 1.5,
        "floor_resistance_m2k_w": 0.0,
    }
    changed: dict[str, Any] = values | {field: value}
    refused(lambda: slab_on_ground(**changed), NotPhysical, field)
    refused(lambda: basement_floor(**changed, depth_m=1.0), NotPhysical, field)


def test_a_slab_of_no_thickness_at_all() -> None:
    bare: dict[str, Any] = {"internal_surface_m2k_w": 0.0, "external_surface_m2k_w": 0.0}
    refused(
        lambda: slab_on_ground(
            area_m2=50.0,
            exposed_perimeter_m=30.0,
            wall_thickness_m=0.0,
            soil_conductivity_w_mk=1.5,
            floor_resistance_m2k_w=0.0,
            **bare,
        ),
        NotPhysical,
        "wall_thickness_m",
    )


@pytest.mark.parametrize(
    ("edge", "kind", "field"),
    [
        (EdgeInsulation("horizontal", 0.0, 0.1, 0.04), NotPhysical, "edge_insulation/width_m"),
        (EdgeInsulation("horizontal", 1.0, 0.0, 0.04), NotPhysical, "edge_insulation/thickness_m"),
        (EdgeInsulation("horizontal", 1.0, 0.1, 0.0), NotPhysical, "edge_insulation/conductivity_w_mk"),
        (EdgeInsulation("horizontal", 1.0, 0.1, 1.6), OutOfScope, "edge_insulation/conductivity_w_mk"),
        (EdgeInsulation("vertical", 30.0, 0.5, 0.02), OutOfScope, "edge_insulation/width_m"),
    ],
)
def test_edges_that_are_refused(edge: EdgeInsulation, kind: type[MethodError], field: str) -> None:
    refused(lambda: slab(1.0, edge=edge), kind, field)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("height_above_ground_m", -0.1),
        ("ventilation_opening_m2_per_m", -0.1),
        ("wind_speed_m_s", -1.0),
        ("wind_shielding_factor", 1.1),
        ("wind_shielding_factor", math.nan),
        ("underfloor_wall_u_value_w_m2k", -1.0),
        ("ground_resistance_m2k_w", -1.0),
    ],
)
def test_suspended_floors_that_cannot_be(field: str, value: float) -> None:
    refused(lambda: suspended(0.5, **{field: value}), NotPhysical, field)


def test_basement_walls_that_cannot_be() -> None:
    refused(lambda: Basement(1.0, 1.0, 0.0).wall_u_value(), NotPhysical, "depth_m")
    refused(lambda: Basement(1.0, -1.0, 1.0).wall_u_value(), NotPhysical, "wall_resistance_m2k_w")
    refused(lambda: Basement(-1.0, 1.0, 1.0).wall_u_value(), NotPhysical, "floor_resistance_m2k_w")
    refused(lambda: Basement(1.0, 1.0, -1.0).floor_u_value(), NotPhysical, "depth_m")
