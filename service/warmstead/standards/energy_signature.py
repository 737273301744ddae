"""The energy signature: heat used against the outside temperature, as a straight line up to a base temperature.

A building's heat in a period is base use + H · degree-days, H the heat loss coefficient. Degree-days and base
temperature are those of CIBSE TM41:2006, Degree-days: theory and application (from memory; a paper of 2024 in
Building Services Engineering Research and Technology that follows it was seen in its abstract). The line fitted with
its reference temperature is described by Fels, Energy and Buildings 9 (1986), p. 5-18 (title page seen).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from warmstead.standards.errors import NotPhysical, check_above_zero, check_not_below_zero

KWH_PER_DAY_OF_A_WATT = 0.024
"""24 h · 1 W = 0.024 kWh."""
MONTHLY_CONSTANT_PER_K = 0.71
"""k of the formula for British months (Open University course text, seen)."""
_NEAR_ZERO = 1e-9


class Uncertainty(NamedTuple):
    """A standard uncertainty with its degrees of freedom, infinite where it is known well."""

    standard: float
    degrees_of_freedom: float


def degree_days_k(base_temperature_c: float, daily_temperatures_c: Sequence[float]) -> float:
    """Mean degree-days of some days, K·d per day: a day warmer than the base counts 0, never less.

    CIBSE TM41:2006, section 2 (from memory); the rule itself in an Open University course text (seen).

    Args:
        base_temperature_c: base temperature, °C.
        daily_temperatures_c: mean outside temperature of each day, °C; at least one.

    Raises:
        NotPhysical: no day at all.
    """
    if not daily_temperatures_c:
        raise NotPhysical(
            "degree-days need at least one day",
            field="daily_temperatures_c",
            value=0,
            limit="at least one day",
            clause="CIBSE TM41:2006, 2",
        )
    return sum(max(0.0, base_temperature_c - t) for t in daily_temperatures_c) / len(daily_temperatures_c)


def degree_days_of_mean_k(base_temperature_c: float, mean_temperature_c: float) -> float:
    """Mean degree-days of a month of which only the mean temperature is known, K·d per day.

    (θb − θo)/(1 − exp(−k (θb − θo))), k = 0.71 for British months: CIBSE TM41:2006 (from memory), the formula and
    its constant in an Open University course text (seen). Where both temperatures are equal it tends to 1/k.

    Args:
        base_temperature_c: base temperature, °C.
        mean_temperature_c: mean outside temperature of the month, °C.
    """
    difference_k = base_temperature_c - mean_temperature_c
    scaled = MONTHLY_CONSTANT_PER_K * difference_k
    if abs(scaled) < _NEAR_ZERO:
        return 1.0 / MONTHLY_CONSTANT_PER_K
    if scaled < -700.0:  # exp would overflow; the formula tends to 0
        return 0.0
    return -difference_k / math.expm1(-scaled)


def implied_gains_w(
    coefficient_w_k: float, internal_temperature_c: float, base_temperature_c: float
) -> float:
    """Heat that sun, people and appliances give on average while the house is heated, W.

    The base temperature is the inside temperature less gains over coefficient, θb = θi − Φ_g/H (CIBSE TM41:2006,
    from memory), so Φ_g = H · (θi − θb).

    Args:
        coefficient_w_k: heat loss coefficient, W/K, 0 or more.
        internal_temperature_c: mean inside temperature of the heating season, °C.
        base_temperature_c: base temperature, °C.

    Raises:
        NotPhysical: a coefficient under 0.
    """
    check_not_below_zero(coefficient_w_k, "coefficient_w_k", "CIBSE TM41:2006")
    return coefficient_w_k * (internal_temperature_c - base_temperature_c)


def efficiency_on_gross(efficiency_on_net: float, net_over_gross: float) -> float:
    """Efficiency on the gross calorific value of one that was stated on the net one.

    The heat is the same and the gross value counts more fuel energy: η_gross = η_net · net/gross.

    Args:
        efficiency_on_net: efficiency on the net calorific value, above 0; over 1 where the flue gas condenses.
        net_over_gross: net over gross calorific value of the fuel, above 0.

    Raises:
        NotPhysical: an argument that is not above 0.
    """
    check_above_zero(efficiency_on_net, "efficiency_on_net", "definition")
    check_above_zero(net_over_gross, "net_over_gross", "definition")
    return efficiency_on_net * net_over_gross


def combined(parts: Iterable[Uncertainty]) -> Uncertainty:
    """Independent uncertainties of one result together, with their effective degrees of freedom.

    u² = Σ u_i²; ν = u⁴/Σ (u_i⁴/ν_i) (Welch and Satterthwaite): JCGM 100:2008, 5.1.2 and G.4.1 (from memory).

    Args:
        parts: each part's standard uncertainty in the result's unit, with its degrees of freedom.

    Raises:
        NotPhysical: an uncertainty under 0, or degrees of freedom that are not above 0.
    """
    squares = quotient = 0.0
    largest = 0.0
    kept = [part for part in parts if part.standard != 0.0]
    for part in kept:
        check_not_below_zero(part.standard, "standard", "JCGM 100:2008, 5.1.2")
        if not part.degrees_of_freedom > 0.0:
            raise NotPhysical(
                f"degrees of freedom must be above 0, not {part.degrees_of_freedom}",
                field="degrees_of_freedom",
                value=part.degrees_of_freedom,
                limit="above 0",
                clause="JCGM 100:2008, G.4.1",
            )
        largest = max(largest, part.standard)
    if largest == 0.0:
        return Uncertainty(0.0, math.inf)
    for part in kept:  # scaled by the largest, so that no fourth power is lost
        share = part.standard / largest
        squares += share**2
        quotient += share**4 / part.degrees_of_freedom
    return Uncertainty(largest * math.sqrt(squares), squares**2 / quotient if quotient > 0.0 else math.inf)
