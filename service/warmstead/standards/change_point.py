"""A robust change-point regression with intervals that hold where errors hang together from day to day.

    y = b + h · D(θb − a·I/h) + error

y heat a day, b base use, D the mean degree-days of a reading below the base temperature, I the sun's irradiation, a the
solar aperture. Fitted by SciPy's `least_squares` with Huber's loss (P. J. Huber, Robust Statistics, 1981: constant 1.345 for
95 % efficiency; from memory), its scale the median absolute deviation.

The covariance is Huber's sandwich A⁻¹ B A⁻¹ with two middles: errors of unequal size (leverage-corrected, MacKinnon and White,
Journal of Econometrics 29 (1985), "HC3"; from memory), and errors that are correlated in time (equally weighted cosine
transforms with ν = 0.41 n^(2/3) and Student's t on ν degrees of freedom: Lazarus, Lewis, Stock and Watson, Journal of Business
& Economic Statistics 36 (2018), p. 541; from memory). The wider one counts. How often such intervals hold the truth was
measured on synthetic years: `tests/measured/interval_coverage.py`.

Only the question that needs it imports this module: NumPy and SciPy are slow to load.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import matmul_toeplitz
from scipy.optimize import least_squares

from warmstead.standards.energy_signature import MONTHLY_CONSTANT_PER_K
from warmstead.standards.student_t import quantile

Vector = NDArray[np.float64]

HUBER_CONSTANT = 1.345
DEVIATIONS_PER_MEDIAN = 1.0 / 0.6744897501960817
"""Standard deviation of a normal error over its median absolute deviation."""
LOWEST_BASE_C, HIGHEST_BASE_C = 4.0, 26.0
"""Base temperatures looked at: outside these a house is not heated by the weather."""
LONG_READING_DAYS = 20.0
"""Errors of readings as long as this are taken as independent of each other."""
MOST_LEVERAGE = 0.9
MOST_AUTOCORRELATION = 0.95
FEWEST_TRANSFORMS = 8
TRANSFORMS_PER_READING = 0.41
"""Times n^(2/3)."""
_ROUNDS = 25
_EVALUATIONS = 60
_COEFFICIENT = 1
"""Place of h among the parameters, in either shape."""


class Readings(NamedTuple):
    """Readings of heat as arrays; the temperatures of all of them lie one behind the other."""

    heat_kwh_per_day: Vector
    days: Vector
    temperatures_c: Vector
    reading_of: NDArray[np.intp]
    """To which reading a temperature belongs."""
    by_formula: NDArray[np.bool_]
    """Of each reading: whether its one temperature is a month's mean, for which the monthly formula is used."""
    irradiation_kwh_m2_d: Vector | None
    """Irradiation a day, where it was measured."""
    base_shares: Vector | None = None
    """Heat of the base use in each reading over its mean, where a unit read is not the same heat in all of them; None: alike."""

    @property
    def number(self) -> int:
        """Number of readings."""
        return len(self.heat_kwh_per_day)

    @property
    def mean_temperatures_c(self) -> Vector:
        """Mean outside temperature of each reading, °C."""
        sums = np.bincount(self.reading_of, self.temperatures_c, self.number)
        return sums / np.bincount(self.reading_of, minlength=self.number)


class Shape(NamedTuple):
    """What is fitted."""

    line: bool
    """A straight line through readings that all lie within the heating season: b and θb are not told apart."""
    base_fitted: bool
    """Whether the base use is fitted; else it is 0, what is known of it having been taken off."""
    aperture_m2: float | None
    """Solar aperture where it is known, None where it is fitted; 0 where no irradiation was measured."""
    robust: bool


class Fit(NamedTuple):
    """A fitted change point, with its covariance."""

    base_use_kwh_per_day: float
    coefficient_kwh_d_k: float
    base_temperature_c: float | None
    aperture_m2: float
    covariance: Vector
    """Of base use (or intercept), coefficient, base temperature (not of a line), aperture; 0 for what was not fitted."""
    spread: Vector
    """Inverse of the normal matrix in the same order: what a further reading would change."""
    degrees_of_freedom: float
    correlated: bool
    """Whether the correlation in time made the wider interval."""
    scale_kwh_per_day: float
    """Robust standard deviation of the readings about the fit, for a reading of mean length."""
    autocorrelation: float
    """Of neighbouring residuals."""
    weights: Vector
    """Weight of each reading by Huber's loss: 1 within 1.345 standard deviations."""
    degree_days_k: Vector
    """Mean degree-days of each reading at the fitted base temperature; of a line, empty."""
    largest_leverage: float
    """How far the fit hangs on a single reading: 1 where it goes through that reading whatever it is."""
    day_weight: float
    """Weight of a single day's residual beside that of a reading of mean length."""


