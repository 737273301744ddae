"""JCGM 101 (GUM Supplement 1): propagation of distributions by a Monte Carlo method, and JCGM 100 beside it as a check.

Clause numbers are from memory; what clause 9.2 prints is compared in the tests with closed solutions.
Unlike the other standards this one works on arrays, since it is about many draws: whoever imports it imports NumPy.

References: JCGM 101:2008, Evaluation of measurement data - Supplement 1 to the "Guide to the expression of uncertainty in
measurement" - Propagation of distributions using a Monte Carlo method; JCGM 100:2008, Guide to the expression of
uncertainty in measurement.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from statistics import NormalDist
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from warmstead.standards.errors import NotPhysical

FloatArray = NDArray[np.float64]

NEAREST_LIMIT = 3.0
"""A normal distribution keeps this many standard uncertainties from its limits: 0.13 % lie beyond, and are drawn again."""


class Drawn(NamedTuple):
    """Values of one input."""

    values: FloatArray
    redrawn: int
    """How many fell beyond a limit and were drawn again."""


class Normal(NamedTuple):
    """A normal distribution (JCGM 101, 6.4.7) between limits that are far away."""

    mean: float
    standard_uncertainty: float
    low: float = -math.inf
    high: float = math.inf

    def draw(self, generator: np.random.Generator, count: int) -> Drawn:
        """Return values; what falls beyond a limit is drawn again."""
        values = self.mean + self.standard_uncertainty * generator.standard_normal(count)
        redrawn = 0
        if self.low > -math.inf or self.high < math.inf:
            while (beyond := np.flatnonzero((values < self.low) | (values > self.high))).size:
                redrawn += int(beyond.size)
                values[beyond] = self.mean + self.standard_uncertainty * generator.standard_normal(
                    beyond.size
                )
        return Drawn(values, redrawn)


class Rectangular(NamedTuple):
    """A rectangular distribution (JCGM 101, 6.4.2): anywhere between two limits."""

    low: float
    high: float

    @property
    def mean(self) -> float:
        """The middle."""
        return 0.5 * (self.low + self.high)

    @property
    def standard_uncertainty(self) -> float:
        """The half width over √3."""
        return (self.high - self.low) / math.sqrt(12.0)

    def draw(self, generator: np.random.Generator, count: int) -> Drawn:
        """Return values."""
        return Drawn(self.low + (self.high - self.low) * generator.random(count), 0)


class Triangular(NamedTuple):
    """A symmetric triangular distribution (JCGM 101, 6.4.5): the middle is likeliest, the limits are not reached."""

    low: float
    high: float

    @property
    def mean(self) -> float:
        """The middle."""
        return 0.5 * (self.low + self.high)

    @property
    def standard_uncertainty(self) -> float:
        """The half width over √6."""
        return (self.high - self.low) / math.sqrt(24.0)

    def draw(self, generator: np.random.Generator, count: int) -> Drawn:
        """Return values: the sum of two rectangular ones of half the width."""
        halves = generator.random((2, count))
        return Drawn(self.low + 0.5 * (self.high - self.low) * (halves[0] + halves[1]), 0)


class Lognormal(NamedTuple):
    """A lognormal distribution by its expectation and standard uncertainty: always positive, skewed upwards.

    It is not in table 1 of JCGM 101; ln x is normal with variance ln(1 + (u/mean)²) and mean ln(mean) less half of that.
    """

    mean: float
    standard_uncertainty: float

    def draw(self, generator: np.random.Generator, count: int) -> Drawn:
        """Return values."""
        variance = math.log1p((self.standard_uncertainty / self.mean) ** 2)
        exponents = generator.standard_normal(count)
        exponents *= math.sqrt(variance)
        exponents += math.log(self.mean) - 0.5 * variance
        return Drawn(np.exp(exponents, out=exponents), 0)


Distribution = Normal | Rectangular | Triangular | Lognormal


def normal_within(mean: float, standard_uncertainty: float, low: float, high: float) -> Normal:
    """Return a normal distribution whose limits are at least three standard uncertainties away.

    Args:
        mean: its expectation.
        standard_uncertainty: more than 0, in the same unit.
        low: physical limit below, or -inf.
        high: physical limit above, or inf.

    Raises:
        NotPhysical: too much of it would lie beyond a limit, so that it would no longer be the distribution asked for.
    """
    for limit in (low, high):
        if abs(mean - limit) < NEAREST_LIMIT * standard_uncertainty or not low <= mean <= high:
            raise NotPhysical(
                f"a normal distribution of {mean:g} ± {standard_uncertainty:g} reaches beyond {limit:g}",
                field="standard_uncertainty",
                value=standard_uncertainty,
                limit=f"at most {max(0.0, min(mean - low, high - mean)) / NEAREST_LIMIT:.3g}",
                clause="JCGM 101:2008, 6.4.7",
            )
    return Normal(mean, standard_uncertainty, low, high)


class Interval(NamedTuple):
    """A coverage interval."""

    low: float
    high: float

    @property
    def width(self) -> float:
        """How wide it is."""
        return self.high - self.low


class CoverageIntervals(NamedTuple):
    """Both coverage intervals of a sorted sample, and how well their ends are known."""

    symmetric: Interval
    shortest: Interval
    low_tolerance: float
    high_tolerance: float


def coverage_intervals(ordered: FloatArray, probability: float) -> CoverageIntervals:
    """Coverage intervals from a sorted sample (JCGM 101, 7.7).

    The probabilistically symmetric interval leaves as much below as above; the shortest is the narrowest that holds as many.
    The ends' tolerances are twice their standard error: the spread of the order statistics around them, whatever the
    distribution is.

    Args:
        ordered: the sample, rising; at least 100 values.
        probability: coverage probability, 0.5 to 0.99.
    """
    count = len(ordered)
    held = math.floor(probability * count + 0.5)
    first = max(1, (count - held + 1) // 2)
    low, high = float(ordered[first - 1]), float(ordered[first + held - 1])
    widths = ordered[held:] - ordered[:-held]
    narrowest = int(np.argmin(widths))
    tail = 0.5 * (1.0 - probability)
    reach = math.ceil(2.0 * math.sqrt(count * tail * (1.0 - tail)))
    return CoverageIntervals(
        Interval(low, high),
        Interval(float(ordered[narrowest]), float(ordered[narrowest + held])),
        _half_spread(ordered, first - 1, reach),
        _half_spread(ordered, first + held - 1, reach),
    )


def _half_spread(ordered: FloatArray, place: int, reach: int) -> float:
    below, above = max(0, place - reach), min(len(ordered) - 1, place + reach)
    return 0.5 * float(ordered[above] - ordered[below])


class Moments(NamedTuple):
    """Estimate and standard uncertainty of a sample, each with its numerical tolerance."""

    mean: float
    standard_uncertainty: float
    mean_tolerance: float
    standard_uncertainty_tolerance: float


def moments(sample: FloatArray) -> Moments:
    """Estimate and standard uncertainty (JCGM 101, 7.6), with twice their standard errors (7.9.2).

    Args:
        sample: at least two values.
    """
    count = len(sample)
    mean = float(sample.mean())
    off = sample - mean
    squares = off * off
    variance = float(squares.sum()) / (count - 1)
    deviation = math.sqrt(variance)
    kurtosis = float((squares * squares).mean()) / variance**2 if variance > 0.0 else 1.0
    return Moments(
        mean,
        deviation,
        2.0 * deviation / math.sqrt(count),
        2.0 * deviation * math.sqrt(max(0.0, kurtosis - 1.0) / (4.0 * count)),
    )


def numerical_tolerance(standard_uncertainty: float, digits: int = 1) -> float:
    """Numerical tolerance δ of a standard uncertainty (JCGM 101, 7.9.2): half a unit in its last significant digit.

    Args:
        standard_uncertainty: more than 0.
        digits: how many of its digits are meaningful, 1 or 2.
    """
    exponent = int(f"{standard_uncertainty:.{digits - 1}e}".partition("e")[2]) - (digits - 1)
    return 0.5 * 10.0**exponent


Agreement = Literal["agrees", "differs", "too_few_draws"]


def agreement(first_order: Interval, drawn: CoverageIntervals, tolerance: float) -> Agreement:
    """Validation of the law of propagation by the Monte Carlo method (JCGM 101, clause 8).

    Both ends have to agree within δ. Where the draws themselves are too few to tell, that is the answer.

    Args:
        first_order: interval by the law of propagation.
        drawn: intervals by the Monte Carlo method; the symmetric one is compared.
        tolerance: δ.
    """
    verdicts = []
    for ours, theirs, known_to in (
        (first_order.low, drawn.symmetric.low, drawn.low_tolerance),
        (first_order.high, drawn.symmetric.high, drawn.high_tolerance),
    ):
        difference = abs(ours - theirs)
        verdicts.append(
            "agrees"
            if difference <= tolerance
            else "differs"
            if difference > tolerance + known_to
            else "open"
        )
    if "differs" in verdicts:
        return "differs"
    return "too_few_draws" if "open" in verdicts else "agrees"


def combined_standard_uncertainty(contributions: Iterable[float]) -> float:
    """Law of propagation of uncertainty for independent inputs (JCGM 100, 5.1.2): √Σ (c·u)².

    Args:
        contributions: c·u of each input, the sensitivity coefficient times the standard uncertainty.
    """
    return math.sqrt(sum(part * part for part in contributions))


def normal_interval(estimate: float, standard_uncertainty: float, probability: float) -> Interval:
    """Coverage interval of a normal distribution (JCGM 100, G.1.3): y ± k·u.

    Args:
        estimate: y.
        standard_uncertainty: u, 0 or more.
        probability: coverage probability, between 0 and 1.
    """
    half = NormalDist().inv_cdf(0.5 * (1.0 + probability)) * standard_uncertainty
    return Interval(estimate - half, estimate + half)


def symmetric_ends(lines: FloatArray, probability: float) -> tuple[FloatArray, FloatArray]:
    """Return both ends of the symmetric coverage interval (JCGM 101, 7.7.2) of several samples at once.

    Args:
        lines: one sample a line, in any order.
        probability: coverage probability, 0.5 to 0.99.
    """
    count = lines.shape[1]
    held = math.floor(probability * count + 0.5)
    first = max(1, (count - held + 1) // 2)
    parted = np.partition(lines, (first - 1, first + held - 1), axis=1)
    return parted[:, first - 1], parted[:, first + held - 1]
