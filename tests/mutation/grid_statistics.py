"""The grid's calls of the statistics: draws and intervals, the energy signature, its fit, Student's t.

Draws and made-up readings come from generators with a fixed seed, a new one for each call.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import numpy as np
from grid_calls import Call, over

from warmstead.standards import change_point, energy_signature, jcgm_101, student_t

# --- JCGM 101 --------------------------------------------------------------------------------------


def drawn(distribution: jcgm_101.Distribution, count: int) -> tuple[Any, ...]:
    """Return some draws of a distribution, with its expectation and standard uncertainty."""
    generator = np.random.Generator(np.random.PCG64(4))
    return distribution.mean, distribution.standard_uncertainty, distribution.draw(generator, count)


def width(low: float, high: float) -> float:
    """Return the width of an interval."""
    return jcgm_101.Interval(low, high).width


def sample(kind: str, count: int) -> Any:
    """Return a made-up sample."""
    generator = np.random.Generator(np.random.PCG64(7))
    if kind == "even":
        return np.arange(1.0, count + 1.0)
    if kind == "constant":
        return np.full(count, 5.0)
    return generator.normal(3.0, 0.5, count) if kind == "normal" else generator.exponential(2.0, count)


def jcgm_101_calls() -> Iterator[Call]:
    """Yield the calls of `jcgm_101`."""
    distributions: tuple[jcgm_101.Distribution, ...] = (
        jcgm_101.Normal(3.0, 0.5),
        jcgm_101.Normal(3.0, 0.5, low=2.6),
        jcgm_101.Normal(3.0, 0.5, high=3.2),
        jcgm_101.Normal(0.0, 1.5, -1.0, 1.5),
        jcgm_101.Rectangular(-1.0, 4.0),
        jcgm_101.Rectangular(2.0, 2.5),
        jcgm_101.Triangular(2.0, 6.0),
        jcgm_101.Triangular(-3.0, 0.5),
        jcgm_101.Lognormal(2.0, 1.6),
        jcgm_101.Lognormal(0.7, 0.1),
    )
    yield from over(drawn, distribution=distributions, count=(1, 60))
    yield from over(width, low=(-2.0, 0.0, 1.5), high=(2.0, 4.0))
    yield from over(
        jcgm_101.normal_within,
        mean=(-1.0, 0.0, 0.95, 2.9, 3.0, 3.5, 7.0),
        standard_uncertainty=(0.01, 0.5, 1.0, 1.5),
        low=(-math.inf, 0.0, 1.0),
        high=(4.0, 6.5, 10.0, math.inf),
    )
    for kind in ("even", "normal", "skewed", "constant"):
        for count in (100, 101, 240, 1000):
            ordered = np.sort(sample(kind, count))
            yield from over(
                jcgm_101.coverage_intervals, ordered=(ordered,), probability=(0.5, 0.8, 0.9, 0.95, 0.99)
            )
        for count in (2, 3, 50):
            yield jcgm_101.moments, (sample(kind, count),), {}
        # Three samples a call, none of them in order.
        lines = np.stack([sample(kind, 101)[::-1], np.roll(sample(kind, 101), 40), 2.0 * sample(kind, 101)])
        yield from over(jcgm_101.symmetric_ends, lines=(lines,), probability=(0.5, 0.9, 0.95, 0.99))
    yield from over(
        jcgm_101.numerical_tolerance,
        standard_uncertainty=(0.00035, 0.02, 0.94, 0.96, 1.0, 2.0, 9.4, 9.6, 99.6, 648.9),
        digits=(1, 2),
    )
    yield jcgm_101.numerical_tolerance, (0.0123,), {}
    for low, high in (
        (-2.0, 2.0), (-2.5, 2.5), (-1.5, 2.0), (-2.75, 2.0), (-2.875, 2.0), (-2.0, 1.0), (-2.0, 2.75), (-3.0, 2.75),
    ):  # fmt: skip
        theirs = jcgm_101.Interval(low, high)
        for tolerances in ((0.25, 0.25), (0.0, 0.5), (0.5, 0.0)):
            intervals = jcgm_101.CoverageIntervals(theirs, jcgm_101.Interval(-9.0, 9.0), *tolerances)
            yield from over(
                jcgm_101.agreement,
                first_order=(jcgm_101.Interval(-2.0, 2.0),),
                drawn=(intervals,),
                tolerance=(0.25, 0.5, 0.75),
            )
    for contributions in ([], [0.0], [2.0], [3.0, 4.0], [-3.0, 4.0], [1.0, 1.0, 1.0, 10.0]):
        yield jcgm_101.combined_standard_uncertainty, (contributions,), {}
    yield from over(
        jcgm_101.normal_interval,
        estimate=(-1.0, 0.0, 8000.0),
        standard_uncertainty=(0.0, 0.5, 400.0),
        probability=(0.5, 0.9, 0.95, 0.99),
    )


# --- The energy signature --------------------------------------------------------------------------


def energy_signature_calls() -> Iterator[Call]:
    """Yield the calls of `energy_signature`."""
    for base_c in (10.0, 15.5, 20.0):
        for days in ([], [10.0], [25.0], [15.5], [10.0, 25.0, 15.0], [-5.0, 0.0, 5.0, 12.0, 17.0]):
            yield energy_signature.degree_days_k, (base_c, days), {}
    # Both sides of the series and of the guard against overflow: k·Δθ = ±1e-9, -700 and -745.
    for difference_k in (
        -2000.0, -1060.0, -1000.0, -990.0, -985.0, -40.0, -5.0, -1.0, -0.1, -1e-4, -2e-9, -1e-9, 0.0,
        1e-9, 2e-9, 1e-4, 0.1, 1.0, 5.0, 10.5, 40.0, 2000.0,
    ):  # fmt: skip
        yield energy_signature.degree_days_of_mean_k, (difference_k, 0.0), {}
    yield from over(
        energy_signature.degree_days_of_mean_k,
        base_temperature_c=(12.0, 15.5, 18.0),
        mean_temperature_c=(-4.0, 5.0, 10.0, 15.5, 17.0),
    )
    yield from over(
        energy_signature.implied_gains_w,
        coefficient_w_k=(-1.0, -1e-12, 0.0, 0.5, 200.0, math.nan),
        internal_temperature_c=(18.0, 20.0),
        base_temperature_c=(15.5, 20.0),
    )
    yield from over(
        energy_signature.efficiency_on_gross,
        efficiency_on_net=(-1.0, 0.0, 0.85, 1.05, math.nan),
        net_over_gross=(-1.0, 0.0, 0.9, 1.0, math.nan),
    )
    part = energy_signature.Uncertainty
    for parts in (
        [],
        [part(0.0, 3.0), part(0.0, math.inf)],
        [part(0.0, 0.0)],
        [part(2.0, 7.0)],
        [part(2.0, 7.0), part(0.0, 1.0)],
        [part(2.0, math.inf), part(1.0, math.inf)],
        [part(3.0, 8.0), part(4.0, math.inf)],
        [part(3.0, 8.0), part(4.0, 0.5), part(0.7, 12.0)],
        [part(0.2, 1.0), part(0.1, 5.0)],
        [part(1e-200, 7.0)],
        [part(1.0, 0.0)],
        [part(1.0, -2.0)],
        [part(1.0, math.nan)],
        [part(-1.0, 3.0)],
        [part(2.0, 3.0), part(-1.0, 3.0)],
        [part(math.nan, 3.0)],
    ):
        yield energy_signature.combined, (parts,), {}


# --- Student's t -----------------------------------------------------------------------------------


def student_t_calls() -> Iterator[Call]:
    """Yield the calls of `student_t`."""
    freedoms = (1.0, 2.0, 5.5, 10.0, 24.0, 120.0, 1e9, math.inf)
    yield from over(
        student_t.quantile, degrees_of_freedom=freedoms, probability=(0.0, 0.5, 0.8, 0.9, 0.95, 0.99)
    )
    yield from over(
        student_t.probability_below,
        difference=(-3.0, -0.5, 0.0, 0.5, 3.0, 40.0),
        standard=(0.0, 0.5, 1.0, 2.0),
        degrees_of_freedom=freedoms,
    )


# --- The change point ------------------------------------------------------------------------------

_HELD_AS = 1e-3
"""A robust fit has settled when a round moves it by less than 1e-7: seen in thousandths, 1e-9 of the grid is 1e-6 of it."""


@cache
def readings(kind: str) -> change_point.Readings:
    """Return made-up readings."""
    generator = np.random.Generator(np.random.PCG64(3))
    count = 40
    outside = generator.uniform(-3.0, 22.0, count)
    scatter = generator.normal(0.0, 1.5, count)
    heat = 7.0 + 4.0 * np.maximum(0.0, 15.2 - outside)
    found = change_point.Readings(
        heat + scatter, np.ones(count), outside, np.arange(count), np.zeros(count, dtype=np.bool_), None
    )
    if kind == "exact":
        return found._replace(heat_kwh_per_day=heat)
    if kind == "wild":
        wild = heat + scatter
        wild[::9] += 35.0
        return found._replace(heat_kwh_per_day=wild)
    if kind == "uneven days":
        return found._replace(days=np.tile([1.0, 7.0, 3.0, 1.0], 10))
    if kind == "long":
        return found._replace(days=np.full(count, 20.0), heat_kwh_per_day=heat + 0.3 * np.cumsum(scatter))
    if kind == "long enough":
        return found._replace(days=np.full(count, 19.9), heat_kwh_per_day=heat + 0.3 * np.cumsum(scatter))
    if kind == "correlated":
        slow = 5.0 + 4.0 * np.sin(np.arange(count) / 6.0) + 0.3 * scatter
        return found._replace(
            heat_kwh_per_day=60.0 - 4.0 * slow + 0.5 * np.cumsum(scatter), temperatures_c=slow
        )
    if kind == "by hand":
        fixed = np.repeat([0.0, 2.0, 4.0, 6.0, 8.0], 8)
        return found._replace(
            heat_kwh_per_day=64.0 - 4.0 * fixed + np.tile([2.0, -2.0], 20), temperatures_c=fixed
        )
    if kind == "one far away":
        far = np.full(count, 6.0) + 0.2 * scatter
        far[11] = -12.0
        return found._replace(heat_kwh_per_day=70.0 - 4.0 * far + scatter, temperatures_c=far)
    if kind == "rising":
        return found._replace(heat_kwh_per_day=20.0 + outside)
    if kind == "nothing":
        return found._replace(heat_kwh_per_day=np.zeros(count))
    if kind == "sun":
        sun = generator.uniform(0.3, 4.0, count)
        sunny = 7.0 + np.maximum(0.0, 4.0 * (15.2 - outside) - 2.5 * sun) + scatter
        return found._replace(heat_kwh_per_day=sunny, irradiation_kwh_m2_d=sun)
    return _months(outside, generator.normal(0.0, 0.3, 10), kind)


def _months(outside: Any, scatter: Any, kind: str) -> change_point.Readings:
    """Return ten readings of a month: of their days' temperatures, or of their mean, which lies on and about 15.2 °C too."""
    if kind == "months of days":
        of = np.repeat(np.arange(10), 4)
        days = np.maximum(0.0, 15.2 - outside).reshape(10, 4).mean(axis=1)
        formula = np.zeros(10, dtype=np.bool_)
    else:
        outside = np.array([2.0, 4.0, 6.5, 9.0, 12.0, 15.2, 17.0, 19.0, 11.0, 5.0])
        of = np.arange(10)
        days = np.array([energy_signature.degree_days_of_mean_k(15.2, float(mean)) for mean in outside])
        formula = np.array([True, True, False, True, True, True, True, False, True, True])
    return change_point.Readings(
        6.0 + 4.0 * days + scatter, np.tile([30.0, 31.0], 5), outside, of, formula, None
    )


