"""Rooms that both surveys have, with their rows, as patterns look at them."""

from __future__ import annotations

from warmstead.building.comparison.bundles import Surveys, room_label
from warmstead.building.comparison.matching import RoomPair
from warmstead.building.comparison.reading import PartPair

SAME = 0.005
"""U-values within this share of each other are taken for the same."""
SAME_SIZE = 0.02
"""Areas within this share of each other are taken for the same, as where an element looks declared twice."""
MOST_ALONE = 50
"""In a room with more rows than this in one survey only, ids do not fit at all, and no sizes are compared."""
FEW = 3
"""In so many rooms one does the same, and it is said of the house rather than of each room."""


class RoomRows:
    """A room with its rows."""

    def __init__(self, room: RoomPair) -> None:
        self.room = room
        self.label = room_label(room)
        self.both: list[PartPair] = []
        self._alone: tuple[list[PartPair], ...] = ([], [])
        self._every_alone: list[PartPair] = []

    def alone(self, survey: int) -> list[PartPair]:
        """Return the rows that only one survey has, none where they are too many to be looked at."""
        return self._alone[survey]

    def every_alone(self) -> list[PartPair]:
        """Return all rows that only one survey has, however many."""
        return self._every_alone

    def add(self, pair: PartPair) -> None:
        """Add a row."""
        if pair.first is not None and pair.second is not None:
            self.both.append(pair)
        else:
            self._alone[0 if pair.second is None else 1].append(pair)
            self._every_alone.append(pair)

    def limit(self) -> None:
        """Leave out rows of one survey only where they are too many to be compared with each other."""
        self._alone = tuple(pairs if len(pairs) <= MOST_ALONE else [] for pairs in self._alone)


Rooms = dict[str, RoomRows]


def by_room(surveys: Surveys) -> Rooms:
    """Return the rooms that both surveys have, with their rows."""
    rooms = {pair.name: RoomRows(pair) for pair in surveys.both}
    for pair in surveys.matched.pairs:
        if pair.room in rooms:
            rooms[pair.room].add(pair)
    for rows in rooms.values():
        rows.limit()
    return rooms


def near(one: float, other: float, share: float) -> bool:
    """Tell whether two numbers are within a share of each other."""
    return abs(one - other) <= share * max(abs(one), abs(other))
