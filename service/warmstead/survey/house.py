"""The house: conditions, rooms and what bounds them. One document, posted to every question."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from warmstead.survey.constructions import Construction
from warmstead.survey.document import Document, Identifier, MayBeAbsent, Text
from warmstead.survey.emitters import Emitter
from warmstead.survey.quantities import (
    AdjacentTemperature,
    AirChanges,
    AirFlow,
    AirHeatCapacity,
    AirPermeability,
    AnnualMeanTemperature,
    Area,
    Length,
    LinearTransmittance,
    OutsideTemperature,
    PowerPerArea,
    ReductionFactor,
    RoomTemperature,
    Share,
    Surcharge,
    Volume,
)

NationalAnnexName = Literal["GB", "EN"]
Dimensions = Literal["internal", "overall_internal", "external"]
RoomUse = Literal[
    "living_room",
    "dining_room",
    "kitchen",
    "bedroom",
    "bathroom",
    "shower_room",
    "toilet",
    "hall",
    "landing",
    "study",
    "utility_room",
    "store_room",
    "unspecified",
]
ExposedOpenings = Literal["none", "one", "several"]


class Conditions(Document):
    """The design conditions of the place."""

    external_temperature_c: OutsideTemperature = Field(description="Outside design temperature.")
    annual_mean_external_temperature_c: MayBeAbsent[AnnualMeanTemperature] = Field(
        None, description="Mean outside temperature of the year; required once something is on ground."
    )
    national_annex: MayBeAbsent[NationalAnnexName] = Field(
        None, description="Whose defaults apply; GB where absent."
    )
    ground_rule: MayBeAbsent[Literal["annual_mean", "external"]] = Field(
        None,
        description="`annual_mean`: floors on ground lose 1.45 · f_GW · A · U · (θi − θm,e) (EN 12831), suspended floors to outside; "
        "`external`: all of them lose A · U · (θi − θe). annual_mean where absent.",
    )
    ground_water: MayBeAbsent[Literal["deeper_than_1_m", "within_1_m"]] = Field(
        None,
        description="Distance of ground water below the floor: f_GW 1.0 or 1.15. deeper_than_1_m where absent.",
    )


class Outside(Document):
    """Towards outside air."""

    to: Literal["outside"] = Field(description="Tells this variant apart.")


class Ground(Document):
    """Towards the ground, or a ventilated space under a suspended floor."""

    to: Literal["ground"] = Field(description="Tells this variant apart.")


class AnotherRoom(Document):
    """Towards another heated room of the house."""

    to: Literal["room"] = Field(description="Tells this variant apart.")
    room: Identifier = Field(description="Id of the room on the other side.")


class UnheatedSpace(Document):
    """Towards an unheated space: exactly one of its three ways to be known."""

    to: Literal["unheated_space"] = Field(description="Tells this variant apart.")
    space: MayBeAbsent[Identifier] = Field(
        None, description="Id in `unheated_spaces`: temperature from that space's own balance."
    )
    temperature_c: MayBeAbsent[AdjacentTemperature] = Field(
        None, description="Temperature of the space on the design day."
    )
    temperature_reduction_factor: MayBeAbsent[ReductionFactor] = Field(
        None, description="b = (θi − θu)/(θi − θe): 0 as warm as the room, 1 as cold as outside."
    )


class Neighbour(Document):
    """Towards a neighbour's heated space."""

    to: Literal["neighbour"] = Field(description="Tells this variant apart.")
    temperature_c: AdjacentTemperature = Field(description="Temperature that may be counted on next door.")


Boundary = Annotated[Outside | Ground | AnotherRoom | UnheatedSpace | Neighbour, Field(discriminator="to")]


class Opening(Document):
    """A window or door within an element."""

    id: Identifier = Field(description="Unique together with the elements of its room.")
    construction: Identifier = Field(description="Key in `constructions`.")
    area_m2: Area = Field(description="Area of the opening in the wall.")