class _Model:
    """The mean heat of each reading and its derivatives by the free parameters, either scaled by the readings' weight."""

    def __init__(self, readings: Readings, shape: Shape) -> None:
        self.readings = readings
        self.shape = shape
        count = np.bincount(readings.reading_of, minlength=readings.number)
        self._share = 1.0 / count[readings.reading_of]
        self._formula = readings.by_formula[readings.reading_of]
        self._means = readings.mean_temperatures_c
        irradiation = readings.irradiation_kwh_m2_d
        self._sun = np.zeros(readings.number) if irradiation is None else irradiation
        shares = readings.base_shares
        self._base = np.ones(readings.number) if shares is None else shares
        self.weight = np.sqrt(readings.days / readings.days.mean())
        self.free = np.array(
            [shape.base_fitted or shape.line, True, not shape.line, shape.aperture_m2 is None]
        )

    def degree_days(self, base_c: Vector) -> tuple[Vector, Vector]:
        """Mean degree-days of each reading below its base temperature, and their derivative by it."""
        readings = self.readings
        difference = base_c[readings.reading_of] - readings.temperatures_c
        days = np.maximum(difference, 0.0)
        slope = (difference > 0.0).astype(np.float64)
        if self._formula.any():
            smooth, smooth_slope = _monthly(difference)
            days[self._formula] = smooth[self._formula]
            slope[self._formula] = smooth_slope[self._formula]
        return self._of_readings(days * self._share), self._of_readings(slope * self._share)

    def _of_readings(self, of_temperatures: Vector) -> Vector:
        readings = self.readings
        return np.bincount(readings.reading_of, of_temperatures, readings.number).astype(np.float64)

    def at(self, parameters: Vector) -> tuple[Vector, Vector, Vector]:
        """Mean heat, its derivatives by all four parameters, and the degree-days."""
        base, coefficient, base_c, aperture = parameters
        ones = np.ones(self.readings.number)
        if self.shape.line:
            mean = base - coefficient * self._means - aperture * self._sun
            return mean, np.column_stack([ones, -self._means, 0.0 * ones, -self._sun]), ones
        sun_k = aperture * self._sun / coefficient
        days, slope = self.degree_days(base_c - sun_k)
        derivatives = [self._base, days + slope * sun_k, coefficient * slope, -slope * self._sun]
        return base * self._base + coefficient * days, np.column_stack(derivatives), days

    def residuals(self, parameters: Vector) -> Vector:
        """Weighted differences between fit and readings."""
        difference: Vector = (self.at(parameters)[0] - self.readings.heat_kwh_per_day) * self.weight
        return difference

    def derivatives(self, parameters: Vector) -> Vector:
        """Weighted derivatives by the free parameters."""
        scaled: Vector = self.at(parameters)[1][:, self.free] * self.weight[:, None]
        return scaled


def _monthly(difference_k: Vector) -> tuple[Vector, Vector]:
    """The monthly formula and its derivative: see `energy_signature.degree_days_of_mean_k`."""
    scaled: Vector = np.clip(MONTHLY_CONSTANT_PER_K * difference_k, -60.0, 60.0)
    near = np.abs(scaled) < 1e-5
    safe = np.where(near, 1.0, scaled)
    shortfall = -np.expm1(-safe)
    days = np.where(near, 1.0 + scaled / 2.0, safe / shortfall) / MONTHLY_CONSTANT_PER_K
    slope = np.where(near, 0.5, 1.0 / shortfall - safe * np.exp(-safe) / shortfall**2)
    return np.asarray(days, dtype=np.float64), np.asarray(slope, dtype=np.float64)


def fit(readings: Readings, shape: Shape) -> Fit:
    """Fit the change point, or the line, to some readings.

    Args:
        readings: heat by reading, in order of time, at least two more than there are parameters.
        shape: what is fitted, and how.
    """
    model = _Model(readings, shape)
    parameters = _start(model)
    scale = 0.0
    for _ in range(_ROUNDS if shape.robust else 1):
        previous, previous_scale = parameters, scale
        scale = _scale(model, parameters)
        parameters = _minimised(model, parameters, scale)
        settled = np.allclose(parameters, previous, rtol=1e-7, atol=1e-9)
        if settled and math.isclose(scale, previous_scale, rel_tol=1e-7):
            break
    return _described(model, parameters, _scale(model, parameters))


