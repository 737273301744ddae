"""The two ways in which an equation may refuse its input.

MethodError
├── OutOfScope    the input is real, but the method does not cover it
└── NotPhysical   the input cannot exist
"""

from __future__ import annotations

import math


class MethodError(ValueError):
    """An equation refuses its input: which field, which value, which limit, by which clause."""

    def __init__(self, message: str, *, field: str, value: object, limit: str, clause: str) -> None:
        super().__init__(message)
        self.field = field
        self.value = value
        self.limit = limit
        self.clause = clause


class OutOfScope(MethodError):
    """The input is real, but the method does not cover it."""


class NotPhysical(MethodError):
    """The input cannot exist."""


def check_above_zero(value: float, field: str, clause: str) -> None:
    """Raise NotPhysical unless a value is above 0 and finite."""
    if not 0.0 < value < math.inf:
        raise NotPhysical(
            f"{field} must be above 0 and finite, not {value}",
            field=field,
            value=value,
            limit="above 0, finite",
            clause=clause,
        )


def check_not_below_zero(value: float, field: str, clause: str) -> None:
    """Raise NotPhysical unless a value is 0 or more and finite."""
    if not 0.0 <= value < math.inf:
        raise NotPhysical(
            f"{field} must be 0 or more and finite, not {value}",
            field=field,
            value=value,
            limit="0 or more, finite",
            clause=clause,
        )
