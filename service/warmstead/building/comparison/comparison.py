"""The whole comparison: two resolved houses, matched, read and split."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from warmstead.building.comparison import air
from warmstead.building.comparison.bundles import Bundle, Surveys
from warmstead.building.comparison.causes import Cause, in_order
from warmstead.building.comparison.fabric import Fabric
from warmstead.building.comparison.gathering import gather
from warmstead.building.comparison.matching import Place, match
from warmstead.building.comparison.pieces import Piece
from warmstead.building.comparison.reading import Reading
from warmstead.building.comparison.spaces import passed_on
from warmstead.building.comparison.suggestions import suggest
from warmstead.building.findings import Findings
from warmstead.building.house import ResolvedHouse


class Comparison:
    """Two surveys of one house, and what each difference between them is worth."""

    def __init__(self, surveys: Surveys, pieces: list[Piece]) -> None:
        self.surveys = surveys
        self.pieces = pieces
        self.suggestions = suggest(surveys.matched, (surveys.first.parts, surveys.second.parts))

    def bundles(self) -> list[Bundle]:
        """Return what makes the difference, in sentences, the largest first."""
        return gather(self.pieces, self.surveys, self.suggestions)

    def by_cause(self) -> dict[Cause, float]:
        """Return what each cause is worth in the house, W."""
        return _summed((piece.cause, piece.house_w) for piece in self.pieces)

    def by_room(self) -> dict[str, dict[Cause, float]]:
        """Return what each cause is worth in each room, W; under no name, beyond the rooms."""
        parts: dict[str, list[tuple[Cause, float]]] = {name: [] for name in self.surveys.rooms}
        parts[""] = []
        for piece in self.pieces:
            for room, watts in piece.rooms or (("", piece.house_w),):
                parts[room].append((piece.cause, watts))
        return {room: _summed(values) for room, values in parts.items()}


def _summed(values: Iterable[tuple[Cause, float]]) -> dict[Cause, float]:
    listed: dict[Cause, list[float]] = {}
    for cause, watts in values:
        listed.setdefault(cause, []).append(watts)
    return {cause: math.fsum(listed[cause]) for cause in sorted(listed, key=in_order)}


def compare(
    first: ResolvedHouse,
    second: ResolvedHouse,
    rooms: Sequence[tuple[str, str]],
    elements: Sequence[tuple[Place, Place]],
    names: tuple[str, str],
    findings: Findings,
) -> Comparison:
    """Return what makes the second house's load differ from the first's.

    Args:
        first: one survey.
        second: the other.
        rooms: ids of rooms that are the same, where their ids differ.
        elements: places of rows that are the same, where their ids differ.
        names: what the surveys are called.
        findings: where it is noted that a map leads nowhere, or contradicts itself.

    Raises:
        Refused: a map leads nowhere, or contradicts itself.
    """
    readings = (Reading(first), Reading(second))
    matched = match(*readings, rooms, elements, findings)
    fabric = Fabric(*readings, matched)
    pieces = [*passed_on(list(fabric.pieces()), readings, matched, fabric), *air.pieces(*readings, matched)]
    return Comparison(Surveys(*readings, matched, *names), pieces)