def fitted(kind: str, shape: change_point.Shape) -> list[Any]:
    """Return what a fit says, its numbers in thousandths."""
    found = change_point.fit(readings(kind), shape)
    return [_in_thousandths(value) for value in found]


def _in_thousandths(value: Any) -> Any:
    return value if value is None or isinstance(value, bool) else _HELD_AS * value


def estimate(kind: str, shape: change_point.Shape) -> tuple[float, float, bool]:
    """Return a fit's estimate alone: beside it stands only rounding, or a base temperature that could be any."""
    found = change_point.fit(readings(kind), shape)
    finite = bool(np.isfinite(found.covariance).all())
    return _HELD_AS * found.base_use_kwh_per_day, _HELD_AS * found.coefficient_kwh_d_k, finite


def further(kind: str, shape: change_point.Shape, temperature_c: float, share: float) -> int | None:
    """Return how many days more a fit wants."""
    return change_point.further_days(_fit(kind, shape), temperature_c, share)


@cache
def _fit(kind: str, shape: change_point.Shape) -> change_point.Fit:
    """Return a fit by the right equations: the calls are listed before anything is broken."""
    return change_point.fit(readings(kind), shape)


def mean_temperatures(kind: str) -> tuple[int, Any]:
    """Return how many readings there are, and their mean temperatures."""
    return readings(kind).number, readings(kind).mean_temperatures_c


