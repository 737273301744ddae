"""The change-point regression: exact lines, a published regression, and the same fits and covariances found another way.

The independent ways: Huber's sum minimised by a simplex (SciPy), least squares by `linregress`, the variance under correlated errors by
whole matrices, the correlated covariance by a discrete cosine transform (SciPy), Student's t from its distribution object.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import fft, optimize, stats

from warmstead.standards import change_point, student_t
from warmstead.standards.change_point import Fit, Readings, Shape, fit
from warmstead.standards.energy_signature import degree_days_of_mean_k

Vector = NDArray[np.float64]
WHITESIDE = Path(__file__).parents[1] / "measured" / "whiteside.csv"
SUMMER = Shape(line=False, base_fitted=True, aperture_m2=0.0, robust=True)


def daily(heat: Vector, temperature_c: Vector, irradiation: Vector | None = None) -> Readings:
    count = len(heat)
    return Readings(
        heat, np.ones(count), temperature_c, np.arange(count), np.zeros(count, dtype=np.bool_), irradiation
    )


def whiteside(insulation: str) -> tuple[Vector, Vector]:
    """Return temperature and gas of one season."""
    lines = [line for line in WHITESIDE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    rows = [row for row in csv.DictReader(lines) if row["insulation"] == insulation]
    temperature = np.array([float(row["temperature_c"]) for row in rows])
    return temperature, np.array([float(row["gas_1000_cubic_feet"]) for row in rows])


@pytest.mark.parametrize("robust", [True, False])
def test_an_exact_change_point_is_found_whole(robust: bool) -> None:
    # Made up: 8 kWh a day, and 5 kWh for each K below 15.3 °C.
    outside = np.linspace(-5.0, 25.0, 121)
    found = fit(daily(8.0 + 5.0 * np.maximum(0.0, 15.3 - outside), outside), SUMMER._replace(robust=robust))
    assert found.coefficient_kwh_d_k == pytest.approx(5.0, abs=1e-6)
    assert found.base_temperature_c == pytest.approx(15.3, abs=1e-6)
    assert found.base_use_kwh_per_day == pytest.approx(8.0, abs=1e-6)
    assert found.covariance[1, 1] == pytest.approx(0.0, abs=1e-9)


def test_an_exact_aperture_is_found_with_it() -> None:
    outside = np.tile(np.linspace(-5.0, 25.0, 61), 3)
    sun = np.repeat([0.5, 2.0, 4.0], 61)
    heat = 8.0 + np.maximum(0.0, 5.0 * (16.0 - outside) - 2.5 * sun)
    found = fit(daily(heat, outside, sun), SUMMER._replace(aperture_m2=None))
    assert found.aperture_m2 == pytest.approx(2.5, abs=1e-6)
    assert found.base_temperature_c == pytest.approx(16.0, abs=1e-6)
    known = fit(daily(heat, outside, sun), SUMMER._replace(aperture_m2=2.5))
    assert known.coefficient_kwh_d_k == pytest.approx(5.0, abs=1e-6)


def test_a_month_of_daily_temperatures_is_exact_and_its_mean_takes_the_formula() -> None:
    random = np.random.default_rng(5)
    outside = 10.0 - 8.0 * np.cos(np.arange(360) / 57.3) + random.normal(0.0, 3.0, 360)
    heat = 6.0 + 4.0 * np.maximum(0.0, 15.0 - outside)
    months = np.repeat(np.arange(12), 30)
    exact = Readings(
        heat.reshape(12, 30).mean(axis=1),
        np.full(12, 30.0),
        outside,
        months,
        np.zeros(12, dtype=np.bool_),
        None,
    )
    found = fit(exact, SUMMER)
    assert (found.coefficient_kwh_d_k, found.base_temperature_c) == pytest.approx((4.0, 15.0), abs=1e-5)

    means = outside.reshape(12, 30).mean(axis=1)
    by_formula = np.array([6.0 + 4.0 * degree_days_of_mean_k(15.0, float(mean)) for mean in means])
    found = fit(
        Readings(by_formula, np.full(12, 30.0), means, np.arange(12), np.ones(12, dtype=np.bool_), None),
        SUMMER,
    )
    assert (found.coefficient_kwh_d_k, found.base_temperature_c) == pytest.approx((4.0, 15.0), abs=1e-5)


@pytest.mark.parametrize("line", [True, False])
def test_a_published_regression_of_weekly_gas_before_insulation(line: bool) -> None:
    # Help page of the data set "whiteside" in the R package MASS 7.3-65 (seen), summary(gasB):
    # intercept 6.8538, slope -0.3932, standard error of the slope 0.0196, 24 degrees of freedom left of 26 weeks.
    outside, gas = whiteside("before")
    assert len(gas) == 26
    found = fit(daily(gas, outside), Shape(line=line, base_fitted=False, aperture_m2=0.0, robust=False))
    assert found.coefficient_kwh_d_k == pytest.approx(0.3932, abs=0.00005)
    assert math.sqrt(found.covariance[1, 1]) == pytest.approx(0.0196, abs=0.00005)
    assert found.degrees_of_freedom == 24.0
    if line:
        assert found.base_use_kwh_per_day == pytest.approx(6.8538, abs=0.00005)
    else:
        # The line meets no use at 6.8538/0.3932 = 17.431 °C; the printed digits leave 0.002 of it open.
        assert found.base_temperature_c == pytest.approx(17.431, abs=0.003)


def test_a_published_regression_of_weekly_gas_after_insulation() -> None:
    # Venables and Ripley, Modern Applied Statistics with S, 4th ed., section 6.1: 4.724 - 0.2779 T (from memory).
    outside, gas = whiteside("after")
    assert len(gas) == 30
    found = fit(daily(gas, outside), Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False))
    assert found.base_use_kwh_per_day == pytest.approx(4.724, abs=0.0005)
    assert found.coefficient_kwh_d_k == pytest.approx(0.2779, abs=0.00005)
    # Independently: SciPy's linregress.
    assert found.coefficient_kwh_d_k == pytest.approx(-stats.linregress(outside, gas).slope, rel=1e-7)


def scattered(seed: int = 3, count: int = 150) -> tuple[Vector, Vector]:
    random = np.random.default_rng(seed)
    outside = random.uniform(-3.0, 22.0, count)
    heat = 7.0 + 4.0 * np.maximum(0.0, 15.0 - outside) + random.normal(0.0, 4.0, count)
    heat[::20] += 60.0
    return heat, outside


def test_the_robust_fit_is_the_least_of_hubers_sum() -> None:
    heat, outside = scattered()
    found = fit(daily(heat, outside), SUMMER)
    limit = change_point.HUBER_CONSTANT * found.scale_kwh_per_day

    def huber(values: Vector) -> float:
        base, slope, base_c = values
        off = np.abs(base + slope * np.maximum(0.0, base_c - outside) - heat)
        return float(np.where(off <= limit, off**2 / 2.0, limit * (off - limit / 2.0)).sum())

    best = optimize.minimize(
        huber,
        [5.0, 3.0, 13.0],
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 5000},
    )
    got = (found.base_use_kwh_per_day, found.coefficient_kwh_d_k, found.base_temperature_c)
    assert got == pytest.approx(tuple(best.x), abs=2e-4)
    # The scale is that of the heated readings at the fit, for n - p of them (made up data, own arithmetic).
    assert base_off(found, heat, outside) == pytest.approx(found.scale_kwh_per_day, rel=1e-6)


def base_off(found: Fit, heat: Vector, outside: Vector) -> float:
    assert found.base_temperature_c is not None
    days = np.maximum(0.0, found.base_temperature_c - outside)
    off = np.abs(found.base_use_kwh_per_day + found.coefficient_kwh_d_k * days - heat)[
        days > 0.05 * days.max()
    ]
    return float(
        stats.median_abs_deviation(np.r_[off, -off], center=lambda a, axis: 0.0, scale="normal")
    ) * math.sqrt(len(off) / (len(off) - 3))


def test_wild_readings_hardly_move_the_robust_fit() -> None:
    random = np.random.default_rng(8)
    outside = random.uniform(-3.0, 22.0, 200)
    heat = 7.0 + 4.0 * np.maximum(0.0, 15.0 - outside) + random.normal(0.0, 2.0, 200)
    spoiled = heat.copy()
    spoiled[outside > 12.0] += 40.0 * (random.random(int((outside > 12.0).sum())) < 0.1)
    clean = fit(daily(heat, outside), SUMMER).coefficient_kwh_d_k
    robust = fit(daily(spoiled, outside), SUMMER).coefficient_kwh_d_k
    plain = fit(daily(spoiled, outside), SUMMER._replace(robust=False)).coefficient_kwh_d_k
    assert abs(robust - clean) < 0.3 * abs(plain - clean)


def test_uneven_errors_by_the_leverage_corrected_sandwich() -> None:
    # By hand: ten readings, two at each of 0, 2, 4, 6, 8 °C, each 2 off the line: leverage 0.30, 0.15, 0.10, and
    # u = √(4·(4·16/0.7² + 4·4/0.85²))/80 = 0.30899, more than √(5/80) = 0.25 of equal errors.
    outside = np.repeat([0.0, 2.0, 4.0, 6.0, 8.0], 2)
    heat = 64.0 - 4.0 * outside + np.tile([2.0, -2.0], 5)
    found = fit(daily(heat, outside), Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False))
    assert found.coefficient_kwh_d_k == pytest.approx(4.0, abs=1e-9)
    assert math.sqrt(found.covariance[1, 1]) == pytest.approx(0.30899, abs=0.000005)
    assert found.largest_leverage == pytest.approx(0.30, abs=1e-9)
    assert not found.correlated
    assert found.autocorrelation == pytest.approx(-0.9, abs=1e-9)


def correlated(persistence: float = 0.7, count: int = 120) -> tuple[Vector, Vector]:
    random = np.random.default_rng(21)
    outside = 5.0 + 4.0 * np.sin(np.arange(count) / 15.0) + random.normal(0.0, 1.0, count)
    errors = np.zeros(count)
    for day in range(1, count):
        errors[day] = persistence * errors[day - 1] + random.normal()
    return 60.0 - 4.0 * outside + 3.0 * errors, outside


@pytest.mark.parametrize(("persistence", "count"), [(0.7, 120), (1.0, 120), (0.7, 60)])
def test_correlated_errors_by_whole_matrices(persistence: float, count: int) -> None:
    # The long-run variance as a discrete cosine transform of SciPy, its correction and its degrees of freedom with the
    # autoregressive covariance and the residual-maker written out as matrices.
    heat, outside = correlated(persistence, count)
    found = fit(daily(heat, outside), Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False))
    assert found.correlated
    transforms = max(8, int(0.41 * count ** (2.0 / 3.0)))
    columns = np.column_stack([np.ones(count), -outside])
    hat = columns @ np.linalg.inv(columns.T @ columns) @ columns.T
    residuals = -(heat - hat @ heat)
    weights = (columns @ np.linalg.inv(columns.T @ columns))[:, 1]
    corrected = weights / (1.0 - np.diag(hat))
    transformed = fft.dct(corrected * residuals, type=2)[1 : transforms + 1] / math.sqrt(2.0)
    variance = float(transformed @ transformed) / transforms
    lag = float(residuals[1:] @ residuals[:-1] / (residuals @ residuals))
    lag = min(0.95, lag + (1.0 + 4.0 * lag) / count)
    working = lag ** np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    maker = np.eye(count) - hat
    basis = fft.dct(np.eye(count), type=2, axis=0)[1 : transforms + 1] / math.sqrt(2.0)
    forms = basis * corrected @ maker
    gram = forms @ working @ forms.T / transforms
    inflation = max(1.0, float(weights @ working @ weights) / float(np.trace(gram)))
    assert found.covariance[1, 1] == pytest.approx(variance * inflation, rel=1e-6)
    assert found.degrees_of_freedom == pytest.approx(np.trace(gram) ** 2 / (gram**2).sum(), rel=1e-6)
    assert inflation > 1.05


def test_long_readings_are_taken_as_independent() -> None:
    heat, outside = correlated()
    shape = Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False)
    # By the rule of the module: from 20 days on.
    for days, taken_as_correlated in ((30.0, False), (20.0, False), (19.5, True)):
        readings = daily(heat, outside)._replace(days=np.full(120, days))
        assert fit(readings, shape).correlated is taken_as_correlated


def test_longer_readings_weigh_more() -> None:
    # Independently: weighted least squares by NumPy's polyfit, whose weights are those of the residuals.
    heat, outside = scattered(4, 40)
    days = np.tile([1.0, 7.0], 20)
    found = fit(
        daily(heat, outside)._replace(days=days),
        Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False),
    )
    slope, intercept = np.polyfit(outside, heat, 1, w=np.sqrt(days))
    assert (found.coefficient_kwh_d_k, found.base_use_kwh_per_day) == pytest.approx(
        (-slope, intercept), rel=1e-7
    )


def test_further_days_bring_the_variance_down_as_said() -> None:
    # Independently: the days are added to the normal matrix, which is inverted anew.
    heat, outside = scattered(6, 60)
    found = fit(daily(heat, outside), Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False))
    number = change_point.further_days(found, -5.0, 0.5)
    assert number is not None
    normal = np.array([[60.0, -outside.sum()], [-outside.sum(), outside @ outside]])
    had = np.linalg.inv(normal)[1, 1]

    def left(days: int) -> float:
        row = np.array([1.0, 5.0])
        return float(np.linalg.inv(normal + days * np.outer(row, row))[1, 1])

    assert left(number) <= 0.5 * had < left(number - 1)


def test_further_days_that_tell_nothing_of_the_slope_are_none() -> None:
    # At the mean of the temperatures a further day moves the line up and down, and never turns it.
    outside = np.array([0.0, 10.0] * 10)
    found = fit(
        daily(60.0 - 4.0 * outside, outside),
        Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False),
    )
    assert change_point.further_days(found, 5.0, 0.9) is None
    # However many days at one temperature: the other end of the line stays as uncertain as it was.
    assert change_point.further_days(found, -5.0, 1e-6) is None


def test_student_s_t() -> None:
    # Tables of Student's t: 2.228 for 10 degrees of freedom, 1.960 for infinitely many (two-sided 95 %).
    assert student_t.quantile(10.0, 0.95) == pytest.approx(2.228, abs=0.0005)
    assert student_t.quantile(math.inf, 0.95) == pytest.approx(1.960, abs=0.0005)
    # Independently: SciPy's distribution object.
    assert student_t.probability_below(3.0, 2.0, 7.5) == pytest.approx(stats.t.cdf(1.5, 7.5), abs=1e-9)
    assert [student_t.probability_below(sign, 0.0, 5.0) for sign in (1.0, -1.0, 0.0)] == [1.0, 0.0, 0.5]


def test_data_without_any_slope_are_fitted_without_a_fall() -> None:
    outside = np.linspace(0.0, 20.0, 50)
    for shape in (SUMMER, SUMMER._replace(base_fitted=False), SUMMER._replace(line=True)):
        for heat in (np.zeros(50), np.full(50, 7.0), outside.copy()):
            found = fit(daily(heat, outside), shape)
            assert math.isfinite(found.coefficient_kwh_d_k)
            assert np.isfinite(found.covariance).all()
            assert found.aperture_m2 == 0.0


# --- What mutants showed to be open (tests/mutation) ------------------------------------------------


def test_hubers_constant_keeps_95_percent_of_the_efficiency() -> None:
    # Huber's estimate of a mean has the variance E[ψ²]/(E[ψ'])² (Huber, Robust Statistics, 1981; from memory): closed for
    # normal errors with E[ψ'] = 2Φ(c) − 1 and E[ψ²] = E[ψ'] − 2cφ(c) + 2c²(1 − Φ(c)).
    c = change_point.HUBER_CONSTANT
    within = 2.0 * stats.norm.cdf(c) - 1.0
    squares = within - 2.0 * c * stats.norm.pdf(c) + 2.0 * c * c * stats.norm.sf(c)
    assert within**2 / squares == pytest.approx(0.95, abs=0.00005)


def test_a_robust_line_leaves_nothing_in_its_normal_equations() -> None:
    # Where Huber's sum is least, the errors cut at 1.345 scales are perpendicular to either column.
    heat, outside = correlated()
    heat[::15] += 30.0
    found = fit(daily(heat, outside), Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=True))
    off = found.base_use_kwh_per_day - found.coefficient_kwh_d_k * outside - heat
    limit = 1.345 * found.scale_kwh_per_day
    cut = np.clip(off, -limit, limit)
    assert float(cut.sum()) == pytest.approx(0.0, abs=1e-4)
    assert float(cut @ outside) == pytest.approx(0.0, abs=1e-3)
    assert found.weights * off == pytest.approx(cut, abs=1e-9)
    # Each of the eight that were spoiled weighs less.
    assert (found.weights[::15] < 1.0).all()


def test_an_exact_line_has_no_scale_and_weighs_all_alike() -> None:
    outside = np.linspace(-5.0, 10.0, 40)
    found = fit(
        daily(60.0 - 4.0 * outside, outside),
        Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False),
    )
    assert found.scale_kwh_per_day < 1e-6
    assert (found.weights == 1.0).all()
    assert len(found.degree_days_k) == 0


def test_a_day_beside_readings_of_four_days() -> None:
    # By hand: residuals weigh as the root of the days, √(1/4).
    heat, outside = scattered(4, 40)
    readings = daily(heat, outside)._replace(days=np.full(40, 4.0))
    shape = Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False)
    assert fit(readings, shape).day_weight == pytest.approx(0.5, rel=1e-12)


def test_autocorrelation_does_not_depend_on_the_unit() -> None:
    # By hand: errors of 1, -1, 1 ... have nine products of -1 over ten squares, however small they are.
    outside = np.repeat([0.0, 2.0, 4.0, 6.0, 8.0], 2)
    heat = 64.0 - 4.0 * outside + 0.01 * np.tile([1.0, -1.0], 5)
    found = fit(daily(heat, outside), Shape(line=True, base_fitted=False, aperture_m2=0.0, robust=False))
    assert found.autocorrelation == pytest.approx(-0.9, abs=1e-6)


def test_mean_temperature_of_a_reading() -> None:
    # By hand: (2 + 4 + 9)/3 and (−1 + 7)/2.
    readings = Readings(
        np.array([50.0, 60.0]),
        np.array([3.0, 2.0]),
        np.array([2.0, 4.0, 9.0, -1.0, 7.0]),
        np.array([0, 0, 0, 1, 1]),
        np.zeros(2, dtype=np.bool_),
        None,
    )
    assert readings.mean_temperatures_c == pytest.approx([5.0, 3.0], rel=1e-12)


@pytest.mark.parametrize("temperature_c", [-5.0, 8.0])
def test_further_days_of_a_change_point_bring_the_variance_down_as_said(temperature_c: float) -> None:
    # Independently: the normal matrix of base use, coefficient and base temperature with the days added, inverted anew. Readings
    # of four days: one day's row weighs √(1/4) beside them.
    heat, outside = scattered(6, 60)
    found = fit(daily(heat, outside)._replace(days=np.full(60, 4.0)), SUMMER._replace(robust=False))
    assert found.base_temperature_c is not None
    below = found.base_temperature_c - outside
    rows = np.column_stack([np.ones(60), np.maximum(0.0, below), found.coefficient_kwh_d_k * (below > 0.0)])
    normal = rows.T @ rows
    row = 0.5 * np.array([1.0, found.base_temperature_c - temperature_c, found.coefficient_kwh_d_k])

    def share_left(days: int) -> float:
        added = np.linalg.inv(normal + days * np.outer(row, row))
        return float(added[1, 1] / np.linalg.inv(normal)[1, 1])

    share = 0.5 * (1.0 + share_left(10**9))
    number = change_point.further_days(found, temperature_c, share)
    assert number is not None
    assert share_left(number) <= share < share_left(number - 1)


def test_further_days_without_heating_tell_nothing_that_the_base_use_does_not() -> None:
    # Independently: a day above the base temperature adds the row (1, 0, 0).
    heat, outside = scattered(6, 60)
    found = fit(daily(heat, outside), SUMMER._replace(robust=False))
    assert found.base_temperature_c is not None
    below = found.base_temperature_c - outside
    rows = np.column_stack([np.ones(60), np.maximum(0.0, below), found.coefficient_kwh_d_k * (below > 0.0)])
    normal = rows.T @ rows
    had = np.linalg.inv(normal)[1, 1]

    # Whatever they say of the base use leaves the coefficient's variance where it was, so that no number of them will do.
    left = np.linalg.inv(normal + np.diag([1e6, 0.0, 0.0]))[1, 1]
    assert left == pytest.approx(had, rel=1e-6)
    assert change_point.further_days(found, 30.0, 0.99) is None
