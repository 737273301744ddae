"""Collecting the steps of the workings."""

from __future__ import annotations

from warmstead.building.statements import Step


class Steps:
    """Collects the steps of one subject."""

    def __init__(self, of: str) -> None:
        self.of = of
        self.steps: list[Step] = []

    def add(self, quantity: str, symbol: str, value: float, unit: str, equation: str, clause: str) -> None:
        """Add one step."""
        self.steps.append(
            {
                "of": self.of,
                "quantity": quantity,
                "symbol": symbol,
                "value": value,
                "unit": unit,
                "equation": equation,
                "clause": clause,
            }
        )