def change_point_calls() -> Iterator[Call]:
    """Yield the calls of `change_point`."""
    robust = change_point.Shape(line=False, base_fitted=True, aperture_m2=0.0, robust=True)
    plain = robust._replace(robust=False)
    line = plain._replace(line=True, base_fitted=False)
    # Least squares along a line has one solution, found to the last digits.
    for kind in ("by hand", "correlated", "one far away", "uneven days"):
        yield change_point.fit, (readings(kind), line), {}
    for kind, shape in (
        ("by hand", line), ("correlated", line), ("correlated", line._replace(robust=True)), ("one far away", line),
        ("uneven days", line), ("wild", robust), ("wild", plain),
        ("wild", robust._replace(base_fitted=False)), ("long", plain), ("long enough", plain),
        ("rising", line), ("sun", plain._replace(aperture_m2=None)), ("sun", robust._replace(aperture_m2=2.5)),
        ("sun", line._replace(aperture_m2=None)), ("sun", line._replace(aperture_m2=2.5)),
        ("months of days", plain), ("months by formula", plain),
    ):  # fmt: skip
        yield fitted, (kind, shape), {}
    for kind, shape in (
        ("exact", robust), ("exact", plain), ("rising", plain), ("nothing", robust),
        ("nothing", plain._replace(base_fitted=False)), ("nothing", line),
    ):  # fmt: skip
        yield estimate, (kind, shape), {}
    for kind, shape in (("wild", robust), ("correlated", line), ("uneven days", plain)):
        _fit(kind, shape)
        yield from over(
            further,
            kind=(kind,),
            shape=(shape,),
            temperature_c=(-5.0, 3.0, 8.0, 20.0),
            share=(0.01, 0.5, 0.9),
        )
    flat = change_point.fit(readings("by hand"), line)
    for temperature_c, share in ((4.0, 0.9), (-5.0, 1e-6), (-5.0, 0.5), (0.0, 0.8)):
        yield change_point.further_days, (flat, temperature_c, share), {}
    for kind in ("exact", "uneven days", "months of days", "months by formula"):
        yield mean_temperatures, (kind,), {}


GRIDS: dict[str, Callable[[], Iterator[Call]]] = {
    "change_point": change_point_calls,
    "energy_signature": energy_signature_calls,
    "jcgm_101": jcgm_101_calls,
    "student_t": student_t_calls,
}
