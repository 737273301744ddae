"""ISO 10077-1 against published windows, and what must hold for any window."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from warmstead.standards.errors import NotPhysical
from warmstead.standards.iso_10077_1 import Edge, Part, window

QUICK = settings(max_examples=60, deadline=None)

parts = st.lists(
    st.tuples(st.floats(0.05, 5.0), st.floats(0.3, 6.0)).map(lambda values: Part(*values)),
    min_size=1,
    max_size=4,
)
edges = st.lists(
    st.tuples(st.floats(0.0, 12.0), st.floats(0.0, 0.3)).map(lambda values: Edge(*values)), max_size=3
)


def test_window_by_parts() -> None:
    # Published example of a window by its parts (as recorded in the project's list of evidence, there
    # marked as read): glazing 1.2 m² of 1.1, frame 0.3 m² of 1.5, 6 m of 0.04 → 1.34.
    result = window([Part(1.2, 1.1), Part(0.3, 1.5)], [Edge(6.0, 0.04)])
    assert result.u_value_w_m2k == pytest.approx(1.34, abs=0.005)
    # By hand: 1.32 + 0.45 and 0.24 W/K over 1.5 m².
    assert result.parts_w_k == pytest.approx(1.77)
    assert result.edges_w_k == pytest.approx(0.24)
    assert result.area_m2 == pytest.approx(1.5)


def test_openings_weighted_by_area() -> None:
    # Scottish building standards technical handbook 2017, domestic, table 6.6 (as recorded in the
    # project's list of evidence, there marked as read): 34.19 W/K over 21.6 m².
    result = window([Part(16.9, 1.5), Part(3.8, 1.9), Part(0.9, 1.8)], [])
    assert result.parts_w_k == pytest.approx(34.19, abs=0.005)
    assert result.area_m2 == pytest.approx(21.6, abs=0.05)
    assert result.u_value_w_m2k == pytest.approx(34.19 / 21.6, abs=0.005)


def test_door_with_a_panel() -> None:
    # By hand: (0.5 · 1.2 + 0.6 · 1.8 + 0.9 · 0.7 + 3 · 0.06 + 4 · 0.05)/2.0 = 2.69/2.0.
    result = window([Part(0.5, 1.2), Part(0.6, 1.8), Part(0.9, 0.7)], [Edge(3.0, 0.06), Edge(4.0, 0.05)])
    assert result.u_value_w_m2k == pytest.approx(1.345)


@QUICK
@given(parts, edges)
def test_edges_only_add(some_parts: list[Part], some_edges: list[Edge]) -> None:
    alone = window(some_parts, [])
    values = [part.u_value_w_m2k for part in some_parts]
    assert min(values) * (1.0 - 1e-12) <= alone.u_value_w_m2k <= max(values) * (1.0 + 1e-12)
    result = window(some_parts, some_edges)
    assert result.u_value_w_m2k >= alone.u_value_w_m2k
    assert result.u_value_w_m2k * result.area_m2 == pytest.approx(result.parts_w_k + result.edges_w_k)


@QUICK
@given(parts, edges, st.integers(1, 9))
def test_equal_windows_together_are_one(some_parts: list[Part], some_edges: list[Edge], number: int) -> None:
    one, all_of_them = window(some_parts, some_edges), window(some_parts * number, some_edges * number)
    assert all_of_them.u_value_w_m2k == pytest.approx(one.u_value_w_m2k)
    assert all_of_them.area_m2 == pytest.approx(number * one.area_m2)


@pytest.mark.parametrize(
    ("some_parts", "some_edges", "field"),
    [
        ([], [], "parts"),
        ([Part(0.0, 1.1)], [], "parts"),
        ([Part(1.0, 1.1), Part(-0.3, 1.5)], [], "parts/1/area_m2"),
        ([Part(1.0, -1.1)], [], "parts/0/u_value_w_m2k"),
        ([Part(1.0, math.inf)], [], "parts/0/u_value_w_m2k"),
        ([Part(1.0, 1.1)], [Edge(-6.0, 0.04)], "edges/0/length_m"),
        ([Part(1.0, 1.1)], [Edge(6.0, math.nan)], "edges/0/psi_w_mk"),
        ([Part(1.0, 1.1)], [Edge(6.0, -0.2)], "edges"),
    ],
)
def test_windows_that_cannot_be(some_parts: list[Part], some_edges: list[Edge], field: str) -> None:
    with pytest.raises(NotPhysical) as caught:
        window(some_parts, some_edges)
    assert caught.value.field == field
    assert caught.value.clause.startswith("ISO 10077-1")
