"""Invented years of meter readings with a known truth: the weather, the house and the people in it.

Nothing here was measured. The weather is a yearly wave with days that hang together (autoregressive, 0.75 from day to day), about
as in lowland Britain: mean 10.5 °C, wave of 7 K, days 3.2 K about it. The sun on an upright plane to the south has a yearly wave and
grey days of its own. Every generator takes a seed and gives the same year for it.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]

COEFFICIENT_W_K = 200.0
BASE_TEMPERATURE_C = 16.0
BASE_USE_KWH_PER_DAY = 8.0
DAYS = 365
KWH_PER_DAY_OF_A_WATT = 24.0 / 1000.0


class Year(NamedTuple):
    """Heat and weather of each day."""

    heat_kwh_per_day: Vector
    temperature_c: Vector


def autoregressive(random: np.random.Generator, count: int, correlation: float) -> Vector:
    """Return a stationary series of standard deviation 1."""
    series = np.empty(count)
    value = random.normal()
    for day in range(count):
        value = correlation * value + math.sqrt(1.0 - correlation**2) * random.normal()
        series[day] = value
    return series


def temperatures(random: np.random.Generator, days: int = DAYS, first_day: int = 0) -> Vector:
    """Return daily mean temperatures outside, °C, from a day of the year on."""
    day = np.arange(first_day, first_day + days)
    return 10.5 - 7.0 * np.cos(2.0 * math.pi * (day - 20) / 365.25) + 3.2 * autoregressive(random, days, 0.75)


def irradiation(random: np.random.Generator, days: int = DAYS, first_day: int = 0) -> Vector:
    """Return daily irradiation on an upright plane to the south, kWh/m²."""
    day = np.arange(first_day, first_day + days)
    clear = 2.4 - 1.2 * np.cos(2.0 * math.pi * (day + 10) / 365.25)
    return clear * np.clip(1.0 + 0.6 * autoregressive(random, days, 0.3), 0.1, 2.0)


def _needed(temperature_c: Vector) -> Vector:
    return KWH_PER_DAY_OF_A_WATT * COEFFICIENT_W_K * np.maximum(0.0, BASE_TEMPERATURE_C - temperature_c)


def year(kind: str, seed: int, days: int = DAYS) -> Year:
    """Return a year of one kind of scatter about the truth.

    `ideal`: normal and independent, 6 kWh. `correlated`: autoregressive, 0.5. `strongly_correlated`: 0.8. `outliers`: 0.3,
    and 5 % of days off by 40 kWh. `absent`: 0.3, and on 5 % of days most of the heat missing, unflagged. `lived_in`: heating scatters
    the more the colder it is, 0.6 from day to day; more at weekends; hot water by a gamma distribution; 2 % of days off by 25 kWh.
    """
    random = np.random.default_rng([20_240_101, seed])
    outside = temperatures(random, days)
    needed = _needed(outside)
    heat = BASE_USE_KWH_PER_DAY + needed + _SCATTER[kind](random, needed)
    return Year(heat, outside)


def _outliers(random: np.random.Generator, needed: Vector) -> Vector:
    struck = random.random(len(needed)) < 0.05
    scatter = 6.0 * autoregressive(random, len(needed), 0.3)
    return scatter + struck * 40.0 * random.normal(size=len(needed))


def _absent(random: np.random.Generator, needed: Vector) -> Vector:
    struck = random.random(len(needed)) < 0.05
    missing = random.uniform(0.4, 0.9, len(needed)) * (needed + BASE_USE_KWH_PER_DAY)
    return 5.0 * autoregressive(random, len(needed), 0.3) - struck * missing


def _lived_in(random: np.random.Generator, needed: Vector) -> Vector:
    count = len(needed)
    heated = needed > 0.0
    degrees = needed / (KWH_PER_DAY_OF_A_WATT * COEFFICIENT_W_K)
    heating = heated * 2.5 * np.sqrt(degrees + 0.3) * autoregressive(random, count, 0.6)
    weekend = heated * (3.0 * (np.arange(count) % 7 > 4) - 3.0 * 2.0 / 7.0)
    hot_water = 0.6 * (random.gamma(4.0, 2.0, count) - 8.0)
    struck = random.random(count) < 0.02
    return heating + weekend + hot_water + struck * 25.0 * random.normal(size=count)


_SCATTER: dict[str, Any] = {
    "ideal": lambda random, needed: 6.0 * random.normal(size=len(needed)),
    "correlated": lambda random, needed: 6.0 * autoregressive(random, len(needed), 0.5),
    "strongly_correlated": lambda random, needed: 6.0 * autoregressive(random, len(needed), 0.8),
    "outliers": _outliers,
    "absent": _absent,
    "lived_in": _lived_in,
}
KINDS = tuple(_SCATTER)


def readings(of: Year, parts: int) -> tuple[list[float], list[float], list[list[float]]]:
    """Return a year as so many readings: heat a day, days and daily temperatures of each."""
    groups = np.array_split(np.arange(len(of.temperature_c)), parts)
    heat = [float(of.heat_kwh_per_day[group].mean()) for group in groups]
    return (
        heat,
        [float(len(group)) for group in groups],
        [of.temperature_c[group].tolist() for group in groups],
    )
