"""The workings of a measured coefficient: fit, uncertainties, interval, and the way to a like basis."""

from __future__ import annotations

import math
from collections.abc import Mapping

from warmstead.building.measured.estimate import PROBABILITY, Measured
from warmstead.building.measured.like_basis import LikeForLike
from warmstead.building.statements import Step
from warmstead.building.steps import Steps
from warmstead.standards.energy_signature import KWH_PER_DAY_OF_A_WATT

SIGNATURE = "CIBSE TM41:2006"
REGRESSION = "robust regression (Huber)"
GUIDE = "JCGM 100:2008"


def measured_steps(found: Measured) -> list[Step]:
    """Return the steps to the coefficient and its interval."""
    from warmstead.standards.student_t import quantile

    steps = Steps("readings")
    fit = found.fit
    if fit.base_temperature_c is None:
        how = "heat a day = intercept − h · θ_e"
        steps.add("intercept", "c", fit.base_use_kwh_per_day, "kWh/d", how, REGRESSION)
    else:
        how = "heat a day = b + h · mean of max(0, θ_b − a·I/h − θ_e)"
        steps.add("base temperature", "θ_b", fit.base_temperature_c, "°C", how, SIGNATURE)
        steps.add("base use as heat", "b", fit.base_use_kwh_per_day, "kWh/d", how, SIGNATURE)
    steps.add("slope", "h", fit.coefficient_kwh_d_k, "kWh/(d·K)", how, REGRESSION)
    steps.add(
        "solar aperture", "a", fit.aperture_m2, "m²", "fitted, or as given; 0 without irradiation", SIGNATURE
    )
    coefficient = found.coefficient_w_k
    steps.add(
        "heat loss coefficient", "H", coefficient.value, "W/K", f"h/{KWH_PER_DAY_OF_A_WATT:g}", SIGNATURE
    )
    steps.add(
        "standard deviation about the fit",
        "s",
        fit.scale_kwh_per_day,
        "kWh/d",
        "1.4826 · median of the heated readings' deviations · √(n/(n − p))",
        REGRESSION,
    )
    by = (
        "correlated deviations: cosine transforms"
        if fit.correlated
        else "deviations independent of each other"
    )
    steps.add("uncertainty by the readings", "u_1", found.of_readings_w_k, "W/K", by, REGRESSION)
    steps.add(
        "uncertainty by the efficiency",
        "u_2",
        found.of_efficiency_w_k,
        "W/K",
        "H · u(η)/η",
        f"{GUIDE}, 5.1.2",
    )
    uncertainty = coefficient.uncertainty
    steps.add("standard uncertainty", "u", uncertainty.standard, "W/K", "√(u_1² + u_2²)", f"{GUIDE}, 5.1.2")
    if math.isfinite(uncertainty.degrees_of_freedom):
        steps.add(
            "degrees of freedom",
            "ν",
            uncertainty.degrees_of_freedom,
            "1",
            "u⁴/(u_1⁴/ν_1)",
            f"{GUIDE}, G.4.1",
        )
    factor = quantile(uncertainty.degrees_of_freedom, PROBABILITY)
    steps.add(
        "factor of the interval", "t", factor, "1", f"Student's t for {PROBABILITY:.0%}", f"{GUIDE}, G.3"
    )
    steps.add("lower end", "H − t·u", coefficient.low, "W/K", "H − t · u", f"{GUIDE}, G.3")
    steps.add("upper end", "H + t·u", coefficient.high, "W/K", "H + t · u", f"{GUIDE}, G.3")
    return steps.steps


def comparison_steps(survey: LikeForLike, numbers: Mapping[str, object]) -> list[Step]:
    """Return the steps from the survey's coefficient to the probability; `numbers` are those of the comparison."""
    steps = Steps("survey")
    for part in survey.parts:
        steps.add(
            f"{part.part}: in the survey", "H_s", part.survey_w_k, "W/K", "loss/(θ_i − θ_e)", "EN 12831:2003"
        )
        steps.add(f"{part.part}: on a like basis", "H_l", part.like_basis_w_k, "W/K", part.why, "like basis")
    steps.add(
        "survey on a like basis", "Σ H_l", survey.like_basis_w_k, "W/K", "sum of the parts", "like basis"
    )
    steps.add(
        "its standard uncertainty", "u_l", survey.standard_uncertainty_w_k, "W/K", "√Σ u²", f"{GUIDE}, 5.1.2"
    )
    for name, quantity, symbol, unit, equation in (
        ("difference_w_k", "difference", "Δ", "W/K", "Σ H_l − H"),
        ("probability_survey_higher", "probability", "P", "1", "Student's t at Δ/√(u² + u_l²)"),
    ):
        value = numbers[name]
        if isinstance(value, float):
            steps.add(quantity, symbol, value, unit, equation, GUIDE)
    return steps.steps