class Element(Document):
    """A wall, floor, ceiling or roof of one construction towards one boundary."""

    id: Identifier = Field(description="Unique together with the openings of its room.")
    construction: Identifier = Field(description="Key in `constructions`.")
    area_m2: MayBeAbsent[Area] = Field(
        None, description="Gross area, openings included; or `length_m` and `height_m`."
    )
    length_m: MayBeAbsent[Length] = Field(None, description="Length; with `height_m`, in place of `area_m2`.")
    height_m: MayBeAbsent[Length] = Field(None, description="Height (or width of a floor); with `length_m`.")
    boundary: Boundary = Field(description="What is on the other side.")
    openings: MayBeAbsent[list[Opening]] = Field(
        None, max_length=100, description="Windows and doors, taken off the gross area."
    )


class RoomVentilation(Document):
    """Air of one room."""

    air_changes: MayBeAbsent[AirChanges] = Field(
        None,
        description="Air changes per hour without mechanical air (method `air_changes`), or the hygienic minimum (`airtightness`).",
    )
    supply_l_s: MayBeAbsent[AirFlow] = Field(
        None, description="Mechanical supply of outside air to this room; absent: none."
    )
    extract_l_s: MayBeAbsent[AirFlow] = Field(
        None, description="Mechanical extract from this room; absent: none."
    )
    heat_recovery_efficiency: MayBeAbsent[Share] = Field(
        None, description="Temperature efficiency of heat recovery on this room's supply; absent: none."
    )
    exposed_openings: MayBeAbsent[ExposedOpenings] = Field(
        None,
        description="Windows and doors to outside (method `airtightness`); counted from the elements where absent.",
    )


class Flue(Document):
    """A chimney or flue that opens into the room."""

    kind: Literal["open_chimney", "open_flue", "closed_stove", "room_sealed"] = Field(
        description="How it takes its air."
    )
    air_l_s: MayBeAbsent[AirFlow] = Field(
        None, description="Air drawn from the room; the table `flues` where absent."
    )


class Room(Document):
    """A heated room."""

    id: Identifier = Field(description="Unique in its list.")
    name: MayBeAbsent[Text] = Field(None, description="A name for people.")
    use: MayBeAbsent[RoomUse] = Field(
        None, description="Sets default temperature and air changes; unspecified where absent."
    )
    design_temperature_c: MayBeAbsent[RoomTemperature] = Field(
        None, description="Default: the national annex's, by use."
    )
    floor_area_m2: Area = Field(description="Floor area.")
    height_m: MayBeAbsent[Length] = Field(None, description="Height; or `volume_m3`.")
    volume_m3: MayBeAbsent[Volume] = Field(None, description="Air volume; or `height_m`.")
    ventilation: MayBeAbsent[RoomVentilation] = Field(None, description="Air of this room.")
    flues: MayBeAbsent[list[Flue]] = Field(
        None, max_length=10, description="Chimneys and flues that open into the room."
    )
    elements: list[Element] = Field(
        max_length=2000, description="Everything that bounds the room; may be empty."
    )
    emitters: MayBeAbsent[list[Emitter]] = Field(
        None, max_length=50, description="Radiators, underfloor panels, fan convectors."
    )


class UnheatedSpaceDescription(Document):
    """An unheated space whose temperature follows from the balance over all its sides.

    What divides it from a room is declared once, in the room.
    """

    id: Identifier = Field(description="Unique in its list.")
    name: MayBeAbsent[Text] = Field(None, description="A name for people.")
    volume_m3: Volume = Field(description="Air volume.")
    air_changes: MayBeAbsent[AirChanges] = Field(
        None, description="Air changes with outside; default: the national annex's."
    )
    elements: list[Element] = Field(
        max_length=500,
        description="What bounds the space towards `outside`, `ground` or a `neighbour`; may be empty.",
    )


