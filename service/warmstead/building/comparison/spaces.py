"""Unheated spaces by balance: what moved a space's temperature gets what that temperature is worth.

A space's temperature is the mean θ of what surrounds it, weighted by the coefficients H, so that Σ H·(θ − t) = 0. With
the sums S of H, two surveys' temperatures t₁ and t₂ differ by

    t₂ − t₁ = ½ · Σ [f₂(t₁) − f₁(t₁)]/S₂ + ½ · Σ [f₂(t₂) − f₁(t₂)]/S₁    with f(t) = H·(θ − t) of each side,

which is exact, and changes its sign only when the surveys are exchanged. Each f is a product like any row's, and is split
like one. (Derived here: f₁ sums to 0 at t₁, f₂ at t₂.)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from warmstead.building.comparison.causes import Cause, Player
from warmstead.building.comparison.fabric import Fabric
from warmstead.building.comparison.matching import Matched
from warmstead.building.comparison.pieces import Chosen, Piece, split
from warmstead.building.comparison.reading import PartPair, Reading, differs
from warmstead.survey.house import Outside, UnheatedSpaceDescription

MOST_SHARES = 20_000
"""Shares of one space's temperature, rooms times rows; with more it is kept as one cause."""
LEAST_K = 1e-6
"""A temperature that differs by less than this is not traced back."""


class _Moved(NamedTuple):
    """What one factor did to a space's temperature."""

    room: str
    player: Player
    kelvin: float
    pair: PartPair | None


class _Own(NamedTuple):
    """A space's own sides and air in one survey, added up."""

    fabric_w_k: float
    """Towards outside, the surcharge left out."""
    outside_m2: float
    air_m3_h: float
    other_w_k: float
    other_w: float
    """Coefficient times temperature of what is not towards outside."""


def passed_on(
    pieces: list[Piece], surveys: tuple[Reading, Reading], matched: Matched, fabric: Fabric
) -> list[Piece]:
    """Return the pieces with those of spaces' temperatures laid to what moved these."""
    groups: dict[tuple[str, str], list[Piece]] = {}
    kept: list[Piece] = []
    for piece in pieces:
        if piece.cause == "space_temperature" and piece.pair is not None:
            groups.setdefault(_spaces(piece.pair), []).append(piece)
        else:
            kept.append(piece)
    facing = _facing(matched)
    for spaces, group in groups.items():
        sides = {id(pair): pair for survey in (0, 1) for pair in facing[survey].get(spaces[survey], ())}
        rooms: dict[str, list[float]] = {}
        for piece in group:
            rooms.setdefault(piece.room, []).append(piece.house_w)
        totals = {room: math.fsum(watts) for room, watts in rooms.items()}
        moved = _Space(spaces, surveys, fabric).moved(list(sides.values()), len(totals))
        if moved is None:
            kept.extend(group)
            continue
        whole = math.fsum(part.kelvin for part in moved)
        for part in moved:
            shares = tuple((room, watts * (part.kelvin / whole)) for room, watts in totals.items())
            house_w = math.fsum(watts for _, watts in shares)
            kept.append(
                Piece(
                    part.room,
                    part.player.cause,
                    part.player.subject,
                    house_w,
                    shares,
                    part.pair,
                )
            )
    return kept


def _spaces(pair: PartPair) -> tuple[str, str]:
    assert pair.first is not None, "a temperature differs between two surveys"
    assert pair.second is not None, "a temperature differs between two surveys"
    return pair.first.side.target, pair.second.side.target


def _facing(matched: Matched) -> tuple[dict[str, list[PartPair]], dict[str, list[PartPair]]]:
    """Return the rows that face each space, in either survey."""
    facing: tuple[dict[str, list[PartPair]], dict[str, list[PartPair]]] = ({}, {})
    for pair in matched.pairs:
        for survey, part in enumerate((pair.first, pair.second)):
            if part is not None and part.side.reference == "space":
                facing[survey].setdefault(part.side.target, []).append(pair)
    return facing


