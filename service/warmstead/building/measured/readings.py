"""Meter readings in plain numbers: heat a day, temperatures, what is set aside; the meter's energy turned into heat."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from datetime import date, timedelta
from typing import NamedTuple

from warmstead.building.annex import UNSEEN
from warmstead.building.findings import Findings
from warmstead.standards.energy_signature import efficiency_on_gross
from warmstead.survey.meter_readings import (
    Electricity,
    Energy,
    Gas,
    HeatPumpElectricity,
    LiquidGas,
    MeteredHeat,
    Oil,
    PerformanceAt,
    Reading,
)
from warmstead.tables import table

MOST_DAYS = 20_000
"""Days that all readings together may cover: over fifty years."""
SHORT_PERIOD_DAYS = 7
"""Up to a week the mean temperature stands for each day; over that the monthly formula does (our own limit)."""


class HeatReading(NamedTuple):
    """One reading as heat."""

    start: str
    days: int
    heat_kwh_per_day: float
    factor: float
    """Heat over the energy read."""
    temperatures_c: Sequence[float]
    """Of each day, or the one mean."""
    by_formula: bool
    irradiation_kwh_m2_d: float

    @property
    def mean_temperature_c(self) -> float:
        """Mean outside temperature, °C."""
        return sum(self.temperatures_c) / len(self.temperatures_c)


class SetAside(NamedTuple):
    """A reading that was left out, and why."""

    start: str
    reason: str


class HeatReadings(NamedTuple):
    """All readings as heat."""

    used: list[HeatReading]
    set_aside: list[SetAside]
    relative_uncertainty: float
    """Of the efficiency or coefficient of performance: the same error in every reading."""


def resolve_readings(
    readings: Sequence[Reading], energy: Energy, base_kwh_per_day: float, on_a_line: bool, findings: Findings
) -> HeatReadings:
    """Return the readings as heat, what is known of base use taken off; of no use where a problem was noted.

    Args:
        readings: as sent.
        energy: what the meter counts.
        base_kwh_per_day: base use that is known, as the meter counts it; 0 where it is fitted.
        on_a_line: whether a straight line is fitted, for which a mean temperature is exact.
        findings: where problems and warnings go.
    """
    _check_dates(readings, findings)
    _check_weather(readings, findings)
    conversion = _Conversion(energy, findings)
    used: list[HeatReading] = []
    set_aside: list[SetAside] = []
    for index, reading in enumerate(readings):
        if reading.away:
            set_aside.append(SetAside(reading.start, "away"))
            continue
        hot_water = reading.hot_water_kwh or 0.0
        if hot_water > reading.energy_kwh:
            findings.refuse(
                "contradiction",
                f"/readings/{index}/hot_water_kwh",
                f"at most the energy read, {reading.energy_kwh:g} kWh",
            )
        used.append(_as_heat(reading, conversion, hot_water, base_kwh_per_day, on_a_line))
    conversion.tell_of_gaps()
    _warn_of_means(readings, on_a_line, findings)
    return HeatReadings(used, set_aside, conversion.relative_uncertainty)


def _as_heat(
    reading: Reading, conversion: _Conversion, hot_water_kwh: float, base_kwh_per_day: float, on_a_line: bool
) -> HeatReading:
    days = reading.days or 1
    temperatures = reading.external_temperatures_c
    if temperatures is None:
        temperatures = [reading.external_temperature_c or 0.0]
    factor = conversion.factor(sum(temperatures) / len(temperatures))
    energy = (reading.energy_kwh - hot_water_kwh) / days - base_kwh_per_day
    return HeatReading(
        start=reading.start,
        days=days,
        heat_kwh_per_day=factor * energy,
        factor=factor,
        temperatures_c=temperatures,
        by_formula=_needs_formula(reading) and not on_a_line,
        irradiation_kwh_m2_d=(reading.solar_irradiation_kwh_m2 or 0.0) / days,
    )


def _needs_formula(reading: Reading) -> bool:
    return reading.external_temperatures_c is None and (reading.days or 1) > SHORT_PERIOD_DAYS


def _check_dates(readings: Sequence[Reading], findings: Findings) -> None:
    """Refuse days that do not exist, and readings that overlap or go backwards."""
    end: date | None = None
    for index, reading in enumerate(readings):
        at = f"/readings/{index}/start"
        try:
            start = date.fromisoformat(reading.start)
            following = start + timedelta(days=reading.days or 1)
        except (ValueError, OverflowError):
            findings.refuse("invalid_text", at, f"{reading.start} is no day of the calendar")
            continue
        if end is not None and start < end:
            findings.refuse(
                "contradiction", at, f"readings follow each other: not before {end.isoformat()}, or join them"
            )
        end = following if end is None else max(end, following)
    if any(reading.days is None for reading in readings):
        findings.warn("default.reading_days", "/readings", "readings that do not say how long are of one day")
    total = sum(reading.days or 1 for reading in readings)
    if total > MOST_DAYS:
        findings.refuse("out_of_range", "/readings", f"at most {MOST_DAYS} days in all, not {total}")


def _check_weather(readings: Sequence[Reading], findings: Findings) -> None:
    sunny = sum(reading.solar_irradiation_kwh_m2 is not None for reading in readings)
    for index, reading in enumerate(readings):
        at = f"/readings/{index}"
        daily = reading.external_temperatures_c
        if daily is not None and reading.external_temperature_c is not None:
            detail = "give external_temperature_c or external_temperatures_c, not both"
            findings.refuse("ambiguous", f"{at}/external_temperatures_c", detail)
        elif daily is None and reading.external_temperature_c is None:
            detail = "give external_temperature_c, or external_temperatures_c day by day"
            findings.refuse("incomplete", f"{at}/external_temperature_c", detail)
        if daily is not None and len(daily) != (reading.days or 1):
            detail = f"{len(daily)} temperatures for {reading.days or 1} days: one for each day"
            findings.refuse("contradiction", f"{at}/external_temperatures_c", detail)
        if 0 < sunny < len(readings) and reading.solar_irradiation_kwh_m2 is None:
            detail = "irradiation in every reading or in none"
            findings.refuse("incomplete", f"{at}/solar_irradiation_kwh_m2", detail)


def _warn_of_means(readings: Sequence[Reading], on_a_line: bool, findings: Findings) -> None:
    if on_a_line:
        return
    means = [r for r in readings if r.external_temperatures_c is None and (r.days or 1) > 1]
    if any(_needs_formula(reading) for reading in means):
        findings.warn(
            "assumption.degree_day_formula",
            "/readings",
            "degree-days of long periods follow from their mean temperature by a formula for British months; "
            "external_temperatures_c day by day need no formula",
        )
    if any(not _needs_formula(reading) for reading in means):
        findings.warn(
            "assumption.mean_temperature",
            "/readings",
            "in periods up to a week every day is taken to have the mean temperature; near the base temperature that counts too few "
            "degree-days",
        )


class _Conversion:
    """Heat over the energy read, by what the meter counts."""

    def __init__(self, energy: Energy, findings: Findings) -> None:
        self._findings = findings
        self._outside: list[float] = []
        self._points: Sequence[PerformanceAt] = ()
        self._factor = 1.0
        self.relative_uncertainty = 0.0
        if isinstance(energy, HeatPumpElectricity):
            self._heat_pump(energy)
        elif not isinstance(energy, MeteredHeat):
            self._efficiency(energy)

    def _efficiency(self, energy: Energy) -> None:
        if isinstance(energy, HeatPumpElectricity | MeteredHeat):
            return
        efficiency = energy.efficiency
        if efficiency is None:
            self._findings.warn(
                "default.efficiency", "/energy/efficiency", "1 taken: all of it becomes heat inside"
            )
            efficiency = 1.0
        if energy.efficiency_standard_uncertainty is None:
            self._warn_of_exact("/energy/efficiency_standard_uncertainty", "the efficiency")
        else:
            self.relative_uncertainty = energy.efficiency_standard_uncertainty / efficiency
        if isinstance(energy, Gas | LiquidGas | Oil):
            efficiency = self._of_fuel(energy, efficiency)
        elif not isinstance(energy, Electricity) and efficiency > 1.0:
            self._findings.refuse("contradiction", "/energy/efficiency", "at most 1")
        self._factor = efficiency

    def _of_fuel(self, fuel: Gas | LiquidGas | Oil, efficiency: float) -> float:
        """Return a boiler's efficiency on the calorific value of the readings."""
        read = fuel.calorific_value
        if read is None:
            read = "gross"
            detail = "readings taken as gross calorific value, as on British bills"
            self._findings.warn("default.calorific_value", "/energy/calorific_value", detail)
        stated = fuel.efficiency_calorific_value
        if stated is None:
            stated = read
            detail = f"efficiency taken as on the {read} calorific value"
            self._findings.warn("default.calorific_value", "/energy/efficiency_calorific_value", detail)
        row = next(row for row in table("calorific-values").rows if row["fuel"] == fuel.kind)
        ratio = float(row["net_over_gross"])
        if read != stated and row["provenance"] in UNSEEN:
            self._findings.warn_of_memory("calorific-values", "/energy/efficiency_calorific_value")
        on_gross = efficiency_on_gross(efficiency, ratio) if stated == "net" else efficiency
        if on_gross > 1.0:
            self._findings.refuse(
                "contradiction",
                "/energy/efficiency",
                f"at most {1.0 / ratio if stated == 'net' else 1.0:.3f} on the {stated} calorific value",
            )
        return on_gross if read == "gross" else on_gross / ratio

    def _heat_pump(self, energy: HeatPumpElectricity) -> None:
        at = "/energy/coefficient_of_performance"
        if energy.relative_standard_uncertainty is None:
            self._warn_of_exact("/energy/relative_standard_uncertainty", "the coefficient of performance")
        self.relative_uncertainty = energy.relative_standard_uncertainty or 0.0
        if (energy.coefficient_of_performance is None) == (energy.performance is None):
            missing = energy.performance is None
            detail = "give coefficient_of_performance or performance" + ("" if missing else ", not both")
            self._findings.refuse("incomplete" if missing else "ambiguous", at, detail)
        self._factor = energy.coefficient_of_performance or 1.0
        if energy.performance is not None:
            self._points = energy.performance
            for index in range(1, len(self._points)):
                warmer, colder = self._points[index], self._points[index - 1]
                if warmer.external_temperature_c <= colder.external_temperature_c:
                    self._findings.refuse(
                        "contradiction",
                        f"/energy/performance/{index}/external_temperature_c",
                        f"above that of the row before, {colder.external_temperature_c:g} °C",
                    )

    def _warn_of_exact(self, at: str, what: str) -> None:
        self._findings.warn(
            "assumption.efficiency_exact",
            at,
            f"{what} is taken as exact: its own error is the coefficient's too, and is in no interval",
        )

    def factor(self, temperature_c: float) -> float:
        """Return heat over energy at an outside temperature."""
        points = self._points
        if not points:
            return self._factor
        if not points[0].external_temperature_c <= temperature_c <= points[-1].external_temperature_c:
            self._outside.append(temperature_c)
            return 1.0
        place = min(
            max(1, bisect_right(points, temperature_c, key=lambda point: point.external_temperature_c)),
            len(points) - 1,
        )
        colder, warmer = points[place - 1], points[place]
        span = warmer.external_temperature_c - colder.external_temperature_c
        if span <= 0.0:
            return 1.0  # refused already
        rise = (warmer.coefficient_of_performance - colder.coefficient_of_performance) / span
        return colder.coefficient_of_performance + rise * (temperature_c - colder.external_temperature_c)

    def tell_of_gaps(self) -> None:
        """Refuse a table that does not reach over all readings."""
        if self._outside:
            self._findings.refuse(
                "not_covered",
                "/energy/performance",
                f"{len(self._outside)} readings lie outside the table: it has to reach from {min(self._outside):g} "
                f"to {max(self._outside):g} °C as well",
            )
