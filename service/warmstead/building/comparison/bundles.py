"""Pieces gathered into what one says in one sentence."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Literal, NamedTuple

from warmstead.building.comparison.causes import Cause, in_order
from warmstead.building.comparison.matching import Matched, RoomPair
from warmstead.building.comparison.pieces import Piece
from warmstead.building.comparison.reading import Part, PartPair, Reading
from warmstead.building.comparison.units import changes

Pattern = Literal[
    "worst_wall",
    "merged_elements",
    "gross_area",
    "height",
    "mixed_units",
    "internal_as_external",
    "unheated_as_outside",
    "ground_as_outside",
    "ground_floor_kind",
    "space_as_room",
    "declared_twice",
    "called_otherwise",
    "missing_opening",
    "missing_element",
    "missing_room",
    "merged_rooms",
    "one_air_change_rate",
    "one_room_temperature",
    "outside_temperature",
    "dimension_basis",
    "rounding",
    "default_taken",
]


class Bundle(NamedTuple):
    """What one sentence is about."""

    cause: Cause
    pattern: Pattern | None
    pieces: list[Piece]
    says: str
    """The sentence, without what it is worth."""

    @property
    def house_w(self) -> float:
        """What it is worth in the house."""
        return math.fsum(piece.house_w for piece in self.pieces)


def main_cause(pieces: Iterable[Piece]) -> Cause:
    """Return the cause with the largest shares among some pieces."""
    by_cause: dict[Cause, float] = {}
    for piece in pieces:
        by_cause[piece.cause] = by_cause.get(piece.cause, 0.0) + abs(piece.house_w)
    return max(by_cause, key=lambda name: (by_cause[name], -in_order(name)))


class Surveys:
    """Both surveys, matched, with what they are called."""

    def __init__(
        self, first: Reading, second: Reading, matched: Matched, first_name: str, second_name: str
    ) -> None:
        self.first = first
        self.second = second
        self.matched = matched
        self.first_name = first_name
        self.second_name = second_name
        self.rooms = {pair.name: pair for pair in matched.rooms}
        self.both = [pair for pair in matched.rooms if pair.first is not None and pair.second is not None]
        self.alone = {pair.name: pair for pair in matched.rooms if pair.first is None or pair.second is None}
        self.exchanged = _exchanged(matched)
        self.one_for_several = _one_for_several(matched)
        self.same_dimensions = first.house.dimensions == second.house.dimensions
        self._labels = {pair.name: room_label(pair) for pair in matched.rooms}

    def reading(self, survey: int) -> Reading:
        """Return one of the surveys, 0 or 1."""
        return self.second if survey else self.first

    def name(self, survey: int) -> str:
        """Return what one of the surveys is called."""
        return self.second_name if survey else self.first_name

    def label(self, room: str) -> str:
        """Return what people call a room of the answer."""
        return self._labels[room]


def _exchanged(matched: Matched) -> set[tuple[str, str]]:
    """Return pairs of constructions of which one stands in the second survey wherever the other does in the first.

    A construction that keeps its id is exchanged for itself; two ids have to be exchanged in more than one room.
    """
    second_of: dict[str, set[str]] = {}
    first_of: dict[str, set[str]] = {}
    rooms: dict[tuple[str, str], set[str]] = {}
    for pair in matched.pairs:
        if pair.first is not None and pair.second is not None:
            one, other = pair.first.construction, pair.second.construction
            second_of.setdefault(one, set()).add(other)
            first_of.setdefault(other, set()).add(one)
            rooms.setdefault((one, other), set()).add(pair.room)
    return {
        (one, other)
        for (one, other), names in rooms.items()
        if one == other or (len(names) > 1 and (len(second_of[one]) == 1 or len(first_of[other]) == 1))
    }


def _one_for_several(matched: Matched) -> dict[tuple[str, str], str]:
    """Return by which construction pairs are told: one survey has it wherever the other has one of several."""
    partners: tuple[dict[str, set[str]], dict[str, set[str]]] = ({}, {})
    rooms: dict[str, set[str]] = {}
    for pair in matched.pairs:
        if pair.first is not None and pair.second is not None:
            one, other = pair.first.construction, pair.second.construction
            partners[0].setdefault(one, set()).add(other)
            partners[1].setdefault(other, set()).add(one)
            for name in {one, other}:
                rooms.setdefault(name, set()).add(pair.room)
    found: dict[tuple[str, str], str] = {}
    for survey in (0, 1):
        for name, several in partners[survey].items():
            others = several - {name}
            if (
                len(others) > 1
                and len(rooms[name]) > 1
                and all(partners[1 - survey][o] == {name} for o in others)
            ):
                found.update({((name, other) if survey == 0 else (other, name)): name for other in others})
    return found


class Free:
    """The pieces that no sentence tells of yet."""

    def __init__(self, pieces: Iterable[Piece], matched: Matched) -> None:
        self._pieces = dict(enumerate(pieces))
        self._by_pair: dict[int, list[int]] = {}
        self._by_room: dict[str, list[int]] = {}
        self._beside: dict[str, list[int]] = {}
        for number, piece in self._pieces.items():
            if piece.pair is not None:
                self._by_pair.setdefault(id(piece.pair), []).append(number)
            else:
                self._by_room.setdefault(piece.room, []).append(number)
            for room in dict.fromkeys((piece.room, *(room for room, _ in piece.rooms))):
                self._beside.setdefault(room, []).append(number)
        self._where = {
            (survey, part.room, part.id): pair
            for pair in matched.pairs
            for survey, part in enumerate((pair.first, pair.second))
            if part is not None
        }

    def pair_of(self, survey: int, room: str, element: str) -> PartPair | None:
        """Return the pair in which a row of a survey stands; None where it stands for several."""
        return self._where.get((survey, room, element))

    def of_pair(self, pair: PartPair, causes: Iterable[Cause]) -> list[int]:
        """Return the numbers of a row's free pieces by some causes."""
        return self._chosen(self._by_pair.get(id(pair), ()), causes)

    def of_room(self, room: str, causes: Iterable[Cause]) -> list[int]:
        """Return the numbers of a room's own free pieces, its rows left out, by some causes."""
        return self._chosen(self._by_room.get(room, ()), causes)

    def beside(self, room: str) -> list[int]:
        """Return the numbers of all free pieces that concern a room: its rows, what faces it, and its air."""
        return [number for number in self._beside.get(room, ()) if number in self._pieces]

    def of_causes(self, causes: Iterable[Cause]) -> list[int]:
        """Return the numbers of all free pieces by some causes."""
        return self._chosen(self._pieces, causes)

    def _chosen(self, numbers: Iterable[int], causes: Iterable[Cause]) -> list[int]:
        wanted = set(causes)
        return [n for n in numbers if n in self._pieces and self._pieces[n].cause in wanted]

    def take(self, numbers: Iterable[int]) -> list[Piece]:
        """Return pieces, which are free no more."""
        return [self._pieces.pop(number) for number in dict.fromkeys(numbers) if number in self._pieces]

    def rest(self) -> Iterator[Piece]:
        """Yield what is still free."""
        yield from list(self._pieces.values())


