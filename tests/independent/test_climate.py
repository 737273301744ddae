"""Outside temperatures at an altitude, against the standard atmosphere.

`building.climate`: a place's temperature and −0.6 K for each 100 m above it.
"""

from __future__ import annotations

import psychrolib
import pytest

from warmstead.building.climate import external_temperature_at
from warmstead.tables import table

psychrolib.SetUnitSystem(psychrolib.SI)

WITH_ALTITUDE = [
    row
    for row in table("outside-design-temperatures").rows
    if "altitude_m" in row and "altitude_correction_k_per_100m" in row
]


@pytest.mark.parametrize("row", WITH_ALTITUDE, ids=[str(row["id"]) for row in WITH_ALTITUDE])
@pytest.mark.parametrize("above_m", [-50.0, 600.0])
def test_temperature_falls_as_in_the_standard_atmosphere(row: dict[str, str | float], above_m: float) -> None:
    # The standard atmosphere loses 6.5 K in a kilometre; guidance for buildings rounds to 0.6 K in 100 m.
    altitude_m = float(row["altitude_m"])
    fall_k = external_temperature_at(row, altitude_m) - external_temperature_at(row, altitude_m + above_m)
    standard_k = psychrolib.GetStandardAtmTemperature(altitude_m) - psychrolib.GetStandardAtmTemperature(
        altitude_m + above_m
    )
    assert fall_k == pytest.approx(standard_k, rel=0.1)
    assert external_temperature_at(row, altitude_m) == row["external_temperature_c"]


def test_there_are_places_to_check() -> None:
    assert len(WITH_ALTITUDE) >= 20
