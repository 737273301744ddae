"""What a choice of measures is to reach, as quantities in watts of which none may be above 0."""

from __future__ import annotations

from typing import NamedTuple, Protocol

from warmstead.building.heat_pumps import Limits
from warmstead.building.improvement.choice import Quantities
from warmstead.standards.en_14825 import HOURS_PER_DAY


class Loads(NamedTuple):
    """What a house needs with some measures, and what its emitters give."""

    house_w: float
    rooms_w: tuple[float, ...]
    outputs_w: tuple[float, ...]
    """Output of each room's emitters; empty where no water temperatures are in question."""


class Condition(NamedTuple):
    """One condition of a goal."""

    excess_w: float
    """Watts by which it is missed; 0 or less where it is kept."""
    scale_w: float
    """The size of the numbers whose difference that is."""
    room: int = -1
    """Index of the room that it is about; -1 for the house."""


class Goal(Protocol):
    """A goal as conditions on loads."""

    def conditions(self, loads: Loads) -> list[Condition]:
        """Return every condition of the goal, always the same ones in the same order."""


class NoGoal:
    """Nothing has to be reached."""

    def conditions(self, loads: Loads) -> list[Condition]:
        """Return no condition."""
        return []


class HouseLoad:
    """The house's load is at most so many watts."""

    def __init__(self, most_w: float) -> None:
        self.most_w = most_w

    def conditions(self, loads: Loads) -> list[Condition]:
        """Return the one condition."""
        return [Condition(loads.house_w - self.most_w, max(self.most_w, 1.0))]


class Suitable:
    """A candidate is suitable: the load lies between what makes it too large and what makes it too small."""

    def __init__(self, capacity_w: float, hours: float, limits: Limits) -> None:
        """Take the capacity at the design condition, W, and the hours a day that hot water takes."""
        heating_share = (HOURS_PER_DAY - hours) / HOURS_PER_DAY
        self.most_w = capacity_w / limits.minimum_coverage * heating_share
        self.least_w = capacity_w / limits.maximum_coverage * heating_share

    def conditions(self, loads: Loads) -> list[Condition]:
        """Return the two conditions: not undersized, not oversized."""
        return [
            Condition(loads.house_w - self.most_w, self.most_w),
            Condition(self.least_w - loads.house_w, self.least_w),
        ]


class Carried:
    """The emitters of every room carry its load."""

    def conditions(self, loads: Loads) -> list[Condition]:
        """Return one condition for each room."""
        return [
            Condition(load - output, max(output, 1.0), room)
            for room, (load, output) in enumerate(zip(loads.rooms_w, loads.outputs_w, strict=True))
        ]


def quantities(goal: Goal, loads: Loads) -> Quantities:
    """Return what the choice works with: the load, and how far each condition is missed, W."""
    return (loads.house_w, *(condition.excess_w for condition in goal.conditions(loads)))


def scales(goal: Goal, loads: Loads) -> Quantities:
    """Return the size of the numbers behind those quantities, W."""
    largest = max(abs(loads.house_w), sum(map(abs, loads.rooms_w)), 1.0)
    return (largest, *(max(condition.scale_w, 1e-3) for condition in goal.conditions(loads)))


def reached(goal: Goal, loads: Loads, rounding: float) -> bool:
    """Whether a goal is reached, the last digits aside."""
    return all(condition.excess_w <= rounding * condition.scale_w for condition in goal.conditions(loads))
