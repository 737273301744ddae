"""A heat pump's performance table, bilinear within its grid."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmstead.standards.errors import NotPhysical, OutOfScope
from warmstead.standards.performance_table import curve_at_flow, holes, value_on

# An invented unit: capacity in W by outside and flow temperature, °C.
CAPACITY = {
    (-7.0, 35.0): 5000.0,
    (-7.0, 55.0): 4400.0,
    (2.0, 35.0): 6200.0,
    (2.0, 55.0): 5600.0,
    (7.0, 35.0): 8000.0,
    (7.0, 55.0): 7000.0,
}


@pytest.mark.parametrize(("node", "capacity_w"), CAPACITY.items())
def test_rows_of_the_table_stand_as_they_are(node: tuple[float, float], capacity_w: float) -> None:
    external_c, flow_c = node
    assert value_on(curve_at_flow(CAPACITY, flow_c), external_c) == capacity_w


@pytest.mark.parametrize(
    ("external_c", "flow_c", "capacity_w"),
    [
        # By hand, a quarter of the way from 35 to 55: 5000 − 150, 6200 − 150, 8000 − 250.
        (-7.0, 40.0, 4850.0),
        (2.0, 40.0, 6050.0),
        (7.0, 40.0, 7750.0),
        # By hand, a third of the way from −7 to 2: 4850 + 400.
        (-4.0, 40.0, 5250.0),
        # By hand, two fifths of the way from 2 to 7: 6050 + 680.
        (4.0, 40.0, 6730.0),
        # By hand, half-way in both directions: (5000 + 4400 + 6200 + 5600)/4.
        (-2.5, 45.0, 5300.0),
    ],
)
def test_between_the_rows_by_hand(external_c: float, flow_c: float, capacity_w: float) -> None:
    assert value_on(curve_at_flow(CAPACITY, flow_c), external_c) == pytest.approx(capacity_w)


def test_order_of_the_rows_does_not_matter() -> None:
    backwards = dict(reversed(CAPACITY.items()))
    assert curve_at_flow(backwards, 41.0) == curve_at_flow(CAPACITY, 41.0)
    temperatures = [t for t, _ in curve_at_flow(backwards, 41.0)]
    assert temperatures == [-7.0, 2.0, 7.0]


def test_table_of_one_flow_temperature() -> None:
    one = {(-7.0, 35.0): 5000.0, (7.0, 35.0): 8000.0}
    assert curve_at_flow(one, 35.0) == ((-7.0, 5000.0), (7.0, 8000.0))
    with pytest.raises(OutOfScope):
        curve_at_flow(one, 35.1)


def test_curve_of_one_row() -> None:
    assert value_on(((-7.0, 5000.0),), -7.0) == 5000.0


@given(st.floats(-7.0, 7.0), st.floats(35.0, 55.0))
def test_nothing_leaves_the_range_of_the_rows_around(external_c: float, flow_c: float) -> None:
    value = value_on(curve_at_flow(CAPACITY, flow_c), external_c)
    assert min(CAPACITY.values()) <= value <= max(CAPACITY.values())


@given(
    st.floats(-1.0, 1.0),
    st.floats(-50.0, 50.0),
    st.floats(-0.5, 0.5),
    st.floats(-7.0, 7.0),
    st.floats(35.0, 55.0),
)
def test_a_bilinear_table_is_read_exactly(
    a: float, b: float, c: float, external_c: float, flow_c: float
) -> None:
    def surface(t: float, f: float) -> float:
        return 6000.0 + 100.0 * a * t + b * f + c * t * f

    table = {(t, f): surface(t, f) for t, f in CAPACITY}
    assert value_on(curve_at_flow(table, flow_c), external_c) == pytest.approx(
        surface(external_c, flow_c), abs=1e-6
    )


def test_missing_rows_are_named() -> None:
    nodes = [node for node in CAPACITY if node not in ((2.0, 35.0), (7.0, 55.0))]
    assert list(holes(nodes).first) == [(2.0, 35.0), (7.0, 55.0)]
    assert list(holes(list(CAPACITY)).first) == []
    assert list(holes([]).first) == []


def test_table_with_holes_is_refused() -> None:
    holed = {node: value for node, value in CAPACITY.items() if node != (2.0, 35.0)}
    with pytest.raises(NotPhysical) as refusal:
        curve_at_flow(holed, 35.0)
    assert refusal.value.field == "performance"
    assert refusal.value.value == (2.0, 35.0)
    assert "2 °C outside with 35 °C flow" in str(refusal.value)


@pytest.mark.parametrize("flow_c", [34.999, 55.001, float("nan")])
def test_flow_outside_the_table_is_refused(flow_c: float) -> None:
    with pytest.raises(OutOfScope) as refusal:
        curve_at_flow(CAPACITY, flow_c)
    assert (refusal.value.field, refusal.value.limit) == ("flow_temperature_c", "35 to 55 °C")


@pytest.mark.parametrize("external_c", [-7.001, 7.001, float("nan")])
def test_outside_temperature_outside_the_table_is_refused(external_c: float) -> None:
    with pytest.raises(OutOfScope) as refusal:
        value_on(curve_at_flow(CAPACITY, 45.0), external_c)
    assert (refusal.value.field, refusal.value.limit) == ("external_temperature_c", "-7 to 7 °C")
