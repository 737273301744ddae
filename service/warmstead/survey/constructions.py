"""Constructions: what a wall, floor, roof, window or door is made of, told apart by `kind`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field
from typing_extensions import TypeAliasType

from warmstead.survey.document import Document, GivenText, Identifier, MayBeAbsent, whole_number
from warmstead.survey.quantities import (
    AirThickness,
    Area,
    AreaOrNone,
    BridgeFraction,
    Conductivity,
    CountPerArea,
    CrossSection,
    Depth,
    Emissivity,
    LinearTransmittance,
    OpeningsPerArea,
    OpeningsPerMetre,
    Perimeter,
    PerimeterOrNone,
    Rainfall,
    Resistance,
    ResistanceOrNone,
    Share,
    Thickness,
    ThicknessOrNone,
    UnderfloorOpening,
    UValue,
    UValueOrNone,
    WindSpeed,
)

HeatFlow = Literal["horizontal", "upwards", "downwards"]
ExternalSide = Literal["outside", "sheltered", "internal"]
LayerIndex = Annotated[int, Field(ge=0, le=49, json_schema_extra={"x-unit": "1"}), whole_number]
GapLevel = Annotated[int, Field(ge=0, le=2, json_schema_extra={"x-unit": "1"}), whole_number]


class Bridge(Document):
    """A part of a layer that conducts otherwise than the rest: a stud, a joist, a mortar joint."""

    fraction: BridgeFraction = Field(
        description="Share of the layer's area; all bridges of a layer together stay under 1."
    )
    conductivity_w_mk: MayBeAbsent[Conductivity] = Field(
        None, description="Thermal conductivity; or `material`."
    )
    material: MayBeAbsent[Identifier] = Field(
        None, description="Row id of the table `materials`; or `conductivity_w_mk`."
    )
    path: MayBeAbsent[Identifier] = Field(
        None,
        description="Bridges of several layers with one path are one piece (a stud through two layers); others are independent.",
    )


class SolidLayer(Document):
    """A solid layer by thickness and conductivity."""

    kind: Literal["solid"] = Field(description="Tells this variant apart.")
    thickness_mm: Thickness = Field(description="Thickness in the direction of heat flow.")
    conductivity_w_mk: MayBeAbsent[Conductivity] = Field(
        None, description="Thermal conductivity; or `material`."
    )
    material: MayBeAbsent[Identifier] = Field(
        None, description="Row id of the table `materials`; or `conductivity_w_mk`."
    )
    bridges: MayBeAbsent[list[Bridge]] = Field(
        None, min_length=1, max_length=5, description="Parts that conduct otherwise."
    )


class ResistanceLayer(Document):
    """A layer known by its thermal resistance alone."""

    kind: Literal["resistance"] = Field(description="Tells this variant apart.")
    resistance_m2k_w: ResistanceOrNone = Field(description="Thermal resistance without surfaces.")


class AirLayer(Document):
    """An air layer up to 300 mm thick (ISO 6946:2017, 6.9)."""

    kind: Literal["air"] = Field(description="Tells this variant apart.")
    thickness_mm: AirThickness = Field(description="Thickness in the direction of heat flow.")
    ventilation: Literal["unventilated", "slightly_ventilated", "well_ventilated"] = Field(
        description="By openings to outside: under 500 mm², 500 to 1500 mm², or more, per metre (walls) or per m² (roofs, floors)."
    )
    openings_mm2_per_m: MayBeAbsent[OpeningsPerMetre] = Field(
        None, description="Openings to outside per metre of length of a vertical air layer."
    )
    openings_mm2_per_m2: MayBeAbsent[OpeningsPerArea] = Field(
        None, description="Openings to outside per square metre of a horizontal air layer."
    )
    emissivity: MayBeAbsent[Emissivity] = Field(
        None,
        description="Emissivity of the more reflective face; the other counts as 0.9. Absent: the standard's table for ordinary faces.",
    )
    bridges: MayBeAbsent[list[Bridge]] = Field(
        None, min_length=1, max_length=5, description="Battens or studs across the air layer."
    )


class TaperedLayer(Document):
    """A layer laid to a fall (ISO 6946:2017, annex on tapered layers; falls up to 5 %)."""

    kind: Literal["tapered"] = Field(description="Tells this variant apart.")
    shape: Literal[
        "rectangle", "triangle_thickest_at_apex", "triangle_thinnest_at_apex", "triangle_three_thicknesses"
    ] = Field(description="Plan of the area that falls one way; roofs of several are several elements.")
    minimum_thickness_mm: ThicknessOrNone = Field(description="Thickness at the thinnest place.")
    maximum_thickness_mm: Thickness = Field(description="Thickness at the thickest place.")
    intermediate_thickness_mm: MayBeAbsent[ThicknessOrNone] = Field(
        None, description="Thickness at the middle corner; for `triangle_three_thicknesses` only."
    )
    conductivity_w_mk: MayBeAbsent[Conductivity] = Field(
        None, description="Thermal conductivity; or `material`."
    )
    material: MayBeAbsent[Identifier] = Field(
        None, description="Row id of the table `materials`; or `conductivity_w_mk`."
    )


Layer = Annotated[SolidLayer | ResistanceLayer | AirLayer | TaperedLayer, Field(discriminator="kind")]


class AirGaps(Document):
    """Air gaps in an insulation layer (ISO 6946:2017, annex on corrections)."""

    layer: LayerIndex = Field(description="Index of the insulation layer, from 0 at the inside.")
    level: GapLevel = Field(
        description="0: none or minor; 1: gaps through the layer, no air circulation on its warm side; 2: gaps and circulation."
    )


class Fasteners(Document):
    """Mechanical fasteners through an insulation layer (ISO 6946:2017, annex on corrections)."""

    layer: LayerIndex = Field(description="Index of the insulation layer, from 0 at the inside.")
    conductivity_w_mk: Conductivity = Field(description="Thermal conductivity of the fastener.")
    cross_section_mm2: CrossSection = Field(description="Cross-section of one fastener.")
    count_per_m2: CountPerArea = Field(description="Fasteners per square metre.")
    penetration_mm: MayBeAbsent[Thickness] = Field(
        None, description="Length within the insulation; absent: right through the layer."
    )


class InvertedRoof(Document):
    """Rain that runs between insulation and membrane of an inverted roof (ISO 6946:2017, annex on corrections)."""

    layer: LayerIndex = Field(
        description="Index of the insulation layer above the membrane, from 0 at the inside."
    )
    rainfall_mm_per_day: Rainfall = Field(description="Average rain of the heating season.")
    drainage_factor: Share = Field(description="f: share of the rain that reaches the membrane.")
    heat_loss_factor: Annotated[float, Field(ge=0, le=1, json_schema_extra={"x-unit": "W.d/(m2.K.mm)"})] = (
        Field(
            description="x: heat carried off by that water; f·x is 0.04 for one layer with butt joints under an open covering."
        )
    )


class Corrections(Document):
    """Corrections to a U-value; left out where all together are under 3 % of it."""

    air_gaps: MayBeAbsent[AirGaps] = Field(None, description="Air gaps in one insulation layer.")
    fasteners: MayBeAbsent[list[Fasteners]] = Field(
        None, min_length=1, max_length=10, description="Fasteners by type."
    )
    inverted_roof: MayBeAbsent[InvertedRoof] = Field(None, description="Rain on an inverted roof.")


class Layered(Document):
    """A component of layers from inside to outside (ISO 6946:2017)."""

    kind: Literal["layered"] = Field(description="Tells this variant apart.")
    heat_flow: HeatFlow = Field(
        description="Direction of heat flow; a slope of 60° or more counts as horizontal."
    )
    layers: list[Layer] = Field(min_length=1, max_length=50, description="Layers from inside to outside.")
    external_side: MayBeAbsent[ExternalSide] = Field(
        None,
        description="What the far side faces: `outside` 0.04 m²K/W; `sheltered` and `internal` as the inside. Default by boundary.",
    )
    internal_surface_resistance_m2k_w: MayBeAbsent[ResistanceOrNone] = Field(
        None, description="In place of the standard's by direction of heat flow."
    )
    external_surface_resistance_m2k_w: MayBeAbsent[ResistanceOrNone] = Field(
        None, description="In place of the standard's by `external_side`."
    )
    edition: MayBeAbsent[Literal["1996", "2017"]] = Field(
        None, description="Edition whose rule for slightly ventilated air layers applies; 2017 where absent."
    )
    corrections: MayBeAbsent[Corrections] = Field(None, description="Air gaps, fasteners, inverted roof.")


class EdgeInsulation(Document):
    """Insulation along the edge of a slab on ground (ISO 13370:2017, annex on edge insulation)."""

    position: Literal["horizontal", "vertical"] = Field(
        description="Laid flat along the edge, or upright at the foundation."
    )
    width_m: Depth = Field(description="Width of horizontal or depth of vertical insulation.")
    thickness_mm: Thickness = Field(description="Thickness of the edge insulation.")
    conductivity_w_mk: Conductivity = Field(description="Thermal conductivity of the edge insulation.")


class _GroundFloor(Document):
    kind: Literal["ground_floor"] = Field(description="Tells this variant apart.")
    wall_thickness_mm: Thickness = Field(description="Full thickness of the outside walls, all layers.")
    soil_conductivity_w_mk: MayBeAbsent[Conductivity] = Field(
        None, description="Default: the national annex's."
    )


class _WholeFloor(_GroundFloor):
    area_m2: Area = Field(description="Area of the WHOLE ground floor of the house, not of one room.")
    exposed_perimeter_m: Perimeter = Field(
        description="Length of that floor's edge towards outside or unheated spaces outside the insulated fabric."
    )
    floor_resistance_m2k_w: ResistanceOrNone = Field(
        description="Thermal resistance of the floor itself, without surfaces."
    )


class SlabOnGround(_WholeFloor):
    """A slab on the ground (ISO 13370:2017, slab-on-ground floor)."""

    floor: Literal["slab_on_ground"] = Field(description="Tells this variant apart.")
    edge_insulation: MayBeAbsent[EdgeInsulation] = Field(None, description="Insulation along the edge.")


class SuspendedFloor(_WholeFloor):
    """A floor over a ventilated underfloor space (ISO 13370:2017, suspended floor)."""

    floor: Literal["suspended"] = Field(description="Tells this variant apart.")
    height_above_ground_m: Annotated[float, Field(ge=0, le=20, json_schema_extra={"x-unit": "m"})] = Field(
        description="Height of the floor's upper side above the ground outside."
    )
    ventilation_opening_m2_per_m: MayBeAbsent[UnderfloorOpening] = Field(
        None,
        description="Openings of the underfloor space per metre of perimeter. Default: the national annex's.",
    )
    wind_speed_m_s: MayBeAbsent[WindSpeed] = Field(
        None, description="Average wind speed at 10 m height. Default: the national annex's."
    )
    wind_shielding: MayBeAbsent[Literal["sheltered", "average", "exposed"]] = Field(
        None, description="City centre, suburb, or open country. Default: average."
    )
    underfloor_wall_u_value_w_m2k: MayBeAbsent[UValue] = Field(
        None,
        description="U-value of the walls of the underfloor space above ground. Default: the national annex's.",
    )
    ground_resistance_m2k_w: MayBeAbsent[ResistanceOrNone] = Field(
        None, description="Resistance of insulation laid on the bottom of the underfloor space; absent: none."
    )


class BasementFloor(_WholeFloor):
    """The floor of a heated basement (ISO 13370:2017, heated basement)."""

    floor: Literal["basement_floor"] = Field(description="Tells this variant apart.")
    depth_m: Depth = Field(description="Depth of the floor's upper side below ground.")
    wall_resistance_m2k_w: MayBeAbsent[ResistanceOrNone] = Field(
        None,
        description="Accepted so that floor and wall can share their fields; the floor's U-value does not depend on it.",
    )


class BasementWall(_GroundFloor):
    """The walls of a heated basement below ground (ISO 13370:2017, heated basement)."""

    floor: Literal["basement_wall"] = Field(description="Tells this variant apart.")
    depth_m: Depth = Field(description="Depth of the basement floor's upper side below ground.")
    wall_resistance_m2k_w: ResistanceOrNone = Field(
        description="Thermal resistance of the wall itself, without surfaces."
    )
    floor_resistance_m2k_w: ResistanceOrNone = Field(
        description="Thermal resistance of the basement floor, without surfaces."
    )
    area_m2: MayBeAbsent[Area] = Field(
        None, description="Accepted so that floor and wall can share their fields; not used."
    )
    exposed_perimeter_m: MayBeAbsent[Perimeter] = Field(
        None, description="Accepted so that floor and wall can share their fields; not used."
    )


GroundFloor = TypeAliasType(
    "GroundFloor",
    Annotated[SlabOnGround | SuspendedFloor | BasementFloor | BasementWall, Field(discriminator="floor")],
)


class Window(Document):
    """A window or door from its parts (ISO 10077-1:2017)."""

    kind: Literal["window"] = Field(description="Tells this variant apart.")
    glazing_area_m2: AreaOrNone = Field(description="Visible area of the glazing.")
    frame_area_m2: AreaOrNone = Field(description="Projected area of the frame.")
    u_glazing_w_m2k: UValueOrNone = Field(description="U-value of the middle of the glazing.")
    u_frame_w_m2k: UValueOrNone = Field(description="U-value of the frame.")
    glazing_perimeter_m: PerimeterOrNone = Field(description="Visible perimeter of the glazing.")
    psi_glazing_w_mk: LinearTransmittance = Field(
        description="Linear transmittance of glazing, spacer and frame together."
    )
    panel_area_m2: MayBeAbsent[Area] = Field(None, description="Area of opaque panels; with `u_panel_w_m2k`.")
    u_panel_w_m2k: MayBeAbsent[UValueOrNone] = Field(None, description="U-value of opaque panels.")
    panel_perimeter_m: MayBeAbsent[PerimeterOrNone] = Field(
        None, description="Visible perimeter of opaque panels; with `psi_panel_w_mk`."
    )
    psi_panel_w_mk: MayBeAbsent[LinearTransmittance] = Field(
        None, description="Linear transmittance of the panels' edge."
    )


class Declared(Document):
    """A U-value that somebody else established."""

    kind: Literal["declared"] = Field(description="Tells this variant apart.")
    u_value_w_m2k: UValue = Field(description="U-value with surfaces; on ground the equivalent U-value.")
    source: GivenText = Field(
        description="Where the value comes from: certificate, earlier calculation, guidance."
    )


class Typical(Document):
    """A published default for an old construction."""

    kind: Literal["typical"] = Field(description="Tells this variant apart.")
    row: Identifier = Field(description="Row id of the table `typical-constructions`.")
    thickness_mm: MayBeAbsent[Thickness] = Field(
        None, description="For rows that go by thickness only, and required there."
    )


Construction = Annotated[Layered | GroundFloor | Window | Declared | Typical, Field(discriminator="kind")]

__all__ = [
    "AirLayer",
    "BasementFloor",
    "BasementWall",
    "Construction",
    "Declared",
    "Layered",
    "Resistance",
    "SlabOnGround",
    "SolidLayer",
    "SuspendedFloor",
    "TaperedLayer",
    "Typical",
    "Window",
]
