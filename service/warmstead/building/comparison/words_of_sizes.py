"""Sizes that differ and fit no pattern, in sentences."""

from __future__ import annotations

from warmstead.building.comparison.bundles import Surveys, figures, listed, parts_of, sizes
from warmstead.building.comparison.phrases import Told
from warmstead.building.comparison.pieces import Piece
from warmstead.survey.house import Element


def dimensions(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say which sizes of a room differ, the one with the largest share first."""
    by_size = sorted(pieces, key=lambda piece: -abs(piece.house_w))
    told = dict.fromkeys(text for piece in by_size for text in _sizes(surveys, piece))
    room = surveys.label(key[1])
    whose = f"by {surveys.second_name} (by {surveys.first_name})"
    return None, f"sizes in {room} {whose}: {listed(told, 4)}"


_MEMBERS = {"area_m2": ("area", "m²"), "length_m": ("length", "m"), "height_m": ("height", "m")}


def _sizes(surveys: Surveys, piece: Piece) -> list[str]:
    """Return the sizes by which a piece differs, in words."""
    pair = piece.pair
    if pair is None:
        one_room, other_room = surveys.rooms[piece.room].both
        if piece.cause == "volume":
            return [_against("volume", one_room.volume_m3, other_room.volume_m3, "m³")]
        return [_against("floor area", one_room.floor_area_m2, other_room.floor_area_m2, "m²")]
    first, second = parts_of(pair)
    if piece.cause == "opening_area" and isinstance(first.survey, Element):
        taken = [part.gross_m2 - part.net_m2 for part in (first, second)]
        return [_against(f"openings taken off {pair.id}", taken[0], taken[1], "m²")]
    return [
        _against(f"{_MEMBERS[member][0]} of {pair.id}", one, other, _MEMBERS[member][1])
        for member, one, other in sizes(pair)
        if member in _MEMBERS
    ]


def _against(what: str, one: float, other: float, unit: str) -> str:
    before, after = figures(one, other)
    return f"{what} {after} {unit} ({before})"


def dimension_basis(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say that the surveys are measured with different dimensions."""
    one, other = (survey.house.dimensions.replace("_", " ") for survey in (surveys.first, surveys.second))
    return "dimension_basis", (
        f"{surveys.second_name} is measured with {other} dimensions, {surveys.first_name} with {one} ones"
    )
