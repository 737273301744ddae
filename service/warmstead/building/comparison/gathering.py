"""All pieces gathered into sentences: patterns first, then what is left by cause, and by room where it is a room's."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from warmstead.building.comparison import patterns, words, words_of_air
from warmstead.building.comparison.bundles import Bundle, Free, Surveys, parts_of
from warmstead.building.comparison.causes import Cause
from warmstead.building.comparison.pieces import Piece
from warmstead.building.comparison.reading import PartPair
from warmstead.building.comparison.room_rows import FEW
from warmstead.building.comparison.suggestions import Suggestions

LEAST_W = 1e-9
"""What is worth less than this everywhere is the last digit of an addition and no difference."""

Key = tuple[str, ...]


def gather(pieces: Iterable[Piece], surveys: Surveys, suggestions: Suggestions) -> list[Bundle]:
    """Return what makes the difference, the largest first; together it is the whole difference."""
    free = Free(_spread(list(pieces)), surveys.matched)
    bundles = list(patterns.found(surveys, free))
    keys = _Keys(surveys, suggestions, list(free.rest()))
    groups: dict[Key, list[Piece]] = {}
    for piece in free.rest():
        groups.setdefault(keys.of(piece), []).append(piece)
    bundles.extend(words.plain(key, group, surveys) for key, group in groups.items())
    told = [bundle for bundle in bundles if _matters(bundle)]
    return sorted(told, key=lambda bundle: (*_size(bundle), bundle.cause, bundle.says))


def rooms_of(pieces: Iterable[Piece]) -> dict[str, float]:
    """Return what pieces are worth in each room."""
    parts: dict[str, list[float]] = {}
    for piece in pieces:
        for room, watts in piece.rooms:
            parts.setdefault(room, []).append(watts)
    return {room: math.fsum(values) for room, values in parts.items()}


def _size(bundle: Bundle) -> tuple[float, float]:
    """Return by what bundles are ordered: the house first, then the room with most at stake; rounded, so that ties hold."""
    rooms = rooms_of(bundle.pieces).values()
    return -round(abs(bundle.house_w), 6), -round(max(map(abs, rooms), default=0.0), 6)


def _matters(bundle: Bundle) -> bool:
    return abs(bundle.house_w) > LEAST_W or any(
        abs(watts) > LEAST_W for watts in rooms_of(bundle.pieces).values()
    )


def _spread(pieces: list[Piece]) -> Iterator[Piece]:
    """Yield the pieces, what the house has beyond its rooms laid to the rooms in proportion to their own air's shares."""
    weights: dict[Cause, dict[tuple[str, str], float]] = {}
    for piece in pieces:
        if piece.pair is None and piece.rooms:
            of_cause = weights.setdefault(piece.cause, {})
            key = (piece.room, piece.subject)
            of_cause[key] = of_cause.get(key, 0.0) + abs(piece.house_w)
    for piece in pieces:
        shares = weights.get(piece.cause, {})
        whole = math.fsum(shares.values())
        if piece.rooms or not whole:
            yield piece
            continue
        for (room, subject), weight in shares.items():
            yield Piece(room, piece.cause, subject, piece.house_w * (weight / whole), (), None)


_OF_THE_HOUSE: tuple[Cause, ...] = (
    "outside_temperature",
    "annual_mean_temperature",
    "ground_rule",
    "airtightness",
    "ventilation_method",
    "air_heat_capacity",
    "reheat",
)
_BESIDE: tuple[Cause, ...] = ("other_side_temperature", "reduction_factor")


