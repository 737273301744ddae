"""A heat pump's performance table: bilinear within its grid, nothing outside it.

At one flow temperature a bilinear surface is a line with corners at the table's outside temperatures. That line,
a `Curve`, is all that sizing needs: values on it are exact, and so are its crossings with a straight load line.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence

from warmstead.standards.errors import NotPhysical, OutOfScope

Curve = tuple[tuple[float, float], ...]
"""Corners (outside temperature in °C, value), rising in temperature."""

_CLAUSE = "bilinear interpolation in the maker's table"


def missing_nodes(nodes: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the (outside, flow) pairs that a full grid over the given pairs would need and does not have."""
    given = set(nodes)
    outside = sorted({node[0] for node in nodes})
    flow = sorted({node[1] for node in nodes})
    return [(t, f) for t in outside for f in flow if (t, f) not in given]


def curve_at_flow(values: Mapping[tuple[float, float], float], flow_c: float) -> Curve:
    """Return the table's line at one flow temperature.

    Args:
        values: value by (outside temperature °C, flow temperature °C), a full grid.
        flow_c: flow temperature, °C, within the table.

    Raises:
        NotPhysical: the table has holes.
        OutOfScope: the flow temperature lies outside the table.
    """
    holes = missing_nodes(list(values))
    if holes:
        raise NotPhysical(
            f"the table has no row at {holes[0][0]:g} °C outside with {holes[0][1]:g} °C flow",
            field="performance",
            value=holes[0],
            limit="every outside temperature with every flow temperature",
            clause=_CLAUSE,
        )
    flows = sorted({flow for _, flow in values})
    low, high, weight = _bracket(flows, flow_c, "flow_temperature_c")
    outside = sorted({t for t, _ in values})
    return tuple((t, values[t, low] + weight * (values[t, high] - values[t, low])) for t in outside)


def value_on(curve: Curve, external_c: float) -> float:
    """Return the value at an outside temperature.

    Args:
        curve: a table's line at one flow temperature.
        external_c: outside temperature, °C, within the table.

    Raises:
        OutOfScope: the temperature lies outside the table.
    """
    temperatures = [t for t, _ in curve]
    low, high, weight = _bracket(temperatures, external_c, "external_temperature_c")
    by_temperature = dict(curve)
    return by_temperature[low] + weight * (by_temperature[high] - by_temperature[low])


def _bracket(nodes: Sequence[float], wanted: float, field: str) -> tuple[float, float, float]:
    """Return the nodes on either side and the weight of the upper one."""
    if not nodes[0] <= wanted <= nodes[-1]:
        raise OutOfScope(
            f"{wanted:g} °C is outside the table, which covers {nodes[0]:g} to {nodes[-1]:g} °C",
            field=field,
            value=wanted,
            limit=f"{nodes[0]:g} to {nodes[-1]:g} °C",
            clause=_CLAUSE,
        )
    upper = bisect_left(nodes, wanted)
    if nodes[upper] == wanted:
        return nodes[upper], nodes[upper], 0.0
    low, high = nodes[upper - 1], nodes[upper]
    return low, high, (wanted - low) / (high - low)
