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
    "improvements",
    "survey_comparison",
    "uncertainty",
    "measured_heat_loss",
    "radiator_output",
    "element_loss",
    "outside_temperature",
)
__all__ = [  # all but the version are loaded by __getattr__
    "Refused",
    "__version__",
    "element_loss",
    "emitter_check",
    "heat_pump_sizing",
    "house_loss",
    "improvements",
    "measured_heat_loss",
    "outside_temperature",
    "radiator_output",
    "required_thickness",
    "room_loss",
    "survey_comparison",
    "u_value",
    "uncertainty",
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
