"""The two ways in which an equation may refuse its input.

MethodError
├── OutOfScope    the input is real, but the method does not cover it
└── NotPhysical   the input cannot exist
"""

from __future__ import annotations


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
