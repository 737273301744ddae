"""Air that differs and fits no pattern, in sentences."""

from __future__ import annotations

import math
from typing import NamedTuple

from warmstead.building.comparison.bundles import Surveys, figures, listed, number
from warmstead.building.comparison.phrases import Told, default, two
from warmstead.building.comparison.pieces import Piece
from warmstead.building.comparison.units import FLOWS, slip
from warmstead.survey.house import ByAirtightness, RoomVentilation

_FLUES = {
    "open_chimney": "an open chimney",
    "open_flue": "an open flue",
    "closed_stove": "a closed stove",
    "room_sealed": "a room-sealed flue",
}


def is_default_air(surveys: Surveys, room: str) -> bool:
    """Tell whether just one of the surveys leaves the air changes of a room to the default."""
    given = _air_given(surveys, room)
    return given[0] != given[1]


def _air_given(surveys: Surveys, room: str) -> tuple[bool, bool]:
    if room in surveys.alone:
        return True, True
    airs = [one.room.ventilation for one in surveys.rooms[room].both]
    one, other = (air is not None and air.air_changes is not None for air in airs)
    return one, other


def air_changes(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say how the air changes of a room differ, or that one survey leaves those of many to the defaults."""
    room = pieces[0].room
    names = list(dict.fromkeys(piece.room for piece in pieces))
    given = _air_given(surveys, room)
    if len(names) > 1:
        whose, other = (surveys.first_name, surveys.second_name)[:: 1 if given[1] else -1]
        where = listed((surveys.label(name) for name in names), 4)
        return "default_taken", (
            f"{whose} does not say the air changes of {where}, so that defaults by the rooms' use count; {other} "
            "gives them"
        )
    pair = surveys.rooms[room].both
    one, other = figures(
        surveys.first.house.ventilation.air_changes[pair[0].id],
        surveys.second.house.ventilation.air_changes[pair[1].id],
    )
    return default(
        given, surveys, two(surveys, "", one, other, "air changes an hour", f" in {surveys.label(room)}")
    )


def airtightness(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say how the airtightness differs."""
    given = [survey.house.house.ventilation for survey in (surveys.first, surveys.second)]
    rates = [one.air_changes_at_50pa for one in given if isinstance(one, ByAirtightness)]
    if len(rates) == 2 and rates[0] is not None and rates[1] is not None and rates[0] != rates[1]:
        one, other = figures(rates[0], rates[1])
        return None, two(surveys, "an airtightness of ", one, other, "air changes an hour at 50 Pa")
    return None, f"{surveys.second_name} and {surveys.first_name} differ in airtightness, shelter or height"


def capacity(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say how the heat capacity of air differs."""
    one, other = figures(surveys.first.air_heat_capacity_wh_m3k, surveys.second.air_heat_capacity_wh_m3k)
    return None, two(surveys, "a heat capacity of air of ", one, other, "Wh/(m³·K)")


def reheat(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say how the extra capacity to warm up again differs."""
    one, other = figures(surveys.first.reheat_w_m2, surveys.second.reheat_w_m2)
    given = [survey.house.house.reheat_w_m2 is not None for survey in (surveys.first, surveys.second)]
    says = two(surveys, "an extra capacity to warm up again of ", one, other, "W/m²")
    return default((given[0], given[1]), surveys, says)


def method(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say by which methods the surveys work out ventilation."""
    one, other = (survey.method.replace("_", " ") for survey in (surveys.first, surveys.second))
    return None, f"{surveys.second_name} works out ventilation by {other}, {surveys.first_name} by {one}"


def beyond_rooms(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say that the house needs less air than its rooms together."""
    return None, (
        f"by airtightness the house needs less air than its rooms together, and {surveys.second_name} and "
        f"{surveys.first_name} differ in how much ({key[1].replace('_', ' ')})"
    )


# --- Chimneys and flues --------------------------------------------------------------------------------


def flues(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say how the chimneys and flues of a room differ."""
    one, other = (_flues(surveys, survey, key[1]) for survey in (0, 1))
    where = f" in {surveys.label(key[1])}"
    return None, f"{surveys.second_name} has {other}{where}, {surveys.first_name} {one}"


def _flues(surveys: Surveys, survey: int, name: str) -> str:
    """Return the flues of a room in one survey, with the air that they draw."""
    room = surveys.rooms[name].both[survey]
    kinds = [_FLUES[flue.kind] for flue in room.room.flues or ()]
    if not kinds:
        return "no chimney or flue"
    told = listed(kind if kinds.count(kind) == 1 else f"{kinds.count(kind)} × {kind}" for kind in kinds)
    drawn = surveys.reading(survey).house.ventilation.flue_l_s[room.id]
    return f"{told} drawing {drawn:.3g} l/s{' together' if len(kinds) > 1 else ''}"


# --- Fans ----------------------------------------------------------------------------------------------


class _Fans(NamedTuple):
    """Mechanical air of a room."""

    supply_l_s: float
    extract_l_s: float
    recovery: float


def fans_key(surveys: Surveys, room: str) -> tuple[str, ...]:
    """Return with what the mechanical air of a room is told: all rooms in which one survey has none, or no recovery."""
    if room not in surveys.rooms or room in surveys.alone:
        return ("fans", "", room)
    both = _fans(surveys, room)
    for survey, other in ((0, 1), (1, 0)):
        if not any(both[survey][:2]) and any(both[other][:2]):
            return ("fans", "none", str(survey))
        if not both[survey].recovery and both[other].recovery and both[0][:2] == both[1][:2]:
            return ("fans", "no_recovery", str(survey))
    return ("fans", "elsewhere" if both[0] == both[1] else "", room)


def _fans(surveys: Surveys, name: str) -> tuple[_Fans, _Fans]:
    first, second = (room.room.ventilation or RoomVentilation() for room in surveys.rooms[name].both)
    return _of(first), _of(second)


def _of(air: RoomVentilation) -> _Fans:
    supply = air.supply_l_s or 0.0
    return _Fans(supply, air.extract_l_s or 0.0, (air.heat_recovery_efficiency or 0.0) if supply else 0.0)


def fans(surveys: Surveys, pieces: list[Piece], key: tuple[str, ...]) -> Told:
    """Say how mechanical air and its heat recovery differ."""
    names = list(dict.fromkeys(piece.room for piece in pieces))
    where = listed((surveys.label(name) for name in names if name), 4)
    if key[1] in ("none", "no_recovery"):
        lacks = int(key[2])
        have = [_fans(surveys, name)[1 - lacks] for name in names]
        if key[1] == "none":
            return None, (
                f"{surveys.name(lacks)} has no mechanical air in {where}, {surveys.name(1 - lacks)} {_told(have)}"
            )
        flow = _told([one._replace(extract_l_s=0.0, recovery=0.0) for one in have], recovery=False)
        return None, (
            f"{surveys.name(lacks)} has no heat recovery in {where}, {surveys.name(1 - lacks)} {_shares(have)} on {flow}"
        )
    if key[1] == "elsewhere":
        return None, (
            f"{surveys.second_name} and {surveys.first_name} have other fans elsewhere, which draw different air into {where}"
        )
    one, other = _fans(surveys, names[0])
    found = slip(one.supply_l_s, other.supply_l_s, FLOWS) or slip(one.extract_l_s, other.extract_l_s, FLOWS)
    hint = "" if found is None else f" ({found.guess}?)"
    if one[:2] == other[:2]:
        says = two(surveys, "a heat recovery of ", _shares([one]), _shares([other]), where=f" in {where}")
    else:
        says = two(surveys, "", _told([one]), _told([other]), where=f" in {where}")
    says += hint
    return (None if found is None else "mixed_units"), says


def _told(rooms: list[_Fans], *, recovery: bool = True) -> str:
    """Return mechanical air in words, that of several rooms added up."""
    together = " together" if len(rooms) > 1 else ""
    told = [
        f"{number(flow)} l/s {what}{together}"
        for flow, what in (
            (math.fsum(room.supply_l_s for room in rooms), "of supply"),
            (math.fsum(room.extract_l_s for room in rooms), "of extract"),
        )
        if flow
    ]
    if recovery and any(room.recovery for room in rooms):
        told.append(f"a heat recovery of {_shares(rooms)}")
    return listed(told) or "none"


def _shares(rooms: list[_Fans]) -> str:
    """Return the heat recovery of rooms with a supply."""
    return f"{listed(number(100.0 * room.recovery) for room in rooms if room.supply_l_s)} %"