class _Keys:
    """Says of each piece what it is told together with."""

    def __init__(self, surveys: Surveys, suggestions: Suggestions, pieces: list[Piece]) -> None:
        self._surveys = surveys
        self._by_junctions = _by_junctions(surveys)
        self._rooms = ({s.first: s for s in suggestions.rooms}, {s.second: s for s in suggestions.rooms})
        self._rows = (
            {one: (*one, *other) for one, other, _ in suggestions.elements},
            {other: (*one, *other) for one, other, _ in suggestions.elements},
        )
        self._common = _common(pieces)

    def of(self, piece: Piece) -> Key:
        """Return the key under which a piece is told."""
        cause, pair, surveys = piece.cause, piece.pair, self._surveys
        if cause in _OF_THE_HOUSE:
            return (cause,)
        if not piece.room and not piece.rooms:
            return ("beyond_rooms", cause)
        if cause == "thermal_bridges":
            return (cause, piece.room) if pair is not None and pair.any.kind == "junction" else (cause,)
        if cause in patterns.DIMENSIONS:
            return ("dimensions", piece.room) if surveys.same_dimensions else ("dimension_basis",)
        if cause == "u_value" and pair is not None:
            return self._of_construction(pair)
        if cause in ("room_temperature", "space_temperature"):
            return (cause, piece.subject)
        if cause in _BESIDE and pair is not None and _beside(piece) in self._common:
            return (cause, "")
        if cause == "air_changes" and words_of_air.is_default_air(surveys, piece.room):
            return (cause, "")
        if cause in ("mechanical_air", "heat_recovery"):
            return words_of_air.fans_key(surveys, piece.room)
        if cause == "only_in_one":
            return self._of_one(piece, pair)
        return (cause, piece.room)

    def _of_construction(self, pair: PartPair) -> Key:
        """Return the key of a U-value: the house's where constructions are exchanged throughout, else the room's."""
        one, other = (part.construction for part in parts_of(pair))
        whole = self._surveys.one_for_several.get((one, other))
        if whole is not None:
            return ("u_value", "", whole)
        exchanged = (one, other) in self._surveys.exchanged
        return ("u_value", one, other) if exchanged else ("u_value", one, other, pair.room)

    def _of_one(self, piece: Piece, pair: PartPair | None) -> Key:
        """Return the key of what only one survey has."""
        alone = self._room_alone(piece, pair)
        if alone is not None:
            survey = 0 if self._surveys.alone[alone].second is None else 1
            suggested = self._rooms[survey].get(self._surveys.alone[alone].any.id)
            if suggested is not None:
                return ("called_otherwise", suggested.first, "", suggested.second, "")
            return ("only_in_one", alone)
        if pair is None:
            return ("only_in_one", piece.room)
        if pair.first is not None and pair.second is not None:
            return ("only_in_one", piece.room, pair.id, "both")
        survey = 0 if pair.second is None else 1
        if pair.any.kind == "junction" and self._by_junctions:
            return ("thermal_bridges",)
        suggestion = self._rows[survey].get((pair.any.room, pair.any.id))
        if suggestion is not None:
            return ("called_otherwise", *suggestion)
        return ("only_in_one", piece.room, pair.any.opening_of or pair.id, ("first", "second")[survey])

    def _room_alone(self, piece: Piece, pair: PartPair | None) -> str | None:
        """Return the room that only one survey has, where a piece is that room's or faces it."""
        if piece.room in self._surveys.alone:
            return piece.room
        beside = {room for room, _ in piece.rooms} & set(self._surveys.alone) if pair is not None else ()
        return next(iter(sorted(beside)), None)


def _by_junctions(surveys: Surveys) -> bool:
    """Tell whether just one of the surveys goes by junctions."""
    bridges = [survey.house.house.thermal_bridges for survey in (surveys.first, surveys.second)]
    return len({bool(one and one.junctions) for one in bridges}) > 1


def _beside(piece: Piece) -> Key:
    """Return by what pieces that concern another side's temperature may be told of the whole house."""
    assert piece.pair is not None, "asked of rows only"
    one, other = parts_of(piece.pair)
    return (
        piece.cause,
        f"{one.side.weight:.9g} {one.side.reference_c:.9g}",
        f"{other.side.weight:.9g} {other.side.reference_c:.9g}",
    )


def _common(pieces: list[Piece]) -> set[Key]:
    """Return what differs in the same way in many rooms."""
    rooms: dict[Key, set[str]] = {}
    for piece in pieces:
        if piece.cause in _BESIDE and piece.pair is not None:
            rooms.setdefault(_beside(piece), set()).add(piece.room)
    return {key for key, names in rooms.items() if len(names) >= FEW}
