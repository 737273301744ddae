"""The water that carries the heat: how much must flow."""

from __future__ import annotations

from warmstead.standards.errors import NotPhysical

# Water at 40 °C and atmospheric pressure (IAPWS-95 gives 992.2 kg/m³ and 4179 J/(kg·K)). Between 20 and 60 °C
# their product is within 1 % of this one, so one pair serves every low-temperature circuit.
DENSITY_KG_M3 = 992.2
SPECIFIC_HEAT_J_KGK = 4179.0


def flow_l_s(heat_w: float, difference_k: float) -> float:
    """The water flow that gives off a heat while it cools by a difference, l/s: Φ/(ρ · c · Δθ).

    Energy balance of the water, with its density and specific heat at 40 °C.

    Args:
        heat_w: heat given off, W; 0 or more.
        difference_k: flow minus return temperature, K; above 0.

    Raises:
        NotPhysical: negative heat, or a difference of zero or less (no flow would be enough).
    """
    if not difference_k > 0.0:
        raise NotPhysical(
            f"water that cools by {difference_k} K gives off no heat",
            field="difference_k",
            value=difference_k,
            limit="above 0",
            clause="energy balance of the water",
        )
    if not heat_w >= 0.0:
        raise NotPhysical(
            f"an emitter gives off no {heat_w} W",
            field="heat_w",
            value=heat_w,
            limit="0 or more",
            clause="energy balance of the water",
        )
    litres_per_m3 = 1000.0
    return litres_per_m3 * heat_w / (DENSITY_KG_M3 * SPECIFIC_HEAT_J_KGK * difference_k)
