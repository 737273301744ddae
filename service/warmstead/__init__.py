"""Warmstead: the heat loss of a house, line by line."""

from __future__ import annotations

from typing import Any

from warmstead.version import __version__

_QUESTIONS = (
    "u_value",
    "required_thickness",
    "room_loss",
    "house_loss",
    "emitter_check",
    "heat_pump_sizing",
)
__all__ = [  # all but the version are loaded by __getattr__
    "Refused",
    "__version__",
    "emitter_check",
    "heat_pump_sizing",
    "house_loss",
    "required_thickness",
    "room_loss",
    "u_value",
]


def __getattr__(name: str) -> Any:
    """Load a question when it is first asked for, so that importing the package stays quick."""
    if name == "Refused":
        from warmstead.building.findings import Refused

        return Refused
    if name in _QUESTIONS:
        from warmstead.exchange.asking import asker

        return asker(name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
