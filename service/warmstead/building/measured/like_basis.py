"""The survey's heat loss coefficient as a meter would see it: how the loss of an ordinary day follows the outside temperature.

A design-day coefficient holds more: air for the worst day, and heat that the outside temperature of the day does not move.
Part by part, the slope of the loss by the outside temperature takes the place of loss over difference.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from warmstead.building.findings import Findings
from warmstead.building.house import ResolvedHouse
from warmstead.building.rooms import Face, ResolvedRoom
from warmstead.building.ventilation import NO_AIR
from warmstead.standards import en_12831
from warmstead.survey.house import ByAirtightness
from warmstead.survey.meter_readings import LikeBasis

AIR_CHANGES_AT_50PA_OVER_MEAN = 20.0
"""A twentieth of the air changes at 50 Pa is about the year's mean infiltration: the rule of thumb of many studies (listed by
Roberts, Allinson and Lomas, International Journal of Building Pathology and Adaptation 41 (2023), table 1, seen), which
tracer-gas tests there found to be rough."""


class Part(NamedTuple):
    """One part of the coefficient, as the survey has it and on the basis of a meter."""

    part: str
    survey_w_k: float
    like_basis_w_k: float
    standard_uncertainty_w_k: float
    why: str


class LikeForLike(NamedTuple):
    """The survey's coefficient on a like basis."""

    survey_w_k: float
    like_basis_w_k: float
    standard_uncertainty_w_k: float
    parts: list[Part]


def like_for_like(house: ResolvedHouse, options: LikeBasis, findings: Findings) -> LikeForLike:
    """Return the survey's coefficient on the basis of a meter, with each part's step.

    Args:
        house: the house, resolved.
        options: what is known of its season.
        findings: where warnings go.
    """
    parts = [
        _outside(house),
        _unheated(house),
        _suspended(house),
        _ground(house, options, findings),
        _neighbour(house, findings),
        _air(house, options, findings),
    ]
    parts = [part for part in parts if part.survey_w_k or part.like_basis_w_k]
    like_basis = sum(part.like_basis_w_k for part in parts)
    relative = options.relative_standard_uncertainty
    if relative is None:
        relative = 0.0
        findings.warn(
            "assumption.survey_exact",
            "/like_basis/relative_standard_uncertainty",
            "the survey's areas and U-values are taken as exact: the probability is one of the readings alone",
        )
    squares = sum(part.standard_uncertainty_w_k**2 for part in parts) + (relative * like_basis) ** 2
    return LikeForLike(house.heat_loss_coefficient_w_k, like_basis, math.sqrt(squares), parts)


def _survey_w_k(house: ResolvedHouse, boundary: str, suspended: bool | None = None) -> float:
    """Loss over each room's difference to outside: what the part adds to the survey's coefficient."""
    return sum(
        face.heat_loss_w / (room.temperature_c - house.external_c)
        for room, face in _faces(house, boundary)
        if suspended is None or _is_suspended(house, face) == suspended
    )


def _faces(house: ResolvedHouse, boundary: str) -> list[tuple[ResolvedRoom, Face]]:
    return [(room, face) for room in house.rooms for face in room.faces if face.boundary == boundary]


def _is_suspended(house: ResolvedHouse, face: Face) -> bool:
    construction = house.constructions.by_id.get(face.construction)
    return (
        construction is not None and construction.kind == "ground_floor" and construction.floor == "suspended"
    )


def _outside(house: ResolvedHouse) -> Part:
    coefficient = sum(face.coefficient_w_k for _, face in _faces(house, "outside"))
    return Part(
        "outside", _survey_w_k(house, "outside"), coefficient, 0.0, "follows the outside temperature in full"
    )


def _unheated(house: ResolvedHouse) -> Part:
    """Balanced spaces follow by the share of their sides towards outside, others by their factor on the design day."""
    shares = {}
    for name, couplings in house.space_couplings.items():
        whole = math.fsum(coefficient for coefficient, _ in couplings)
        cold = math.fsum(coefficient for coefficient, behind in couplings if behind == house.external_c)
        shares[name] = cold / whole if whole > 0.0 else 0.0
    total = 0.0
    for room, face in _faces(house, "unheated_space"):
        share = shares.get(face.adjoins or "")
        if share is None:
            share = face.difference_k / (room.temperature_c - house.external_c)
        total += share * face.coefficient_w_k
    return Part(
        "unheated_spaces",
        _survey_w_k(house, "unheated_space"),
        total,
        0.0,
        "follows by the share of the space's sides towards outside, or by its factor",
    )


