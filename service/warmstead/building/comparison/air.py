"""Ventilation and reheat: what each cause is worth in each room, and in the house where that is not the sum of its rooms."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

from warmstead.building.comparison.causes import Player
from warmstead.building.comparison.matching import Matched, RoomPair
from warmstead.building.comparison.pieces import Chosen, Piece, of_room, split
from warmstead.building.comparison.reading import Air, Reading, air_loss_w, differs
from warmstead.building.rooms import ResolvedRoom
from warmstead.standards.en_12831 import M3_H_PER_L_S

_VOLUME = Player("volume")
_FLOOR = Player("floor_area")
_OUTSIDE = Player("outside_temperature")
_AIR_CHANGES = Player("air_changes")
_AIRTIGHTNESS = Player("airtightness")
_MECHANICAL = Player("mechanical_air")
_RECOVERY = Player("heat_recovery")
_FLUES = Player("flues")
_METHOD = Player("ventilation_method")
_CAPACITY = Player("air_heat_capacity")
_REHEAT = Player("reheat")
_ONLY_IN_ONE = Player("only_in_one")
_ROOMS = Player("room_temperature")
"""The temperatures of all rooms together, for what the house has beyond its rooms."""


class _RoomAir(NamedTuple):
    """The air of a room in both surveys."""

    rooms: tuple[ResolvedRoom, ResolvedRoom]
    airs: tuple[Air, Air]
    infiltration_per_h: tuple[float, float]
    """As either survey has it; the other's where one does not go by airtightness."""


def pieces(first: Reading, second: Reading, matched: Matched) -> Iterator[Piece]:
    """Yield what each cause is worth in the air and the reheat of each room, and beyond the rooms."""
    surveys = (first, second)
    for pair in matched.rooms:
        if pair.first is None or pair.second is None:
            yield from _in_one(pair)
        else:
            yield from of_room(pair.name, _air(surveys, pair.name, pair.both))
            yield from of_room(pair.name, _reheat(surveys, pair.both))
    yield from _beyond_rooms(surveys, matched)


def _in_one(pair: RoomPair) -> Iterator[Piece]:
    """Yield the air and reheat of a room that only one survey has."""
    sign = 1.0 if pair.first is None else -1.0
    room = pair.any
    for watts in (room.ventilation_w, room.reheat_w):
        if watts:
            yield Piece(pair.name, "only_in_one", "", sign * watts, ((pair.name, sign * watts),), None)


def _read(surveys: tuple[Reading, Reading], rooms: tuple[ResolvedRoom, ResolvedRoom]) -> _RoomAir:
    airs = (surveys[0].air(rooms[0]), surveys[1].air(rooms[1]))
    known = [air.infiltration_per_h for air in airs]
    given = next((value for value in known if value is not None), 0.0)
    first, second = (given if value is None else value for value in known)
    return _RoomAir(rooms, airs, (first, second if differs(first, second) else first))


def _factors(surveys: tuple[Reading, Reading], air: _RoomAir) -> Iterator[Player]:
    """Yield the factors of a room's air that differ, its temperature left out."""
    one, other = air.airs
    if differs(air.rooms[0].volume_m3, air.rooms[1].volume_m3):
        yield _VOLUME
    if one.air_changes != other.air_changes:
        yield _AIR_CHANGES
    if air.infiltration_per_h[0] != air.infiltration_per_h[1]:
        yield _AIRTIGHTNESS
    if differs(one.supply_l_s, other.supply_l_s) or differs(one.drawn_in_l_s, other.drawn_in_l_s):
        yield _MECHANICAL
    if one.recovery != other.recovery:
        yield _RECOVERY
    if one.flue_l_s != other.flue_l_s:
        yield _FLUES
    if surveys[0].method != surveys[1].method:
        yield _METHOD
    if surveys[0].air_heat_capacity_wh_m3k != surveys[1].air_heat_capacity_wh_m3k:
        yield _CAPACITY
    if surveys[0].external_c != surveys[1].external_c:
        yield _OUTSIDE


def _air(
    surveys: tuple[Reading, Reading], name: str, rooms: tuple[ResolvedRoom, ResolvedRoom]
) -> dict[Player, float]:
    """Split a room's ventilation loss."""
    air = _read(surveys, rooms)
    players = set(_factors(surveys, air))
    own = Player("room_temperature", name)
    if rooms[0].temperature_c != rooms[1].temperature_c:
        players.add(own)

    def worth_of(chosen: Chosen) -> Callable[[int], float]:
        own_bit, external_bit = chosen(own), chosen(_OUTSIDE)
        method_bit, capacity_bit = chosen(_METHOD), chosen(_CAPACITY)
        volume_bit, tightness_bit = chosen(_VOLUME), chosen(_AIRTIGHTNESS)
        mixed = _mixer(air.airs, chosen)

        def loss_w(members: int) -> float:
            return air_loss_w(
                surveys[bool(members & method_bit)].method,
                mixed(members),
                air.infiltration_per_h[bool(members & tightness_bit)],
                rooms[bool(members & volume_bit)].volume_m3,
                surveys[bool(members & capacity_bit)].air_heat_capacity_wh_m3k,
                rooms[bool(members & own_bit)].temperature_c
                - surveys[bool(members & external_bit)].external_c,
            )

        return loss_w

    return split(players, worth_of)


