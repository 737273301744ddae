"""Elements, openings and junctions: what each cause is worth in each row."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from warmstead.building.comparison.causes import Cause, Player
from warmstead.building.comparison.matching import Matched
from warmstead.building.comparison.pieces import Chosen, Piece, split
from warmstead.building.comparison.reading import Part, PartPair, Reading, Side, differs, is_bridged

_REFERENCES: dict[str, Cause] = {
    "outside": "outside_temperature",
    "annual_mean": "annual_mean_temperature",
    "room": "room_temperature",
    "space": "space_temperature",
    "given": "other_side_temperature",
}
"""The cause by which the temperature of another side differs."""


class Openings(NamedTuple):
    """What openings take off an element's area, m²."""

    in_both: float
    in_one: float
    """Of openings that the other survey does not have at all."""


class Fabric:
    """Splits the difference of every row between two surveys."""

    def __init__(self, first: Reading, second: Reading, matched: Matched) -> None:
        self._surveys = (first, second)
        self._matched = matched
        self._temperatures = {
            pair.name: tuple(room.temperature_c for room in (pair.first, pair.second) if room is not None)
            for pair in matched.rooms
        }
        self._alone: set[tuple[str, str, int]] = set()
        for pair in matched.pairs:
            if (pair.first is None) != (pair.second is None):
                self._alone.add((pair.room, pair.id, 0 if pair.second is None else 1))
        self._alike: dict[tuple[str, str], bool] = {}

    def pieces(self) -> Iterator[Piece]:
        """Yield what each cause is worth in each row."""
        for pair in self._matched.pairs:
            if pair.first is None or pair.second is None:
                yield from self._in_one(pair)
            else:
                yield from self._in_both(pair)

    def _in_one(self, pair: PartPair) -> Iterator[Piece]:
        """Yield a row that only one survey has: it counts whole."""
        part, survey = pair.any, 0 if pair.second is None else 1
        watts = part.heat_loss_w if survey == 1 else 0.0 - part.heat_loss_w
        beside = self._room_beside(part.side, survey)
        if beside is None:
            yield Piece(pair.room, "only_in_one", "", watts, ((pair.room, watts),), pair)
        else:
            yield Piece(pair.room, "only_in_one", "", 0.0, ((pair.room, watts), (beside, 0.0 - watts)), pair)

    def _in_both(self, pair: PartPair) -> Iterator[Piece]:
        row = self.row(pair)
        if not row.players:
            return
        own = split(row.players, row.worth)
        beside = [self._room_beside(part.side, survey) for survey, part in enumerate(row.parts)]
        if row.same_side:
            room = beside[0]
            for player, watts in own.items():
                rooms = [(pair.room, watts)] if room is None else [(pair.room, watts), (room, 0.0 - watts)]
                house_w = watts if room is None else 0.0
                yield Piece(pair.room, player.cause, player.subject, house_w, tuple(rooms), pair)
            return
        # What faces a room in one survey only: that room's view of the row is a game of its own.
        mirrored = [
            (room, split(row.players, row.mirrored(survey)))
            for survey, room in enumerate(beside)
            if room is not None
        ]
        for player, watts in own.items():
            rooms = [(pair.room, watts), *((room, shares[player]) for room, shares in mirrored)]
            house_w = math.fsum(part for _, part in rooms)
            yield Piece(pair.room, player.cause, player.subject, house_w, tuple(rooms), pair)

    def row(self, pair: PartPair) -> Row:
        """Return a row that both surveys have."""
        assert pair.first is not None, "asked of rows in both surveys only"
        assert pair.second is not None, "asked of rows in both surveys only"
        return Row(self, pair, pair.first, pair.second)

    def _room_beside(self, side: Side, survey: int) -> str | None:
        return self._matched.names[survey][side.target] if side.reference == "room" else None

    def temperatures(self, room: str) -> tuple[float, float]:
        """Return a room's temperature in both surveys; that of the one it is in, where it is in one only."""
        known = self._temperatures[room]
        return known[0], known[-1]

    def external_c(self) -> tuple[float, float]:
        """Return the outside temperature in both surveys."""
        return self._surveys[0].external_c, self._surveys[1].external_c

    def surcharges(self) -> tuple[float, float]:
        """Return the surcharge for thermal bridges in both surveys."""
        return self._surveys[0].surcharge_w_m2k, self._surveys[1].surcharge_w_m2k

    def openings(self, pair: PartPair, survey: int, part: Part) -> Openings:
        """Return what openings take off an element in one survey."""
        in_both = in_one = 0.0
        for name, area in part.openings:
            if (pair.room, name, survey) in self._alone:
                in_one += area
            else:
                in_both += area
        return Openings(in_both, in_one)

    def same_side(self, one: Side, other: Side) -> bool:
        """Tell whether two rows face the same side, whatever its temperature."""
        if (one.kind, one.reference) != (other.kind, other.reference):
            return False
        # An unheated space is known by the row that faces it: its name may differ between surveys.
        return one.reference != "room" or self._room_beside(one, 0) == self._room_beside(other, 1)

    def same_construction(self, one: Part, other: Part) -> bool:
        """Tell whether two rows are of the same construction, described alike."""
        key = (one.construction, other.construction)
        alike = self._alike.get(key)
        if alike is None:
            described = [survey.construction(name) for survey, name in zip(self._surveys, key, strict=True)]
            alike = self._alike[key] = described[0] is not None and described[0] == described[1]
        return alike


