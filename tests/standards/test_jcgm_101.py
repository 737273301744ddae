"""Distributions, coverage intervals and tolerances against JCGM 101's own examples, closed solutions and SciPy.

The clauses and printed figures of JCGM 101:2008 are from memory; where a closed solution exists it is worked out here as well.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from warmstead.standards.errors import NotPhysical
from warmstead.standards.jcgm_101 import (
    CoverageIntervals,
    Distribution,
    Interval,
    Lognormal,
    Normal,
    Rectangular,
    Triangular,
    agreement,
    combined_standard_uncertainty,
    coverage_intervals,
    moments,
    normal_interval,
    normal_within,
    numerical_tolerance,
    symmetric_ends,
)

DRAWS = 200_000
UNIT_RECTANGLE = Rectangular(-math.sqrt(3), math.sqrt(3))
TEN_RECTANGLE = Rectangular(-10 * math.sqrt(3), 10 * math.sqrt(3))


def summed(*inputs: Distribution) -> np.ndarray:
    """Return draws of the additive model of clause 9.2, Y = X1 + X2 + X3 + X4."""
    generator = np.random.Generator(np.random.PCG64(9))
    total = np.zeros(DRAWS)
    for distribution in inputs:
        total += distribution.draw(generator, DRAWS).values
    return total


# u(y) and the end of the symmetric 95 % interval as JCGM 101:2008 prints them, 9.2.2 to 9.2.4 (from memory):
@pytest.mark.parametrize(
    ("inputs", "standard_uncertainty", "end"),
    [
        ([Normal(0.0, 1.0)] * 4, 2.00, 3.92),  # table 2
        ([UNIT_RECTANGLE] * 4, 2.00, 3.88),  # table 3
        ([UNIT_RECTANGLE] * 3 + [TEN_RECTANGLE], 10.1, 17.0),  # table 4
    ],
)
def test_the_additive_model(inputs: list[Distribution], standard_uncertainty: float, end: float) -> None:
    sample = summed(*inputs)
    found = moments(sample)
    intervals = coverage_intervals(np.sort(sample), 0.95)
    printed = 0.005 if standard_uncertainty == 2.0 else 0.05
    # Twice two standard errors beside half a unit of the last printed digit; the seed is fixed.
    assert found.mean == pytest.approx(0.0, abs=2 * found.mean_tolerance)
    assert found.standard_uncertainty == pytest.approx(
        standard_uncertainty, abs=2 * found.standard_uncertainty_tolerance + printed
    )
    assert intervals.symmetric.low == pytest.approx(-end, abs=2 * intervals.low_tolerance + printed)
    assert intervals.symmetric.high == pytest.approx(end, abs=2 * intervals.high_tolerance + printed)
    assert intervals.shortest.width <= intervals.symmetric.width


def test_the_printed_ends_are_those_of_the_closed_solutions() -> None:
    # The sum of four rectangular inputs is piecewise a cubic (Irwin and Hall): ± 3.88, as clause 9.2.3 prints.
    def four(x: float) -> float:
        return sum((-1) ** k * math.comb(4, k) * max(0.0, x - k) ** 4 for k in range(5)) / math.factorial(4)

    end = 2 * math.sqrt(3) * (optimize.brentq(lambda x: four(x) - 0.975, 2, 4) - 2)
    assert end == pytest.approx(3.88, abs=0.005)

    # Three of them, a quadratic, smeared over the wide fourth one: ± 17.0, as clause 9.2.4 prints.
    width = 2 * math.sqrt(3)

    def three(y: float) -> float:
        t = y / width + 1.5
        return sum((-1) ** k * math.comb(3, k) * max(0.0, t - k) ** 2 for k in range(4)) / 2 / width

    def below(y: float) -> float:
        wide = TEN_RECTANGLE.high
        value: float = integrate.quad(
            lambda s: three(s) * min(1.0, max(0.0, (y - s + wide) / (2 * wide))),
            -1.5 * width,
            1.5 * width,
            limit=400,
        )[0]
        return value

    assert optimize.brentq(lambda y: below(y) - 0.975, 10, 19) == pytest.approx(17.0, abs=0.05)


def test_the_law_of_propagation_of_clause_9_2_4() -> None:
    # JCGM 101:2008, 9.2.4 (from memory): u(y) = 10.1 and ± 19.9, since k = 1.96 knows of no rectangle.
    combined = combined_standard_uncertainty([1.0, 1.0, 1.0, 10.0])
    assert combined == pytest.approx(10.1, abs=0.05)
    interval = normal_interval(0.0, combined, 0.95)
    assert interval.high == pytest.approx(19.9, abs=0.05)
    drawn = coverage_intervals(np.sort(summed(*[UNIT_RECTANGLE] * 3, TEN_RECTANGLE)), 0.95)
    assert agreement(interval, drawn, numerical_tolerance(combined)) == "agrees"  # δ = 5 with one digit
    assert agreement(interval, drawn, numerical_tolerance(combined, 2)) == "differs"  # δ = 0.5 with two


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        (Normal(3.0, 0.5), stats.norm(3.0, 0.5)),
        (Rectangular(-1.0, 4.0), stats.uniform(-1.0, 5.0)),
        (Triangular(2.0, 6.0), stats.triang(0.5, 2.0, 4.0)),
        # ln x has the variance ln(1 + 0.8²) and the mean ln 2 − half of that.
        (Lognormal(2.0, 1.6), stats.lognorm(math.sqrt(math.log(1.64)), scale=2.0 / math.sqrt(1.64))),
    ],
)
def test_distributions_are_those_of_scipy(ours: Distribution, theirs: stats.rv_continuous) -> None:
    assert ours.mean == pytest.approx(theirs.mean(), rel=1e-12)
    assert ours.standard_uncertainty == pytest.approx(theirs.std(), rel=1e-12)
    values = ours.draw(np.random.Generator(np.random.PCG64(4)), 20_000).values
    # Kolmogorov and Smirnov; a wrong distribution gives 1e-10 and less with so many draws.
    assert stats.kstest(values, theirs.cdf).pvalue > 0.01


def test_a_normal_distribution_near_a_limit_is_drawn_again() -> None:
    drawn = normal_within(3.0, 1.0, 0.0, math.inf).draw(np.random.Generator(np.random.PCG64(5)), 100_000)
    assert drawn.values.min() >= 0.0
    # 1 − Φ(3) = 0.00135 of 100,000 draws, and three times √135 to either side.
    assert drawn.redrawn == pytest.approx(135, abs=35)
    assert stats.kstest(drawn.values, stats.truncnorm(-3.0, np.inf, 3.0, 1.0).cdf).pvalue > 0.01


@pytest.mark.parametrize(
    ("mean", "low", "high"), [(2.9, 0.0, math.inf), (0.95, 0.0, 1.0), (-1.0, 0.0, math.inf)]
)
def test_a_normal_distribution_too_near_a_limit_is_refused(mean: float, low: float, high: float) -> None:
    with pytest.raises(NotPhysical) as caught:
        normal_within(mean, 1.0, low, high)
    assert caught.value.clause == "JCGM 101:2008, 6.4.7"


def test_coverage_intervals_count_as_clause_7_7_says() -> None:
    # JCGM 101:2008, 7.7: q = pM = 950, r = (M − q)/2 = 25, so y(25) and y(975).
    found = coverage_intervals(np.arange(1.0, 1001.0), 0.95)
    assert found.symmetric == (25.0, 975.0)
    assert found.shortest.width == 950.0
    # By hand: the order statistics ⌈2·√(1000 · 0.025 · 0.975)⌉ = 10 places to either side of each end.
    assert (found.low_tolerance, found.high_tolerance) == (10.0, 10.0)


def test_the_shortest_interval_of_a_skewed_distribution_begins_where_it_is_densest() -> None:
    sample = np.sort(stats.expon().rvs(100_000, random_state=np.random.default_rng(6)))
    found = coverage_intervals(sample, 0.95)
    # Closed: from 0 to −ln 0.05 = 2.9957; the symmetric one from 0.0253 to 3.6889.
    assert found.shortest.low == pytest.approx(0.0, abs=0.01)
    assert found.shortest.high == pytest.approx(-math.log(0.05), abs=0.06)
    assert found.symmetric.low == pytest.approx(-math.log(0.975), abs=2 * found.low_tolerance)
    assert found.symmetric.high == pytest.approx(-math.log(0.025), abs=2 * found.high_tolerance)


def test_tolerances_are_twice_what_repetition_shows() -> None:
    generator = np.random.Generator(np.random.PCG64(7))
    samples = [generator.gamma(2.0, size=2000) for _ in range(400)]
    found = [moments(sample) for sample in samples]
    ends = [coverage_intervals(np.sort(sample), 0.9) for sample in samples]
    for values, tolerance in (
        ([one.mean for one in found], found[0].mean_tolerance),
        ([one.standard_uncertainty for one in found], found[0].standard_uncertainty_tolerance),
        ([one.symmetric.low for one in ends], float(np.mean([one.low_tolerance for one in ends]))),
        ([one.symmetric.high for one in ends], float(np.mean([one.high_tolerance for one in ends]))),
    ):
        # The spread of 400 repetitions is itself known to 1/√800 = 3.5 %; the tolerance of one sample to some 10 %.
        assert tolerance == pytest.approx(2.0 * float(np.std(values)), rel=0.2)


@pytest.mark.parametrize(
    ("standard_uncertainty", "digits", "tolerance"),
    [
        # JCGM 101:2008, 7.9.2, examples 1 to 3 (from memory).
        (0.00035, 2, 0.000005),
        (0.00035, 1, 0.00005),
        (2.0, 1, 0.5),
        # By the same rule: 9.6 is 1 · 10¹ with one digit, so half of ten.
        (9.6, 1, 5.0),
        (648.9, 1, 50.0),
        (648.9, 2, 5.0),
    ],
)
def test_numerical_tolerance(standard_uncertainty: float, digits: int, tolerance: float) -> None:
    assert numerical_tolerance(standard_uncertainty, digits) == pytest.approx(tolerance, rel=1e-12)


def test_agreement_says_when_the_draws_are_too_few() -> None:
    def drawn(low: float, high: float, known_to: float) -> CoverageIntervals:
        return CoverageIntervals(Interval(low, high), Interval(low, high), known_to, known_to)

    ours = Interval(-2.0, 2.0)
    assert agreement(ours, drawn(-2.4, 1.6, 0.3), 0.5) == "agrees"
    assert agreement(ours, drawn(-2.6, 2.0, 0.3), 0.5) == "too_few_draws"
    assert agreement(ours, drawn(-2.9, 2.0, 0.3), 0.5) == "differs"
    assert agreement(ours, drawn(-2.6, 2.9, 0.3), 0.5) == "differs"


def test_ends_of_many_samples_are_those_of_each() -> None:
    lines = np.random.Generator(np.random.PCG64(8)).normal(size=(3, 1001))
    lows, highs = symmetric_ends(lines, 0.9)
    for line, low, high in zip(lines, lows, highs, strict=True):
        assert coverage_intervals(np.sort(line), 0.9).symmetric == (low, high)


def test_a_sample_that_never_varies_has_no_spread() -> None:
    found = moments(np.full(1000, 5.0))
    assert found == (5.0, 0.0, 0.0, 0.0)


# --- What mutants showed to be open (tests/mutation) ------------------------------------------------


def test_draws_follow_the_generator_and_are_counted_when_drawn_again() -> None:
    # Independently: NumPy's own normal draws, each round's strays replaced in their order.
    generator = np.random.Generator(np.random.PCG64(3))
    expected = generator.normal(0.5, 1.5, 200)
    again = 0
    while (strays := [place for place, value in enumerate(expected) if not -1.0 <= value <= 2.0]) != []:
        again += len(strays)
        expected[strays] = generator.normal(0.5, 1.5, len(strays))
    found = Normal(0.5, 1.5, -1.0, 2.0).draw(np.random.Generator(np.random.PCG64(3)), 200)
    assert found.values == pytest.approx(expected, rel=1e-12)
    assert found.redrawn == again > 50


@pytest.mark.parametrize(
    "distribution", [Normal(3.0, 0.5), Rectangular(-1.0, 4.0), Triangular(2.0, 6.0), Lognormal(2.0, 1.6)]
)
def test_without_a_limit_nothing_is_drawn_again(distribution: Distribution) -> None:
    assert distribution.draw(np.random.Generator(np.random.PCG64(4)), 50).redrawn == 0


def test_normal_draws_are_the_generators_own() -> None:
    # Independently: NumPy's normal draws with expectation and deviation.
    drawn = Normal(3.0, 0.5).draw(np.random.Generator(np.random.PCG64(4)), 50).values
    assert drawn == pytest.approx(np.random.Generator(np.random.PCG64(4)).normal(3.0, 0.5, 50), rel=1e-12)


def test_a_limit_on_one_side_is_kept() -> None:
    generator = np.random.Generator(np.random.PCG64(4))
    assert Normal(3.0, 0.5, high=3.2).draw(generator, 200).values.max() <= 3.2
    assert Normal(3.0, 0.5, low=2.8).draw(generator, 200).values.min() >= 2.8


def test_three_standard_uncertainties_from_a_limit_are_enough() -> None:
    # By hand: 4 − (−1) = 5 is more than 3 · 1.5, and exactly 3 · 1 is no less than it.
    assert normal_within(-1.0, 1.5, -math.inf, 4.0) == Normal(-1.0, 1.5, -math.inf, 4.0)
    assert normal_within(3.0, 1.0, 0.0, math.inf) == Normal(3.0, 1.0, 0.0, math.inf)


@pytest.mark.parametrize(
    ("count", "probability", "ends"),
    [
        # JCGM 101:2008, 7.7 (from memory): q = pM rounded, r = (M − q)/2 or, where that is no integer, (M − q + 1)/2.
        (100, 0.95, (3.0, 98.0)),  # q = 95, r = 3
        (100, 0.99, (1.0, 100.0)),  # q = 99, r = 1
        (101, 0.90, (5.0, 96.0)),  # q = 91, r = 5
    ],
)
def test_ends_of_small_samples(count: int, probability: float, ends: tuple[float, float]) -> None:
    sample = np.arange(1.0, count + 1.0)
    assert coverage_intervals(sample, probability).symmetric == ends
    lows, highs = symmetric_ends(sample[None, ::-1], probability)
    assert (lows[0], highs[0]) == ends


def test_tolerances_are_those_of_the_ends_and_stop_at_the_sample() -> None:
    # By hand: of the squares, ten places about 25² and 975²: (35² − 15²)/2 and (985² − 965²)/2.
    found = coverage_intervals(np.arange(1.0, 1001.0) ** 2, 0.95)
    assert (found.low_tolerance, found.high_tolerance) == (500.0, 19500.0)
    # ⌈2·√(100 · 0.005 · 0.995)⌉ = 2 places: from 1 only upwards to 3, from 100 only downwards to 98.
    found = coverage_intervals(np.arange(1.0, 101.0), 0.99)
    assert (found.low_tolerance, found.high_tolerance) == (1.0, 1.0)


def test_moments_by_hand() -> None:
    # Of 1 and 2: mean 1.5, s = √0.5, 2s/√2 = 1; the fourth moment 1/16 over 0.5² is a quarter, which leaves no spread of s.
    assert moments(np.array([1.0, 2.0])) == pytest.approx((1.5, math.sqrt(0.5), 1.0, 0.0), abs=1e-12)
    # Nine of 0 and one of 1: variance 0.9/9, fourth moment (9 · 0.1⁴ + 0.9⁴)/10 = 0.0657, kurtosis 6.57.
    found = moments(np.array([0.0] * 9 + [1.0]))
    assert found.standard_uncertainty == pytest.approx(math.sqrt(0.1), rel=1e-12)
    assert found.standard_uncertainty_tolerance == pytest.approx(
        2.0 * math.sqrt(0.1) * math.sqrt(5.57 / 40.0), rel=1e-9
    )


def test_agreement_at_its_limits() -> None:
    # Binary fractions, so that the differences are exact: 0.5 is within 0.5, and 0.75 not beyond 0.5 + 0.25.
    ours = Interval(-2.0, 2.0)
    for low, verdict in ((-2.5, "agrees"), (-2.75, "too_few_draws"), (-2.875, "differs")):
        theirs = Interval(low, 2.0)
        assert agreement(ours, CoverageIntervals(theirs, theirs, 0.25, 0.25), 0.5) == verdict
