"""Patterns of rows that only one survey has: openings that are wall in the other, walls that another wall has swallowed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from warmstead.building.comparison.bundles import Bundle, Free, Pattern, Surveys, listed, number, parts_of
from warmstead.building.comparison.reading import PartPair
from warmstead.building.comparison.room_rows import SAME, SAME_SIZE, RoomRows, Rooms, near


def missing_openings(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield openings that one survey has not, with the wall that takes their place."""
    for rows in rooms.values():
        walls: dict[int, tuple[PartPair, tuple[list[PartPair], list[PartPair]]]] = {}
        for survey in (0, 1):
            for pair in rows.alone(survey):
                if pair.any.kind != "opening":
                    continue
                wall = free.pair_of(survey, pair.any.room, pair.any.opening_of)
                # Where the wall is missing as well, they are told with it.
                if wall is not None and wall.first is not None and wall.second is not None:
                    walls.setdefault(id(wall), (wall, ([], [])))[1][survey].append(pair)
        for wall, openings in walls.values():
            yield from _of_wall(surveys, free, rows, wall, openings)


def _of_wall(
    surveys: Surveys,
    free: Free,
    rows: RoomRows,
    wall: PartPair,
    openings: tuple[list[PartPair], list[PartPair]],
) -> Iterator[Bundle]:
    """Yield the openings of one wall that stand in one survey only."""
    pattern: Pattern = "missing_opening"
    stand_ins: list[PartPair] = []
    if all(openings):
        one, other = (listed(pair.id for pair in pairs) for pairs in openings)
        says = f"In {wall.id} in {rows.label}, {surveys.second_name} has {other}, {surveys.first_name} {one}"
    else:
        survey = 0 if openings[0] else 1
        has, lacks = surveys.name(survey), surveys.name(1 - survey)
        names = listed(pair.id for pair in openings[survey])
        area = number(sum(pair.any.gross_m2 for pair in openings[survey]))
        stand_ins = _stand_ins(rows, survey, openings[survey])
        if stand_ins:
            pattern = "gross_area"
            beside = listed(pair.id for pair in stand_ins)
            says = (
                f"{lacks} does not take {names} ({area} m²) off {wall.id} in {rows.label}, and counts {beside} beside "
                f"it; {has} takes it off"
            )
        else:
            says = f"{lacks} has no {names} in {wall.id} in {rows.label} and counts the {area} m² as wall; {has} has it"
    told = (*openings[0], *openings[1], *stand_ins, wall)
    pieces = free.take(chain.from_iterable(free.of_pair(pair, ["only_in_one"]) for pair in told))
    if pieces:
        yield Bundle("only_in_one", pattern, pieces, says)


def _stand_ins(rows: RoomRows, survey: int, openings: list[PartPair]) -> list[PartPair]:
    """Return rows of the other survey that are the openings under another name, each an element of its own."""
    found: list[PartPair] = []
    for opening in openings:
        for pair in rows.alone(1 - survey):
            part = pair.any
            alike = near(part.gross_m2, opening.any.gross_m2, SAME_SIZE) and near(
                part.u_value_w_m2k, opening.any.u_value_w_m2k, SAME
            )
            if alike and part.kind == "element" and not any(pair is other for other in found):
                found.append(pair)
                break
    return found if len(found) == len(openings) else []


def merged_elements(surveys: Surveys, free: Free, rooms: Rooms) -> Iterator[Bundle]:
    """Yield elements of one survey that another element of the room has swallowed in the other."""
    for rows in rooms.values():
        for survey in (0, 1):
            missing = [pair for pair in rows.alone(survey) if pair.any.kind == "element"]
            for sibling in rows.both if missing else ():
                parts = parts_of(sibling)
                keeps, swallows = parts[survey], parts[1 - survey]
                grown = swallows.gross_m2 - keeps.gross_m2
                gone = [
                    pair
                    for pair in missing
                    if pair.any.side[:3] == keeps.side[:3] and free.of_pair(pair, ["only_in_one"])
                ]
                for group in (gone, *([pair] for pair in gone)):
                    area = sum(pair.any.gross_m2 for pair in group)
                    if group and near(grown, area, SAME_SIZE):
                        yield _swallowed(surveys, free, rows, survey, sibling, group)
                        break


def _swallowed(
    surveys: Surveys, free: Free, rows: RoomRows, survey: int, sibling: PartPair, gone: list[PartPair]
) -> Bundle:
    # Its openings mostly move with it; they are taken off another wall then.
    numbers = chain(
        free.of_pair(sibling, ["area", "opening_area"]),
        *(free.of_pair(pair, ["only_in_one"]) for pair in gone),
    )
    u_value = parts_of(sibling)[1 - survey].u_value_w_m2k
    worse = all(u_value > pair.any.u_value_w_m2k * (1.0 + SAME) for pair in gone)
    names = listed(pair.id for pair in gone)
    says = (
        f"{surveys.name(1 - survey)} counts {names} in {rows.label} as part of {sibling.id}, with its U-value of "
        f"{number(u_value)} W/(m²·K); {surveys.name(survey)} keeps it apart with "
        f"{listed(number(pair.any.u_value_w_m2k) for pair in gone)}"
    )
    return Bundle("only_in_one", "worst_wall" if worse else "merged_elements", free.take(numbers), says)
