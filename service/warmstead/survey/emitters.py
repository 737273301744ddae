"""Emitters: what gives a room its heat, told apart by `kind`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from warmstead.survey.document import Document, Identifier, MayBeAbsent
from warmstead.survey.quantities import (
    AdjacentTemperature,
    Area,
    Conductivity,
    Diameter,
    ExcessTemperature,
    Exponent,
    OutputFactor,
    Power,
    Resistance,
    ResistanceOrNone,
    Spacing,
    Thickness,
    WaterTemperature,
)


class _Emitter(Document):
    id: Identifier = Field(description="Unique within its room.")
    circuit: MayBeAbsent[Identifier] = Field(
        None, description="Id of the circuit that feeds it; absent: the question's own temperatures."
    )


class Radiator(_Emitter):
    """A radiator or convector tested to EN 442."""

    kind: Literal["radiator"] = Field(description="Tells this variant apart.")
    standard_output_w: Power = Field(description="Output at the standard excess temperature.")
    standard_excess_temperature_k: MayBeAbsent[ExcessTemperature] = Field(
        None,
        description="Mean water temperature above the room's at which the standard output holds; 50 K (EN 442) where absent.",
    )
    exponent: MayBeAbsent[Exponent] = Field(None, description="The maker's exponent; 1.3 where absent.")
    output_factor: MayBeAbsent[OutputFactor] = Field(
        None, description="Factor for covers, shelves, paint or connection; absent: no such effect."
    )


class ConductingDevice(Document):
    """The heat-conducting plate of an underfloor system of type B (EN 1264-2)."""

    width_mm: Spacing = Field(description="Width of the plate along one pipe.")
    thickness_mm: Thickness = Field(description="Thickness of the plate.")
    conductivity_w_mk: Conductivity = Field(description="Thermal conductivity of the plate.")


class Underfloor(_Emitter):
    """An underfloor panel of embedded pipes (EN 1264)."""

    kind: Literal["underfloor"] = Field(description="Tells this variant apart.")
    area_m2: Area = Field(description="Heated floor area.")
    pipe_spacing_mm: Spacing = Field(description="Distance between pipes.")
    covering_resistance_m2k_w: ResistanceOrNone = Field(
        description="Thermal resistance of the floor covering, up to 0.15 m²K/W."
    )
    screed_thickness_mm: Thickness = Field(
        description="Thickness of the weight-bearing layer above the pipes."
    )
    screed_conductivity_w_mk: Conductivity = Field(description="Thermal conductivity of that layer.")
    pipe_outside_diameter_mm: Diameter = Field(description="Outside diameter of the pipe.")
    pipe_wall_thickness_mm: MayBeAbsent[Diameter] = Field(
        None, description="Wall of the pipe; 2 mm where absent."
    )
    pipe_conductivity_w_mk: MayBeAbsent[Conductivity] = Field(
        None, description="Conductivity of the pipe; 0.35 W/(m·K) where absent."
    )
    system: MayBeAbsent[Literal["A", "B"]] = Field(
        None,
        description="Type of EN 1264-2: A, pipes within the screed; B, pipes below it in conducting plates. A where absent.",
    )
    conducting_device: MayBeAbsent[ConductingDevice] = Field(
        None, description="Required with, and only with, system B."
    )
    zone: MayBeAbsent[Literal["occupied", "peripheral", "bathroom"]] = Field(
        None,
        description="Sets the highest surface temperature: 29 °C, 35 °C, or 9 K above the room. By the room's use where absent.",
    )
    resistance_below_m2k_w: MayBeAbsent[Resistance] = Field(
        None, description="Thermal resistance from the pipes down to the space below, its surface included."
    )
    temperature_below_c: MayBeAbsent[AdjacentTemperature] = Field(
        None, description="Temperature of the space or ground below the panel."
    )


class FanConvectorPoint(Document):
    """One tested point of a fan convector."""

    excess_temperature_k: ExcessTemperature = Field(description="Mean water temperature above the room's.")
    output_w: Power = Field(description="Output at that excess temperature and the fan speed to be used.")


class FanConvector(_Emitter):
    """A fan convector by its own table of outputs."""

    kind: Literal["fan_convector"] = Field(description="Tells this variant apart.")
    outputs: list[FanConvectorPoint] = Field(
        min_length=2,
        max_length=50,
        description="Tested points, rising in excess temperature; nothing outside them is used.",
    )


Emitter = Annotated[Radiator | Underfloor | FanConvector, Field(discriminator="kind")]


class CircuitTemperatures(Document):
    """A circuit with temperatures of its own, behind a mixer."""

    id: Identifier = Field(description="Named by the emitters that it feeds.")
    flow_temperature_c: WaterTemperature = Field(description="Flow temperature.")
    return_temperature_c: WaterTemperature = Field(description="Return temperature.")
