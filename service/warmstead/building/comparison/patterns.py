"""Patterns in which surveys of one house often differ, each with the pieces that it explains.

The list is closed and is common practice: what goes wrong when houses are measured and typed in. A pattern is a likely
reading, recognised by numbers; which of two surveys is right it cannot tell. Every pattern is looked for both ways.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import chain

from warmstead.building.comparison.bundles import (
    Bundle,
    Free,
    Pattern,
    Surveys,
    figures,
    listed,
    number,
    parts_of,
    sizes,
)
from warmstead.building.comparison.causes import Cause
from warmstead.building.comparison.ground_floors import ground_floor_kinds
from warmstead.building.comparison.heights import heights
from warmstead.building.comparison.matching import RoomPair
from warmstead.building.comparison.outer_sizes import outer_sizes
from warmstead.building.comparison.phrases import beyond, elements, side_kind
from warmstead.building.comparison.reading import Part, PartPair
from warmstead.building.comparison.room_rows import FEW, SAME, SAME_SIZE, RoomRows, Rooms, by_room, near
from warmstead.building.comparison.rounding import Rounding, rounded
from warmstead.building.comparison.rows_in_one import merged_elements, missing_openings
from warmstead.building.comparison.units import Slip, changes, odd_size
from warmstead.building.comparison.whole_rooms import merged_rooms, spaces_as_rooms

DIMENSIONS: tuple[Cause, ...] = ("area", "opening_area", "volume", "floor_area")


def found(surveys: Surveys, free: Free) -> Iterator[Bundle]:
    """Yield every pattern that is recognised, taking its pieces."""
    rooms = by_room(surveys)
    rounding = Rounding(surveys)
    for look in (
        merged_rooms,
        spaces_as_rooms,
        _declared_twice,
        ground_floor_kinds,
        _other_sides,
        missing_openings,
        merged_elements,
        _worst_walls,
        _gross_areas,
    ):
        yield from look(surveys, free, rooms)
    if surveys.same_dimensions:
        yield from heights(surveys, free, rooms, rounding)
    yield from _mixed_units(surveys, free, rooms)
    yield from _one_for_all(surveys, free)
    yield from outer_sizes(surveys, free, rooms)
    yield from rounded(surveys, free, rounding)


def _declared_twice(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    for rows in rooms.values():
        for survey in (0, 1):
            for pair in rows.alone(survey):
                twin = _twin(surveys, survey, pair.any)
                pieces = [] if twin is None else free.take(free.of_pair(pair, ["only_in_one"]))
                if twin is not None and pieces:
                    yield Bundle("only_in_one", "declared_twice", pieces, _twice(surveys, survey, pair, twin))


def _twin(surveys: Surveys, survey: int, part: Part) -> Part | None:
    """Return the row that a survey has for the same thing: in the room beside, or in its own under almost its id."""
    parts = surveys.reading(survey).parts
    beside = parts[part.side.target] if part.side.reference == "room" else {}
    for other in (*beside.values(), *parts[part.room].values()):
        if other is part or other.kind != part.kind or not near(other.gross_m2, part.gross_m2, SAME_SIZE):
            continue
        back = other.side.reference == "room" and other.side.target == part.room
        again = other.construction == part.construction and other.side == part.side and _one_id(other, part)
        if back if other.room != part.room else again:
            return other
    return None


def _one_id(one: Part, other: Part) -> bool:
    """Tell whether one id is the other with something put behind it, as where a row was copied."""
    return one.id.startswith(other.id) or other.id.startswith(one.id)


def _twice(surveys: Surveys, survey: int, pair: PartPair, twin: Part) -> str:
    part, label = pair.any, surveys.label(pair.room)
    beside = "" if twin.room == part.room else surveys.label(surveys.matched.names[survey][twin.room])
    if beside:
        what = f"what divides {label} from {beside} twice, as {part.id} and as {twin.id}"
    else:
        what = f"{twin.id} in {label} twice, the second time as {part.id}"
    return f"{surveys.name(survey)} counts {what} ({number(part.gross_m2)} m²); {surveys.name(1 - survey)} counts it once"


_SIDE_PATTERNS: dict[frozenset[str], Pattern] = {
    frozenset({"outside", "room"}): "internal_as_external",
    frozenset({"outside", "neighbour"}): "internal_as_external",
    frozenset({"outside", "unheated_space"}): "unheated_as_outside",
    frozenset({"outside", "ground"}): "ground_as_outside",
}


def _other_sides(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield rows that face something else, those of one room together, or of the house where many rooms have some."""
    groups: dict[tuple[str, str], dict[str, list[PartPair]]] = {}
    for name, rows in rooms.items():
        for pair in rows.both:
            one, other = parts_of(pair)
            if one.side.kind != other.side.kind:
                by_room = groups.setdefault((one.side.kind, other.side.kind), {})
                by_room.setdefault(name, []).append(pair)
    for kinds, by_room in groups.items():
        for names in _few_or_all(by_room):
            pairs = [pair for name in names for pair in by_room[name]]
            # A wall taken for another kind of wall mostly comes with that one's construction: told together.
            numbers = chain.from_iterable(free.of_pair(pair, ["other_side", "u_value"]) for pair in pairs)
            says = (
                f"{surveys.second_name} has {beyond(surveys, 1, pairs)} on the other side of "
                f"{elements(surveys, pairs)}, {surveys.first_name} {beyond(surveys, 0, pairs)}"
            )
            pieces = free.take(numbers)
            if pieces:
                yield Bundle("other_side", _SIDE_PATTERNS.get(frozenset(kinds)), pieces, says)
    for rows in rooms.values():
        yield from _redeclared(surveys, free, rows)


