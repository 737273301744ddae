"""Small questions by GET, so that a spreadsheet's cell can ask them: flat parameters in, one bare number out.

Spreadsheet programs send OPTIONS, HEAD and GET, all with `Accept: */*` and no other header, and lose the body of whatever
is no success. So the form of the answer can be asked for in the address, and so can errors that a cell can show.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, NamedTuple, get_args

import orjson
from fastapi import FastAPI, Path
from starlette.requests import Request
from starlette.responses import Response

from warmstead.api import cells_described
from warmstead.api.accepting import preferred
from warmstead.api.caching import cached
from warmstead.api.problems import PROBLEM_JSON, ProblemDocument, ProblemError, problem, refusal
from warmstead.exchange.cells import answers, lookup
from warmstead.exchange.cells.answers import Cell, Format
from warmstead.exchange.cells.query import (
    LONGEST_NAME,
    LONGEST_QUERY,
    ParameterProblem,
    ParametersRefused,
    Query,
    guess,
    split,
)
from warmstead.exchange.cells.questions import CELL_QUESTIONS, CellQuestion, ask, cells_of

MEDIA_TYPES: dict[Format, str] = {
    "text": "text/plain",
    "json": "application/json",
    "csv": "text/csv",
    "xml": "application/xml",
}
"""The first is what a cell gets that says nothing but `*/*`."""
FORMATS: tuple[Format, ...] = get_args(Format)
ERRORS = ("problem", "in_cell")
STATUS_HEADER = "Warmstead-Status"
"""Beside an error shown in a cell: the status that the answer would have had."""
WARNINGS_HEADER = "Warmstead-Warnings"
"""Codes of the answer's warnings, which a bare number has no place for."""
VARY = {"Vary": "Accept"}
TABLE_PATH = "/v1/tables/{table}/{row}/{column}"


class _Told(NamedTuple):
    """An answer with all that any of its forms is made of."""

    whole: Any
    root: str
    value: float | str
    cells: Sequence[Cell]


def add_cells(app: FastAPI) -> None:
    """Give the application a GET for each small question, and for one value of a table."""
    for cell in CELL_QUESTIONS.values():
        _add(
            app, f"/v1/{cell.name}", _endpoint(cell), cells_described.question(cell), ("HEAD", "GET", "POST")
        )
    _add(app, TABLE_PATH, table_value, cells_described.table_value(), ("HEAD", "GET"))


def _add(app: FastAPI, path: str, endpoint: Any, described: dict[str, Any], methods: Sequence[str]) -> None:
    app.router.add_api_route(
        path,
        endpoint,
        methods=["GET"],
        responses=_PROBLEMS | described.pop("responses"),
        tags=["cells"],
        **described,
    )
    allow = ", ".join(sorted((*methods, "OPTIONS")))

    async def options() -> Response:
        return Response(status_code=204, headers={"Allow": allow})

    app.router.add_api_route(path, options, methods=["OPTIONS"], include_in_schema=False)


_PROBLEMS: dict[int | str, dict[str, Any]] = {
    304: {"description": "Not changed."},
    414: {"description": "The query is too long.", "model": ProblemDocument},
    422: {
        "description": "The query is refused: every reason is listed with its parameter.",
        "model": ProblemDocument,
    },
}


def _endpoint(cell: CellQuestion) -> Any:
    async def endpoint(request: Request) -> Response:
        query = _query(request)
        if query is None:
            return _too_long()
        try:
            _note_wrong_options(query, [column.name for column in cell.columns])
            result = ask(cell, query)
            cells = cells_of(cell, result)
            value = _value(cells, query.given.get("value", cell.value))
        except ParametersRefused as refused:
            return _refused(422, refused.problems, query)
        codes = str(cells[-1].value)
        told = _Told(result, cell.question.python_name, value, cells)
        return _answer(request, query, told, {WARNINGS_HEADER: codes} if codes else {})

    return endpoint


