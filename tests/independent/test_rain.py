"""Rain under an inverted roof's insulation, against the heat that water can carry away.

`iso_6946`: ΔU_r = p · f · x · (R1/R_tot)².
"""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from warmstead.standards.iso_6946 import inverted_roof_correction

SECONDS_PER_DAY = 86_400.0


def heat_of_rain_w_m2k(mm_per_day: float) -> float:
    """What a day's rain takes up for each kelvin that it is warmed, W/(m²K), from properties of water at 5 °C."""
    state = ("T", 278.15, "P", 101_325.0, "Water")
    return float(mm_per_day / 1000.0 * PropsSI("D", *state) * PropsSI("C", *state) / SECONDS_PER_DAY)


@pytest.mark.parametrize("rainfall", [1.0, 3.0])
def test_rain_carries_no_more_than_it_can(rainfall: float) -> None:
    # Equation: p · f · x with R1 = R_tot, where the roof under the insulation is as warm as the room. All the rain
    # warmed all the way would be 0.0487 W/(m²K) for each mm a day; the standard's f · x of 0.04 (from memory) is
    # 82 % of that.
    most = heat_of_rain_w_m2k(rainfall)
    assert inverted_roof_correction(rainfall, 1.0, 0.04, 2.0, 2.0) == pytest.approx(0.82 * most, rel=0.01)


@pytest.mark.parametrize("share", [0.3, 0.8, 1.0])
def test_rain_cools_what_the_insulation_keeps_warm(share: float) -> None:
    # Equation: the factor (R1/R_tot)². The rain finds the roof at R1/R_tot of the difference, and cools it; only
    # R_si and the roof's own resistance stand between it and the room, so R1/R_tot of what it takes comes from
    # there. By a heat sink of q at the waterproofing: the rise of the room's loss, in proportion to q.
    total, insulation = 2.5, 2.5 * share
    roof = total - insulation

    def room_loss(sink_w_m2: float) -> float:
        # Two resistances and a sink between them, for 1 K: balance (1 − θ)/roof = θ/insulation + sink.
        if roof == 0.0:
            return 1.0 / total + sink_w_m2
        theta = (1.0 / roof - sink_w_m2) / (1.0 / roof + 1.0 / insulation)
        return (1.0 - theta) / roof

    # The sink is what the rain takes at that place's temperature, here small enough not to change it.
    at_waterproofing = insulation / total
    wx = 1e-4
    added = room_loss(wx * at_waterproofing) - room_loss(0.0)
    assert inverted_roof_correction(1.0, 1.0, wx, insulation, total) == pytest.approx(added, rel=1e-9)