def _suspended(house: ResolvedHouse) -> Part:
    coefficient = sum(
        face.coefficient_w_k for _, face in _faces(house, "ground") if _is_suspended(house, face)
    )
    why = "the air under a suspended floor follows the outside temperature"
    return Part("suspended_floors", _survey_w_k(house, "ground", True), coefficient, 0.0, why)


def _ground(house: ResolvedHouse, options: LikeBasis, findings: Findings) -> Part:
    """Between no answer to the season and all of the steady loss: ISO 13370 has the ground lag behind and be damped."""
    steady = sum(
        face.coefficient_w_k for _, face in _faces(house, "ground") if not _is_suspended(house, face)
    )
    response, uncertainty = options.ground_response, 0.0
    why = "the given share of the steady loss follows the season"
    if response is None:
        response, uncertainty = 0.5, 1.0 / math.sqrt(12.0)
        why = "half of the steady loss A · U; anything from none to all of it is equally likely"
        if steady:
            findings.warn(
                "assumption.ground_response",
                "/like_basis/ground_response",
                f"the ground answers the season late and weakly: 0 to {steady:.3g} W/K are taken as equally likely",
            )
    return Part(
        "ground", _survey_w_k(house, "ground", False), response * steady, uncertainty * abs(steady), why
    )


def _neighbour(house: ResolvedHouse, findings: Findings) -> Part:
    survey = _survey_w_k(house, "neighbour")
    if survey:
        findings.warn(
            "assumption.neighbour_left_out",
            "/house/rooms",
            "a neighbour's rooms are taken to keep their temperature: heat to them is left out of the like basis",
        )
    return Part("neighbour", survey, 0.0, 0.0, "does not follow the outside temperature")


def _air(house: ResolvedHouse, options: LikeBasis, findings: Findings) -> Part:
    ventilation = house.ventilation
    survey = sum(room.ventilation_w / (room.temperature_c - house.external_c) for room in house.rooms)
    capacity = ventilation.air_heat_capacity_wh_m3k
    mechanical = sum(_mechanical_w_k(house, room) for room in house.rooms)
    mean, why = _mean_air_changes(house, options, findings)
    if mean is None:
        infiltration = sum(
            capacity * ventilation.air_changes[room.id] * room.volume_m3 for room in house.rooms
        )
    else:
        infiltration = capacity * mean * ventilation.volume_m3
    return Part("air", survey, infiltration + mechanical, 0.0, why)


def _mechanical_w_k(house: ResolvedHouse, room: ResolvedRoom) -> float:
    """Supply less recovered heat, the share of extract beyond supply, and flues."""
    ventilation = house.ventilation
    air = room.room.ventilation or NO_AIR
    coefficient = en_12831.air_change_coefficient(
        air_heat_capacity_wh_m3k=ventilation.air_heat_capacity_wh_m3k,
        air_changes=0.0,
        volume_m3=room.volume_m3,
        supply_l_s=air.supply_l_s or 0.0,
        heat_recovery_efficiency=air.heat_recovery_efficiency or 0.0,
        unbalanced_extract_l_s=ventilation.room_unbalanced_l_s(room),
    )
    flues = ventilation.flue_l_s[room.id]
    return coefficient + ventilation.air_heat_capacity_wh_m3k * en_12831.M3_H_PER_L_S * flues


def _mean_air_changes(
    house: ResolvedHouse, options: LikeBasis, findings: Findings
) -> tuple[float | None, str]:
    """Return the season's mean air changes and where they come from; None where the survey's own have to do."""
    if options.mean_air_changes is not None:
        return options.mean_air_changes, "mean air changes as given, without the hygienic minimum"
    at = "/like_basis/mean_air_changes"
    method = house.house.ventilation
    if not isinstance(method, ByAirtightness):
        findings.warn(
            "assumption.survey_air_kept",
            at,
            "the survey's air changes, chosen for the design day, stand for the season's mean: the like basis comes out high",
        )
        return None, "the survey's own air changes, for want of better"
    at_50pa = method.air_changes_at_50pa
    if at_50pa is None:
        at_50pa = en_12831.air_changes_from_permeability(
            method.air_permeability_50pa_m3_h_m2 or 0.0,
            method.envelope_area_m2 or 0.0,
            house.ventilation.volume_m3,
        )
    mean = at_50pa / AIR_CHANGES_AT_50PA_OVER_MEAN
    findings.warn(
        "default.mean_air_changes", at, f"{mean:.3g} per hour taken, a twentieth of {at_50pa:.3g} at 50 Pa"
    )
    return mean, "a twentieth of the air changes at 50 Pa, without the hygienic minimum"
