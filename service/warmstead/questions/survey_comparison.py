"""Where do two surveys of one house differ, and what is each difference worth?"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Annotated, NotRequired

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.building.comparison.bundles import Bundle, Pattern, Surveys
from warmstead.building.comparison.causes import GROUP_OF, Cause, Group
from warmstead.building.comparison.comparison import Comparison, compare
from warmstead.building.comparison.gathering import rooms_of
from warmstead.building.comparison.matching import Place
from warmstead.building.comparison.suggestions import Suggestions
from warmstead.building.comparison.words import sentence
from warmstead.building.findings import Findings, Refused, Warning
from warmstead.building.house import ResolvedHouse, resolve_house
from warmstead.building.statements import Basis, Step, basis
from warmstead.building.steps import Steps
from warmstead.survey.document import Document, GivenText, Identifier, MayBeAbsent
from warmstead.survey.house import House
from warmstead.survey.quantities import stated

TITLE = "Two surveys of one house"
DESCRIPTION = (
    "What makes two surveys of the same house differ: the difference of their heat loads split exactly into causes, "
    "room by room, the largest first, each in a sentence that can be put to whoever made the survey."
)
NAMES = ("the first survey", "the second survey")


class SameRoom(Document):
    """A room that is called differently in the two surveys."""

    first: Identifier = Field(description="Its id in the first survey.")
    second: Identifier = Field(description="Its id in the second survey.")


class RowOfSurvey(Document):
    """An element, opening or junction of one survey."""

    room: Identifier = Field(description="Id of the room in which that survey has it.")
    element: Identifier = Field(description="Id of the element, opening or junction.")


class SameElement(Document):
    """An element that is called differently in the two surveys, or is several in one of them."""

    first: RowOfSurvey = Field(description="Where the first survey has it.")
    second: RowOfSurvey = Field(description="Where the second survey has it.")


class SurveyComparisonRequest(Document):
    """Two surveys of the same house."""

    first: House = Field(description="One survey.")
    second: House = Field(description="The other; differences are the second's less the first's.")
    first_name: MayBeAbsent[GivenText] = Field(
        None, description="What the first survey is called in sentences; `the first survey` where absent."
    )
    second_name: MayBeAbsent[GivenText] = Field(
        None, description="What the second survey is called in sentences; `the second survey` where absent."
    )
    rooms: MayBeAbsent[list[SameRoom]] = Field(
        None, max_length=1000, description="Rooms that are the same though their ids differ."
    )
    elements: MayBeAbsent[list[SameElement]] = Field(
        None,
        max_length=20_000,
        description="Elements, openings and junctions that are the same though their ids differ; one may be given several.",
    )


class LoadOfSurvey(TypedDict):
    """What one survey comes to."""

    name: Annotated[str, Field(description="What it is called in sentences.")]
    design_heat_load_w: Annotated[float, stated("W", "Transmission, ventilation and reheat of the house.")]
    transmission_w: Annotated[float, stated("W", "Transmission.")]
    ventilation_w: Annotated[float, stated("W", "Ventilation.")]
    reheat_w: Annotated[float, stated("W", "Extra capacity to warm up again.")]
    floor_area_m2: Annotated[float, stated("m2", "Floor area of all rooms.")]
    external_temperature_c: Annotated[float, stated("Cel", "Outside design temperature.")]
    ventilation_method: Annotated[str, Field(description="`air_changes` or `airtightness`.")]
    dimensions: Annotated[str, Field(description="How areas were measured.")]
    national_annex: Annotated[str, Field(description="National annex whose defaults applied.")]


class CauseShare(TypedDict):
    """What one cause is worth."""

    cause: Annotated[Cause, Field(description="The cause, from the closed list.")]
    difference_w: Annotated[float, stated("W", "Its share of the difference.")]


class GroupShare(TypedDict):
    """What a group of causes is worth."""

    group: Annotated[Group, Field(description="The group: a union in the split.")]
    difference_w: Annotated[float, stated("W", "The sum of its causes.")]
    causes: Annotated[list[CauseShare], Field(description="Its causes that differ anywhere.")]


class RoomShare(TypedDict):
    """A share of the difference in one room."""

    room: Annotated[
        str,
        Field(description="The room: its id in the first survey, in the second where the first has it not."),
    ]
    difference_w: Annotated[float, stated("W", "What the room's own load differs by.")]


class ElementShare(TypedDict):
    """A share of the difference by one row."""

    room: Annotated[str, Field(description="The room that declares it.")]
    element: Annotated[str, Field(description="Id of the element, opening or junction.")]
    difference_w: Annotated[
        float, stated("W", "Its share; of a row between rooms, in the room that declares it.")
    ]
    first_construction: NotRequired[
        Annotated[str, Field(description="Its construction in the first survey.")]
    ]
    second_construction: NotRequired[
        Annotated[str, Field(description="Its construction in the second survey.")]
    ]


class Statement(TypedDict):
    """One difference between the surveys."""

    difference_w: Annotated[float, stated("W", "What it is worth in the house; all statements add up.")]
    cause: Annotated[Cause, Field(description="Its main cause.")]
    pattern: NotRequired[
        Annotated[
            Pattern, Field(description="The pattern in which surveys often differ, where it looks like one.")
        ]
    ]
    in_words: Annotated[str, Field(description="The same in a sentence.")]
    room: NotRequired[Annotated[str, Field(description="The room, where it concerns just one.")]]
    causes: Annotated[list[CauseShare], Field(description="All its causes; they add up.")]
    rooms: Annotated[list[RoomShare], Field(description="What it is worth in each room's own load.")]
    elements: NotRequired[
        Annotated[
            list[ElementShare], Field(description="The rows that it concerns, the largest share first.")
        ]
    ]


class RoomDifference(TypedDict):
    """A room in both surveys, or in one."""

    room: Annotated[
        str, Field(description="Its id in the first survey, in the second where the first has it not.")
    ]
    second_room: NotRequired[
        Annotated[str, Field(description="Its id in the second survey, where that differs.")]
    ]
    first_w: NotRequired[Annotated[float, stated("W", "Load by the first survey; absent: not in it.")]]
    second_w: NotRequired[Annotated[float, stated("W", "Load by the second survey; absent: not in it.")]]
    difference_w: Annotated[float, stated("W", "The second's less the first's.")]
    causes: Annotated[list[CauseShare], Field(description="What makes it; they add up.")]


class UnmatchedRow(TypedDict):
    """A row that only one survey has."""

    room: Annotated[str, Field(description="Id of its room in that survey.")]
    element: Annotated[str, Field(description="Id of the element, opening or junction.")]
    heat_loss_w: Annotated[float, stated("W", "Its heat loss.")]


class Unmatched(TypedDict):
    """What only one survey has."""

    first_rooms: Annotated[list[str], Field(description="Rooms of the first survey only.")]
    second_rooms: Annotated[list[str], Field(description="Rooms of the second survey only.")]
    first_elements: Annotated[list[UnmatchedRow], Field(description="Rows of the first survey only.")]
    second_elements: Annotated[list[UnmatchedRow], Field(description="Rows of the second survey only.")]


class RoomMap(TypedDict):
    """Two rooms that may be one, as the request takes it."""

    first: Annotated[str, Field(description="Id in the first survey.")]
    second: Annotated[str, Field(description="Id in the second survey.")]


class RowMap(TypedDict):
    """The place of a row, as the request takes it."""

    room: Annotated[str, Field(description="Id of the room.")]
    element: Annotated[str, Field(description="Id of the element, opening or junction.")]


class ElementMap(TypedDict):
    """Two rows that may be one, as the request takes it."""

    first: Annotated[RowMap, Field(description="Where the first survey has it.")]
    second: Annotated[RowMap, Field(description="Where the second survey has it.")]


class Suggested(TypedDict):
    """A map that may be sent back once somebody has looked at it."""

    rooms: Annotated[list[RoomMap], Field(description="Rooms of like name, use and size.")]
    elements: Annotated[
        list[ElementMap], Field(description="Rows of like name, size and U-value, to the same kind of side.")
    ]


class SurveyComparisonResult(TypedDict):
    """What makes two surveys differ."""

    first: Annotated[LoadOfSurvey, Field(description="The first survey.")]
    second: Annotated[LoadOfSurvey, Field(description="The second survey.")]
    difference_w: Annotated[float, stated("W", "The second's design heat load less the first's.")]
    statements: Annotated[
        list[Statement], Field(description="What makes the difference, the largest first; it adds up.")
    ]
    by_cause: Annotated[list[GroupShare], Field(description="By group and cause; it adds up.")]
    by_room: Annotated[list[RoomDifference], Field(description="By room, in the surveys' order.")]
    beyond_rooms: Annotated[
        list[CauseShare],
        Field(
            description="What the house has beyond the sum of its rooms, by cause; only by airtightness. "
            "With it, the rooms add up to the house."
        ),
    ]
    unmatched: Annotated[Unmatched, Field(description="What only one survey has.")]
    suggestion: NotRequired[
        Annotated[
            Suggested, Field(description="What of it may belong together; nothing here was taken to be so.")
        ]
    ]
    workings: NotRequired[Annotated[list[Step], Field(description="Each share, where asked for.")]]
    basis: Annotated[Basis, Field(description="What the answer stands on: the first survey's annex.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


def answer(request: SurveyComparisonRequest, *, workings: bool = False) -> SurveyComparisonResult:
    """Return what makes two surveys of one house differ.

    Args:
        request: both surveys, and what in them is the same though it is called differently.
        workings: whether to list each share of each row.

    Raises:
        Refused: a survey contradicts itself, needs what is not covered, or a map leads nowhere.
    """
    findings = Findings()
    first, second = _both(request, findings)
    comparison = compare(
        first,
        second,
        [(same.first, same.second) for same in request.rooms or ()],
        [(_place(same.first), _place(same.second)) for same in request.elements or ()],
        (request.first_name or NAMES[0], request.second_name or NAMES[1]),
        findings,
    )
    surveys = comparison.surveys
    result: SurveyComparisonResult = {
        "first": _load(first, surveys.first_name),
        "second": _load(second, surveys.second_name),
        "difference_w": second.design_heat_load_w - first.design_heat_load_w,
        "statements": [_statement(bundle, surveys) for bundle in comparison.bundles()],
        "by_cause": _by_group(comparison.by_cause()),
        "by_room": _by_room(comparison),
        "beyond_rooms": _causes(comparison.by_room()[""]),
        "unmatched": _unmatched(surveys),
        "basis": basis(first.annex),
        "warnings": findings.warnings(),
    }
    suggested = comparison.suggestions
    if suggested.rooms or suggested.elements:
        result["suggestion"] = _suggested(suggested)
    if workings:
        result["workings"] = _steps(comparison)
    return result


def _both(request: SurveyComparisonRequest, findings: Findings) -> tuple[ResolvedHouse, ResolvedHouse]:
    """Resolve both surveys, so that what is wrong in either is told at once."""
    resolved: list[ResolvedHouse] = []
    for house, at in ((request.first, "/first"), (request.second, "/second")):
        try:
            resolved.append(resolve_house(house, findings, at))
        except Refused:
            continue
    findings.stop_if_refused()
    return resolved[0], resolved[1]


def _place(row: RowOfSurvey) -> Place:
    return Place(row.room, row.element)


def _load(house: ResolvedHouse, name: str) -> LoadOfSurvey:
    return {
        "name": name,
        "design_heat_load_w": house.design_heat_load_w,
        "transmission_w": house.transmission_w,
        "ventilation_w": house.ventilation_w,
        "reheat_w": house.reheat_w,
        "floor_area_m2": house.floor_area_m2,
        "external_temperature_c": house.external_c,
        "ventilation_method": house.ventilation.method,
        "dimensions": house.dimensions,
        "national_annex": house.annex.name,
    }


def _causes(shares: dict[Cause, float]) -> list[CauseShare]:
    return [{"cause": cause, "difference_w": watts} for cause, watts in shares.items()]


def _summed(pairs: Iterable[tuple[Cause, float]]) -> dict[Cause, float]:
    parts: dict[Cause, list[float]] = {}
    for cause, watts in pairs:
        parts.setdefault(cause, []).append(watts)
    return {cause: math.fsum(values) for cause, values in parts.items()}


def _statement(bundle: Bundle, surveys: Surveys) -> Statement:
    rooms = rooms_of(bundle.pieces)
    ordered = sorted(rooms.items(), key=lambda item: (-round(abs(item[1]), 6), item[0]))
    causes = _summed((piece.cause, piece.house_w) for piece in bundle.pieces)
    statement: Statement = {
        "difference_w": bundle.house_w,
        "cause": bundle.cause,
        "in_words": sentence(bundle, dict(ordered), surveys),
        "causes": _causes(causes),
        "rooms": [{"room": room, "difference_w": watts} for room, watts in ordered],
    }
    if bundle.pattern is not None:
        statement["pattern"] = bundle.pattern
    room = _only_room(bundle, surveys)
    if room is not None:
        statement["room"] = room
    elements = _elements(bundle)
    if elements:
        statement["elements"] = elements
    return statement


def _only_room(bundle: Bundle, surveys: Surveys) -> str | None:
    """Return the room that a statement is about, where it is just one."""
    if bundle.pattern == "missing_room":
        names = {piece.room for piece in bundle.pieces} & set(surveys.alone)
    elif bundle.cause == "room_temperature":
        names = {piece.subject for piece in bundle.pieces if piece.subject}
    else:
        names = {piece.room for piece in bundle.pieces}
    return names.pop() if len(names) == 1 and "" not in names else None


def _elements(bundle: Bundle) -> list[ElementShare]:
    shares: dict[int, tuple[ElementShare, list[float]]] = {}
    for piece in bundle.pieces:
        pair = piece.pair
        if pair is None:
            continue
        if id(pair) not in shares:
            share: ElementShare = {"room": pair.room, "element": pair.id, "difference_w": 0.0}
            if pair.first is not None:
                share["first_construction"] = pair.first.construction
            if pair.second is not None:
                share["second_construction"] = pair.second.construction
            shares[id(pair)] = (share, [])
        shares[id(pair)][1].append(piece.own_w)
    for share, parts in shares.values():
        share["difference_w"] = math.fsum(parts)
    elements = [share for share, _ in shares.values()]
    return sorted(
        elements, key=lambda one: (-round(abs(one["difference_w"]), 6), one["room"], one["element"])
    )


def _by_group(shares: dict[Cause, float]) -> list[GroupShare]:
    groups: dict[Group, list[CauseShare]] = {}
    for share in _causes(shares):
        groups.setdefault(GROUP_OF[share["cause"]], []).append(share)
    listed: list[GroupShare] = [
        {
            "group": group,
            "difference_w": math.fsum(share["difference_w"] for share in causes),
            "causes": sorted(causes, key=lambda share: -round(abs(share["difference_w"]), 6)),
        }
        for group, causes in groups.items()
    ]
    return sorted(listed, key=lambda group: -round(abs(group["difference_w"]), 6))


def _by_room(comparison: Comparison) -> list[RoomDifference]:
    shares = comparison.by_room()
    listed = []
    for pair in comparison.surveys.matched.rooms:
        loads = [0.0 if room is None else room.design_heat_load_w for room in (pair.first, pair.second)]
        room: RoomDifference = {
            "room": pair.name,
            "difference_w": loads[1] - loads[0],
            "causes": _causes(shares[pair.name]),
        }
        if pair.first is not None:
            room["first_w"] = loads[0]
        if pair.second is not None:
            room["second_w"] = loads[1]
            if pair.second.id != pair.name:
                room["second_room"] = pair.second.id
        listed.append(room)
    return listed


def _unmatched(surveys: Surveys) -> Unmatched:
    rows: tuple[list[UnmatchedRow], list[UnmatchedRow]] = ([], [])
    for pair in surveys.matched.pairs:
        if pair.first is None or pair.second is None:
            part = pair.any
            rows[0 if pair.second is None else 1].append(
                {"room": part.room, "element": part.id, "heat_loss_w": part.heat_loss_w}
            )
    return {
        "first_rooms": [pair.any.id for pair in surveys.alone.values() if pair.second is None],
        "second_rooms": [pair.any.id for pair in surveys.alone.values() if pair.first is None],
        "first_elements": rows[0],
        "second_elements": rows[1],
    }


def _suggested(suggested: Suggestions) -> Suggested:
    return {
        "rooms": [{"first": one.first, "second": one.second} for one in suggested.rooms],
        "elements": [
            {
                "first": {"room": one[0], "element": one[1]},
                "second": {"room": other[0], "element": other[1]},
            }
            for one, other, _ in suggested.elements
        ],
    }


def _steps(comparison: Comparison) -> list[Step]:
    """List each share of each row: what the sums of the answer are made of."""
    rows: dict[str, Steps] = {}
    for piece in comparison.pieces:
        of = " ".join(filter(None, (piece.room or "house", piece.pair and piece.pair.id)))
        rows.setdefault(of, Steps(of)).add(
            f"share of {piece.cause}" + (f" ({piece.subject})" if piece.subject else ""),
            "φ",
            piece.own_w,
            "W",
            "mean of what it adds over all orders of the factors that differ in this row, unions kept together",
            "Owen 1977, Shapley 1953",
        )
    return [step for steps in rows.values() for step in steps.steps]
