"""Quantities with their unit (UCUM, as `x-unit` in the schema) and the bounds that physics sets.

A bound is wide: it refuses what cannot be, never what is merely rare. Rare values become warnings later.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field


def quantity(
    unit: str,
    *,
    ge: float | None = None,
    gt: float | None = None,
    le: float | None = None,
    lt: float | None = None,
) -> Any:
    """Return field metadata: a UCUM unit and numeric bounds."""
    return Field(json_schema_extra={"x-unit": unit}, ge=ge, gt=gt, le=le, lt=lt)


def stated(unit: str, description: str) -> Any:
    """Return field metadata of a result: a UCUM unit and what the number says."""
    return Field(description=description, json_schema_extra={"x-unit": unit})


Length = Annotated[float, quantity("m", ge=0.001, le=1000)]
Depth = Annotated[float, quantity("m", ge=0.001, le=20)]
Thickness = Annotated[float, quantity("mm", ge=0.001, le=5000)]
ThicknessOrNone = Annotated[float, quantity("mm", ge=0, le=5000)]
AirThickness = Annotated[float, quantity("mm", ge=0.001, le=300)]
Spacing = Annotated[float, quantity("mm", ge=1, le=1000)]
Diameter = Annotated[float, quantity("mm", ge=0.1, le=100)]
Area = Annotated[float, quantity("m2", ge=0.0001, le=100_000)]
AreaOrNone = Annotated[float, quantity("m2", ge=0, le=100_000)]
CrossSection = Annotated[float, quantity("mm2", ge=0.01, le=10_000)]
Volume = Annotated[float, quantity("m3", ge=0.001, le=1_000_000)]
Perimeter = Annotated[float, quantity("m", ge=0.01, le=10_000)]
PerimeterOrNone = Annotated[float, quantity("m", ge=0, le=10_000)]

OutsideTemperature = Annotated[float, quantity("Cel", ge=-60, le=30)]
AnnualMeanTemperature = Annotated[float, quantity("Cel", ge=-30, le=35)]
Altitude = Annotated[float, quantity("m", ge=-100, le=2000)]
Exceedance = Annotated[float, quantity("%", ge=90, le=100)]
RoomTemperature = Annotated[float, quantity("Cel", ge=0, le=40)]
AdjacentTemperature = Annotated[float, quantity("Cel", ge=-60, le=60)]
WaterTemperature = Annotated[float, quantity("Cel", ge=1, le=110)]
ExcessTemperature = Annotated[float, quantity("K", ge=0.1, le=100)]

Conductivity = Annotated[float, quantity("W/(m.K)", ge=0.001, le=500)]
Resistance = Annotated[float, quantity("m2.K/W", ge=0.001, le=100)]
ResistanceOrNone = Annotated[float, quantity("m2.K/W", ge=0, le=100)]
UValue = Annotated[float, quantity("W/(m2.K)", ge=0.001, le=20)]
UValueOrNone = Annotated[float, quantity("W/(m2.K)", ge=0, le=20)]
Surcharge = Annotated[float, quantity("W/(m2.K)", ge=0, le=1)]
LinearTransmittance = Annotated[float, quantity("W/(m.K)", ge=-5, le=5)]
Emissivity = Annotated[float, quantity("1", ge=0.001, le=1)]
OpeningsPerMetre = Annotated[float, quantity("mm2/m", ge=0, le=1_000_000)]
OpeningsPerArea = Annotated[float, quantity("mm2/m2", ge=0, le=1_000_000)]
UnderfloorOpening = Annotated[float, quantity("m2/m", ge=0, le=0.1)]

Share = Annotated[float, quantity("1", ge=0, le=1)]
BridgeFraction = Annotated[float, quantity("1", ge=0.0001, le=0.9999)]
ReductionFactor = Annotated[float, quantity("1", ge=0, le=1)]
OutputFactor = Annotated[float, quantity("1", ge=0.01, le=1.5)]
Exponent = Annotated[float, quantity("1", ge=1, le=2)]
Coverage = Annotated[float, quantity("1", ge=0.01, le=10)]
CoefficientOfPerformance = Annotated[float, quantity("1", ge=0.1, le=30)]

AirChanges = Annotated[float, quantity("/h", ge=0, le=100)]
AirFlow = Annotated[float, quantity("L/s", ge=0, le=10_000)]
AirPermeability = Annotated[float, quantity("m3/(h.m2)", ge=0, le=200)]
AirHeatCapacity = Annotated[float, quantity("W.h/(m3.K)", ge=0.2, le=0.5)]
WindSpeed = Annotated[float, quantity("m/s", ge=0, le=50)]
Rainfall = Annotated[float, quantity("mm/d", ge=0, le=100)]
CountPerArea = Annotated[float, quantity("/m2", ge=0, le=1000)]

Power = Annotated[float, quantity("W", ge=0.1, le=10_000_000)]
PowerOrNone = Annotated[float, quantity("W", ge=0, le=10_000_000)]
PowerPerArea = Annotated[float, quantity("W/m2", ge=0, le=500)]
DailyEnergy = Annotated[float, quantity("kW.h/d", ge=0, le=10_000)]
