"""Turns of phrase that several sentences share."""

from __future__ import annotations

from collections.abc import Iterable

from warmstead.building.comparison.bundles import Pattern, Surveys, listed, parts_of
from warmstead.building.comparison.pieces import Piece
from warmstead.building.comparison.reading import PartPair, Side

Told = tuple[Pattern | None, str]
"""A sentence without what it is worth, and its pattern."""

_SIDES = {
    "outside": "outside air",
    "ground": "the ground",
    "room": "another room",
    "unheated_space": "an unheated space",
    "neighbour": "a neighbour's heated space",
}


def two(surveys: Surveys, what: str, one: str, other: str, unit: str = "", where: str = "") -> str:
    """Return the sentence in which a quantity differs."""
    unit = f" {unit}" if unit else ""
    return f"{surveys.second_name} has {what}{other}{unit}{where}, {surveys.first_name} {one}{unit}"


def default(given: tuple[bool, bool], surveys: Surveys, says: str) -> Told:
    """Say whose value is a default, where just one is."""
    if given[0] == given[1]:
        return None, says
    whose = surveys.first_name if given[1] else surveys.second_name
    return "default_taken", f"{says}; that of {whose} is a default, since it does not say"


def pairs_of(pieces: Iterable[Piece]) -> list[PartPair]:
    """Return the rows that pieces concern, each once however many pieces it has, the one with the largest first."""
    by_size = sorted(pieces, key=lambda piece: -abs(piece.house_w))
    return list({id(piece.pair): piece.pair for piece in by_size if piece.pair is not None}.values())


def elements(surveys: Surveys, pairs: list[PartPair]) -> str:
    """Return which rows these are: by name in one room, or where all have one name, else how many in which rooms."""
    rooms = list(dict.fromkeys(pair.room for pair in pairs))
    names = listed((surveys.label(room) for room in rooms), 4)
    if len(rooms) == 1 or len({pair.id for pair in pairs}) == 1:
        return f"{listed(pair.id for pair in pairs)} in {names}"
    return f"{len(pairs)} elements in {names}"


def beyond(surveys: Surveys, survey: int, pairs: list[PartPair]) -> str:
    """Return what a survey has on the other side of rows, by name where it is one room or space for all."""
    names = {_side(surveys, survey, parts_of(pair)[survey].side) for pair in pairs}
    return names.pop() if len(names) == 1 else _SIDES[parts_of(pairs[0])[survey].side.kind]


def side_kind(kind: str) -> str:
    """Return a kind of other side in words."""
    return _SIDES[kind]


def _side(surveys: Surveys, survey: int, side: Side) -> str:
    if side.reference == "room":
        return f"the room {surveys.label(surveys.matched.names[survey][side.target])}"
    if side.reference == "space":
        return f"the unheated space {side.target}"
    return _SIDES[side.kind]
