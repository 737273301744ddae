"""Equations that are a network of conductances in a steady state, against a general solver of linear equations.

`en_12831`: θu = Σ(H θ)/Σ H, and b of an unheated space. `iso_6946`: temperatures between layers. `iso_13370`: 1/U = 1/U_f +
1/(U_g + U_x) of a suspended floor. `iso_10077_1`: U of a window by its parts. `en_1264`: heat up and down from the pipes.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from warmstead.standards import en_1264, en_12831, iso_6946, iso_10077_1, iso_13370

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

Link = tuple[str, str, float]
"""Two nodes and the conductance between them."""


def solved(links: Sequence[Link], known: Mapping[str, float]) -> dict[str, float]:
    """Return every node's temperature: at each unknown node what comes in goes out."""
    unknown = sorted({node for link in links for node in link[:2]} - known.keys())
    place = {node: index for index, node in enumerate(unknown)}
    matrix = np.zeros((len(unknown), len(unknown)))
    source = np.zeros(len(unknown))
    for one, other, conductance in links:
        for here, there in ((one, other), (other, one)):
            if here in place:
                matrix[place[here], place[here]] += conductance
                if there in place:
                    matrix[place[here], place[there]] -= conductance
                else:
                    source[place[here]] += conductance * known[there]
    found = np.linalg.solve(matrix, source)
    return {**known, **{node: float(found[place[node]]) for node in unknown}}


conductances = st.floats(0.5, 300.0)
temperatures = st.floats(-20.0, 28.0)


@given(st.lists(st.tuples(conductances, temperatures), min_size=1, max_size=7))
def test_unheated_space_by_linear_equations(sides: list[tuple[float, float]]) -> None:
    # Equation: θu = Σ(H · θ)/Σ H.
    links = [("space", f"side {index}", conductance) for index, (conductance, _) in enumerate(sides)]
    known = {f"side {index}": temperature for index, (_, temperature) in enumerate(sides)}
    ours = en_12831.unheated_temperature(en_12831.Coupling(*side) for side in sides)
    assert ours == pytest.approx(solved(links, known)["space"], abs=1e-9)


def test_two_unheated_spaces_in_a_row() -> None:
    # Equation: b = (θi − θu)/(θi − θe), b · (θi − θe) = θi − θu. A porch before a garage, each tied to the house
    # and to outside, solved together; then each space from its neighbours, as the equation has it.
    links = [
        ("house", "garage", 35.0),
        ("garage", "porch", 12.0),
        ("garage", "outside", 60.0),
        ("porch", "house", 8.0),
        ("porch", "outside", 25.0),
    ]
    found = solved(links, {"house": 20.0, "outside": -5.0})
    coupling = en_12831.Coupling
    garage = en_12831.unheated_temperature(
        [coupling(35.0, 20.0), coupling(12.0, found["porch"]), coupling(60.0, -5.0)]
    )
    porch = en_12831.unheated_temperature([coupling(8.0, 20.0), coupling(12.0, garage), coupling(25.0, -5.0)])
    assert garage == pytest.approx(found["garage"])
    assert porch == pytest.approx(found["porch"])
    b = (20.0 - found["garage"]) / 25.0
    lost_w = 35.0 * (20.0 - found["garage"])
    assert 35.0 * en_12831.reduced_difference(20.0, -5.0, b) == pytest.approx(lost_w)


def test_unheated_space_left_alone_comes_to_its_temperature() -> None:
    # Equation: θu = Σ(H · θ)/Σ H. A space of 2 MJ/K that starts at 30 °C, integrated in time until it rests.
    sides = [(30.0, 20.0), (15.0, 18.0), (70.0, -3.0)]

    def rate(_: float, state: Any) -> list[float]:
        return [sum(coefficient * (temperature - state[0]) for coefficient, temperature in sides) / 2e6]

    rested = solve_ivp(rate, (0.0, 10.0 * 86_400.0), [30.0], method="LSODA", rtol=1e-10, atol=1e-10).y[0][-1]
    ours = en_12831.unheated_temperature(en_12831.Coupling(*side) for side in sides)
    assert ours == pytest.approx(rested, abs=1e-6)


@given(st.lists(st.floats(0.02, 6.0), min_size=1, max_size=7), st.floats(15.0, 25.0), st.floats(-20.0, 35.0))
def test_temperatures_between_layers(resistances: list[float], inside_c: float, outside_c: float) -> None:
    # Equation: θ_n = θi − (θi − θe) · Σ R/R_tot.
    nodes = [f"{index:02}" for index in range(len(resistances) + 1)]
    links = [(*pair, 1.0 / resistance) for pair, resistance in zip(pairwise(nodes), resistances, strict=True)]
    found = solved(links, {nodes[0]: inside_c, nodes[-1]: outside_c})
    ours = iso_6946.interface_temperatures(resistances, inside_c, outside_c)
    assert ours == pytest.approx([found[node] for node in nodes], abs=1e-6)


