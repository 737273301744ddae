"""EN 12831: the design heat load of rooms and buildings.

Clauses are those of EN 12831:2003 and are from memory; the contract of this service states the same formulas.

Reference: EN 12831:2003, Heating systems in buildings - Method for calculation of the design heat load.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from warmstead.standards.errors import NotPhysical

M3_H_PER_L_S = 3.6
"""Cubic metres per hour in one litre per second."""


def ground_difference(
    room_c: float, annual_mean_external_c: float, ground_factor: float, ground_water_factor: float
) -> float:
    """Effective temperature difference to the ground (EN 12831:2003, 7.1.3), in K.

    fg1 · G_W · (θi − θm,e): with the equivalent U-value of the floor it gives the design loss directly,
    since fg2 · (θi − θe) = θi − θm,e.

    Args:
        room_c: design temperature of the room, °C.
        annual_mean_external_c: mean outside temperature of the year, °C.
        ground_factor: fg1, the correction for the yearly swing; 1.45 in the informative annex.
        ground_water_factor: G_W; 1.0, or 1.15 where ground water is within 1 m of the floor.
    """
    return ground_factor * ground_water_factor * (room_c - annual_mean_external_c)


def reduced_difference(room_c: float, external_c: float, reduction_factor: float) -> float:
    """Effective temperature difference by a temperature reduction factor (EN 12831:2003, 7.1.2), in K.

    b · (θi − θe), with b = (θi − θu)/(θi − θe).

    Args:
        room_c: design temperature of the room, °C.
        external_c: outside design temperature, °C.
        reduction_factor: b, 0 (as warm as the room) to 1 (as cold as outside).
    """
    return reduction_factor * (room_c - external_c)


class Coupling(NamedTuple):
    """One side of an unheated space: how strongly it is tied to which temperature."""

    coefficient_w_k: float
    temperature_c: float


def unheated_temperature(couplings: Iterable[Coupling]) -> float:
    """Temperature of an unheated space from its steady balance (EN 12831:2003, 7.1.2), in °C.

    θu = Σ(H · θ)/Σ H over all its sides and its air.

    Args:
        couplings: each side's coefficient in W/K (0 or more) and the temperature behind it in °C.

    Raises:
        NotPhysical: nothing ties the space to any temperature, or negative coefficients outweigh the others.
    """
    total = weighted = 0.0
    coldest, warmest = math.inf, -math.inf
    for coefficient, temperature in couplings:
        total += coefficient
        weighted += coefficient * temperature
        if coefficient > 0.0:
            coldest, warmest = min(coldest, temperature), max(warmest, temperature)
    if total <= 0.0:
        raise NotPhysical(
            "an unheated space without sides and without air has no temperature",
            field="coefficient_w_k",
            value=total,
            limit="more than 0 W/K in all",
            clause="EN 12831:2003, 7.1.2",
        )
    balanced = weighted / total
    # Negative coefficients (linear bridges on external dimensions) may take a little off, never outweigh the rest.
    if not coldest - 1e-6 <= balanced <= warmest + 1e-6:
        raise NotPhysical(
            f"the balance of an unheated space gives {balanced:g} °C, outside all temperatures around it",
            field="coefficient_w_k",
            value=balanced,
            limit=f"{coldest:g} to {warmest:g} °C",
            clause="EN 12831:2003, 7.1.2",
        )
    return balanced


def air_change_coefficient(
    *,
    air_heat_capacity_wh_m3k: float,
    air_changes: float,
    volume_m3: float,
    supply_l_s: float = 0.0,
    heat_recovery_efficiency: float = 0.0,
    unbalanced_extract_l_s: float = 0.0,
) -> float:
    """Ventilation heat loss coefficient of a room by air changes, in W/K.

    H = c · n · V + 3.6 · c · (1 − η) · supply + 3.6 · c · (extract beyond supply that this room replaces).

    Args:
        air_heat_capacity_wh_m3k: c, heat capacity of air by volume, Wh/(m³K); 0.33 or 0.34.
        air_changes: n, natural air changes per hour.
        volume_m3: V, air volume of the room.
        supply_l_s: mechanical supply of outside air.
        heat_recovery_efficiency: η on that supply, 0 to 1.
        unbalanced_extract_l_s: outside air drawn in through this room by extract elsewhere.
    """
    mechanical_l_s = (1.0 - heat_recovery_efficiency) * supply_l_s + unbalanced_extract_l_s
    return air_heat_capacity_wh_m3k * (air_changes * volume_m3 + M3_H_PER_L_S * mechanical_l_s)


def air_changes_from_permeability(
    air_permeability_m3_h_m2: float, envelope_area_m2: float, volume_m3: float
) -> float:
    """Air changes at 50 Pa from the permeability of the envelope: n50 = q50 · A/V, per hour.

    Args:
        air_permeability_m3_h_m2: q50, m³/(h·m²).
        envelope_area_m2: envelope on which it was measured.
        volume_m3: air volume of the house, more than 0.
    """
    return air_permeability_m3_h_m2 * envelope_area_m2 / volume_m3


def infiltration(
    volume_m3: float, air_changes_at_50pa: float, shielding_coefficient: float, height_factor: float
) -> float:
    """Infiltration of a room, V_inf = 2 · V · n50 · e · ε (EN 12831:2003, 7.2.1.2), in m³/h.

    The 2 stands for the worst case: all air enters on one side of the building.

    Args:
        volume_m3: air volume of the room.
        air_changes_at_50pa: n50, per hour.
        shielding_coefficient: e, by shelter and exposed openings.
        height_factor: ε, 1.0 up to 10 m above ground.
    """
    return 2.0 * volume_m3 * air_changes_at_50pa * shielding_coefficient * height_factor


class RoomAir(NamedTuple):
    """Air flows of a room, m³/h."""

    infiltration_m3_h: float
    hygienic_m3_h: float
    mechanical_m3_h: float
    """Supply and what is drawn in for extract, as volumes."""
    recovered_m3_h: float
    """The part of the supply that heat recovery makes good."""
    thermal_m3_h: float
    """What counts, as if it all came at outside temperature."""


def room_air(
    infiltration_m3_h: float, hygienic_m3_h: float, mechanical_m3_h: float, recovered_m3_h: float
) -> RoomAir:
    """Thermally effective air flow of a room (EN 12831:2003, 7.2.1; clause from memory), in m³/h.

    Without a ventilation system the larger of infiltration and hygienic minimum. With one, infiltration and mechanical
    air, and no less than the minimum as a volume; what heat recovery makes good is taken off.

    Args:
        infiltration_m3_h: V_inf.
        hygienic_m3_h: V_min = n_min · V.
        mechanical_m3_h: V_su + V_mech,inf; 0 without a ventilation system.
        recovered_m3_h: η · V_su, at most the supply.
    """
    volume = max(infiltration_m3_h + mechanical_m3_h, hygienic_m3_h)
    return RoomAir(infiltration_m3_h, hygienic_m3_h, mechanical_m3_h, recovered_m3_h, volume - recovered_m3_h)


def building_ventilation(rooms: Iterable[tuple[RoomAir, float]], air_heat_capacity_wh_m3k: float) -> float:
    """Ventilation loss of the whole building (EN 12831:2003, 7.2.2 on 8.2; clause from memory), in W.

    Wind presses on one side at a time, so half the sum of the rooms' infiltration counts, with the mechanical air added
    and the hygienic minimum as a floor; what heat recovery makes good is taken off.

    Args:
        rooms: air flows of each room and its temperature difference to outside, K.
        air_heat_capacity_wh_m3k: c, Wh/(m³K).
    """
    entering = hygienic = recovered = 0.0
    for air, difference_k in rooms:
        entering += (0.5 * air.infiltration_m3_h + air.mechanical_m3_h) * difference_k
        hygienic += air.hygienic_m3_h * difference_k
        recovered += air.recovered_m3_h * difference_k
    return air_heat_capacity_wh_m3k * (max(entering, hygienic) - recovered)
