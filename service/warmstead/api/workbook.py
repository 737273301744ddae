"""The survey as a workbook: one to fill in, and a filled one given back with results."""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any, Literal

import orjson
from fastapi import FastAPI, Query
from pydantic import BaseModel, ConfigDict, Field
from starlette.requests import Request
from starlette.responses import Response
from typing_extensions import TypedDict

from warmstead.api.caching import cached
from warmstead.api.links import FROM_EMPTY_WORKBOOK, FROM_WORKBOOK
from warmstead.api.problems import ProblemError, refusal
from warmstead.api.replies import JSON, Answered, Reply
from warmstead.api.settings import SETTINGS
from warmstead.api.uploads import GET_RESPONSES, POST_RESPONSES, beside_the_loop, route_of
from warmstead.building.findings import Findings, Warning
from warmstead.building.house import annex_of
from warmstead.building.statements import Basis, basis
from warmstead.demo import survey
from warmstead.exchange import workbook
from warmstead.exchange.documents import MOST_LISTED, read
from warmstead.exchange.workbook import CellProblem, Reading, SurveyDocument, Unreadable
from warmstead.survey.document import MayBeAbsent, described_later

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
ODS = "application/vnd.oasis.opendocument.spreadsheet"
MEDIA_TYPES = {"xlsx": XLSX, "ods": ODS, "json": JSON}
ACCEPTED = (XLSX, ODS, JSON, "application/octet-stream")
PATH = "/v1/workbook"

DESCRIPTION = (
    "Takes a filled workbook (.xlsx or .ods), or the survey as JSON, and gives a workbook back with the survey as it was sent "
    "and with results beside it: rooms, elements, constructions, emitters, candidates, warnings by cell, charts. "
    "`format=json` gives the survey that was read instead, to be sent to the questions. The workbook is written anew: values "
    "stay as they are, sheets and looks of your own do not come back. Macros, links to other files and document types are refused."
)


class BlankQuery(BaseModel):
    """Query parameters of a workbook to fill in."""

    model_config = ConfigDict(extra="forbid")

    content: MayBeAbsent[Literal["empty", "demo"]] = Field(
        None,
        description="Without anything in it, or with the invented demonstration house; empty where absent.",
    )
    format: MayBeAbsent[Literal["xlsx", "ods", "json"]] = Field(
        None, description="Format of the answer; json gives the survey document. xlsx where absent."
    )


class AnswerQuery(BaseModel):
    """Query parameters of a filled workbook."""

    model_config = ConfigDict(extra="forbid")

    format: MayBeAbsent[Literal["xlsx", "ods", "json"]] = Field(
        None, description="Format of the answer; that of the body where absent, and xlsx for JSON."
    )
    results: MayBeAbsent[Literal["true", "false"]] = Field(
        None, description="Whether the workbook comes with results; true where absent."
    )


@described_later
class SurveyRead(TypedDict):
    """A survey as it was read."""

    survey: Annotated[
        dict[str, Any],
        Field(description="The survey document: `house`, and beside it what this operation takes as JSON."),
    ]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What was assumed in reading.")]


async def blank(request: Request, asked: Annotated[BlankQuery, Query()]) -> Response:
    """Return a workbook to fill in."""
    form = asked.format or "xlsx"

    def work() -> Response:
        made = _blank(asked.content or "empty", form)
        headers = dict(_named(form)) if form != "json" else {}
        return cached(request, made, MEDIA_TYPES[form], headers)

    return await beside_the_loop(work)


async def _described(document: SurveyDocument, asked: Annotated[AnswerQuery, Query()]) -> None: ...


@cache
def _blank(content: str, form: str) -> bytes:
    document = survey() if content == "demo" else workbook.blank()
    if form == "json":
        return orjson.dumps(document)
    return workbook.written(document, "ods" if form == "ods" else "xlsx")


def _answer(content: bytes, given: str, asked: AnswerQuery, accept: str) -> Reply:
    """Return a filled workbook with results; of two formats that are both workbooks, Accept chooses none."""
    try:
        reading = _reading(content, given)
        form = asked.format or reading.format
        if form == "json":
            return Reply(200, JSON, orjson.dumps(_stated(reading)))
        made = _made(reading, form, results=asked.results != "false")
    except Unreadable as error:
        listed = [_error(problem) for problem in error.problems[:MOST_LISTED]]
        raise Answered(422, refusal(listed, len(error.problems))) from None
    return Reply(200, MEDIA_TYPES[form], made, _named(form))


def _made(reading: Reading, form: workbook.Format, *, results: bool) -> bytes:
    if results:
        return workbook.answered(reading, form)
    return workbook.written(reading.document, form)


def _reading(content: bytes, given: str) -> Reading:
    if given == JSON:
        return workbook.from_document(
            read(SurveyDocument, content, SETTINGS.most_held),
            orjson.loads(content.removeprefix(b"\xef\xbb\xbf")),
        )
    return workbook.read(content)


def _stated(reading: Reading) -> SurveyRead:
    return {
        "survey": reading.document,
        "basis": basis(annex_of(reading.survey.house.conditions, Findings(), "")),
        "warnings": reading.warnings,
    }


def _error(problem: CellProblem) -> ProblemError:
    error: ProblemError = {"code": problem.code, "detail": problem.detail}
    if problem.pointer or not problem.cell:
        error["pointer"] = problem.pointer
    if problem.cell:
        error["cell"] = problem.cell
    return error


def _named(form: str) -> tuple[tuple[str, str]]:
    return (("Content-Disposition", f'attachment; filename="survey.{form}"'),)


def add_workbook(app: FastAPI) -> None:
    """Give the application the workbook to fill in and the answer to a filled one."""
    binary = {"schema": {"type": "string", "contentMediaType": XLSX}}
    files = {XLSX: binary, ODS: {"schema": {"type": "string", "contentMediaType": ODS}}}
    app.router.add_api_route(
        PATH,
        blank,
        methods=["GET"],
        response_model=None,
        responses={
            200: {
                "description": "The workbook.",
                "links": FROM_EMPTY_WORKBOOK,
                "content": {
                    **files,
                    JSON: {
                        "schema": {
                            "type": "object",
                            "description": "The survey document, as the POST takes it.",
                        },
                        "example": workbook.blank(),
                    },
                },
            },
            **GET_RESPONSES,
        },
        summary="Workbook to fill in",
        description="A survey workbook, empty or with the demonstration house. Answers carry an ETag.",
        operation_id="get_workbook",
        tags=["files"],
    )
    app.router.add_api_route(
        PATH,
        _described,
        methods=["POST"],
        response_model=None,
        responses={
            200: {
                "description": "The workbook with results, or the survey that was read.",
                "links": FROM_WORKBOOK,
                "model": SurveyRead,
                "content": files,
            },
            **POST_RESPONSES,
        },
        openapi_extra={
            "requestBody": {"required": True, "content": files},
        },
        summary="Answer to a filled workbook",
        description=DESCRIPTION,
        operation_id="answer_workbook",
        tags=["files"],
        route_class_override=route_of(ACCEPTED, AnswerQuery, _answer),
    )
