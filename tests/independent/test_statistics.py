"""Draws, intervals, degree-days and the change point, by quadrature, closed solutions and differences.

The statistics of uncertainties and of measured heat: each test says at its head which equation it holds against what.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Decimal

import numpy as np
import pytest
from scipy import integrate, optimize, stats
from uncertainties import ufloat

from warmstead.standards import change_point, energy_signature, jcgm_101, student_t

# --- Student's t and the normal distribution -------------------------------------------------------


def density_of_t(x: float, freedom: float) -> float:
    """Student's density: Γ((ν+1)/2)/(√(νπ) Γ(ν/2)) · (1 + x²/ν)^(-(ν+1)/2)."""
    height = math.exp(math.lgamma((freedom + 1.0) / 2.0) - math.lgamma(freedom / 2.0))
    return height / math.sqrt(freedom * math.pi) * (1.0 + x * x / freedom) ** (-(freedom + 1.0) / 2.0)


@pytest.mark.parametrize("freedom", [1.0, 2.5, 10.0, 60.0])
@pytest.mark.parametrize("probability", [0.5, 0.8, 0.95, 0.99])
def test_student_s_quantile_holds_its_share_of_the_density(freedom: float, probability: float) -> None:
    # quantile: between -t and t lies the probability, by quadrature of Student's density.
    end = student_t.quantile(freedom, probability)
    held = integrate.quad(density_of_t, -end, end, args=(freedom,), epsabs=1e-11)[0]
    assert held == pytest.approx(probability, abs=1e-9)


@pytest.mark.parametrize("freedom", [1.0, 7.5, 60.0])
@pytest.mark.parametrize(("difference", "standard"), [(3.0, 2.0), (-0.5, 0.8), (0.0, 1.0), (0.3, 0.1)])
def test_student_s_probability_by_quadrature(freedom: float, difference: float, standard: float) -> None:
    # probability_below: half, and the density from 0 to difference over standard uncertainty.
    found = student_t.probability_below(difference, standard, freedom)
    more = integrate.quad(density_of_t, 0.0, difference / standard, args=(freedom,), epsabs=1e-11)[0]
    assert found == pytest.approx(0.5 + more, abs=1e-9)


@pytest.mark.parametrize("probability", [0.5, 0.9, 0.95, 0.99])
def test_normal_interval_holds_its_share_of_the_density(probability: float) -> None:
    # normal_interval: y ± k·u holds the probability, by quadrature; and lies evenly about y.
    found = jcgm_101.normal_interval(8.0, 0.4, probability)
    held = integrate.quad(
        lambda x: math.exp(-0.5 * ((x - 8.0) / 0.4) ** 2) / (0.4 * math.sqrt(2.0 * math.pi)),
        found.low,
        found.high,
    )[0]
    assert held == pytest.approx(probability, abs=1e-9)
    assert found.high - 8.0 == pytest.approx(8.0 - found.low, rel=1e-12)


# --- Uncertainties joined --------------------------------------------------------------------------


def test_combined_uncertainty_is_that_of_welch_s_test() -> None:
    # combined: the difference of two means has Welch's standard error and degrees of freedom, which SciPy's test states.
    generator = np.random.default_rng(12)
    one, other = generator.normal(5.0, 1.0, 8), generator.normal(3.0, 4.0, 15)
    found = energy_signature.combined(
        energy_signature.Uncertainty(float(stats.sem(sample)), len(sample) - 1.0) for sample in (one, other)
    )
    welch = stats.ttest_ind(one, other, equal_var=False)
    assert found.degrees_of_freedom == pytest.approx(welch.df, rel=1e-9)
    assert found.standard == pytest.approx((one.mean() - other.mean()) / welch.statistic, rel=1e-9)


def test_law_of_propagation_by_numbers_that_carry_errors() -> None:
    # combined_standard_uncertainty: √Σ (c·u)², by a sum of independent numbers with errors.
    total = 2.0 * ufloat(1.0, 0.3) - 3.0 * ufloat(5.0, 0.25) + ufloat(-4.0, 1.1)
    found = jcgm_101.combined_standard_uncertainty([2.0 * 0.3, -3.0 * 0.25, 1.1])
    assert found == pytest.approx(total.std_dev, rel=1e-12)


