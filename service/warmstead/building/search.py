"""One search for one crossing: where something that was missed begins to be reached."""

from __future__ import annotations

from collections.abc import Callable


def first_reached(
    excess: Callable[[float], float],
    missed: float,
    reached: float,
    missed_by: float,
    reached_by: float,
    width: float,
) -> float:
    """Return where an excess turns from below zero to zero or more, from the side that reaches it.

    Chandrupatla's method (Advances in Engineering Software 28, 1997, 145-149; from memory): inverse quadratic interpolation where the last
    three points allow it, bisection where they do not. A smooth excess takes about a quarter of the steps of bisection, one that
    jumps at the place in question up to twice as many.

    Args:
        excess: what is to reach zero.
        missed: where it is below zero.
        reached: where it is zero or more; greater than `missed`.
        missed_by: the excess at `missed`, or any number below zero where it cannot be had there.
        reached_by: the excess at `reached`.
        width: how near the answer has to lie above a place where the excess is still below zero; above 0.
    """
    newest, newest_by, other, other_by = reached, reached_by, missed, missed_by
    share = 0.5
    while abs(other - newest) > width:
        guess = newest + share * (other - newest)
        if guess in (newest, other):
            break  # there is no number between
        value = excess(guess)
        if (value >= 0.0) == (newest_by >= 0.0):
            before, before_by = newest, newest_by
        else:
            before, before_by, other, other_by = other, other_by, newest, newest_by
        newest, newest_by = guess, value
        place = (newest - other) / (before - other)
        height = (newest_by - other_by) / (before_by - other_by)
        if height**2 < place and (1.0 - height) ** 2 < 1.0 - place:
            share = newest_by / (other_by - newest_by) * before_by / (other_by - before_by)
            turned = (before - newest) / (other - newest) * newest_by / (before_by - newest_by)
            share += turned * other_by / (before_by - other_by)
            least = 0.5 * width / abs(other - newest)
            share = min(max(share, least), 1.0 - least)
        else:
            share = 0.5
    return newest if newest_by >= 0.0 else other
