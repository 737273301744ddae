"""How fast something grows, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy import stats

BLOCKS = 20
"""Samples next to each other are alike; means of this many blocks are nearly independent."""
CONFIDENCE = 0.95


class Slope(NamedTuple):
    """A slope with its interval, in units an hour."""

    per_hour: float
    lower: float
    upper: float

    def __str__(self) -> str:
        return f"{self.per_hour:+.2f} an hour ({self.lower:+.2f} to {self.upper:+.2f}, {CONFIDENCE:.0%})"


def slope(seconds: Sequence[float], values: Sequence[float]) -> Slope:
    """Return the slope of a straight line by least squares through the means of blocks.

    Raises:
        ValueError: there are fewer values than two for each block.
    """
    if len(values) < 2 * BLOCKS:
        raise ValueError(f"{len(values)} samples; {2 * BLOCKS} are needed: soak for longer")
    hours = [float(block.mean()) / 3600 for block in np.array_split(np.asarray(seconds), BLOCKS)]
    means = [float(block.mean()) for block in np.array_split(np.asarray(values), BLOCKS)]
    line = stats.linregress(hours, means)
    half = float(stats.t.ppf(0.5 + CONFIDENCE / 2, BLOCKS - 2)) * float(line.stderr)
    return Slope(float(line.slope), float(line.slope) - half, float(line.slope) + half)