def test_efficiency_and_gains_by_numbers_that_carry_errors() -> None:
    # efficiency_on_gross: η · net/gross; implied_gains_w: H · (θi - θb): values, and the errors that they pass on.
    net, ratio = ufloat(0.95, 0.01), ufloat(0.901, 0.002)
    gross = net * ratio
    assert energy_signature.efficiency_on_gross(0.95, 0.901) == pytest.approx(gross.nominal_value, rel=1e-12)
    step = energy_signature.efficiency_on_gross(0.951, 0.901) - energy_signature.efficiency_on_gross(
        0.949, 0.901
    )
    assert step / 0.002 == pytest.approx(gross.derivatives[net], rel=1e-9)
    loss, inside, base = ufloat(210.0, 9.0), ufloat(19.6, 0.4), ufloat(15.1, 0.3)
    gains = loss * (inside - base)
    assert energy_signature.implied_gains_w(210.0, 19.6, 15.1) == pytest.approx(
        gains.nominal_value, rel=1e-12
    )
    slope = energy_signature.implied_gains_w(210.0, 19.6, 15.6) - energy_signature.implied_gains_w(
        210.0, 19.6, 14.6
    )
    assert slope == pytest.approx(gains.derivatives[base], rel=1e-9)


def test_gains_leave_nothing_to_heat_at_the_base_temperature() -> None:
    # implied_gains_w: with these gains a steady house wants no heat just at the base temperature, found as a root.
    gains = energy_signature.implied_gains_w(180.0, 20.5, 15.3)
    base_c = optimize.brentq(lambda outside: 180.0 * (20.5 - outside) - gains, -10.0, 30.0)
    assert base_c == pytest.approx(15.3, abs=1e-9)


# --- Degree-days -----------------------------------------------------------------------------------


@pytest.mark.parametrize("mean_c", [2.0, 9.0, 14.0, 15.5, 18.0])
def test_degree_days_of_normal_days_by_their_closed_mean(mean_c: float) -> None:
    # degree_days_k: normally distributed days, σ = 3 K: Δ·Φ(Δ/σ) + σ·φ(Δ/σ) is the mean of max(0, Δ + σ·z).
    days = stats.norm(mean_c, 3.0).ppf((np.arange(20_000) + 0.5) / 20_000).tolist()
    apart = (15.5 - mean_c) / 3.0
    closed = 3.0 * (apart * stats.norm.cdf(apart) + stats.norm.pdf(apart))
    # Steps of 1/20 000 cut the outermost tails: some 1e-5 K.
    assert energy_signature.degree_days_k(15.5, days) == pytest.approx(closed, abs=2e-5)


@pytest.mark.parametrize("mean_c", [0.0, 5.0, 10.0, 13.0, 15.5, 18.0, 21.0])
def test_degree_days_of_a_month_by_quadrature_over_its_days(mean_c: float) -> None:
    # degree_days_of_mean_k: the formula stands for days that scatter about the month's mean with σ = 2.5/k (CIBSE TM41, from
    # memory). Normally distributed days, by quadrature. Formula and solution are up to 0.024 K apart, since it is a fit.
    sigma = 2.5 / energy_signature.MONTHLY_CONSTANT_PER_K
    solved = integrate.quad(
        lambda outside: (15.5 - outside) * stats.norm.pdf(outside, mean_c, sigma), -np.inf, 15.5
    )[0]
    assert energy_signature.degree_days_of_mean_k(15.5, mean_c) == pytest.approx(solved, abs=0.025)


# --- Samples ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("probability", [0.5, 0.8, 0.9, 0.95])
def test_ends_of_an_interval_are_order_statistics(probability: float) -> None:
    # coverage_intervals, symmetric_ends: the values at which the empirical distribution reaches the tails, of NumPy; the
    # shortest interval by trying each that holds as many.
    sample = np.random.default_rng(5).gamma(2.0, size=1000)
    tail = 0.5 * (1.0 - probability)
    # A hair less, so that no rounding of 0.025 · 1000 picks the next one.
    ends = np.quantile(sample, [tail - 1e-9, 1.0 - tail - 1e-9], method="inverted_cdf")
    ordered = np.sort(sample)
    found = jcgm_101.coverage_intervals(ordered, probability)
    assert found.symmetric == tuple(ends)
    lows, highs = jcgm_101.symmetric_ends(sample[None, :], probability)
    assert (lows[0], highs[0]) == tuple(ends)
    held = round(1000 * probability)
    tried = min((ordered[first + held] - ordered[first], first) for first in range(1000 - held))
    assert found.shortest == (ordered[tried[1]], ordered[tried[1] + held])


