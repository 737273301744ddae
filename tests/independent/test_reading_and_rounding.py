"""Reading a table of air layers and stating a U-value, by a general interpolation and by fractions.

`iso_6946`: the table of unventilated air layers, the share of a slightly ventilated one, and the two decimals of a final result.
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import make_interp_spline

from warmstead.standards import iso_6946

# Table of EN ISO 6946, heat flow downwards (read at energieplus-lesite.be in the Walloon Government's decree of 17 April
# 2008): thickness in m, resistance in m²K/W.
DOWNWARDS = (
    (0.0, 0.0),
    (0.005, 0.11),
    (0.007, 0.13),
    (0.010, 0.15),
    (0.015, 0.17),
    (0.025, 0.19),
    (0.050, 0.21),
    (0.100, 0.22),
    (0.300, 0.23),
)


@given(st.floats(0.0, 0.3))
def test_table_of_air_layers_by_general_interpolation(thickness_m: float) -> None:
    # Linear interpolation between the rows.
    rows, resistances = zip(*DOWNWARDS, strict=True)
    ours = iso_6946.tabulated_air_layer(thickness_m, DOWNWARDS)
    assert ours == pytest.approx(float(np.interp(thickness_m, rows, resistances)), abs=1e-12)
    assert ours == pytest.approx(float(make_interp_spline(rows, resistances, k=1)(thickness_m)), abs=1e-12)


@given(st.floats(500.0, 1500.0), st.floats(0.2, 5.0), st.floats(0.2, 5.0))
def test_slightly_ventilated_by_general_interpolation(openings: float, closed: float, open_: float) -> None:
    # Equation: R_tot = (1500 − A_v)/1000 · R_tot,u + (A_v − 500)/1000 · R_tot,v.
    ours = iso_6946.slightly_ventilated_total(openings, closed, open_)
    assert ours == pytest.approx(float(np.interp(openings, (500.0, 1500.0), (closed, open_))))
    assert iso_6946.unventilated_share(openings) == pytest.approx(
        float(np.interp(openings, (500.0, 1500.0), (1.0, 0.0))), abs=1e-12
    )


@given(st.integers(0, 9_999_999))
def test_stated_u_value_by_fractions(millionths: int) -> None:
    # Two decimals, a half rounded up: by whole numbers.
    hundredths = math.floor(Fraction(millionths, 10_000) + Fraction(1, 2))
    assert iso_6946.stated(millionths / 1_000_000) == f"{hundredths // 100}.{hundredths % 100:02}"
