"""Slips in numbers: a decimal point, a unit, a rounding."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from math import log
from typing import NamedTuple

from warmstead.survey.house import Element, Junction, Opening, Room

CLOSE = 0.006
"""A ratio this near to a slip's is taken for it, as a relative difference."""


class Slip(NamedTuple):
    """By which factor a slip makes a number differ."""

    factor: float
    guess: str


_POINT = "a slip of the decimal point"
_SLIPS = (
    Slip(10.0, _POINT),
    Slip(100.0, _POINT),
    Slip(1000.0, _POINT),
    Slip(3.28084, "feet for metres"),
    Slip(10.7639, "square feet for square metres"),
    Slip(35.3147, "cubic feet for cubic metres"),
)
_DECIMAL = _SLIPS[:3]
INCHES = (*_DECIMAL, Slip(25.4, "inches for millimetres"))
"""Slips of thicknesses."""
FLOWS = (*_DECIMAL, Slip(3.6, "m³/h for l/s"))
"""Slips of flows of air."""
STEPS = (1.0, 0.5, 0.1, 0.05, 0.01)
"""Steps to which people round metres, square metres and U-values."""
_MEMBERS = ("area_m2", "length_m", "height_m", "floor_area_m2", "volume_m3")

Measured = Element | Opening | Junction | Room


def changes(one: Measured, other: Measured) -> Iterator[tuple[str, float, float]]:
    """Yield the dimensions that both documents give and that differ: the member, and its value in each."""
    for member in _MEMBERS:
        before, after = getattr(one, member, None), getattr(other, member, None)
        if before is not None and after is not None and before != after:
            yield member, before, after


def slip(before: float, after: float, slips: Sequence[Slip] = _SLIPS) -> Slip | None:
    """Return by which slip a number differs from another, either way; None where it is none."""
    if before <= 0.0 or after <= 0.0:
        return None
    ratio = abs(log(after / before))
    return next((one for one in slips if abs(ratio - log(one.factor)) <= CLOSE), None)


def odd_size(dimensions: Iterable[tuple[str, float, float]]) -> tuple[str, float, float, Slip] | None:
    """Return which of some dimensions differs by the factor of a slip, its values, and the slip; None where none does."""
    for member, before, after in dimensions:
        found = slip(before, after)
        if found is not None:
            return member, before, after, found
    return None


def is_rounding(one: float, other: float, coarsest: float = STEPS[0]) -> bool:
    """Tell whether one of two numbers is the other, rounded to a step no coarser than one."""
    return any(step <= coarsest and is_rounding_to(step, one, other) for step in STEPS)


def is_rounding_to(step: float, one: float, other: float) -> bool:
    """Tell whether one of two numbers is the other, rounded to a step."""
    for exact, rounded in ((one, other), (other, one)):
        steps = rounded / step
        whole = steps >= 0.999 and abs(steps - round(steps)) <= 1e-6
        if whole and 0.0 < abs(exact - rounded) <= 0.5 * step * (1.0 + 1e-6):
            return True
    return False
