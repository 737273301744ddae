"""The smallest part of an answer: what one cause is worth in one row of the house."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from warmstead.building.comparison.causes import Cause, Player, in_unions
from warmstead.building.comparison.owen import shares
from warmstead.building.comparison.reading import PartPair


class Piece(NamedTuple):
    """A share of the difference: by one cause, in one row."""

    room: str
    """The room whose row it is; empty for what the house has beyond its rooms."""
    cause: Cause
    subject: str
    """Whose factor it is: the room or unheated space of a temperature; empty where the row itself says it."""
    house_w: float
    rooms: tuple[tuple[str, float], ...]
    """What it is worth in each room; heat between two rooms stands in both and cancels in the house."""
    pair: PartPair | None
    """The row, where it is an element, opening or junction."""

    @property
    def own_w(self) -> float:
        """What it is worth in the house; between two rooms, where that is nothing, in the room that declares the row."""
        return self.house_w or (self.rooms[0][1] if self.rooms else 0.0)


Chosen = Callable[[Player], int]
"""Gives the bit of a factor, 0 where both surveys have it alike."""


def split(players: set[Player], worth_of: Callable[[Chosen], Callable[[int], float]]) -> dict[Player, float]:
    """Return what each factor that differs is worth in a row.

    Args:
        players: the factors that differ.
        worth_of: makes the row's worth, given how to find a factor's bit.
    """
    ordered, sizes = in_unions(players)
    if not ordered:
        return {}
    bits = {player: 1 << place for place, player in enumerate(ordered)}
    worth = worth_of(lambda player: bits.get(player, 0))
    return dict(zip(ordered, shares(sizes, worth), strict=True))


def of_room(room: str, split_shares: dict[Player, float], pair: PartPair | None = None) -> Iterator[Piece]:
    """Yield the shares of a row that concerns one room only."""
    for player, watts in split_shares.items():
        yield Piece(room, player.cause, player.subject, watts, ((room, watts),), pair)