def _few_or_all(by_room: dict[str, list[PartPair]]) -> list[list[str]]:
    """Return the rooms one by one, or all together where they are many."""
    return [list(by_room)] if len(by_room) >= FEW else [[name] for name in by_room]


def _redeclared(surveys: Surveys, free: Free, rows: RoomRows) -> Iterator[Bundle]:
    """Yield rows of one size that stand in one survey each and face different sides."""
    for pair in rows.alone(0):
        alike = [
            other
            for other in rows.alone(1)
            if other.any.kind == pair.any.kind == "element"
            and near(other.any.gross_m2, pair.any.gross_m2, SAME_SIZE)
        ]
        kinds = frozenset((pair.any.side.kind, alike[0].any.side.kind)) if len(alike) == 1 else frozenset()
        pattern = _SIDE_PATTERNS.get(kinds)
        if pattern is None:
            continue
        numbers = free.of_pair(pair, ["only_in_one"]), free.of_pair(alike[0], ["only_in_one"])
        if all(numbers):
            says = (
                f"In {rows.label}, {surveys.first_name} has {pair.id} towards {side_kind(pair.any.side.kind)}, "
                f"{surveys.second_name} {alike[0].id} of the same size towards {side_kind(alike[0].any.side.kind)}"
            )
            yield Bundle("only_in_one", pattern, free.take(chain(*numbers)), says)


