"""What is not known for sure, and how far it may be off."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from warmstead.survey.document import Document, Identifier, MayBeAbsent, whole_number
from warmstead.survey.quantities import quantity

Confidence = Literal["measured", "documented", "inspected", "assumed"]
"""How a construction is known: see the table `uncertainty-classes`."""

OWN_UNIT = "as the quantity"
Amount = Annotated[float, quantity(OWN_UNIT, ge=-100_000, le=100_000)]
Spread = Annotated[float, quantity(OWN_UNIT, ge=0.000_001, le=100_000)]
RelativeSpread = Annotated[float, quantity("1", ge=0.000_001, le=2)]
CoverageProbability = Annotated[float, quantity("1", ge=0.5, le=0.99)]
Draws = Annotated[int, Field(ge=1000, le=100_000, json_schema_extra={"x-unit": "1"}), whole_number]
Seed = Annotated[int, Field(ge=0, le=2**32 - 1, json_schema_extra={"x-unit": "1"}), whole_number]


class UValueOf(Document):
    """The U-value of a construction: one quantity over all its elements, on every side."""

    of: Literal["u_value"] = Field(description="Tells this variant apart.")
    construction: Identifier = Field(description="Key in `constructions`.")


class AreaOf(Document):
    """An area: of one element or opening; of all of a construction; or, with neither, of the whole house."""

    of: Literal["area"] = Field(description="Tells this variant apart.")
    room: MayBeAbsent[Identifier] = Field(None, description="Room of the `element`.")
    space: MayBeAbsent[Identifier] = Field(None, description="Unheated space of the `element`.")
    element: MayBeAbsent[Identifier] = Field(
        None, description="Id of an element (its gross area) or an opening; with `room` or `space`."
    )
    construction: MayBeAbsent[Identifier] = Field(
        None, description="A factor, 1, on all areas of this construction."
    )


class AirChangesOf(Document):
    """Air changes of one room; or, without `room`, a factor, 1, on those of all rooms."""

    of: Literal["air_changes"] = Field(description="Tells this variant apart.")
    room: MayBeAbsent[Identifier] = Field(None, description="Room; all of them where absent.")


class FlueAirOf(Document):
    """Air drawn through the flues of a room."""

    of: Literal["flue_air"] = Field(description="Tells this variant apart.")
    room: Identifier = Field(description="Room with the flues.")


class HeatRecoveryOf(Document):
    """Temperature efficiency of heat recovery on a room's supply air."""

    of: Literal["heat_recovery_efficiency"] = Field(description="Tells this variant apart.")
    room: Identifier = Field(description="Room with the supply.")


class AirtightnessOf(Document):
    """Air changes at 50 Pa, by the method `airtightness`."""

    of: Literal["airtightness"] = Field(description="Tells this variant apart.")


class RoomTemperatureOf(Document):
    """Design temperature of one room; or, without `room`, a shift, 0 K, of all of them."""

    of: Literal["room_temperature"] = Field(description="Tells this variant apart.")
    room: MayBeAbsent[Identifier] = Field(None, description="Room; all of them where absent.")


class ExternalTemperatureOf(Document):
    """Outside design temperature."""

    of: Literal["external_temperature"] = Field(description="Tells this variant apart.")


class AnnualMeanTemperatureOf(Document):
    """Mean outside temperature of the year."""

    of: Literal["annual_mean_external_temperature"] = Field(description="Tells this variant apart.")


class NeighbourTemperatureOf(Document):
    """Temperature behind one element towards a neighbour; or, with no element, a shift, 0 K, of all of them."""

    of: Literal["neighbour_temperature"] = Field(description="Tells this variant apart.")
    room: MayBeAbsent[Identifier] = Field(None, description="Room of the `element`.")
    space: MayBeAbsent[Identifier] = Field(None, description="Unheated space of the `element`.")
    element: MayBeAbsent[Identifier] = Field(None, description="Id of the element; with `room` or `space`.")


