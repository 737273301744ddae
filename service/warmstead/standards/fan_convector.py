"""A fan convector by its table of outputs, for one fan speed.

A fan convector follows no single power of the excess temperature, so its output is read from measured points.
Straight lines between neighbouring points are common practice; outside the points nothing is known.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from warmstead.standards.errors import NotPhysical, OutOfScope

if TYPE_CHECKING:
    from collections.abc import Sequence

_CLAUSE = "interpolation in a table of outputs"


def output(points: Sequence[tuple[float, float]], excess_k: float) -> float:
    """The output of a fan convector at an excess temperature, W, between two of its measured points.

    Linear interpolation (common practice).

    Args:
        points: (excess temperature K, output W), at least two; excess strictly ascending, outputs 0 or more.
        excess_k: the excess temperature asked for, K; within the table.

    Raises:
        OutOfScope: fewer than two points, or an excess temperature outside the table.
        NotPhysical: excess temperatures that do not ascend, or a negative output.
    """
    _check_points(points)
    lowest, highest = points[0][0], points[-1][0]
    if not lowest <= excess_k <= highest:
        raise OutOfScope(
            f"an excess temperature of {excess_k} K is outside the table of {lowest} to {highest} K",
            field="excess_k",
            value=excess_k,
            limit=f"{lowest} to {highest}",
            clause=_CLAUSE,
        )
    (lower_k, lower_w), (upper_k, upper_w) = next(pair for pair in pairwise(points) if excess_k <= pair[1][0])
    share = (excess_k - lower_k) / (upper_k - lower_k)
    return lower_w + share * (upper_w - lower_w)


def _check_points(points: Sequence[tuple[float, float]]) -> None:
    if len(points) < 2:
        raise OutOfScope(
            f"a table of outputs needs at least two points, not {len(points)}",
            field="points",
            value=len(points),
            limit="at least 2",
            clause=_CLAUSE,
        )
    for (lower_k, _), (upper_k, _) in pairwise(points):
        if not lower_k < upper_k:
            raise NotPhysical(
                f"the excess temperatures of a table ascend, but {upper_k} K follows {lower_k} K",
                field="points",
                value=upper_k,
                limit=f"above {lower_k}",
                clause=_CLAUSE,
            )
    for _, output_w in points:
        if not output_w >= 0.0:
            raise NotPhysical(
                f"a fan convector gives off no {output_w} W",
                field="points",
                value=output_w,
                limit="0 or more",
                clause=_CLAUSE,
            )