def test_moments_by_scipy() -> None:
    # moments: mean, standard deviation, and twice their standard errors from SciPy's variance and kurtosis.
    sample = np.random.default_rng(6).gamma(2.0, size=500)
    described = stats.describe(sample)
    found = jcgm_101.moments(sample)
    assert found.mean == pytest.approx(described.mean, rel=1e-12)
    assert found.standard_uncertainty == pytest.approx(math.sqrt(described.variance), rel=1e-12)
    assert found.mean_tolerance == pytest.approx(2.0 * stats.sem(sample), rel=1e-12)
    # SciPy's kurtosis is over the variance with n, ours with n - 1.
    kurtosis = stats.kurtosis(sample, fisher=False) * (499.0 / 500.0) ** 2
    expected = 2.0 * math.sqrt(described.variance) * math.sqrt((kurtosis - 1.0) / 2000.0)
    assert found.standard_uncertainty_tolerance == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("digits", [1, 2])
@pytest.mark.parametrize(
    "written", ["0.00035", "0.02", "0.949", "0.961", "1", "9.4", "9.96", "99.6", "648.9"]
)
def test_tolerance_by_decimal_rounding(written: str, digits: int) -> None:
    # numerical_tolerance: half a unit of the last digit that decimal rounding leaves.
    value = Decimal(written)
    unit = Decimal(1).scaleb(value.adjusted() - digits + 1)
    rounded = value.quantize(unit, ROUND_HALF_EVEN)
    last = Decimal(1).scaleb(rounded.adjusted() - digits + 1)
    assert jcgm_101.numerical_tolerance(float(written), digits) == pytest.approx(float(last) / 2.0, rel=1e-12)


# --- The change point ------------------------------------------------------------------------------


def model(*, line: bool, formula: bool) -> change_point._Model:
    """Return a model of readings with sun, of some days or of a month's mean each."""
    generator = np.random.default_rng(9)
    readings = change_point.Readings(
        generator.uniform(5.0, 60.0, 12),
        np.tile([1.0, 7.0, 30.0], 4),
        generator.uniform(-3.0, 20.0, 12 if formula else 36),
        np.arange(12) if formula else np.repeat(np.arange(12), 3),
        np.full(12, formula),
        generator.uniform(0.5, 4.0, 12),
    )
    return change_point._Model(readings, change_point.Shape(line, True, None, False))


@pytest.mark.parametrize(("line", "formula"), [(False, False), (False, True), (True, False)])
def test_derivatives_of_the_change_point_by_differences(line: bool, formula: bool) -> None:
    # at, residuals, derivatives: each derivative against the difference of the residuals to both sides.
    found = model(line=line, formula=formula)
    parameters = np.array([6.0, 4.0, 15.3, 2.1])
    step = 1e-5
    differences = [
        (found.residuals(parameters + step * axis) - found.residuals(parameters - step * axis)) / (2.0 * step)
        for axis, free in zip(np.eye(4), found.free, strict=True)
        if free
    ]
    assert found.derivatives(parameters) == pytest.approx(np.column_stack(differences), abs=1e-5)
    mean, unweighted, _ = found.at(parameters)
    assert unweighted[:, found.free] * found.weight[:, None] == pytest.approx(
        np.column_stack(differences), abs=1e-5
    )
    # Weighted as their days: what lies off, squared, counts once a day.
    days = np.tile([1.0, 7.0, 30.0], 4)
    off = found.residuals(parameters) / (mean - found.readings.heat_kwh_per_day)
    assert off**2 == pytest.approx(days / days.mean(), rel=1e-9)


@pytest.mark.parametrize("formula", [False, True])
def test_degree_days_of_readings_by_those_of_each(formula: bool) -> None:
    # _Model.degree_days: reading by reading; its slope by the difference to both sides.
    found = model(line=False, formula=formula)
    base_c = np.linspace(12.0, 17.0, 12)
    temperatures = found.readings.temperatures_c.reshape(12, -1)

    def one(base: float, outside: list[float]) -> float:
        if formula:
            return energy_signature.degree_days_of_mean_k(base, outside[0])
        return energy_signature.degree_days_k(base, outside)

    def each(shift: float) -> np.ndarray:
        return np.array(
            [one(base + shift, row.tolist()) for base, row in zip(base_c, temperatures, strict=True)]
        )

    days, slope = found.degree_days(base_c)
    assert days == pytest.approx(each(0.0), rel=1e-9)
    assert slope == pytest.approx((each(1e-5) - each(-1e-5)) / 2e-5, abs=1e-6)
