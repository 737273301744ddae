"""Rooms times elements as one flat table: CSV in, CSV or JSON out."""

from __future__ import annotations

from typing import Annotated, Any, Literal

import orjson
from fastapi import FastAPI, Query
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from starlette.requests import Request
from starlette.responses import Response
from typing_extensions import TypedDict

from warmstead.api.accepting import preferred
from warmstead.api.caching import cached
from warmstead.api.links import FROM_ELEMENT_TABLE
from warmstead.api.problems import ProblemError, parameter_error, refusal
from warmstead.api.replies import JSON, Answered, Reply
from warmstead.api.settings import SETTINGS
from warmstead.api.uploads import GET_RESPONSES, POST_RESPONSES, beside_the_loop, route_of
from warmstead.building.findings import Warning
from warmstead.building.statements import Basis
from warmstead.demo import house as demo_house
from warmstead.exchange import element_table
from warmstead.exchange.documents import MOST_LISTED, read
from warmstead.exchange.element_table import TableProblem, TableRefused
from warmstead.questions import house_loss
from warmstead.questions.house_loss import HouseLossRequest, HouseLossResult
from warmstead.survey.document import MayBeAbsent, described_later
from warmstead.survey.house import Dimensions, NationalAnnexName
from warmstead.survey.quantities import AnnualMeanTemperature, OutsideTemperature, PowerPerArea, Surcharge

CSV = "text/csv"
ACCEPTED = (CSV, JSON, "text/plain", "application/octet-stream")
PATH = "/v1/element-table"
NAMED = (("Content-Disposition", 'attachment; filename="elements.csv"'),)
EXAMPLE = (
    "room,floor_area_m2,room_height_m,room_temperature_c,air_changes,element,opening_of,construction,u_value_w_m2k,area_m2,"
    "boundary\r\nlounge,16,2.5,21,0.5,front,,wall,1.6,12.5,outside\r\nlounge,,,,,window,front,double-glazing,2.8,2.4,\r\n"
)

DESCRIPTION = (
    "Takes a flat table (CSV, RFC 4180, UTF-8): one row for each element or opening with its room beside it, constructions by "
    "U-value. Cells parted by comma, semicolon or tab; a decimal comma where it cannot be mistaken. Gives the table back with "
    "what each row loses, as `format=json` the whole answer, as `format=house` the house document that was read. Takes "
    '`{"house": …}` as JSON too. Errors come with line and column.'
)


def _point(value: object) -> object:
    """Take a decimal comma for a point: no scalar parameter is a list."""
    if isinstance(value, str) and value.count(",") == 1 and "." not in value:
        return value.replace(",", ".")
    return value


_decimal_comma = BeforeValidator(_point)


class EmptyQuery(BaseModel):
    """Query parameters of a table to fill in."""

    model_config = ConfigDict(extra="forbid")

    content: MayBeAbsent[Literal["empty", "demo"]] = Field(
        None, description="The first line alone, or the invented demonstration house; empty where absent."
    )


class ElementTableQuery(BaseModel):
    """Query parameters of a filled table: the house's members that have no column."""

    model_config = ConfigDict(extra="forbid")

    external_temperature_c: MayBeAbsent[Annotated[OutsideTemperature, _decimal_comma]] = Field(
        None, description="Outside design temperature; required with CSV."
    )
    annual_mean_external_temperature_c: MayBeAbsent[Annotated[AnnualMeanTemperature, _decimal_comma]] = Field(
        None, description="Mean outside temperature of the year; required once something is on ground."
    )
    national_annex: MayBeAbsent[NationalAnnexName] = Field(None, description="Whose defaults apply.")
    dimensions: MayBeAbsent[Dimensions] = Field(None, description="How areas were measured.")
    thermal_bridge_surcharge_w_m2k: MayBeAbsent[Annotated[Surcharge, _decimal_comma]] = Field(
        None,
        description="Added to U-values towards outside and unheated spaces; the national annex's where absent.",
    )
    reheat_w_m2: MayBeAbsent[Annotated[PowerPerArea, _decimal_comma]] = Field(
        None, description="Extra capacity to warm up again, on floor area."
    )
    format: MayBeAbsent[Literal["csv", "json", "house"]] = Field(
        None,
        description="Of the answer: the table with losses, the whole answer, or the house document. By Accept where absent.",
    )


@described_later
class HouseRead(TypedDict):
    """A house as it was read from a table."""

    house: Annotated[dict[str, Any], Field(description="The house document, to be sent to the questions.")]
    basis: Annotated[Basis, Field(description="What the answer stands on.")]
    warnings: Annotated[list[Warning], Field(description="What the reader has to know.")]


async def empty(request: Request, asked: Annotated[EmptyQuery, Query()]) -> Response:
    """Return a table to fill in."""

    def work() -> Response:
        made = element_table.surveyed(demo_house()) if asked.content == "demo" else element_table.empty()
        return cached(request, made, f"{CSV}; charset=utf-8", dict(NAMED))

    return await beside_the_loop(work)


