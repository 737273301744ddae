"""Outside design temperatures at an altitude."""

from __future__ import annotations

from warmstead.building.annex import number
from warmstead.building.findings import Findings
from warmstead.building.names import nearest
from warmstead.tables import Column, Row, table

PLACES = "outside-design-temperatures"

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
        for row in table(PLACES).rows
    ]


def find_place(place: str, exceedance_percent: float | None, findings: Findings) -> Row | None:
    """Return the row of the table `outside-design-temperatures` for a place, or None with a problem noted.

    A place may have several temperatures: the coldest is taken, which is the one exceeded for most of the year.

    Args:
        place: a row's id, or a place as the table names it; capitals do not matter.
        exceedance_percent: which of a place's temperatures is wanted, where somebody says.
        findings: where problems and warnings go.
    """
    sought = place.strip().casefold()
    rows = [
        row
        for row in table(PLACES).rows
        if sought in (str(row["id"]).casefold(), str(row["place"]).casefold())
    ]
    if not rows:
        known = {str(row["place"]) for row in table(PLACES).rows}
        detail = f"no such place in /v1/tables/{PLACES}; {nearest(place, known)}".replace("'", "")
        findings.refuse("not_found", "/place", detail)
        return None
    if exceedance_percent is None:
        return _coldest(rows, findings)
    for row in rows:
        if row.get("exceedance_percent") == exceedance_percent:
            return row
    shares = ", ".join(f"{row['exceedance_percent']:g}" for row in rows if "exceedance_percent" in row)
    detail = f"this place has {shares} %" if shares else "this place has one temperature, without a share"
    findings.refuse("not_found", "/exceedance_percent", detail)
    return None


def _coldest(rows: list[Row], findings: Findings) -> Row:
    coldest = min(rows, key=lambda row: number(row, "external_temperature_c"))
    if len(rows) > 1:
        findings.warn(
            "default.exceedance",
            "/exceedance_percent",
            f"{coldest['exceedance_percent']:g} % taken, the coldest of {len(rows)}",
        )
    return coldest
