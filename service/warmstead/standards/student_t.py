"""Student's t distribution, by SciPy's special functions: JCGM 100:2008, annex G (from memory).

Only questions that need it import this module: SciPy is slow to load.
"""

from __future__ import annotations

from scipy.special import stdtr, stdtrit

INFINITE = 1e9
"""Degrees of freedom from which on the distribution is the normal one to every digit kept."""


def quantile(degrees_of_freedom: float, probability: float) -> float:
    """Factor of a two-sided interval by Student's t; a normal one where the degrees of freedom are infinite."""
    return float(stdtrit(min(degrees_of_freedom, INFINITE), 0.5 + probability / 2.0))


def probability_below(difference: float, standard: float, degrees_of_freedom: float) -> float:
    """Probability that a quantity estimated as a difference lies above 0, by Student's t."""
    if standard <= 0.0:
        return 1.0 if difference > 0.0 else 0.0 if difference < 0.0 else 0.5
    return float(stdtr(min(degrees_of_freedom, INFINITE), difference / standard))