@given(
    st.floats(0.03, 1.2),
    st.floats(0.0, 5.0),
    st.floats(0.0, 8.0),
    st.floats(0.0, 0.1),
    st.floats(0.0, 3.0),
)
def test_void_under_a_suspended_floor(
    perimeter_to_area: float, resistance: float, wind: float, shielding: float, wall_u_value: float
) -> None:
    # Equation: 1/U = 1/U_f + 1/(U_g + U_x), as the balance of the void: room above, ground below, walls and wind
    # beside. The ground's own U-value is that of a slab, which is checked against the heat equation elsewhere.
    site = {
        "area_m2": 60.0,
        "exposed_perimeter_m": 60.0 * perimeter_to_area,
        "wall_thickness_m": 0.3,
        "soil_conductivity_w_mk": 2.0,
    }
    ours = iso_13370.suspended_floor(
        **site,
        floor_resistance_m2k_w=resistance,
        height_above_ground_m=0.25,
        ventilation_opening_m2_per_m=0.002,
        wind_speed_m_s=wind,
        wind_shielding_factor=shielding,
        underfloor_wall_u_value_w_m2k=wall_u_value,
    )
    perimeter_m = site["exposed_perimeter_m"]
    # 725 = 1450/2: the standard gives the wind's heat for each m² of floor as 1450 ε v f_w/B′, B′ = 2 A/P.
    links = [
        ("room", "void", 60.0 / (resistance + 2.0 * 0.17)),
        ("void", "outside by the ground", 60.0 * ours.ground_u_value_w_m2k),
        ("void", "outside by the walls", perimeter_m * 0.25 * wall_u_value),
        ("void", "outside by the wind", perimeter_m * 725.0 * 0.002 * wind * shielding),
    ]
    outside = {link[1]: 0.0 for link in links[1:]}
    found = solved(links, {"room": 1.0, **outside})
    assert ours.u_value_w_m2k == pytest.approx(links[0][2] * (1.0 - found["void"]) / 60.0)


parts = st.lists(st.tuples(st.floats(0.05, 4.0), st.floats(0.4, 6.0)), min_size=1, max_size=5)
edges = st.lists(st.tuples(st.floats(0.1, 12.0), st.floats(0.0, 0.2)), max_size=4)


@given(parts, edges)
def test_window_as_conductances_side_by_side(
    some_parts: list[tuple[float, float]], some_edges: list[tuple[float, float]]
) -> None:
    # Equation: U_w = (Σ A U + Σ l Ψ)/Σ A, as products and means of arrays.
    areas, u_values = np.array(some_parts).T
    lengths, psis = np.array(some_edges or [(0.0, 0.0)]).T
    ours = iso_10077_1.window(
        [iso_10077_1.Part(*one) for one in some_parts], [iso_10077_1.Edge(*one) for one in some_edges]
    )
    assert ours.u_value_w_m2k == pytest.approx(float((areas @ u_values + lengths @ psis) / areas.sum()))
    assert ours.parts_w_k / ours.area_m2 == pytest.approx(float(np.average(u_values, weights=areas)))
    assert ours.edges_w_k == pytest.approx(float(lengths @ psis))


@given(
    st.floats(0.005, 0.15),
    st.floats(0.02, 0.08),
    st.floats(0.6, 2.0),
    st.floats(0.3, 6.0),
    st.floats(18.0, 24.0),
    st.floats(-5.0, 20.0),
    st.floats(26.0, 45.0),
)
def test_heat_up_and_down_from_the_plane_of_the_pipes(
    covering: float,
    screed: float,
    conductivity: float,
    down: float,
    room_c: float,
    below_c: float,
    plane_c: float,
) -> None:
    # Equations: R_o = 1/α + R_λ,B + s_u/λ_u, and φ_u = (R_o · φ + θ_i − θ_u)/R_u. A plane of pipes at one
    # temperature, layer by layer to the room and straight to what lies below.
    links = [
        ("plane", "under the covering", conductivity / screed),
        ("under the covering", "surface", 1.0 / covering),
        ("surface", "room", 10.8),
        ("plane", "below", 1.0 / down),
    ]
    found = solved(links, {"plane": plane_c, "room": room_c, "below": below_c})
    up_w_m2 = 10.8 * (found["surface"] - room_c)
    down_w_m2 = (plane_c - below_c) / down
    resistance_up = en_1264.resistance_up(
        covering_resistance_m2k_w=covering, screed_thickness_m=screed, screed_conductivity_w_mk=conductivity
    )
    assert resistance_up == pytest.approx((plane_c - room_c) / up_w_m2, rel=1e-6)
    ours = en_1264.downward_heat_flux(
        upward_heat_flux_w_m2=up_w_m2,
        resistance_up_m2k_w=resistance_up,
        resistance_down_m2k_w=down,
        room_c=room_c,
        below_c=below_c,
    )
    assert ours == pytest.approx(down_w_m2, rel=1e-6)
