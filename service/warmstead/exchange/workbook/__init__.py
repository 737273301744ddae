"""The survey as a workbook: written to be filled in, read with every error at its cell, and given back with results.

Libraries for the formats are imported when a workbook is written or read, so that the service starts without them.
"""

from __future__ import annotations

from typing import Any, Literal, NamedTuple

from warmstead.building.findings import Problem, Refused, Warning
from warmstead.exchange.documents import read_mapping
from warmstead.exchange.workbook import layout, results
from warmstead.exchange.workbook.answers import Answers, answers
from warmstead.exchange.workbook.archive import opened
from warmstead.exchange.workbook.assemble import Assembled, assemble
from warmstead.exchange.workbook.content import Content
from warmstead.exchange.workbook.grids import CellProblem, Grid, Unreadable, Value
from warmstead.exchange.workbook.places import Places
from warmstead.exchange.workbook.read_me import REFERENCE_TITLES
from warmstead.exchange.workbook.survey import SurveyDocument
from warmstead.exchange.workbook.tabulate import empty_members, form_values, list_rows

__all__ = [
    "CellProblem",
    "Format",
    "Reading",
    "SurveyDocument",
    "Unreadable",
    "answered",
    "blank",
    "from_document",
    "read",
    "written",
]

Format = Literal["xlsx", "ods"]
Json = dict[str, Any]


class Reading(NamedTuple):
    """A workbook as read."""

    document: Json
    survey: SurveyDocument
    places: Places
    warnings: list[Warning]
    """Of the reading alone."""
    format: Format


def blank() -> Json:
    """Return the document of a workbook without anything in it."""
    return {"house": {"conditions": {}, "constructions": {}, "rooms": []}}


def written(document: Json, form: Format) -> bytes:
    """Return a survey document as a workbook without results."""
    return _file(Content(document, empty_members(document)), form)


def read(file: bytes) -> Reading:
    """Read a workbook.

    Raises:
        Unreadable: it is refused; every reason is in it, each with its cell.
    """
    archive = opened(file)
    wanted = frozenset((*(sheet.title for sheet in layout.SHEETS), layout.EMPTY_MEMBERS))
    if archive.kind == "ods":
        from warmstead.exchange.workbook.read_ods import read_ods

        grids = read_ods(archive, wanted)
    else:
        from warmstead.exchange.workbook.read_xlsx import read_xlsx

        grids = read_xlsx(archive, wanted)
    assembled = assemble(grids, frozenset((*results.RESULT_TITLES, *REFERENCE_TITLES)))
    survey = _survey(assembled)
    form: Format = "ods" if archive.kind == "ods" else "xlsx"
    return Reading(assembled.document, survey, assembled.places, _warnings(assembled), form)


def answered(reading: Reading, form: Format) -> bytes:
    """Return a workbook with the survey as it was read and the results of the questions that it answers.

    Raises:
        Unreadable: a question refuses the survey; every reason is in it, each with its cell.
    """
    try:
        told = answers(reading.survey)
    except Refused as error:
        raise Unreadable(_at_cells(error, reading.places)) from None
    return _with_results(reading, told, form)


def from_document(survey: SurveyDocument, document: Json) -> Reading:
    """Return a survey document from JSON as if its workbook had been read.

    Args:
        survey: the document as the model has it.
        document: the same as it was sent.

    Raises:
        Refused: sheets could not hold it: rows refer to each other by ids, and some are not unique.
    """
    grids = [Grid(sheet.title, _filled_grid(sheet, document), set()) for sheet in layout.SHEETS]
    empty: list[list[Value]] = [[pointer] for pointer in empty_members(document)]
    grids.append(Grid(layout.EMPTY_MEMBERS, [[layout.EMPTY_MEMBERS], *empty], set()))
    assembled = assemble(grids, frozenset())
    if assembled.document != document:
        detail = "an id stands twice in its list; rows could not be told apart"
        raise Refused([Problem("/house", "duplicate_id", detail)])
    return Reading(document, survey, assembled.places, [], "xlsx")


def _filled_grid(sheet: layout.FormSheet | layout.ListSheet, document: Json) -> list[list[Any]]:
    """Return the cells of a sheet as they will be written: places of a document that came as JSON follow from them."""
    from warmstead.exchange.workbook.describe import heading

    if isinstance(sheet, layout.ListSheet):
        return [[heading(sheet, column) for column in sheet.columns], *list_rows(sheet, document)]
    rows: list[list[Any]] = [[sheet.title]]
    left = iter(form_values(sheet, document))
    for section in sheet.sections:
        rows.append([section.title])
        rows += [[heading(sheet, line), next(left)] for line in section.lines]
    return rows


def _with_results(reading: Reading, told: Answers, form: Format) -> bytes:
    warnings = [*reading.warnings, *told.warnings]
    content = Content(
        reading.document,
        empty_members(reading.document),
        results.summary(reading.survey, told._replace(warnings=warnings)),
        tuple(
            results.sheets(
                reading.survey, told, warnings, from_document(reading.survey, reading.document).places
            )
        ),
    )
    return _file(content, form)


def _file(content: Content, form: Format) -> bytes:
    if form == "ods":
        from warmstead.exchange.workbook.write_ods import write_ods

        return write_ods(content)
    from warmstead.exchange.workbook.write_xlsx import write_xlsx

    return write_xlsx(content)


def _survey(assembled: Assembled) -> SurveyDocument:
    """Return the document as the model has it; refuse it with what the sheets and the model say, all at once."""
    known = {problem.pointer for problem in assembled.problems if problem.pointer}
    problems = list(assembled.problems)
    survey = None
    try:
        survey = read_mapping(SurveyDocument, assembled.document)
    except Refused as error:
        problems += [
            problem for problem in _at_cells(error, assembled.places) if problem.pointer not in known
        ]
    if problems or survey is None:
        raise Unreadable(problems)
    return survey


def _at_cells(error: Refused, places: Places) -> list[CellProblem]:
    return [CellProblem(places.cell(p.pointer), p.pointer, p.code, p.detail) for p in error.problems]


def _warnings(assembled: Assembled) -> list[Warning]:
    told: list[Warning] = [
        {
            "code": "assumption.formula_value",
            "pointer": pointer,
            "detail": "a formula stands here; the value that the program last stored for it was taken",
        }
        for pointer, _ in assembled.calculated
    ]
    if assembled.left_out:
        count = len(assembled.left_out)
        detail = f"{count} sheet{'s' if count > 1 else ''} of another name left out: no part of the survey"
        told.append({"code": "assumption.sheets_left_out", "pointer": "", "detail": detail})
    return told