async def _described(document: HouseLossRequest, asked: Annotated[ElementTableQuery, Query()]) -> None: ...


def _answer(content: bytes, given: str, asked: ElementTableQuery, accept: str) -> Reply:
    """Return a filled table with what each row loses."""
    wanted = asked.format or ("json" if preferred(accept, (CSV, JSON)) == JSON else "csv")
    if given == JSON:
        return _answer_to_house(content, asked, wanted)
    if asked.external_temperature_c is None:
        missing = parameter_error(
            "external_temperature_c", "missing_field", "missing; give the outside design temperature"
        )
        raise Answered(422, refusal([missing]))
    try:
        table = element_table.read_table(content, _house(asked))
        result = element_table.answered(table)
    except TableRefused as refused:
        listed = [_error(problem) for problem in refused.problems[:MOST_LISTED]]
        raise Answered(422, refusal(listed, len(refused.problems))) from None
    if wanted == "csv":
        return _csv(element_table.stated(table.house, result, table.dialect))
    return _json(table.house, result, wanted)


def _answer_to_house(content: bytes, asked: ElementTableQuery, wanted: str) -> Reply:
    """Answer a house that came as JSON and therefore says all of itself."""
    beside = [name for name in asked.model_fields_set if name != "format"]
    if beside:
        detail = "with CSV only; a house as JSON has its own"
        errors = [parameter_error(name, "not_allowed_here", detail) for name in sorted(beside)]
        raise Answered(422, refusal(errors))
    request = read(HouseLossRequest, content, SETTINGS.most_held)
    result = house_loss.answer(request)
    house = orjson.loads(content.removeprefix(b"\xef\xbb\xbf"))["house"]
    return _csv(element_table.stated(house, result)) if wanted == "csv" else _json(house, result, wanted)


def _json(house: dict[str, Any], result: HouseLossResult, wanted: str) -> Reply:
    if wanted == "json":
        return Reply(200, JSON, orjson.dumps(result))
    read_: HouseRead = {"house": house, "basis": result["basis"], "warnings": result["warnings"]}
    return Reply(200, JSON, orjson.dumps(read_))


def _house(asked: ElementTableQuery) -> dict[str, Any]:
    """Return the house's members that a table has no column for."""
    given = asked.model_dump(exclude_none=True)
    conditions = {
        name: given[name]
        for name in ("external_temperature_c", "annual_mean_external_temperature_c", "national_annex")
        if name in given
    }
    house: dict[str, Any] = {name: given[name] for name in ("dimensions", "reheat_w_m2") if name in given}
    if "thermal_bridge_surcharge_w_m2k" in given:
        house["thermal_bridges"] = {"surcharge_w_m2k": given["thermal_bridge_surcharge_w_m2k"]}
    return {**house, "conditions": conditions}


_PARAMETERS = {
    "/house/conditions/external_temperature_c": "external_temperature_c",
    "/house/conditions/annual_mean_external_temperature_c": "annual_mean_external_temperature_c",
    "/house/thermal_bridges/surcharge_w_m2k": "thermal_bridge_surcharge_w_m2k",
}


def _error(problem: TableProblem) -> ProblemError:
    error: ProblemError = {"code": problem.code, "detail": problem.detail}
    if problem.pointer in _PARAMETERS:
        error["parameter"] = _PARAMETERS[problem.pointer]
    elif problem.pointer or not problem.line:
        error["pointer"] = problem.pointer
    if problem.line:
        error["line"] = problem.line
    if problem.line and problem.column:
        error["column"] = problem.column
    return error


def _csv(made: bytes) -> Reply:
    return Reply(200, f"{CSV}; charset=utf-8", made, NAMED)


def add_element_table(app: FastAPI) -> None:
    """Give the application the table to fill in and the answer to a filled one."""
    text = {"schema": {"type": "string"}}
    app.router.add_api_route(
        PATH,
        empty,
        methods=["GET"],
        response_class=Response,
        response_model=None,
        responses={
            200: {"description": "The table.", "content": {CSV: {**text, "example": EXAMPLE}}},
            **GET_RESPONSES,
        },
        summary="Flat table to fill in",
        description="The first line of the flat table, or the demonstration house as one. Answers carry an ETag.",
        operation_id="get_element_table",
        tags=["files"],
    )
    app.router.add_api_route(
        PATH,
        _described,
        methods=["POST"],
        response_model=None,
        responses={
            200: {
                "description": "The table with losses, or JSON.",
                "links": FROM_ELEMENT_TABLE,
                "model": HouseLossResult | HouseRead,
                "content": {CSV: text},
            },
            **POST_RESPONSES,
        },
        openapi_extra={"requestBody": {"required": True, "content": {CSV: {**text, "example": EXAMPLE}}}},
        summary="Answer to a filled flat table",
        description=DESCRIPTION,
        operation_id="answer_element_table",
        tags=["files"],
        route_class_override=route_of(ACCEPTED, ElementTableQuery, _answer),
    )
