"""The invented year of meter readings in `demo/measured-heat-loss.json`: 52 weeks of gas for the invented demonstration house.

`python tests/measured/demo_year.py` prints the file. Nobody measured any of it: weather and scatter come from `synthetic.py`, and the
truth put in is 300 W/K, no heat from 15.5 °C on without sun, 3 m² of solar aperture, 9 kWh of gas a day for hot water and cooking, a
boiler of 84 %, and a fortnight of holidays in January with the heating turned down, flagged, and another in August.
"""

from __future__ import annotations

import json
import sys
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from synthetic import KWH_PER_DAY_OF_A_WATT, autoregressive, irradiation, temperatures

START = date(2023, 5, 1)
WEEKS = 52
COEFFICIENT_W_K, BASE_TEMPERATURE_C, APERTURE_M2 = 300.0, 15.5, 3.0
GAS_BASE_KWH_PER_DAY, EFFICIENCY = 9.0, 0.84
AWAY_WEEKS = (14, 15, 36, 37)


def document() -> dict[str, Any]:
    """Return the request but for the house."""
    random = np.random.default_rng(20_230_501)
    days = 7 * WEEKS
    first_day = START.timetuple().tm_yday
    outside = np.round(temperatures(random, days, first_day), 1)
    sun = np.round(irradiation(random, days, first_day), 2)
    needed = KWH_PER_DAY_OF_A_WATT * COEFFICIENT_W_K * (BASE_TEMPERATURE_C - outside) - APERTURE_M2 * sun
    heat = np.maximum(0.0, needed) * (1.0 + 0.10 * autoregressive(random, days, 0.4))
    base = GAS_BASE_KWH_PER_DAY * random.gamma(6.0, 1.0 / 6.0, days)
    gas = np.maximum(0.0, heat) / EFFICIENCY + base
    readings = []
    for week in range(WEEKS):
        within = slice(7 * week, 7 * week + 7)
        away = week in AWAY_WEEKS
        used = 0.3 * gas[within].sum() if away else gas[within].sum()
        reading: dict[str, Any] = {
            "start": (START + timedelta(days=7 * week)).isoformat(),
            "days": 7,
            "energy_kwh": round(float(used), 1),
            "external_temperatures_c": outside[within].tolist(),
            "solar_irradiation_kwh_m2": round(float(sun[within].sum()), 2),
        }
        readings.append(reading | ({"away": True} if away else {}))
    return {
        "energy": {
            "kind": "gas",
            "efficiency": EFFICIENCY,
            "efficiency_standard_uncertainty": 0.03,
            "calorific_value": "gross",
            "efficiency_calorific_value": "gross",
        },
        "base_use": {"kind": "from_summer"},
        "regression": "robust",
        "internal_temperature_c": 19.0,
        "accepted_half_width": 0.25,
        "like_basis": {"mean_air_changes": 0.6, "relative_standard_uncertainty": 0.05},
        "readings": readings,
    }


def text() -> str:
    """Return the file: a line for each reading."""
    whole = document()
    readings = ",\n".join(f"    {json.dumps(reading)}" for reading in whole.pop("readings"))
    options = json.dumps(whole, indent=2).removesuffix("\n}")
    return f'{options},\n  "readings": [\n{readings}\n  ]\n}}\n'


if __name__ == "__main__":
    print(text(), end="")
