"""How often 95 % intervals hold the truth, over 1,000 invented years of each kind.

Run by hand; minutes. `python tests/measured/interval_coverage.py [years] [kind …]` prints a row for each kind, as in README.md.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np

from warmstead.standards import change_point, student_t

sys.path.insert(0, str(Path(__file__).parent))

from synthetic import (
    BASE_TEMPERATURE_C,
    COEFFICIENT_W_K,
    DAYS,
    KINDS,
    KWH_PER_DAY_OF_A_WATT,
    readings,
    year,
)

CASES = [(kind, DAYS, 365, True) for kind in KINDS]
CASES += [("lived_in", DAYS, 52, True), ("lived_in", DAYS, 12, True), ("lived_in", 181, 181, True)]
CASES += [("ideal", DAYS, 12, True), ("correlated", DAYS, 12, True), ("lived_in", DAYS, 365, False)]
"""Kind of scatter, days, readings, and whether the regression is robust."""


class Coverage(NamedTuple):
    """Over many years."""

    coefficient: float
    base_temperature: float
    half_width_w_k: float
    mean_w_k: float
    standard_deviation_w_k: float


def coverage(kind: str, years: int, days: int = DAYS, parts: int = 365, robust: bool = True) -> Coverage:
    """Return how often the intervals of one kind of year hold the truth."""
    shape = change_point.Shape(line=False, base_fitted=True, aperture_m2=0.0, robust=robust)
    held = held_base = 0
    half_widths, estimates = [], []
    for seed in range(years):
        found = change_point.fit(_arrays(*readings(year(kind, seed, days), parts)), shape)
        factor = student_t.quantile(found.degrees_of_freedom, 0.95)
        half_width = factor * math.sqrt(found.covariance[1, 1]) / KWH_PER_DAY_OF_A_WATT
        estimate = found.coefficient_kwh_d_k / KWH_PER_DAY_OF_A_WATT
        assert found.base_temperature_c is not None
        held += abs(estimate - COEFFICIENT_W_K) <= half_width
        off_k = abs(found.base_temperature_c - BASE_TEMPERATURE_C)
        held_base += off_k <= factor * math.sqrt(found.covariance[2, 2])
        half_widths.append(half_width)
        estimates.append(estimate)
    return Coverage(
        held / years,
        held_base / years,
        float(np.median(half_widths)),
        float(np.mean(estimates)),
        float(np.std(estimates)),
    )


def _arrays(heat: list[float], days: list[float], outside: list[list[float]]) -> change_point.Readings:
    return change_point.Readings(
        np.array(heat),
        np.array(days),
        np.concatenate([np.array(daily) for daily in outside]),
        np.repeat(np.arange(len(heat)), [len(daily) for daily in outside]),
        np.zeros(len(heat), dtype=np.bool_),
        None,
    )


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    wanted = sys.argv[2:]
    print("| scatter | readings | days | regression | H held | θb held | half width | mean | s.d. |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for kind, days, parts, robust in CASES:
        if wanted and kind not in wanted:
            continue
        row = coverage(kind, number, days, parts, robust)
        how = "robust" if robust else "least squares"
        print(
            f"| {kind} | {parts} | {days} | {how} | {row.coefficient:.3f} | {row.base_temperature:.3f} | "
            f"{row.half_width_w_k:.1f} | {row.mean_w_k:.1f} | {row.standard_deviation_w_k:.1f} |",
            flush=True,
        )