async def table_value(
    request: Request,
    table: Annotated[str, Path(description="Name of the table.")],
    row: Annotated[
        str, Path(description="Id of the row; in a table without ids its first columns, with colons between.")
    ],
    column: Annotated[str, Path(description="Name of the column.")],
) -> Response:
    """Return one value of a table."""
    query = _query(request)
    if query is None:
        return _too_long()
    try:
        _note_wrong_options(query, ())
        unknown = [
            ParameterProblem(
                given[:LONGEST_NAME], "unknown_field", "unknown parameter; known: format, errors"
            )
            for given in query.given
            if given not in ("format", "errors")
        ]
        if query.problems or unknown:
            raise ParametersRefused([*query.problems, *unknown])
        found = lookup.look_up(table, row, column)
    except ParametersRefused as refused:
        return _refused(422, refused.problems, query)
    except lookup.NotThere as missing:
        return _refused(404, [ParameterProblem(missing.part, "not_found", missing.detail)], query)
    told = _Told(found, "table_value", lookup.value_of(found), lookup.cells_of(found))
    return _answer(request, query, told, {})


def _query(request: Request) -> Query | None:
    raw: bytes = request.scope["query_string"]
    return None if len(raw) > LONGEST_QUERY else split(raw)


def _note_wrong_options(query: Query, columns: Sequence[str]) -> None:
    """Add what is wrong with the parameters about the answer to what is wrong with the query."""
    choices = {"format": FORMATS, "errors": ERRORS}
    if columns:
        choices["value"] = tuple(columns)
    told = {p.parameter for p in query.problems}
    for option, known in choices.items():
        given = query.given.get(option)
        if given is not None and given not in known and option not in told:
            detail = f"one of {', '.join(known)}; {guess(given, known)}"
            query.problems.append(ParameterProblem(option, "unknown_choice", detail))


def _value(cells: Sequence[Cell], wanted: str) -> float | str:
    value = next(cell.value for cell in cells if cell.name == wanted)
    if value is None:
        raise ParametersRefused([ParameterProblem("value", "not_found", f"this answer has no {wanted}")])
    return value


def _format(request: Request, query: Query) -> Format:
    """Return the form of the answer: what the address asks for, else what the Accept header does."""
    given = query.given.get("format")
    for known in FORMATS:
        if known == given:
            return known
    media_type = preferred(request.headers.get("accept", ""), tuple(MEDIA_TYPES.values()))
    return next(known for known, offered in MEDIA_TYPES.items() if offered == media_type)


def _answer(request: Request, query: Query, told: _Told, headers: dict[str, str]) -> Response:
    chosen = _format(request, query)
    media_type = MEDIA_TYPES[chosen]
    if chosen == "json":
        return cached(request, orjson.dumps(told.whole), media_type, headers | VARY)
    if chosen == "text":
        text = answers.bare(told.value)
    elif chosen == "csv":
        text = answers.as_csv(told.cells)
    else:
        text = answers.as_xml(told.root, told.cells)
    return cached(request, text.encode(), f"{media_type}; charset=utf-8", headers | VARY)


def _too_long() -> Response:
    return Response(problem(414, f"a query of at most {LONGEST_QUERY} bytes"), 414, media_type=PROBLEM_JSON)


def _refused(status: int, problems: Sequence[ParameterProblem], query: Query) -> Response:
    """Refuse a query: with a problem document, or where the address asks for it with a text that a cell shows."""
    if query.given.get("errors") == "in_cell":
        text = answers.error_in_cell(problems[0].parameter, problems[0].detail)
        headers = {STATUS_HEADER: str(status), "Cache-Control": "no-store"}
        return Response(text, 200, headers, "text/plain; charset=utf-8")
    errors: list[ProblemError] = [
        {"parameter": p.parameter, "code": p.code, "detail": p.detail} for p in problems
    ]
    document = refusal(errors) if status == 422 else problem(status, problems[0].detail, errors)
    return Response(document, status, VARY, PROBLEM_JSON)