def _start(model: _Model) -> Vector:
    """Least absolute residuals over a grid of base temperatures, each a linear fit."""
    readings, shape = model.readings, model.shape
    best: tuple[float, Vector] | None = None
    grid = [0.0] if shape.line else np.arange(LOWEST_BASE_C, HIGHEST_BASE_C + 0.25, 0.5).tolist()
    for base_c in grid:
        trial = np.array([0.0, 1.0, base_c, 0.0])
        columns = model.at(trial)[1]
        free = model.free.copy()
        free[2] = False
        known = (shape.aperture_m2 or 0.0) * columns[:, 3]
        scaled = columns[:, free] * model.weight[:, None]
        found = np.zeros(4)
        found[free] = np.linalg.lstsq(scaled, (readings.heat_kwh_per_day - known) * model.weight, rcond=None)[
            0
        ]
        found[2] = base_c
        found[3] = max(found[3], 0.0) if shape.aperture_m2 is None else shape.aperture_m2
        if found[_COEFFICIENT] <= 0.0:
            continue
        residuals = model.residuals(found)
        misfit = float(np.abs(residuals).sum() if shape.robust else residuals @ residuals)
        if best is None or misfit < best[0]:
            best = (misfit, found)
    if best is not None:
        return best[1]
    flat = np.array([readings.heat_kwh_per_day.mean(), 1e-6, grid[len(grid) // 2], shape.aperture_m2 or 0.0])
    return flat if model.free[0] else flat * np.array([0.0, 1.0, 1.0, 1.0])


def _scale(model: _Model, parameters: Vector) -> float:
    """Robust standard deviation of the readings that were heated, which scatter most, corrected for the parameters fitted."""
    residuals = np.abs(model.residuals(parameters))
    days = model.at(parameters)[2]
    heated = residuals[days > 0.05 * days.max()] if days.max() > 0.0 else residuals
    fitted = int(model.free.sum())
    spare = max(1, len(heated) - fitted)
    scale = DEVIATIONS_PER_MEDIAN * float(np.median(heated)) * math.sqrt(len(heated) / spare)
    floor = 1e-10 * float(np.abs(model.readings.heat_kwh_per_day).max())
    return max(scale, floor, 1e-12)


def _minimised(model: _Model, start: Vector, scale: float) -> Vector:
    free = model.free
    lowest = np.array([-np.inf, 1e-9, LOWEST_BASE_C - 5.0, 0.0])[free]
    highest = np.array([np.inf, np.inf, HIGHEST_BASE_C + 5.0, np.inf])[free]
    parameters = start.copy()

    def whole(values: Vector) -> Vector:
        parameters[free] = values
        return parameters

    def residuals(values: Vector) -> Vector:
        return model.residuals(whole(values))

    def derivatives(values: Vector) -> Vector:
        return model.derivatives(whole(values))

    solution: Any = least_squares(
        residuals,
        np.clip(start[free], lowest, highest),
        derivatives,
        bounds=(lowest, highest),
        loss="huber" if model.shape.robust else "linear",
        f_scale=HUBER_CONSTANT * scale,
        x_scale=np.maximum(np.abs(start[free]), 1e-3),
        ftol=1e-12,
        xtol=1e-12,
        gtol=1e-12,
        max_nfev=_EVALUATIONS,
    )
    return whole(np.asarray(solution.x, dtype=np.float64)).copy()


def _described(model: _Model, parameters: Vector, scale: float) -> Fit:
    """Return the fit with the covariance that gives the wider interval of the coefficient."""
    residuals = model.residuals(parameters)
    columns = model.derivatives(parameters)
    limit = HUBER_CONSTANT * scale if model.shape.robust else math.inf
    bounded = np.clip(residuals, -limit, limit)
    within = (np.abs(residuals) <= limit).astype(np.float64)
    count, fitted = columns.shape
    place = int(model.free[:_COEFFICIENT].sum())
    inverse = np.asarray(np.linalg.pinv(columns.T @ (columns * within[:, None])), dtype=np.float64)
    whole = np.asarray(np.linalg.pinv(columns.T @ columns), dtype=np.float64)
    uncapped = np.einsum("ij,jk,ik->i", columns, whole, columns)
    leverage = np.minimum(uncapped, MOST_LEVERAGE)
    scores = columns * (bounded / (1.0 - leverage))[:, None]
    spare = float(max(1, count - fitted))
    independent = (
        inverse @ (columns.T @ columns) @ inverse * float(bounded @ bounded) / spare,
        inverse @ (scores.T @ scores) @ inverse,
    )
    covariance = max(independent, key=lambda found: float(found[place, place]))
    freedom, correlated = spare, False
    autocorrelation = _autocorrelation(bounded)
    working = _less_biased(autocorrelation, count)
    if working > 0.0 and model.readings.days.mean() < LONG_READING_DAYS:
        transforms = max(FEWEST_TRANSFORMS, int(TRANSFORMS_PER_READING * count ** (2.0 / 3.0)))
        serial = inverse @ _long_run(scores, transforms) @ inverse
        weights = (columns @ inverse)[:, place]
        inflation, effective = _small_sample(weights, leverage, columns, whole, transforms, working)
        if _half_width(serial[place, place] * inflation, effective) > _half_width(
            covariance[place, place], freedom
        ):
            covariance, freedom, correlated = serial * inflation, effective, True
    days = model.at(parameters)[2]
    return Fit(
        base_use_kwh_per_day=float(parameters[0]),
        coefficient_kwh_d_k=float(parameters[1]),
        base_temperature_c=None if model.shape.line else float(parameters[2]),
        aperture_m2=float(parameters[3]),
        covariance=_spread_out(covariance, model.free),
        spread=_spread_out(whole, model.free),
        degrees_of_freedom=freedom,
        correlated=correlated,
        scale_kwh_per_day=scale,
        autocorrelation=autocorrelation,
        weights=np.minimum(1.0, limit / np.maximum(np.abs(residuals), 1e-300)),
        degree_days_k=np.zeros(0) if model.shape.line else days,
        largest_leverage=float(uncapped.max()),
        day_weight=math.sqrt(1.0 / float(model.readings.days.mean())),
    )


def _half_width(variance: float, degrees_of_freedom: float) -> float:
    return quantile(degrees_of_freedom, 0.95) * math.sqrt(max(0.0, float(variance)))


def _autocorrelation(residuals: Vector) -> float:
    squares = float(residuals @ residuals)
    return float(residuals[1:] @ residuals[:-1]) / squares if squares > 0.0 else 0.0


def _less_biased(autocorrelation: float, count: int) -> float:
    """Autocorrelation less its bias towards 0 in short series (Marriott and Pope, Biometrika 41 (1954); from memory)."""
    return min(MOST_AUTOCORRELATION, max(0.0, autocorrelation + (1.0 + 4.0 * autocorrelation) / count))


def _small_sample(
    weights: Vector, leverage: Vector, columns: Vector, whole: Vector, transforms: int, autocorrelation: float
) -> tuple[float, float]:
    """How much too small the variance by cosine transforms comes out, and the degrees of freedom that it really has.

    Residuals are errors less what the fit took of them. Were the errors a series with this autocorrelation, the coefficient's
    variance and the expected value and variance of its estimate would be known; their ratio corrects the estimate, and
    Satterthwaite's rule gives its degrees of freedom (the way of Bell and McCaffrey, Survey Methodology 28 (2002), p. 169, with
    another working covariance; from memory).
    """
    count = len(weights)
    decay = autocorrelation ** np.arange(count)
    time = (np.arange(count) + 0.5) / count
    cosines = np.cos(math.pi * np.outer(time, np.arange(1, transforms + 1)))
    forms = math.sqrt(2.0) * cosines * (weights / (1.0 - leverage))[:, None]
    forms = forms - columns @ (whole @ (columns.T @ forms))
    products = forms.T @ matmul_toeplitz(decay, forms) / transforms
    expected = float(np.trace(products))
    true = float(weights @ matmul_toeplitz(decay, weights))
    if not expected > 0.0:
        return 1.0, float(transforms)
    return max(1.0, true / expected), expected**2 / float((products**2).sum())


def _long_run(scores: Vector, transforms: int) -> Vector:
    """Covariance of a sum of scores that are correlated in time, by equally weighted cosine transforms."""
    count = len(scores)
    time = (np.arange(count) + 0.5) / count
    cosines = np.cos(math.pi * np.outer(np.arange(1, transforms + 1), time))
    transformed = math.sqrt(2.0) * (cosines @ scores)
    product: Vector = transformed.T @ transformed / transforms
    return product


def _spread_out(matrix: Vector, free: NDArray[np.bool_]) -> Vector:
    whole = np.zeros((4, 4))
    whole[np.ix_(free, free)] = matrix
    return whole


def further_days(found: Fit, temperature_c: float, share: float) -> int | None:
    """Days at one outside temperature that would bring the coefficient's variance down to a share of what it is.

    A day adds its own row to the normal matrix: by Sherman and Morrison's formula the variance falls by m·c²/(1 + m·q), with
    c the covariance of the coefficient with that row and q the row's own leverage.

    Args:
        found: the fit, whose spread says what is known already.
        temperature_c: outside temperature of the further days, °C.
        share: variance wanted over variance had, between 0 and 1.

    Returns:
        The number of days; None where no number of such days would do.
    """
    if found.base_temperature_c is None:
        row = np.array([1.0, -temperature_c, 0.0, 0.0])
    else:
        difference = found.base_temperature_c - temperature_c
        heated = float(difference > 0.0)
        row = np.array([1.0, max(0.0, difference), found.coefficient_kwh_d_k * heated, 0.0])
    row = row * found.day_weight
    along = found.spread @ row
    had = float(found.spread[_COEFFICIENT, _COEFFICIENT])
    gained = float(along[_COEFFICIENT]) ** 2
    wanted = (1.0 - share) * had
    rest = gained - wanted * float(row @ along)
    return math.ceil(wanted / rest) if rest > 1e-12 * gained and gained > 0.0 else None
