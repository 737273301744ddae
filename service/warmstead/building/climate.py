"""Outside design temperatures at an altitude."""

from __future__ import annotations

from warmstead.building.annex import number
from warmstead.tables import Column, Row, table

CORRECTED_COLUMN = Column(
    name="corrected_external_temperature_c",
    kind="number",
    unit="Cel",
    description="Outside design temperature at the altitude asked for",
    minimum=-60,
    maximum=30,
    optional=True,
)


def external_temperature_at(row: Row, altitude_m: float) -> float:
    """Return a place's outside design temperature at an altitude, °C.

    The place's own, and its correction for each 100 m above (or below) the altitude that it holds for.

    Args:
        row: a row of the table `outside-design-temperatures`.
        altitude_m: altitude above sea level, m.
    """
    above_m = altitude_m - number(row, "altitude_m")
    return (
        number(row, "external_temperature_c")
        + number(row, "altitude_correction_k_per_100m") * above_m / 100.0
    )


def corrected_rows(altitude_m: float) -> list[dict[str, str | float]]:
    """Return the table `outside-design-temperatures` with each temperature at an altitude besides.

    Rows that do not say which altitude they hold for are left as they are.
    """
    return [
        {**row, CORRECTED_COLUMN.name: external_temperature_at(row, altitude_m)}
        if "altitude_m" in row
        else dict(row)
        for row in table("outside-design-temperatures").rows
    ]