class AdjacentTemperatureOf(Document):
    """Temperature of an unheated space that the survey gives by `temperature_c`."""

    of: Literal["adjacent_temperature"] = Field(description="Tells this variant apart.")
    room: Identifier = Field(description="Room of the element.")
    element: Identifier = Field(description="Id of the element or junction.")


class ReductionFactorOf(Document):
    """Temperature reduction factor of an element towards an unheated space."""

    of: Literal["temperature_reduction_factor"] = Field(description="Tells this variant apart.")
    room: Identifier = Field(description="Room of the element.")
    element: Identifier = Field(description="Id of the element or junction.")


class SurchargeOf(Document):
    """Surcharge for thermal bridges of the whole house."""

    of: Literal["thermal_bridge_surcharge"] = Field(description="Tells this variant apart.")


class JunctionOf(Document):
    """Linear thermal transmittance ψ of one junction."""

    of: Literal["junction"] = Field(description="Tells this variant apart.")
    room: Identifier = Field(description="Room of the junction.")
    junction: Identifier = Field(description="Id of the junction.")


class UnheatedSpaceAirChangesOf(Document):
    """Air changes of an unheated space with outside."""

    of: Literal["unheated_space_air_changes"] = Field(description="Tells this variant apart.")
    space: Identifier = Field(description="Id of the unheated space.")


Quantity = Annotated[
    UValueOf
    | AreaOf
    | AirChangesOf
    | FlueAirOf
    | HeatRecoveryOf
    | AirtightnessOf
    | RoomTemperatureOf
    | ExternalTemperatureOf
    | AnnualMeanTemperatureOf
    | NeighbourTemperatureOf
    | AdjacentTemperatureOf
    | ReductionFactorOf
    | SurchargeOf
    | JunctionOf
    | UnheatedSpaceAirChangesOf,
    Field(discriminator="of"),
]


class _ByStandardUncertainty(Document):
    """A distribution by its standard uncertainty: exactly one of the two."""

    value: MayBeAbsent[Amount] = Field(
        None, description="Best estimate, in the quantity's unit; the survey's value where absent."
    )
    standard_uncertainty: MayBeAbsent[Spread] = Field(
        None, description="Standard uncertainty (one standard deviation), in the quantity's unit."
    )
    relative_standard_uncertainty: MayBeAbsent[RelativeSpread] = Field(
        None, description="The same as a share of the best estimate; not for temperatures."
    )


class NormalDistribution(_ByStandardUncertainty):
    """Most likely near the best estimate, as a measurement's result."""

    kind: Literal["normal"] = Field(description="Tells this variant apart.")


class LognormalDistribution(_ByStandardUncertainty):
    """Always positive, and rather much too high than much too low."""

    kind: Literal["lognormal"] = Field(description="Tells this variant apart.")


class _ByLimits(Document):
    """A distribution within limits: `low` and `high`, or one half width around the best estimate."""

    value: MayBeAbsent[Amount] = Field(
        None, description="The middle, in the quantity's unit; the survey's value where absent."
    )
    half_width: MayBeAbsent[Spread] = Field(
        None, description="From the middle to either limit, in the quantity's unit."
    )
    relative_half_width: MayBeAbsent[RelativeSpread] = Field(
        None, description="The same as a share of the middle; not for temperatures."
    )
    low: MayBeAbsent[Amount] = Field(None, description="Lower limit; with `high`.")
    high: MayBeAbsent[Amount] = Field(None, description="Upper limit; with `low`.")


class RectangularDistribution(_ByLimits):
    """Anywhere between two limits, none likelier than another."""

    kind: Literal["rectangular"] = Field(description="Tells this variant apart.")


class TriangularDistribution(_ByLimits):
    """Between two limits, most likely in the middle."""

    kind: Literal["triangular"] = Field(description="Tells this variant apart.")


GivenDistribution = Annotated[
    NormalDistribution | LognormalDistribution | RectangularDistribution | TriangularDistribution,
    Field(discriminator="kind"),
]


class UncertainQuantity(Document):
    """One quantity that is not known for sure."""

    quantity: Quantity = Field(description="Which quantity.")
    distribution: GivenDistribution = Field(description="What it may be.")
