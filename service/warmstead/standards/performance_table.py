"""A heat pump's performance table: bilinear within its grid, nothing outside it.

At one flow temperature a bilinear surface is a line with corners at the table's outside temperatures. That line,
a `Curve`, is all that sizing needs: values on it are exact, and so are its crossings with a straight load line.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from itertools import islice
from typing import NamedTuple

from warmstead.standards.errors import NotPhysical, OutOfScope

Curve = tuple[tuple[float, float], ...]
"""Corners (outside temperature in °C, value), rising in temperature."""

_CLAUSE = "bilinear interpolation in the maker's table"


class Holes(NamedTuple):
    """What a table lacks of a full grid."""

    number: int
    first: tuple[tuple[float, float], ...]
    """The first few missing (outside temperature, flow temperature), in °C."""


def holes(nodes: Collection[tuple[float, float]], most: int = 6) -> Holes:
    """Return what a full grid over the given (outside, flow) pairs would need and does not have.

    Args:
        nodes: outside and flow temperatures of the table's rows, °C.
        most: how many of the missing pairs to name.
    """
    given = set(nodes)
    outside = sorted({node[0] for node in given})
    flow = sorted({node[1] for node in given})
    # Counted, not listed: rows that fit nowhere would make a list as long as the product of the axes.
    missing = ((t, f) for t in outside for f in flow if (t, f) not in given)
    count = len(outside) * len(flow) - len(given)
    return Holes(count, tuple(islice(missing, min(most, count))))


def curve_at_flow(values: Mapping[tuple[float, float], float], flow_c: float) -> Curve:
    """Return the table's line at one flow temperature.

    Args:
        values: value by (outside temperature °C, flow temperature °C), a full grid.
        flow_c: flow temperature, °C, within the table.

    Raises:
        NotPhysical: the table has holes.
        OutOfScope: the flow temperature lies outside the table.
    """
    missing = holes(values)
    if missing.number:
        outside_c, flow = missing.first[0]
        raise NotPhysical(
            f"the table has no row at {outside_c:g} °C outside with {flow:g} °C flow",
            field="performance",
            value=missing.first[0],
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
