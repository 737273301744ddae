"""The result sheets as data: one table a sheet, with the totals that a reader would sum, and the charts that they feed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from warmstead.building.findings import Warning
from warmstead.exchange.workbook.answers import Answers
from warmstead.exchange.workbook.places import Places
from warmstead.exchange.workbook.survey import SurveyDocument
from warmstead.exchange.workbook.texts import printable

Cell = str | float | None

SUMMARY = "Results"
BY_CONSTRUCTION = "Construction results"
BY_ROOM = "Room results"
BY_ELEMENT = "Element results"
EMITTERS_BY_ROOM = "Emitter results"
BY_EMITTER = "Emitter outputs"
BY_CANDIDATE = "Candidate results"
WARNINGS = "Warnings"
BASIS = "Basis"
RESULT_TITLES = (
    SUMMARY,
    BY_ROOM,
    BY_ELEMENT,
    BY_CONSTRUCTION,
    EMITTERS_BY_ROOM,
    BY_EMITTER,
    BY_CANDIDATE,
    WARNINGS,
    BASIS,
)
"""Sheets that hold results; they are written anew each time and never read."""

LESS_AIR = "By airtightness the house needs less air than its rooms together: the first sheet has the figures of the house."
SHARE = "0.0%"
WHOLE = "0"
ONE = "0.0"
TWO = "0.00"
THREE = "0.000"


class ResultColumn(NamedTuple):
    """A column of a result sheet."""

    heading: str
    width: int
    digits: str | None = None
    """Number format; texts have none."""
    total: bool = False
    """Whether its sum stands below."""


class ResultSheet(NamedTuple):
    """A table of results."""

    title: str
    columns: tuple[ResultColumn, ...]
    rows: list[list[Cell]]
    landscape: bool = False
    note: str = ""


class Summary(NamedTuple):
    """The first sheet of results: the figures that matter most, each with its unit and number format."""

    title: str
    lines: list[tuple[str, Cell, str, str]]


def summary(survey: SurveyDocument, answers: Answers) -> Summary:
    """Return the figures for the first sheet."""
    house = answers.house
    lines: list[tuple[str, Cell, str, str]] = [
        ("Design heat load", house["design_heat_load_w"], "W", WHOLE),
        ("Transmission", house["transmission_w"], "W", WHOLE),
        ("Ventilation", house["ventilation_w"], "W", WHOLE),
        ("Reheat", house["reheat_w"], "W", WHOLE),
        ("Floor area", house["floor_area_m2"], "m²", ONE),
        ("Heat load for each square metre", house["specific_heat_load_w_m2"], "W/m²", ONE),
        ("Heat loss coefficient", house["heat_loss_coefficient_w_k"], "W/K", ONE),
        ("Outside design temperature", survey.house.conditions.external_temperature_c, "°C", ONE),
        *(
            (f"Temperature of {space['id']}", space["temperature_c"], "°C", ONE)
            for space in house["unheated_spaces"][:10]
        ),
    ]
    if answers.emitters is not None:
        lines += [
            ("Flow temperature", survey.flow_temperature_c, "°C", ONE),
            (
                "Lowest flow temperature for all rooms",
                answers.emitters.get("lowest_flow_temperature_c"),
                "°C",
                ONE,
            ),
            ("Room that governs it", answers.emitters.get("governing_room"), "", ""),
        ]
    if answers.candidates is not None:
        lines += [
            ("Capacity required", answers.candidates["required_w"], "W", WHOLE),
            ("Smallest suitable candidate", answers.candidates.get("smallest_suitable", "none"), "", ""),
        ]
    lines.append(("Warnings, each on its sheet", float(len(answers.warnings)), "", WHOLE))
    name = printable(survey.house.name or "") or "House"
    return Summary(
        name, [(words, value, unit if value is not None else "", form) for words, value, unit, form in lines]
    )


def sheets(
    survey: SurveyDocument, answers: Answers, warnings: Sequence[Warning], places: Places
) -> list[ResultSheet]:
    """Return all result sheets after the summary.

    Args:
        survey: what was asked.
        answers: what came of it.
        warnings: of the answers and of the reading of the workbook.
        places: the cell of each member.
    """
    names = {room.id: printable(room.name or "") for room in survey.house.rooms}
    made = [_rooms(survey, answers, names), _elements(answers), _constructions(answers)]
    if answers.emitters is not None:
        made += [_emitters_by_room(answers.emitters["rooms"], names), _emitters(answers.emitters["rooms"])]
    if answers.candidates is not None:
        made.append(_candidates(answers.candidates["candidates"]))
    return [*made, _warnings(warnings, places), _basis(answers.house["basis"])]


def _table(items: Iterable[Mapping[str, Any]], *members: str) -> list[list[Cell]]:
    return [[item.get(member) for member in members] for item in items]


def _rooms(survey: SurveyDocument, answers: Answers, names: Mapping[str, str]) -> ResultSheet:
    return ResultSheet(
        BY_ROOM,
        (
            ResultColumn("Room", 16),
            ResultColumn("Name", 24),
            ResultColumn("Design temperature, °C", 12, ONE),
            ResultColumn("Floor area, m²", 10, TWO, total=True),
            ResultColumn("Volume, m³", 10, TWO, total=True),
            ResultColumn("Transmission, W", 13, WHOLE, total=True),
            ResultColumn("Ventilation, W", 12, WHOLE, total=True),
            ResultColumn("Reheat, W", 10, WHOLE, total=True),
            ResultColumn("Design heat load, W", 13, WHOLE, total=True),
            ResultColumn("Heat load, W/m²", 10, ONE),
            ResultColumn("Heat loss coefficient, W/K", 12, ONE, total=True),
        ),
        [
            [
                room["id"],
                names.get(room["id"], ""),
                room["design_temperature_c"],
                room["floor_area_m2"],
                room["volume_m3"],
                room["transmission_w"],
                room["ventilation_w"],
                room["reheat_w"],
                room["design_heat_load_w"],
                room["design_heat_load_w"] / room["floor_area_m2"],
                room["heat_loss_coefficient_w_k"],
            ]
            for room in answers.house["rooms"]
        ],
        landscape=True,
        note=LESS_AIR
        if survey.house.ventilation and survey.house.ventilation.method == "airtightness"
        else "",
    )


def _elements(answers: Answers) -> ResultSheet:
    members = (
        "id",
        "kind",
        "opening_of",
        "construction",
        "boundary",
        "adjoins",
        "area_m2",
        "u_value_w_m2k",
        "thermal_bridge_w_k",
        "temperature_difference_k",
        "heat_loss_w",
    )
    return ResultSheet(
        BY_ELEMENT,
        (
            ResultColumn("Room", 14),
            ResultColumn("Element", 20),
            ResultColumn("Kind", 9),
            ResultColumn("Opening of", 16),
            ResultColumn("Construction", 25),
            ResultColumn("Boundary", 15),
            ResultColumn("Other side", 12),
            ResultColumn("Net area, m²", 9, TWO),
            ResultColumn("U-value, W/(m²·K)", 10, THREE),
            ResultColumn("Thermal bridges, W/K", 10, THREE),
            ResultColumn("Effective difference, K", 11, TWO),
            ResultColumn("Heat loss, W", 10, ONE, total=True),
        ),
        [
            [room["id"], *row]
            for room in answers.house["rooms"]
            for row in _table([dict(element) for element in room["elements"]], *members)
        ],
        landscape=True,
    )


def _constructions(answers: Answers) -> ResultSheet:
    return ResultSheet(
        BY_CONSTRUCTION,
        (
            ResultColumn("Construction", 28),
            ResultColumn("Boundary", 16),
            ResultColumn("Construction and boundary", 38),
            ResultColumn("Area, m²", 10, TWO, total=True),
            ResultColumn("Heat loss, W", 12, WHOLE, total=True),
            ResultColumn("Share of transmission", 14, SHARE),
        ),
        [
            [
                group["construction"],
                group["boundary"],
                f"{group['construction']} ({group['boundary'].replace('_', ' ')})",
                group["area_m2"],
                group["heat_loss_w"],
                group.get("share"),
            ]
            for group in answers.house["by_construction"]
        ],
    )


def _emitters_by_room(rooms: Iterable[Any], names: Mapping[str, str]) -> ResultSheet:
    return ResultSheet(
        EMITTERS_BY_ROOM,
        (
            ResultColumn("Room", 16),
            ResultColumn("Name", 24),
            ResultColumn("Needed, W", 11, WHOLE, total=True),
            ResultColumn("Available, W", 11, WHOLE, total=True),
            ResultColumn("Coverage", 10, SHARE),
            ResultColumn("Lowest flow temperature, °C", 13, ONE),
            ResultColumn("Standard output needed, W", 13, WHOLE),
            ResultColumn("Carries the room", 10),
        ),
        [
            [
                room["id"],
                names.get(room["id"], ""),
                room["required_w"],
                room["available_w"],
                room.get("coverage"),
                room.get("lowest_flow_temperature_c"),
                room.get("standard_output_needed_w"),
                "yes" if room["available_w"] >= room["required_w"] else "no",
            ]
            for room in rooms
        ],
        landscape=True,
    )


def _emitters(rooms: Iterable[Any]) -> ResultSheet:
    return ResultSheet(
        BY_EMITTER,
        (
            ResultColumn("Room", 16),
            ResultColumn("Emitter", 20),
            ResultColumn("Output, W", 12, WHOLE, total=True),
            ResultColumn("Excess temperature, K", 13, TWO),
            ResultColumn("Mean", 14),
            ResultColumn("Flow, l/s", 10, THREE),
        ),
        [
            [room["id"], *row]
            for room in rooms
            for row in _table(room["emitters"], "id", "output_w", "excess_temperature_k", "mean", "flow_l_s")
        ],
    )


def _candidates(candidates: Sequence[Any]) -> ResultSheet:
    members = (
        "id",
        "verdict",
        "capacity_at_design_w",
        "required_w",
        "coverage",
        "margin_w",
        "reduction_needed_w",
        "coefficient_of_performance_at_design",
        "bivalent_temperature_c",
        "backup_at_design_w",
        "minimum_capacity_w",
        "cycling_above_external_temperature_c",
    )
    return ResultSheet(
        BY_CANDIDATE,
        (
            ResultColumn("Candidate", 16),
            ResultColumn("Verdict", 11),
            ResultColumn("Capacity at design, W", 10, WHOLE),
            ResultColumn("Required, W", 10, WHOLE),
            ResultColumn("Coverage", 10, SHARE),
            ResultColumn("Margin, W", 9, WHOLE),
            ResultColumn("Reduction needed, W", 10, WHOLE),
            ResultColumn("Coefficient of performance", 12, TWO),
            ResultColumn("Bivalent temperature, °C", 12, ONE),
            ResultColumn("Backup at design, W", 9, WHOLE),
            ResultColumn("Least capacity, W", 9, WHOLE),
            ResultColumn("Cycling above, °C", 9, ONE),
            ResultColumn("Reasons", 60),
        ),
        [
            [*row, "; ".join(candidate["reasons"])]
            for row, candidate in zip(_table(candidates, *members), candidates, strict=True)
        ],
        landscape=True,
    )


def _warnings(warnings: Sequence[Warning], places: Places) -> ResultSheet:
    return ResultSheet(
        WARNINGS,
        (ResultColumn("Cell", 26), ResultColumn("Code", 34), ResultColumn("What to know", 90)),
        [[places.cell(warning["pointer"]), warning["code"], warning["detail"]] for warning in warnings],
        landscape=True,
    )


def _basis(basis: Mapping[str, Any]) -> ResultSheet:
    lines: list[list[Cell]] = [
        ["Version of the service", basis["service_version"]],
        ["Contract", basis["contract"]],
        ["National annex", basis["national_annex"]],
        ["Tables", basis["tables_version"]],
        *([f"Edition of {standard}", edition] for standard, edition in basis["editions"].items()),
    ]
    return ResultSheet(
        BASIS, (ResultColumn("What the results stand on", 34), ResultColumn("Value", 24)), lines
    )
