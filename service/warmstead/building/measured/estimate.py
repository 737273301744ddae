"""A heat loss coefficient from readings: the fit, whether the readings carry it, and its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from warmstead.building.findings import Findings
from warmstead.building.measured.readings import HeatReading
from warmstead.standards.energy_signature import KWH_PER_DAY_OF_A_WATT, Uncertainty, combined

if TYPE_CHECKING:
    from warmstead.standards.change_point import Fit, Readings, Shape

PROBABILITY = 0.95
"""Of every interval."""
FEWEST_READINGS = 10
"""Fits of fewer than ten monthly readings are to be looked at with great care: Rachlin, Fels and Socolow, Energy and Buildings 9
(1986), p. 149 (summary seen)."""
FEWEST_HEATED = 5
"""Readings with heating that a slope needs at the least (our own limit; the width of the interval asks for more)."""
FEWEST_WARM, FEWEST_WARM_DAYS = 2, 14
"""Readings and days without heating that a base use needs (our own limit)."""
HEATED_DEGREE_DAYS_K = 1.0
"""A day of more degree-days than this counts as heated."""
MOST_LEVERAGE = 0.9
BEYOND_GRID_K = 4.5
"""A fit that ran this far out of the base temperatures looked at found none."""
WARMER_THAN_BASE_K = 3.0
COLD_DAY_C = 5.0
"""What a further cold day is like, unless the coldest tenth of those sent is colder."""
USUAL_BASE_TEMPERATURES_C = (9.0, 20.0)
"""From well insulated houses with many gains to houses with hardly any (common practice)."""
OUTLYING_WEIGHT = 0.4
"""A reading of less weight lies over three standard deviations from the fit."""
LEAST_APERTURE_M2 = 0.001
"""Under this the fit ran against the bound of 0."""
MOST_OFF_BASE_KWH_PER_DAY = 1.0
"""Heat a day by which warm days may differ from a base use that was given before it is told (our own limit)."""
MOST_FURTHER_DAYS = 3650
"""Ten years: over that no number of days is said to help."""


class Estimate(NamedTuple):
    """An estimated quantity with its interval."""

    value: float
    uncertainty: Uncertainty
    low: float
    high: float


class Measured(NamedTuple):
    """What the readings say."""

    fit: Fit
    coefficient_w_k: Estimate
    of_readings_w_k: float
    """Standard uncertainty of the coefficient by the scatter of the readings alone."""
    of_efficiency_w_k: float
    """Standard uncertainty of the coefficient by that of the efficiency."""
    base_temperature_c: Estimate | None
    base_use_kwh_per_day: Estimate | None
    solar_aperture_m2: Estimate | None
    heated_days: int | None
    outlying: list[str]


class Asked(NamedTuple):
    """How the fit is asked for."""

    base_use: str
    """`from_summer`, `given` or `not_separated`."""
    solar_aperture_m2: float | None
    """None where it is fitted; 0 without irradiation."""
    robust: bool
    accepted_half_width: float


def measure(
    readings: Sequence[HeatReading], relative_uncertainty: float, asked: Asked, findings: Findings
) -> Measured:
    """Return the coefficient that readings carry.

    Args:
        readings: as heat.
        relative_uncertainty: of the efficiency, the same error in every reading.
        asked: what is fitted.
        findings: where problems and warnings go.

    Raises:
        Refused: the readings do not carry it; each problem says how many days more would.
    """
    _refuse_few(readings, findings)
    from warmstead.standards import change_point  # slow to load, and no other question needs it

    shape = change_point.Shape(
        line=asked.base_use == "not_separated",
        base_fitted=asked.base_use == "from_summer",
        aperture_m2=asked.solar_aperture_m2,
        robust=asked.robust,
    )
    found = change_point.fit(_arrays(readings), shape)
    _refuse_uncarried(found, readings, asked, findings)
    findings.stop_if_refused()
    measured = _measured(found, readings, relative_uncertainty, shape)
    _warn(measured, asked, findings)
    if asked.base_use == "given":
        _warn_of_base_use(found, readings, findings)
    return measured


def _refuse_few(readings: Sequence[HeatReading], findings: Findings) -> None:
    missing = FEWEST_READINGS - len(readings)
    if missing > 0:
        findings.refuse(
            "insufficient_data",
            "/readings",
            f"{len(readings)} readings can be used and at least {FEWEST_READINGS} are needed: {missing} more",
        )
    findings.stop_if_refused()


def _arrays(readings: Sequence[HeatReading]) -> Readings:
    import numpy as np

    from warmstead.standards.change_point import Readings

    irradiation = np.array([reading.irradiation_kwh_m2_d for reading in readings])
    return Readings(
        heat_kwh_per_day=np.array([reading.heat_kwh_per_day for reading in readings]),
        days=np.array([float(reading.days) for reading in readings]),
        temperatures_c=np.concatenate([np.asarray(r.temperatures_c, dtype=np.float64) for r in readings]),
        reading_of=np.repeat(np.arange(len(readings)), [len(r.temperatures_c) for r in readings]),
        by_formula=np.array([reading.by_formula for reading in readings]),
        irradiation_kwh_m2_d=irradiation if irradiation.any() else None,
        # Base use is a number of units read, as one that is given is: where the factor differs, so does its heat.
        base_shares=np.array([reading.factor for reading in readings]) * _read_for_heat(readings),
    )


def _read_for_heat(readings: Sequence[HeatReading]) -> float:
    """Return the units read for a unit of heat, by the mean over the days."""
    return sum(r.days / r.factor for r in readings) / sum(r.days for r in readings)


# --- Whether the readings carry it ---


def _refuse_uncarried(found: Fit, readings: Sequence[HeatReading], asked: Asked, findings: Findings) -> None:
    """Refuse a fit that says little, with what would help."""
    if not _is_a_slope(found):
        findings.refuse(
            "insufficient_data",
            "/readings",
            "the heat does not rise as it gets colder outside: send readings of cold and of mild days of one season, "
            f"{FEWEST_HEATED} readings with heating at the least",
        )
    elif not _is_a_base(found):
        findings.refuse(
            "insufficient_data",
            "/base_use" if asked.base_use == "given" else "/readings",
            "no base temperature fits: a base use that is given must be what the warm days show, and there must be cold and mild days",
        )
    elif found.base_temperature_c is None:
        if found.largest_leverage > MOST_LEVERAGE:
            detail = f"the slope hangs on a single reading: at least {FEWEST_HEATED - 1} more like it"
            findings.refuse("insufficient_data", "/readings", detail)
    else:
        _refuse_unheated(found, readings, findings)
        if asked.base_use == "from_summer":
            _refuse_without_summer(found, readings, findings)
    findings.stop_if_refused()
    _refuse_wide(found, readings, asked, findings)


def _is_a_slope(found: Fit) -> bool:
    return found.coefficient_kwh_d_k > 1e-6 and math.isfinite(found.coefficient_kwh_d_k)


def _is_a_base(found: Fit) -> bool:
    from warmstead.standards.change_point import HIGHEST_BASE_C, LOWEST_BASE_C

    base = found.base_temperature_c
    return base is None or LOWEST_BASE_C - BEYOND_GRID_K < base < HIGHEST_BASE_C + BEYOND_GRID_K


def _refuse_unheated(found: Fit, readings: Sequence[HeatReading], findings: Findings) -> None:
    heated = sum(days > HEATED_DEGREE_DAYS_K for days in found.degree_days_k)
    if heated < FEWEST_HEATED:
        findings.refuse(
            "insufficient_data",
            "/readings",
            f"{heated} of the readings show heating and at least {FEWEST_HEATED} are needed: {FEWEST_HEATED - heated} more, "
            f"colder than {found.base_temperature_c:.0f} °C outside",
        )


def _refuse_without_summer(found: Fit, readings: Sequence[HeatReading], findings: Findings) -> None:
    warm = [
        reading.days
        for reading, days in zip(readings, found.degree_days_k, strict=True)
        if days <= HEATED_DEGREE_DAYS_K
    ]
    missing = max(FEWEST_WARM_DAYS - sum(warm), 1 if len(warm) < FEWEST_WARM else 0)
    if missing > 0:
        findings.refuse(
            "insufficient_data",
            "/base_use",
            f"{len(warm)} readings of {sum(warm)} days in all are without heating, and base use from the summer needs "
            f"{FEWEST_WARM} of {FEWEST_WARM_DAYS} days: at least {missing} days more that are warm enough not to heat; or "
            "give the base use, or leave it not_separated",
        )


def _refuse_wide(found: Fit, readings: Sequence[HeatReading], asked: Asked, findings: Findings) -> None:
    """Refuse an interval that is wider than accepted, with the days that would make it narrow enough."""
    from warmstead.standards.change_point import further_days
    from warmstead.standards.student_t import quantile

    standard = math.sqrt(max(0.0, float(found.covariance[1, 1])))
    half_width = quantile(found.degrees_of_freedom, PROBABILITY) * standard / found.coefficient_kwh_d_k
    if half_width <= asked.accepted_half_width:
        return
    share = (asked.accepted_half_width / half_width) ** 2
    days = sum(reading.days for reading in readings)
    coldest = sorted(reading.mean_temperature_c for reading in readings)[len(readings) // 10]
    cold_c = min(coldest, COLD_DAY_C)
    ways = [(math.ceil(days * (1.0 / share - 1.0)), "like those sent")]
    cold = further_days(found, cold_c, share)
    ways.append((cold or MOST_FURTHER_DAYS + 1, f"of about {cold_c:.0f} °C outside"))
    if found.base_temperature_c is not None and asked.base_use == "from_summer":
        warm_c = found.base_temperature_c + WARMER_THAN_BASE_K
        warm = further_days(found, warm_c, share)
        ways.append((warm or MOST_FURTHER_DAYS + 1, f"warmer than {warm_c:.0f} °C outside"))
    helpful = [f"{number} days more {which}" for number, which in ways if number <= MOST_FURTHER_DAYS]
    advice = "about " + ", or ".join(helpful) if helpful else "no number of days within ten years"
    findings.refuse(
        "insufficient_data",
        "/readings",
        f"the coefficient would be known to within ±{100.0 * half_width:.0f} % only, and ±{100.0 * asked.accepted_half_width:.0f} % "
        f"is accepted: {advice} would carry it",
    )


# --- What they say ---


def _measured(
    found: Fit, readings: Sequence[HeatReading], relative_uncertainty: float, shape: Shape
) -> Measured:
    freedom = found.degrees_of_freedom
    per_kwh = 1.0 / KWH_PER_DAY_OF_A_WATT
    coefficient = found.coefficient_kwh_d_k * per_kwh
    of_readings = _standard(found, 1) * per_kwh
    of_efficiency = coefficient * relative_uncertainty
    whole = combined([Uncertainty(of_readings, freedom), Uncertainty(of_efficiency, math.inf)])
    base_use = aperture = base_temperature = None
    if shape.base_fitted:
        back = _read_for_heat(readings)
        uncertainty = Uncertainty(_standard(found, 0) * back, freedom)
        base_use = _estimate(found.base_use_kwh_per_day * back, uncertainty)
    if found.base_temperature_c is not None:
        base_temperature = _estimate(found.base_temperature_c, Uncertainty(_standard(found, 2), freedom))
    if shape.aperture_m2 is None:
        of_aperture = Uncertainty(found.aperture_m2 * relative_uncertainty, math.inf)
        scatter = Uncertainty(_standard(found, 3), freedom)
        aperture = _estimate(found.aperture_m2, combined([scatter, of_aperture]))
    return Measured(
        fit=found,
        coefficient_w_k=_estimate(coefficient, whole),
        of_readings_w_k=of_readings,
        of_efficiency_w_k=of_efficiency,
        base_temperature_c=base_temperature,
        base_use_kwh_per_day=base_use,
        solar_aperture_m2=aperture,
        heated_days=_heated_days(found, readings),
        outlying=[
            reading.start
            for reading, weight in zip(readings, found.weights, strict=True)
            if weight < OUTLYING_WEIGHT
        ],
    )


def _standard(found: Fit, place: int) -> float:
    return math.sqrt(max(0.0, float(found.covariance[place, place])))


def _estimate(value: float, uncertainty: Uncertainty) -> Estimate:
    from warmstead.standards.student_t import quantile

    half_width = quantile(uncertainty.degrees_of_freedom, PROBABILITY) * uncertainty.standard
    return Estimate(value, uncertainty, value - half_width, value + half_width)


def _heated_days(found: Fit, readings: Sequence[HeatReading]) -> int | None:
    if found.base_temperature_c is None:
        return None
    return sum(
        reading.days
        for reading, days in zip(readings, found.degree_days_k, strict=True)
        if days > HEATED_DEGREE_DAYS_K
    )


def _warn(measured: Measured, asked: Asked, findings: Findings) -> None:
    base = measured.base_temperature_c
    low, high = USUAL_BASE_TEMPERATURES_C
    if base is not None and not low <= base.value <= high:
        findings.warn(
            "unusual.base_temperature", "/readings", f"{base.value:.1f} °C is unusual as a base temperature"
        )
    if measured.outlying:
        listed = ", ".join(measured.outlying[:5])
        more = f" and {len(measured.outlying) - 5} more" if len(measured.outlying) > 5 else ""
        findings.warn(
            "unusual.reading",
            "/readings",
            f"far from the fit, and counted the less for it: {listed}{more}; was the house empty, or is a reading wrong?",
        )
    if asked.solar_aperture_m2 is None and measured.fit.aperture_m2 < LEAST_APERTURE_M2:
        findings.warn(
            "unusual.solar_aperture",
            "/readings",
            "the readings show no heat from the sun: the aperture came out as 0",
        )


def _warn_of_base_use(found: Fit, readings: Sequence[HeatReading], findings: Findings) -> None:
    """Hold a base use that was given against the readings without heating, where there are any."""
    warm = sorted(
        reading.heat_kwh_per_day
        for reading, days in zip(readings, found.degree_days_k, strict=True)
        if days <= 0.0
    )
    if len(warm) < FEWEST_WARM:
        return
    off = warm[len(warm) // 2]
    if abs(off) > MOST_OFF_BASE_KWH_PER_DAY:
        findings.warn(
            "unusual.base_use",
            "/base_use/energy_kwh_per_day",
            f"on days without heating the readings show {abs(off):.1f} kWh of heat a day {'more' if off > 0.0 else 'less'} than the "
            "base use that was given: coefficient and base temperature are off with it",
        )