class _Space:
    """A space in both surveys."""

    def __init__(self, spaces: tuple[str, str], surveys: tuple[Reading, Reading], fabric: Fabric) -> None:
        self._spaces = spaces
        self._surveys = surveys
        self._fabric = fabric
        houses = [survey.house for survey in surveys]
        self._temperatures = [h.space_temperatures_c[s] for h, s in zip(houses, spaces, strict=True)]
        self._sums = [
            math.fsum(side.coefficient_w_k for side in h.space_couplings[s])
            for h, s in zip(houses, spaces, strict=True)
        ]
        self._documents = [_document(survey, name) for survey, name in zip(surveys, spaces, strict=True)]

    def moved(self, rows: list[PartPair], rooms: int) -> list[_Moved] | None:
        """Return what each factor did to the temperature; None where that is not traced back."""
        difference = self._temperatures[1] - self._temperatures[0]
        if abs(difference) < LEAST_K or len(rows) * rooms > MOST_SHARES:
            return None
        parts = [part for pair in rows for part in self._by_row(pair)]
        parts.extend(
            _Moved("", player, kelvin, None)
            for player, kelvin in self._weighed(self._own_players(), self._own).items()
        )
        return parts

    def _weighed(
        self, players: set[Player], worth_at: Callable[[float], Callable[[Chosen], Callable[[int], float]]]
    ) -> dict[Player, float]:
        """Return what the factors of one side did to the temperature, in K."""
        first_c, second_c = self._temperatures
        at_first = split(players, worth_at(first_c))
        at_second = split(players, worth_at(second_c))
        return {
            player: 0.5 * at_first[player] / self._sums[1] + 0.5 * at_second[player] / self._sums[0]
            for player in at_first
        }

    def _by_row(self, pair: PartPair) -> Iterator[_Moved]:
        """Yield what a row that faces the space did."""
        faces = [
            part is not None and part.side.reference == "space" and part.side.target == space
            for part, space in zip((pair.first, pair.second), self._spaces, strict=True)
        ]
        if all(faces):
            row = self._fabric.row(pair)
            players = {p for p in row.players if p.cause != "space_temperature"}
            shares = self._weighed(
                players, lambda space_c: lambda chosen: row.worth(chosen, reference_c=space_c)
            )
        else:
            cause: Cause = "only_in_one" if pair.first is None or pair.second is None else "other_side"
            player = Player(cause)
            survey = 1 if faces[1] else 0
            part = pair.second if survey else pair.first
            assert part is not None, "it faces the space in that survey"
            coefficient = self._surveys[survey].coefficient_w_k(part)
            room_c = self._surveys[survey].rooms[part.room].temperature_c
            sign = 1.0 if survey else -1.0

            def alone(space_c: float) -> Callable[[Chosen], Callable[[int], float]]:
                return lambda chosen: (
                    lambda members: sign * coefficient * (room_c - space_c) if members else 0.0
                )

            shares = self._weighed({player}, alone)
        for player, kelvin in shares.items():
            yield _Moved(pair.room, player, kelvin, pair)

    # --- The space's own sides and air -------------------------------------------------------------

    def _own_players(self) -> set[Player]:
        own = [self._added_up(survey) for survey in (0, 1)]
        players: set[Player] = set()
        if any(differs(one, other) for one, other in zip(*own, strict=True)):
            players.add(self._description())
        first, second = self._surveys
        if first.external_c != second.external_c:
            players.add(_OUTSIDE)
        if first.surcharge_w_m2k != second.surcharge_w_m2k:
            players.add(_BRIDGES)
        if first.air_heat_capacity_wh_m3k != second.air_heat_capacity_wh_m3k:
            players.add(_CAPACITY)
        return players

    def _description(self) -> Player:
        """Return the cause of what the space itself differs by: the ground's, where it is described alike."""
        conditions = [survey.house.house.conditions for survey in self._surveys]
        if self._documents[0] == self._documents[1]:
            if len({(c.ground_rule, c.ground_water) for c in conditions}) > 1:
                return Player("ground_rule")
            if len({c.annual_mean_external_temperature_c for c in conditions}) > 1:
                return Player("annual_mean_temperature")
        return Player("space_temperature", self._spaces[0])

    def _own(self, space_c: float) -> Callable[[Chosen], Callable[[int], float]]:
        """Return Σ H·(θ − t) over the space's own sides and air, for any mixture of the surveys."""
        own = [self._added_up(survey) for survey in (0, 1)]
        surveys, description = self._surveys, self._description()

        def of(chosen: Chosen) -> Callable[[int], float]:
            own_bit, outside_bit = chosen(description), chosen(_OUTSIDE)
            bridge_bit, capacity_bit = chosen(_BRIDGES), chosen(_CAPACITY)

            def heat_w(members: int) -> float:
                of_space = own[bool(members & own_bit)]
                outside_w_k = (
                    of_space.fabric_w_k
                    + surveys[bool(members & bridge_bit)].surcharge_w_m2k * of_space.outside_m2
                    + surveys[bool(members & capacity_bit)].air_heat_capacity_wh_m3k * of_space.air_m3_h
                )
                external_c = surveys[bool(members & outside_bit)].external_c
                return outside_w_k * (external_c - space_c) + of_space.other_w - of_space.other_w_k * space_c

            return heat_w

        return of

    def _added_up(self, survey: int) -> _Own:
        """Return a space's own sides and air in one survey."""
        reading, document = self._surveys[survey], self._documents[survey]
        rows = sum(
            part.side.reference == "space" and part.side.target == self._spaces[survey]
            for parts in reading.parts.values()
            for part in parts.values()
        )
        *sides, air = reading.house.space_couplings[self._spaces[survey]][rows:]
        outside_m2 = math.fsum(
            element.area_m2 or (element.length_m or 0.0) * (element.height_m or 0.0)
            for element in document.elements
            if isinstance(element.boundary, Outside)
        )
        towards_outside = [side for side in sides if side.temperature_c == reading.external_c]
        other = [side for side in sides if side.temperature_c != reading.external_c]
        return _Own(
            math.fsum(side.coefficient_w_k for side in towards_outside)
            - reading.surcharge_w_m2k * outside_m2,
            outside_m2,
            air.coefficient_w_k / reading.air_heat_capacity_wh_m3k,
            math.fsum(side.coefficient_w_k for side in other),
            math.fsum(side.coefficient_w_k * side.temperature_c for side in other),
        )


_OUTSIDE = Player("outside_temperature")
_BRIDGES = Player("thermal_bridges")
_CAPACITY = Player("air_heat_capacity")


def _document(survey: Reading, name: str) -> UnheatedSpaceDescription:
    return next(space for space in survey.house.house.unheated_spaces or () if space.id == name)