class ByAirChanges(Document):
    """Ventilation loss from air changes room by room."""

    method: Literal["air_changes"] = Field(description="Tells this variant apart.")
    air_heat_capacity_wh_m3k: MayBeAbsent[AirHeatCapacity] = Field(
        None, description="Heat capacity of air; default: the national annex's (GB 0.33)."
    )


class ByAirtightness(Document):
    """Ventilation loss from airtightness (EN 12831:2003, 7.2)."""

    method: Literal["airtightness"] = Field(description="Tells this variant apart.")
    edition: MayBeAbsent[Literal["2003"]] = Field(
        None, description="Edition of EN 12831. The clauses of 2017 could not be seen and are refused."
    )
    air_changes_at_50pa: MayBeAbsent[AirChanges] = Field(
        None, description="n50 from a test; or permeability and envelope."
    )
    air_permeability_50pa_m3_h_m2: MayBeAbsent[AirPermeability] = Field(
        None, description="q50 from a test; with `envelope_area_m2`."
    )
    envelope_area_m2: MayBeAbsent[Area] = Field(
        None, description="Envelope area on which the permeability was measured."
    )
    shielding: MayBeAbsent[Literal["none", "moderate", "heavy"]] = Field(
        None, description="Shelter from wind; moderate where absent."
    )
    height_above_ground_m: MayBeAbsent[Length] = Field(
        None,
        description="Height of the rooms' centre above ground; up to 10 m where absent (height factor 1).",
    )
    air_heat_capacity_wh_m3k: MayBeAbsent[AirHeatCapacity] = Field(
        None, description="Heat capacity of air; 0.34 where absent."
    )


Ventilation = Annotated[ByAirChanges | ByAirtightness, Field(discriminator="method")]


class Junction(Document):
    """A linear thermal bridge of one room: its share of a corner, sill, lintel or edge."""

    id: Identifier = Field(description="Unique together with the room's elements and openings.")
    room: Identifier = Field(description="Room that loses the heat.")
    psi_w_mk: LinearTransmittance = Field(description="Linear thermal transmittance ψ.")
    length_m: Length = Field(description="Length.")
    boundary: MayBeAbsent[Boundary] = Field(None, description="Towards what; outside where absent.")


class ThermalBridges(Document):
    """Thermal bridges: a surcharge on U-values, or junctions one by one; not both."""

    surcharge_w_m2k: MayBeAbsent[Surcharge] = Field(
        None, description="Added to U-values of elements and openings towards outside and unheated spaces."
    )
    junctions: MayBeAbsent[list[Junction]] = Field(
        None, max_length=2000, description="Junctions, each a row of its own."
    )
    dimensions: MayBeAbsent[Dimensions] = Field(
        None, description="Dimensions that surcharge or ψ were made for; checked against the house's."
    )


class House(Document):
    """A surveyed house."""

    name: MayBeAbsent[Text] = Field(None, description="A name for people.")
    dimensions: MayBeAbsent[Dimensions] = Field(
        None, description="How areas were measured; internal where absent."
    )
    reheat_w_m2: MayBeAbsent[PowerPerArea] = Field(
        None, description="Extra capacity to warm up again, on floor area."
    )
    conditions: Conditions = Field(description="Design conditions of the place.")
    constructions: dict[Identifier, Construction] = Field(max_length=1000, description="Constructions by id.")
    ventilation: MayBeAbsent[Ventilation] = Field(
        None, description="Method for ventilation; air changes where absent."
    )
    thermal_bridges: MayBeAbsent[ThermalBridges] = Field(
        None, description="Default: the national annex's surcharge."
    )
    unheated_spaces: MayBeAbsent[list[UnheatedSpaceDescription]] = Field(
        None, max_length=100, description="Unheated spaces by balance."
    )
    rooms: list[Room] = Field(min_length=1, max_length=1000, description="Heated rooms.")
