"""The resolved house: the survey in plain numbers and its heat balance. Every house-level question starts here."""

from __future__ import annotations

from typing import Protocol

from warmstead.building.annex import NationalAnnex, national_annex
from warmstead.building.constructions import Constructions
from warmstead.building.envelope import Envelope
from warmstead.building.findings import Findings
from warmstead.building.names import refuse_repeated
from warmstead.building.rooms import ResolvedRoom, resolve_room
from warmstead.building.ventilation import Ventilation
from warmstead.survey.house import House
from warmstead.tables import table


class ResolvedHouse:
    """A house in numbers."""

    def __init__(
        self,
        house: House,
        rooms: list[ResolvedRoom],
        constructions: Constructions,
        annex: NationalAnnex,
        ventilation: Ventilation,
        envelope: Envelope,
    ) -> None:
        self.house = house
        self.rooms = rooms
        self.constructions = constructions
        self.annex = annex
        self.ventilation = ventilation
        self.space_temperatures_c = envelope.space_temperatures_c
        self.space_couplings = envelope.space_couplings
        self.ground_factors = envelope.ground_factors
        self.external_c = house.conditions.external_temperature_c
        self.dimensions = house.dimensions or "internal"
        self.transmission_w = sum(room.transmission_w for room in rooms)
        self.ventilation_w = ventilation.house_w
        self.reheat_w = sum(room.reheat_w for room in rooms)
        self.floor_area_m2 = sum(room.floor_area_m2 for room in rooms)

    @property
    def design_heat_load_w(self) -> float:
        """Transmission, ventilation and reheat of the house together, W."""
        return self.transmission_w + self.ventilation_w + self.reheat_w

    @property
    def heat_loss_coefficient_w_k(self) -> float:
        """Sum of the rooms' coefficients without heat between rooms, W/K."""
        return sum(room.coefficient_w_k for room in self.rooms)

    @property
    def loss_weighted_temperature_c(self) -> float | None:
        """Outside temperature at which the house as a whole loses nothing, °C; None for a house that loses nothing."""
        coefficient = weighted = 0.0
        for room in self.rooms:
            part = room.coefficient_w_k
            coefficient += part
            weighted += part * room.temperature_c
        return weighted / coefficient if coefficient > 0.0 else None


def resolve_house(house: House, findings: Findings, at: str = "/house") -> ResolvedHouse:
    """Return the house in numbers.

    Args:
        house: as sent.
        findings: where problems and warnings go.
        at: JSON pointer of the house in the request.

    Raises:
        Refused: the survey contradicts itself, or needs what is not covered.
    """
    known = len(findings.problems)
    annex = annex_of(house.conditions, findings, f"{at}/conditions")
    if house.dimensions is None:
        findings.warn("default.dimensions", f"{at}/dimensions", "internal dimensions taken")
    reheat = house.reheat_w_m2
    if reheat is None:
        reheat = annex.take("reheat_w_m2", "W/m²", findings, "default.reheat", f"{at}/reheat_w_m2")
    external_c = house.conditions.external_temperature_c
    refuse_repeated(findings, ((f"{at}/rooms/{index}/id", room.id) for index, room in enumerate(house.rooms)))
    rooms = [
        resolve_room(room, f"{at}/rooms/{index}", external_c, reheat, annex, findings)
        for index, room in enumerate(house.rooms)
    ]
    constructions = Constructions(house.constructions, annex, findings, f"{at}/constructions")
    ventilation = Ventilation(house, rooms, annex, findings, at)
    envelope = Envelope(
        house, rooms, constructions, annex, findings, at, ventilation.air_heat_capacity_wh_m3k
    )
    envelope.build()
    constructions.check_unused()
    _warn_of_annual_mean(house, rooms, findings, at)
    # Volumes of 0 stand for rooms that were refused: there is nothing to share air by.
    if all(room.volume_m3 > 0.0 for room in rooms):
        ventilation.resolve()
    findings.stop_if_refused(known)
    for resolved in rooms:
        resolved.settle(external_c)
    result = ResolvedHouse(house, rooms, constructions, annex, ventilation, envelope)
    if result.design_heat_load_w < 0.0:
        findings.warn(
            "unusual.load", at, "the house gains heat on the design day: look at its neighbours and junctions"
        )
    return result


def _warn_of_annual_mean(house: House, rooms: list[ResolvedRoom], findings: Findings, at: str) -> None:
    annual_mean = house.conditions.annual_mean_external_temperature_c
    if annual_mean is None:
        return
    coldest_room = min(room.temperature_c for room in rooms)
    if not house.conditions.external_temperature_c < annual_mean < coldest_room:
        findings.warn(
            "unusual.annual_mean",
            f"{at}/conditions/annual_mean_external_temperature_c",
            f"{annual_mean:g} °C is not between the outside design temperature and the rooms'",
        )


class _NamesAnnex(Protocol):
    @property
    def national_annex(self) -> str | None: ...


def annex_of(conditions: _NamesAnnex, findings: Findings, at: str) -> NationalAnnex:
    """Return the national annex that a part of the document names, else the default one with a warning."""
    name = conditions.national_annex
    if name is not None:
        return national_annex(name)
    annex = default_annex()
    findings.warn("default.national_annex", f"{at}/national_annex", f"national annex {annex.name} taken")
    return annex


def default_annex() -> NationalAnnex:
    """Return the annex that applies where none is named: the first of the table `national-annexes`."""
    return national_annex(str(table("national-annexes").rows[0]["national_annex"]))
