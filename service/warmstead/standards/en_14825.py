"""EN 14825: a heat pump against the load line of a building.

Terms (load line, bivalent temperature) are those of EN 14825:2018/2022, clause 3 and the annex on part load; clauses
from memory. The daily balance with hot water is that of EN 15450:2007 in its simplest form.
"""

from __future__ import annotations

from typing import NamedTuple

from warmstead.standards.errors import NotPhysical
from warmstead.standards.performance_table import Curve

HOURS_PER_DAY = 24.0


class LoadLine(NamedTuple):
    """The straight line from the design load down to no load at the base temperature."""

    design_heat_load_w: float
    external_temperature_c: float
    base_temperature_c: float

    def at(self, external_c: float) -> float:
        """Load at an outside temperature, in W: negative above the base temperature.

        load(T) = design load · (base − T)/(base − external).
        """
        span_k = self.base_temperature_c - self.external_temperature_c
        return self.design_heat_load_w * (self.base_temperature_c - external_c) / span_k


class Crossing(NamedTuple):
    """Where a curve meets the load line, or on which side of it the whole table lies."""

    temperature_c: float | None
    side: str
    """`crosses`, `above` (the curve stays above the load line) or `below`."""


def bivalent_temperature(capacity: Curve, line: LoadLine) -> Crossing:
    """Outside temperature at which the capacity just carries the load.

    The warmest crossing within the table: from there on downwards the heat pump alone falls short.

    Args:
        capacity: capacity in W by outside temperature, at the flow temperature.
        line: load line of the building.
    """
    return _warmest_crossing(capacity, line)


def cycling_limit(minimum_capacity: Curve, line: LoadLine) -> Crossing:
    """Outside temperature above which the lowest modulation gives more than the load, so that the unit cycles.

    Args:
        minimum_capacity: lowest capacity in W by outside temperature, at the flow temperature.
        line: load line of the building.
    """
    return _warmest_crossing(minimum_capacity, line)


def _warmest_crossing(curve: Curve, line: LoadLine) -> Crossing:
    """Go from the warm end of the table to the cold one until the curve no longer exceeds the load."""
    warmer_t, warmer = curve[-1][0], curve[-1][1] - line.at(curve[-1][0])
    if warmer < 0.0:
        return Crossing(None, "below")
    if warmer == 0.0:
        return Crossing(warmer_t, "crosses")
    for colder_t, value in reversed(curve[:-1]):
        colder = value - line.at(colder_t)
        if colder <= 0.0:
            return Crossing(colder_t + (warmer_t - colder_t) * colder / (colder - warmer), "crosses")
        warmer_t, warmer = colder_t, colder
    return Crossing(None, "above")


def hot_water_hours(energy_kwh_per_day: float, capacity_w: float) -> float:
    """Hours a day that the heat pump makes hot water and cannot heat rooms.

    Args:
        energy_kwh_per_day: heat into hot water, losses of the store included, kWh a day.
        capacity_w: capacity at the flow temperature that the store needs, W.

    Raises:
        NotPhysical: a day is too short.
    """
    hours = energy_kwh_per_day * 1000.0 / capacity_w
    if hours >= HOURS_PER_DAY:
        raise NotPhysical(
            f"hot water alone would take {hours:.1f} hours a day",
            field="energy_kwh_per_day",
            value=energy_kwh_per_day,
            limit=f"less than {capacity_w * HOURS_PER_DAY / 1000.0:g} kWh a day",
            clause="daily balance, EN 15450:2007 (from memory)",
        )
    return hours


def required_capacity(load_w: float, hot_water_hours_per_day: float) -> float:
    """Capacity that makes up the day's space heating in the hours that hot water leaves, in W: load · 24/(24 − t)."""
    return load_w * HOURS_PER_DAY / (HOURS_PER_DAY - hot_water_hours_per_day)


def reduction_needed(
    load_w: float, capacity_w: float, minimum_coverage: float, hot_water_hours_per_day: float
) -> float:
    """Watts by which the house's load would have to fall for a unit to suffice; 0 where it does already.

    max(0, load − capacity/minimum coverage · (24 − t)/24).
    """
    heating_share = (HOURS_PER_DAY - hot_water_hours_per_day) / HOURS_PER_DAY
    return max(0.0, load_w - capacity_w / minimum_coverage * heating_share)
