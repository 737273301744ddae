"""EN 442: the heat output of a radiator away from its standard test conditions.

The standard output is measured at one excess temperature (50 K in the current edition); every other one
follows the characteristic equation of the model, a power of the excess temperature.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

from warmstead.standards.errors import NotPhysical, check_above_zero, check_not_below_zero

Mean = Literal["arithmetic", "logarithmic"]

# EN 442-2:2014 (from memory): the standard excess temperature, 75/65 °C water in a room at 20 °C.
STANDARD_EXCESS_K = 50.0
# DIN 4703-3 and common practice (from memory): under this ratio of the two ends the arithmetic mean
# overstates the output too much.
RATIO_FOR_LOGARITHMIC_MEAN = 0.7


class ExcessTemperature(NamedTuple):
    """The excess of the water over the room, and the mean by which it was taken."""

    excess_k: float
    mean: Mean


def excess_temperature(flow_c: float, return_c: float, room_c: float) -> ExcessTemperature:
    """The excess temperature of a radiator, by the mean that its temperature drop calls for.

    Logarithmic where (return − room)/(flow − room) < 0.7, arithmetic otherwise (EN 442-2:2014 defines the
    arithmetic mean; the limit of 0.7 is DIN 4703-3 and common practice; clauses from memory). The two differ
    by 1.1 % at the limit itself, so the output has a small jump there.

    Args:
        flow_c: water entering, °C; at least `return_c`.
        return_c: water leaving, °C; above `room_c`.
        room_c: the room, °C.

    Raises:
        NotPhysical: the return is warmer than the flow, or not warmer than the room.
    """
    _check_ends(flow_c, return_c, room_c)
    if (return_c - room_c) / (flow_c - room_c) < RATIO_FOR_LOGARITHMIC_MEAN:
        return ExcessTemperature(_logarithmic_mean(flow_c - room_c, return_c - room_c), "logarithmic")
    return ExcessTemperature((flow_c + return_c) / 2.0 - room_c, "arithmetic")


def logarithmic_excess(flow_c: float, return_c: float, room_c: float) -> float:
    """The logarithmic mean excess temperature, K: (flow − return)/ln((flow − room)/(return − room)).

    The mean by which EN 1264 always works (EN 1264-2, equation for ΔθH; clause from memory), and EN 442 where
    the water cools far. Equal ends give their common difference.

    Args:
        flow_c: water entering, °C; at least `return_c`.
        return_c: water leaving, °C; above `room_c`.
        room_c: the room, °C.

    Raises:
        NotPhysical: the return is warmer than the flow, or not warmer than the room.
    """
    _check_ends(flow_c, return_c, room_c)
    return _logarithmic_mean(flow_c - room_c, return_c - room_c)


def output(standard_output_w: float, standard_excess_k: float, exponent: float, excess_k: float) -> float:
    """The output of a radiator at an excess temperature, W: Φ = Φs · (ΔT/ΔTs)^n.

    EN 442-2:2014, characteristic equation of a model (clause from memory).

    Args:
        standard_output_w: measured output, W; 0 or more.
        standard_excess_k: excess temperature of that measurement, K; above 0 (50 in the current edition).
        exponent: of the model's characteristic equation; above 0 (radiators about 1.2 to 1.4).
        excess_k: the excess temperature asked for, K; 0 or more.

    Raises:
        NotPhysical: an argument outside those bounds.
    """
    check_not_below_zero(standard_output_w, "standard_output_w", "EN 442-2")
    check_above_zero(standard_excess_k, "standard_excess_k", "EN 442-2")
    check_above_zero(exponent, "exponent", "EN 442-2")
    check_not_below_zero(excess_k, "excess_k", "EN 442-2")
    return float(standard_output_w * (excess_k / standard_excess_k) ** exponent)


def standard_output_needed(
    required_w: float, excess_k: float, exponent: float, standard_excess_k: float = STANDARD_EXCESS_K
) -> float:
    """The standard output that a radiator must have to give the required heat, W: the inverse of `output`.

    EN 442-2:2014, characteristic equation of a model (clause from memory).

    Args:
        required_w: heat required, W; 0 or more.
        excess_k: the excess temperature in use, K; above 0.
        exponent: of the model's characteristic equation; above 0.
        standard_excess_k: excess temperature of the standard output, K; above 0.

    Raises:
        NotPhysical: an argument outside those bounds.
    """
    check_not_below_zero(required_w, "required_w", "EN 442-2")
    check_above_zero(excess_k, "excess_k", "EN 442-2")
    check_above_zero(exponent, "exponent", "EN 442-2")
    check_above_zero(standard_excess_k, "standard_excess_k", "EN 442-2")
    return float(required_w * (standard_excess_k / excess_k) ** exponent)


def _logarithmic_mean(greater: float, smaller: float) -> float:
    # log1p keeps its digits where the ends nearly meet, where ln of their ratio would lose them all.
    spread = (greater - smaller) / smaller
    return smaller if spread == 0.0 else smaller * spread / math.log1p(spread)


def _check_ends(flow_c: float, return_c: float, room_c: float) -> None:
    if not return_c > room_c:
        raise NotPhysical(
            f"water returning at {return_c} °C cannot heat a room at {room_c} °C",
            field="return_c",
            value=return_c,
            limit=f"above the room's {room_c} °C",
            clause="EN 442-2",
        )
    if not flow_c >= return_c:
        raise NotPhysical(
            f"water entering at {flow_c} °C cannot leave a heat emitter at {return_c} °C",
            field="return_c",
            value=return_c,
            limit=f"at most the flow's {flow_c} °C",
            clause="EN 442-2",
        )