class Row:
    """One row that both surveys have: the factors that differ, and its worth for any mixture of them."""

    def __init__(self, fabric: Fabric, pair: PartPair, one: Part, other: Part) -> None:
        self.parts = (one, other)
        self.kind = one.kind if one.kind == other.kind else "element"
        self.sides = (one.side, other.side)
        self.same_side = fabric.same_side(one.side, other.side)
        self.openings = (fabric.openings(pair, 0, one), fabric.openings(pair, 1, other))
        self.room_c = fabric.temperatures(pair.room)
        self.external_c = fabric.external_c()
        self.surcharges = fabric.surcharges()
        self.own = Player("room_temperature", pair.room)
        # The same layers have another surface where they face another side: that is the side's doing.
        follows = not self.same_side and fabric.same_construction(one, other)
        self.side, self.weight = self._of_side()
        self.u_value = self.side if follows else Player("u_value")
        self.reference = Player(
            _REFERENCES[one.side.reference],
            {"room": fabric._room_beside(one.side, 0) or "", "space": one.side.target}.get(
                one.side.reference, ""
            ),
        )
        self.area = Player("opening_area" if "opening" in (one.kind, other.kind) else "area")
        self.players = set(self._players())

    def _of_side(self) -> tuple[Player, Player]:
        """Return the factors of what is on the other side, and of how its temperature is weighed."""
        on_ground = all(side.kind == "ground" for side in self.sides)
        reduced = all(side.kind == "unheated_space" for side in self.sides)
        side = Player("ground_rule" if on_ground else "other_side")
        return side, Player("ground_rule" if on_ground else "reduction_factor" if reduced else "other_side")

    def _players(self) -> Iterator[Player]:
        one, other = self.parts
        if differs(one.gross_m2, other.gross_m2):
            yield self.area
        if differs(self.openings[0].in_both, self.openings[1].in_both):
            yield Player("opening_area")
        if differs(self.openings[0].in_one, self.openings[1].in_one):
            yield Player("only_in_one")
        if differs(one.u_value_w_m2k, other.u_value_w_m2k):
            yield self.u_value
        if differs(one.junction_w_k, other.junction_w_k) or (
            self.surcharges[0] != self.surcharges[1] and self._bridged()
        ):
            yield Player("thermal_bridges")
        if self.room_c[0] != self.room_c[1]:
            yield self.own
        if self.external_c[0] != self.external_c[1] and any(s.reference == "outside" for s in self.sides):
            yield Player("outside_temperature")
        if not self.same_side:
            yield self.side
            return
        if differs(one.side.weight, other.side.weight):
            yield self.weight
        if one.side.reference != "outside" and differs(one.side.reference_c, other.side.reference_c):
            yield self.reference

    def _bridged(self) -> bool:
        return any(is_bridged(self.kind, side) for side in self.sides)

    def worth(
        self, chosen: Chosen, only: int | None = None, reference_c: float | None = None
    ) -> Callable[[int], float]:
        """Return the row's heat loss for any mixture of the surveys.

        Args:
            chosen: gives the bit of a factor.
            only: 0 or 1 for what the room beside gets, where only that survey has the row face it.
            reference_c: a temperature of the other side to go by, whatever the surveys say.
        """
        one, other = self.parts
        gross = (one.gross_m2, other.gross_m2)
        u_values = (one.u_value_w_m2k, other.u_value_w_m2k)
        junctions = (one.junction_w_k, other.junction_w_k)
        openings, sides, room_c, external_c = self.openings, self.sides, self.room_c, self.external_c
        bridged = tuple(is_bridged(self.kind, side) for side in sides)
        surcharges = self.surcharges
        area_bit, taken_bit, one_bit = chosen(self.area), chosen(_OPENING_AREA), chosen(_ONLY_IN_ONE)
        u_bit, bridge_bit, own_bit = chosen(self.u_value), chosen(_BRIDGES), chosen(self.own)
        external_bit = chosen(_OUTSIDE)
        side_bit = 0 if self.same_side else chosen(self.side)
        weight_bit = chosen(self.weight) if self.same_side else 0
        reference_bit = chosen(self.reference) if self.same_side else 0

        def heat_loss_w(members: int) -> float:
            at = 1 if members & side_bit else 0
            if only is not None and at != only:
                return 0.0
            side = sides[at]
            area = (
                gross[1 if members & area_bit else 0]
                - openings[1 if members & taken_bit else 0].in_both
                - openings[1 if members & one_bit else 0].in_one
            )
            bridges = 1 if members & bridge_bit else 0
            coefficient = area * u_values[1 if members & u_bit else 0] + junctions[bridges]
            if bridged[at]:
                coefficient += surcharges[bridges] * area
            if reference_c is not None:
                beyond_c = reference_c
            elif side.reference == "outside":
                beyond_c = external_c[1 if members & external_bit else 0]
            else:
                beyond_c = sides[1].reference_c if members & reference_bit else side.reference_c
            weight = sides[1].weight if members & weight_bit else side.weight
            return coefficient * weight * (room_c[1 if members & own_bit else 0] - beyond_c)

        return heat_loss_w

    def mirrored(self, survey: int) -> Callable[[Chosen], Callable[[int], float]]:
        """Return what the room gets that the row faces in one survey only."""

        def of(chosen: Chosen) -> Callable[[int], float]:
            worth = self.worth(chosen, survey)
            return lambda members: 0.0 - worth(members)

        return of


_OPENING_AREA = Player("opening_area")
_ONLY_IN_ONE = Player("only_in_one")
_BRIDGES = Player("thermal_bridges")
_OUTSIDE = Player("outside_temperature")