def _mixer(airs: tuple[Air, Air], chosen: Chosen) -> Callable[[int], Air]:
    """Return how a room's air is put together from two surveys."""
    changes, mechanical = chosen(_AIR_CHANGES), chosen(_MECHANICAL)
    recovery, flues = chosen(_RECOVERY), chosen(_FLUES)

    def mixed(members: int) -> Air:
        fans = airs[bool(members & mechanical)]
        return Air(
            airs[bool(members & changes)].air_changes,
            None,
            fans.supply_l_s,
            fans.drawn_in_l_s,
            airs[bool(members & recovery)].recovery,
            airs[bool(members & flues)].flue_l_s,
        )

    return mixed


def _reheat(
    surveys: tuple[Reading, Reading], rooms: tuple[ResolvedRoom, ResolvedRoom]
) -> dict[Player, float]:
    """Split a room's reheat."""
    players = set()
    if rooms[0].floor_area_m2 != rooms[1].floor_area_m2 and any(survey.reheat_w_m2 for survey in surveys):
        players.add(_FLOOR)
    if surveys[0].reheat_w_m2 != surveys[1].reheat_w_m2:
        players.add(_REHEAT)

    def worth_of(chosen: Chosen) -> Callable[[int], float]:
        floor_bit, reheat_bit = chosen(_FLOOR), chosen(_REHEAT)
        return lambda members: (
            rooms[bool(members & floor_bit)].floor_area_m2 * surveys[bool(members & reheat_bit)].reheat_w_m2
        )

    return split(players, worth_of)


# --- Beyond the rooms: by airtightness the house needs less air than its rooms together ------------


def _beyond_rooms(surveys: tuple[Reading, Reading], matched: Matched) -> Iterator[Piece]:
    """Yield the shares of what the house's ventilation has beyond the sum of its rooms'.

    Here a factor is one of all rooms together, since the house takes the larger of two sums over rooms.
    """
    if all(survey.method == "air_changes" for survey in surveys):
        return
    airs: list[tuple[_RoomAir, bool, bool]] = []
    players: set[Player] = set()
    for pair in matched.rooms:
        in_first, in_second = pair.first is not None, pair.second is not None
        if in_first and in_second:
            air = _read(surveys, pair.both)
            players.update(_factors(surveys, air))
            if air.rooms[0].temperature_c != air.rooms[1].temperature_c:
                players.add(_ROOMS)
        else:
            own = surveys[1] if in_second else surveys[0]
            air = _read((own, own), (pair.any, pair.any))
            players.add(_ONLY_IN_ONE)
        airs.append((air, in_first, in_second))
    players -= {_RECOVERY, _FLUES}  # which are alike in both sums
    if surveys[0].external_c != surveys[1].external_c:
        players.add(_OUTSIDE)
    if surveys[0].method != surveys[1].method:
        players.add(_METHOD)
    if surveys[0].air_heat_capacity_wh_m3k != surveys[1].air_heat_capacity_wh_m3k:
        players.add(_CAPACITY)
    shares = split(players, lambda chosen: _beyond(surveys, airs, chosen))
    for player, watts in shares.items():
        yield Piece("", player.cause, "", watts, (), None)


def _beyond(
    surveys: tuple[Reading, Reading], airs: list[tuple[_RoomAir, bool, bool]], chosen: Chosen
) -> Callable[[int], float]:
    """Return the house's ventilation loss less that of its rooms, for any mixture of the surveys."""
    method_bit, capacity_bit, external_bit = chosen(_METHOD), chosen(_CAPACITY), chosen(_OUTSIDE)
    volume_bit, tightness_bit, changes_bit = chosen(_VOLUME), chosen(_AIRTIGHTNESS), chosen(_AIR_CHANGES)
    fans_bit, rooms_bit, one_bit = chosen(_MECHANICAL), chosen(_ROOMS), chosen(_ONLY_IN_ONE)

    def beyond_w(members: int) -> float:
        if surveys[bool(members & method_bit)].method == "air_changes":
            return 0.0
        volume, tightness, changes = (bool(members & bit) for bit in (volume_bit, tightness_bit, changes_bit))
        fans, temperature, late = (bool(members & bit) for bit in (fans_bit, rooms_bit, one_bit))
        external_c = surveys[bool(members & external_bit)].external_c
        entering = hygienic = by_room = 0.0
        for air, in_first, in_second in airs:
            if not (in_second if late else in_first):
                continue
            volume_m3 = air.rooms[volume].volume_m3
            difference_k = air.rooms[temperature].temperature_c - external_c
            infiltration = air.infiltration_per_h[tightness] * volume_m3
            mechanical = M3_H_PER_L_S * (air.airs[fans].supply_l_s + air.airs[fans].drawn_in_l_s)
            least = air.airs[changes].air_changes * volume_m3
            entering += (0.5 * infiltration + mechanical) * difference_k
            hygienic += least * difference_k
            by_room += max(infiltration + mechanical, least) * difference_k
        capacity = surveys[bool(members & capacity_bit)].air_heat_capacity_wh_m3k
        return capacity * (max(entering, hygienic) - by_room)

    return beyond_w