def _worst_walls(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield rooms in which one survey gives walls the U-value that the other has for the worst of them."""
    for survey in (0, 1):
        raised = {name: pairs for name, rows in rooms.items() if (pairs := _raised(rows, survey))}
        throughout = _throughout(surveys, rooms, set(raised))
        for name, pairs in raised.items():
            if any(_constructions(pair) in throughout for pair in pairs):
                continue
            pieces = free.take(chain.from_iterable(free.of_pair(pair, ["u_value"]) for pair in pairs))
            better = listed(number(_u(pair, survey)) for pair in pairs)
            says = (
                f"{surveys.name(1 - survey)} gives {listed(pair.id for pair in pairs)} in {rooms[name].label} the "
                f"U-value of the room's worst wall, {number(_u(pairs[0], 1 - survey))} W/(m²·K); "
                f"{surveys.name(survey)} has {better}"
            )
            if pieces:
                yield Bundle("u_value", "worst_wall", pieces, says)


def _raised(rows: RoomRows, survey: int) -> list[PartPair]:
    """Return the walls of a room that the other survey has as bad as a survey's worst; none where that is not so of all."""
    walls = [
        pair
        for pair in rows.both
        if all(part.kind == "element" for part in parts_of(pair))
        and all(part.side.kind in ("outside", "unheated_space", "neighbour") for part in parts_of(pair))
    ]
    raised = [pair for pair in walls if _u(pair, 1 - survey) > _u(pair, survey) * (1.0 + SAME)]
    worst = max((_u(pair, survey) for pair in walls), default=0.0)
    return raised if all(near(_u(pair, 1 - survey), worst, SAME) for pair in raised) else []


def _throughout(surveys: Surveys, rooms: Rooms, raised: set[str]) -> set[tuple[str, str]]:
    """Return exchanges of one construction for another that go through the house, rooms of a single wall included."""
    found = {(one, other) for one, other in surveys.exchanged if one == other}
    for name, rows in rooms.items():
        if name not in raised:
            found.update(_constructions(pair) for pair in rows.both)
    return found & surveys.exchanged


def _constructions(pair: PartPair) -> tuple[str, str]:
    one, other = parts_of(pair)
    return one.construction, other.construction


def _u(pair: PartPair, survey: int) -> float:
    return parts_of(pair)[survey].u_value_w_m2k


def _gross_areas(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield walls of which one survey has not taken off the openings."""
    for survey in (0, 1):
        by_room: dict[str, list[PartPair]] = {}
        for name, rows in rooms.items():
            for pair in rows.both:
                if _is_gross(parts_of(pair)[survey], parts_of(pair)[1 - survey]):
                    by_room.setdefault(name, []).append(pair)
        for names in _few_or_all(by_room):
            pairs = [pair for name in names for pair in by_room[name]]
            numbers = chain.from_iterable(free.of_pair(pair, ["area", "opening_area"]) for pair in pairs)
            pieces = free.take(numbers)
            says = (
                f"{surveys.name(1 - survey)} counts {elements(surveys, pairs)} gross, with the windows and doors still "
                f"in; {surveys.name(survey)} takes them off"
            )
            if pieces:
                yield Bundle("area", "gross_area", pieces, says)


def _is_gross(careful: Part, other: Part) -> bool:
    """Tell whether another survey's net area is the gross one of a survey that takes openings off."""
    openings = careful.gross_m2 - careful.net_m2
    counted = other.net_m2 - careful.net_m2
    return openings > 0.0 and abs(counted - openings) <= SAME_SIZE * openings


def _mixed_units(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    for name, rows in rooms.items():
        first, second = rows.room.both
        numbers: list[int] = []
        what: list[str] = []
        for pair in rows.both:
            odd = odd_size(sizes(pair))
            mine = [] if odd is None else _with_the_wall(free, pair, parts_of(pair)[0])
            if odd is not None and mine:
                numbers += mine
                what.append(_odd(f"of {pair.id} ", *odd))
        cause: Cause = "area" if numbers else "volume"
        odd = odd_size(changes(first.room, second.room))
        mine = [] if odd is None else free.of_room(name, ("volume", "floor_area"))
        if odd is not None and mine:
            numbers += mine
            what.append(_odd("", *odd))
        if numbers:
            says = f"In {rows.label}, {surveys.second_name} has against {surveys.first_name} {listed(what)}"
            yield Bundle(cause, "mixed_units", free.take(numbers), says)


def _odd(of: str, member: str, before: float, after: float, found: Slip) -> str:
    """Return a size that looks like a slip, with both values."""
    name, _, unit = member.rpartition("_")
    unit = {"m": "m", "m2": "m²", "m3": "m³"}[unit]
    one, other = figures(before, after)
    return f"the {name.replace('_', ' ')} {of}{other} {unit} for {one} {unit} ({found.guess}?)"


def _with_the_wall(free: Free, pair: PartPair, one: Part) -> list[int]:
    """Return a row's pieces by its size, with those of the wall off which an opening is taken."""
    numbers = free.of_pair(pair, ["area", "opening_area"])
    wall = free.pair_of(0, one.room, one.opening_of) if one.kind == "opening" else None
    return numbers if wall is None else numbers + free.of_pair(wall, ["opening_area"])


def _one_for_all(surveys: Surveys, free: Free) -> Iterator[Bundle]:
    """Yield one air-change rate, or one temperature, in every room of a survey whose other tells rooms apart."""
    both = surveys.both
    kinds: tuple[tuple[Cause, Pattern, str, Callable[[int, RoomPair], float]], ...] = (
        ("air_changes", "one_air_change_rate", "air changes an hour", _air_changes(surveys)),
        ("room_temperature", "one_room_temperature", "°C", _temperature),
    )
    for cause, pattern, unit, value in kinds:
        for survey in (0, 1):
            uniform = {value(1 - survey, pair) for pair in both}
            varied = {value(survey, pair) for pair in both}
            if len(both) < FEW or len(uniform) > 1 or len(varied) < 2:
                continue
            pieces = free.take(free.of_causes([cause]))
            low, high = figures(min(varied), max(varied))
            says = (
                f"{surveys.name(1 - survey)} has {number(uniform.pop())} {unit} in every room; "
                f"{surveys.name(survey)} has {low} to {high} by room"
            )
            if pieces:
                yield Bundle(cause, pattern, pieces, says)


def _air_changes(surveys: Surveys) -> Callable[[int, RoomPair], float]:
    def of(survey: int, pair: RoomPair) -> float:
        return surveys.reading(survey).house.ventilation.air_changes[pair.both[survey].id]

    return of


def _temperature(survey: int, pair: RoomPair) -> float:
    return pair.both[survey].temperature_c
