"""The tables, read-only: JSON or CSV, with an entity tag."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, Literal, NotRequired

import orjson
from fastapi import FastAPI, Path, Query
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import PydanticCustomError
from starlette.requests import Request
from starlette.responses import Response
from typing_extensions import TypedDict

from warmstead.api.caching import cached
from warmstead.api.links import FROM_TABLE, FROM_TABLES
from warmstead.api.problems import (
    PROBLEM_JSON,
    ProblemDocument,
    ProblemError,
    parameter_error,
    problem,
    refusal,
)
from warmstead.building.climate import CORRECTED_COLUMN, corrected_rows
from warmstead.exchange.cells.numbers import NotANumber, number
from warmstead.survey.document import MayBeAbsent, described_later
from warmstead.survey.quantities import Altitude
from warmstead.tables import TABLES_VERSION, Column, Row, Table, csv_text, table, table_names

BY_ACCEPT = {"Vary": "Accept"}
PLACES = "outside-design-temperatures"
"""The only table that takes an altitude."""


class ColumnStatement(TypedDict):
    """What a column holds."""

    name: Annotated[str, Field(description="Name of the column, and of the member in each row.")]
    kind: Annotated[Literal["text", "number"], Field(description="Text or number.")]
    unit: NotRequired[Annotated[str, Field(description="Unit in UCUM, for numbers.")]]
    description: Annotated[str, Field(description="What it holds.")]


@described_later
class TableStatement(TypedDict):
    """A table: each row with its source, the place in it and how it is known."""

    name: Annotated[str, Field(description="Name in URLs.")]
    title: Annotated[str, Field(description="Title.")]
    description: Annotated[str, Field(description="What it holds.")]
    tables_version: Annotated[str, Field(description="Fingerprint of the content of all tables.")]
    columns: Annotated[
        list[ColumnStatement], Field(description="The columns; a row leaves out what it does not have.")
    ]
    rows: Annotated[list[dict[str, str | float]], Field(description="The rows.")]


class TableListing(TypedDict):
    """A table by name."""

    name: Annotated[str, Field(description="Name in URLs.")]
    title: Annotated[str, Field(description="Title.")]
    row_count: Annotated[int, Field(description="Number of rows.", json_schema_extra={"x-unit": "1"})]


@described_later
class TableIndex(TypedDict):
    """All tables."""

    tables_version: Annotated[str, Field(description="Fingerprint of the content of all tables.")]
    tables: Annotated[list[TableListing], Field(description="The tables.")]


def _number(text: str) -> float:
    """Read a number as all numbers in addresses are read: with a decimal comma where it can be nothing else."""
    try:
        return number(text)
    except NotANumber as error:
        raise PydanticCustomError("float_parsing", "{reason}", {"reason": str(error)}) from None


class TableQuery(BaseModel):
    """Query parameters of a table."""

    model_config = ConfigDict(extra="forbid")

    format: MayBeAbsent[Literal["json", "csv"]] = Field(None, description="In place of the Accept header.")
    altitude_m: MayBeAbsent[Annotated[Altitude, BeforeValidator(_number)]] = Field(
        None, description="For outside-design-temperatures: adds each temperature at this altitude."
    )


def add_tables(app: FastAPI) -> None:
    """Give the application the index of tables and each table."""
    not_found: dict[int | str, dict[str, Any]] = {
        404: {"description": "No such table.", "model": ProblemDocument},
        422: {"description": "A query parameter is refused.", "model": ProblemDocument},
    }
    for path, endpoint, result, operation, summary, responses, links in (
        ("/v1/tables", index, TableIndex, "list_tables", "All tables", {}, FROM_TABLES),
        (
            "/v1/tables/{name}",
            one_table,
            TableStatement,
            "get_table",
            "One table, each row with its source",
            not_found,
            FROM_TABLE,
        ),
    ):
        app.router.add_api_route(
            path,
            endpoint,
            methods=["GET"],
            response_model=result,
            responses={200: {"links": links}, 304: {"description": "Not changed."}, **responses},
            summary=summary,
            description=endpoint.__doc__ or "",
            operation_id=operation,
            tags=["tables"],
        )


async def index(request: Request) -> Response:
    """List the tables of cited data that defaults, materials and design temperatures come from."""
    return cached(request, orjson.dumps(listing()), "application/json", BY_ACCEPT)


def listing() -> TableIndex:
    """Return the index of tables."""
    return {
        "tables_version": TABLES_VERSION,
        "tables": [
            {"name": name, "title": table(name).title, "row_count": len(table(name).rows)}
            for name in table_names()
        ],
    }


def _names(schema: dict[str, Any]) -> None:
    schema["enum"] = list(table_names())


async def one_table(
    request: Request,
    name: Annotated[str, Path(description="Name of the table.", json_schema_extra=_names)],
    query: Annotated[TableQuery, Query()],
) -> Response:
    """Return one table as JSON, or as CSV by `format=csv` or the Accept header. Answers carry an ETag."""
    if name not in table_names():
        return Response(problem(404, f"tables: {', '.join(table_names())}"), 404, media_type=PROBLEM_JSON)
    if query.altitude_m is not None and name != PLACES:
        return _refused(parameter_error("altitude_m", "not_allowed_here", f"for {PLACES} only"))
    if _wants_csv(request, query):
        if query.altitude_m is not None:
            return _refused(parameter_error("altitude_m", "not_allowed_here", "with format=json only"))
        return cached(request, csv_text(name).encode(), "text/csv; charset=utf-8", BY_ACCEPT)
    if query.altitude_m is None:
        answer = statement(table(name), table(name).rows)
    else:
        answer = statement(table(name), corrected_rows(query.altitude_m), [CORRECTED_COLUMN])
    return cached(request, orjson.dumps(answer), "application/json", BY_ACCEPT)


def _refused(error: ProblemError) -> Response:
    return Response(refusal([error]), 422, media_type=PROBLEM_JSON)


def _wants_csv(request: Request, query: TableQuery) -> bool:
    if query.format is not None:
        return query.format == "csv"
    return request.headers.get("accept", "").partition(",")[0].strip().startswith("text/csv")


def statement(of: Table, rows: Sequence[Row], further: Sequence[Column] = ()) -> TableStatement:
    """State a table with its columns, further ones after them, and the rows given."""
    columns: list[ColumnStatement] = []
    for column in (*of.columns, *further):
        stated: ColumnStatement = {
            "name": column.name,
            "kind": column.kind,
            "description": column.description,
        }
        if column.kind == "number":
            stated["unit"] = column.unit
        columns.append(stated)
    return {
        "name": of.name,
        "title": of.title,
        "description": of.description,
        "tables_version": TABLES_VERSION,
        "columns": columns,
        "rows": [dict(row) for row in rows],
    }
