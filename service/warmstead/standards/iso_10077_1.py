"""ISO 10077-1: thermal transmittance of windows and doors from their parts.

Clauses are those of ISO 10077-1:2017; 6.4.2 was read in its table of contents, the equation is from memory
and agrees with a published example.

Reference: ISO 10077-1:2017, Thermal performance of windows, doors and shutters - Calculation of thermal
transmittance - Part 1: General.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from warmstead.standards.errors import NotPhysical, check_not_below_zero

if TYPE_CHECKING:
    from collections.abc import Sequence

_CLAUSE = "ISO 10077-1:2017, 6.4.2"


class Part(NamedTuple):
    """Glazing, frame or an opaque panel: its projected area and its own U-value."""

    area_m2: float
    u_value_w_m2k: float


class Edge(NamedTuple):
    """Where glazing or a panel meets its frame: visible length, and what the joint adds in a metre."""

    length_m: float
    psi_w_mk: float


class Window(NamedTuple):
    """The window's U-value and area, with the heat through its parts and through their edges."""

    u_value_w_m2k: float
    area_m2: float
    parts_w_k: float
    edges_w_k: float


def window(parts: Sequence[Part], edges: Sequence[Edge]) -> Window:
    """U-value of a window or door (6.4.2): U_w = (Σ A U + Σ l Ψ)/Σ A.

    The areas are those seen: of the glazing the smaller of its two sides, of the frame the larger.

    Args:
        parts: areas in m², 0 or more and not all 0; U-values in W/(m²K), 0 or more.
        edges: lengths in m, 0 or more; Ψ in W/(mK), which may be below 0 as long as the window's U-value is
            not.

    Raises:
        NotPhysical: a value outside its range; no area at all; edges that take more than the parts lose.
    """
    area = conducted = 0.0
    for index, part in enumerate(parts):
        check_not_below_zero(part.area_m2, f"parts/{index}/area_m2", _CLAUSE)
        check_not_below_zero(part.u_value_w_m2k, f"parts/{index}/u_value_w_m2k", _CLAUSE)
        area += part.area_m2
        conducted += part.area_m2 * part.u_value_w_m2k
    at_edges = 0.0
    for index, edge in enumerate(edges):
        check_not_below_zero(edge.length_m, f"edges/{index}/length_m", _CLAUSE)
        if not math.isfinite(edge.psi_w_mk):
            raise _not_physical(edge.psi_w_mk, f"edges/{index}/psi_w_mk", "finite")
        at_edges += edge.length_m * edge.psi_w_mk
    if area <= 0.0:
        raise _not_physical(area, "parts", "more than 0 m2 in all")
    if conducted + at_edges < 0.0:
        raise _not_physical(at_edges, "edges", "edges that take less than the parts lose")
    return Window((conducted + at_edges) / area, area, conducted, at_edges)


def _not_physical(value: float, field: str, limit: str) -> NotPhysical:
    return NotPhysical(
        f"{field} of {value} can't be: {limit}", field=field, value=value, limit=limit, clause=_CLAUSE
    )