def room_label(pair: RoomPair) -> str:
    """Return what people call a room."""
    return pair.any.room.name or pair.name


def sizes(pair: PartPair) -> list[tuple[str, float, float]]:
    """Return the dimensions by which the two rows of a pair differ: as sent, or their areas where sent differently."""
    one, other = parts_of(pair)
    sent = list(changes(one.survey, other.survey))
    if sent or one.gross_m2 == other.gross_m2:
        return sent
    return [("area_m2", one.gross_m2, other.gross_m2)]


def watts(value: float) -> str:
    """Return what something is worth, for a sentence."""
    size = abs(value)
    sign = "+" if value > 0 else "−"
    if size < 0.05:
        return "0 W"
    return f"{sign}{size:,.0f} W" if size >= 9.95 else f"{sign}{size:.1f} W"


def listed(names: Iterable[str], most: int = 6) -> str:
    """Return names in a sentence: a, b and c."""
    unique = list(dict.fromkeys(names))
    if len(unique) > most:
        return f"{', '.join(unique[: most - 1])} and {len(unique) - most + 1} more"
    if len(unique) < 2:
        return "".join(unique)
    return f"{', '.join(unique[:-1])} and {unique[-1]}"


def number(value: float) -> str:
    """Return a number of a survey for a sentence: three or four digits."""
    return f"{value:.4g}" if abs(value) < 10_000 else f"{value:,.0f}"


def figures(one: float, other: float) -> tuple[str, str]:
    """Return two numbers with four digits, or as many as tell them apart."""
    for digits in (4, 5, 7, 10):
        pair = f"{one:.{digits}g}", f"{other:.{digits}g}"
        if pair[0] != pair[1]:
            break
    else:
        pair = repr(one), repr(other)
    return pair[0].replace("-", "−"), pair[1].replace("-", "−")


def parts_of(pair: PartPair) -> tuple[Part, Part]:
    """Return both rows of a pair that has both."""
    assert pair.first is not None, "asked of pairs in both surveys only"
    assert pair.second is not None, "asked of pairs in both surveys only"
    return pair.first, pair.second
