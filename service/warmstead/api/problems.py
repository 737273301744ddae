"""Problem documents (RFC 9457): every refusal in one shape, and never an echo of what was sent."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from http import HTTPStatus
from typing import Annotated, Any, Literal, NotRequired

import orjson
from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from pydantic import Field
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Match
from typing_extensions import TypedDict

from warmstead.building.findings import Problem, ProblemCode
from warmstead.building.names import nearest
from warmstead.exchange.problem_kinds import KINDS, things_to_mend
from warmstead.survey.document import described_later

PROBLEM_JSON = "application/problem+json"


class ProblemError(TypedDict):
    """One thing that is wrong, and what would be accepted."""

    pointer: NotRequired[
        Annotated[str, Field(description="JSON pointer (RFC 6901) into the request's body.")]
    ]
    parameter: NotRequired[
        Annotated[str, Field(description="Name of the query parameter, in place of a pointer.")]
    ]
    cell: NotRequired[
        Annotated[
            str, Field(description="Cell of the workbook that was sent, such as `Rooms!E7`, or its sheet.")
        ]
    ]
    line: NotRequired[
        Annotated[
            int,
            Field(description="Line of the text that was sent, from 1.", json_schema_extra={"x-unit": "1"}),
        ]
    ]
    column: NotRequired[
        Annotated[
            str, Field(description="Name of the column in that line; its number, where the name is unknown.")
        ]
    ]
    code: Annotated[ProblemCode, Field(description="Code of the published list.")]
    detail: Annotated[str, Field(description="What is wrong and what would be accepted.")]


@described_later
class ProblemDocument(TypedDict):
    """A problem document (RFC 9457)."""

    type: Annotated[str, Field(description="Kind of problem.")]
    title: Annotated[str, Field(description="The kind in words.")]
    status: Annotated[
        int, Field(description="HTTP status.", ge=400, le=599, json_schema_extra={"x-unit": "1"})
    ]
    detail: Annotated[str, Field(description="What happened, and what to do.")]
    errors: Annotated[list[ProblemError], Field(description="Every single error; may be empty.")]


def problem(
    status: int, detail: str, errors: Sequence[ProblemError] = (), kind: tuple[str, str] | None = None
) -> bytes:
    """Return a problem document as JSON.

    Args:
        status: the answer's.
        detail: what happened and what to do.
        errors: each single one.
        kind: its kind and title, where the status has several.
    """
    named, title = kind or KINDS.get(status, ("about:blank", HTTPStatus(status).phrase))
    document: ProblemDocument = {
        "type": named,
        "title": title,
        "status": status,
        "detail": detail,
        "errors": list(errors),
    }
    return orjson.dumps(document)


def kind_of(document: bytes) -> str:
    """Return the last word of a problem document's type; `other`, where it is no problem document of this service.

    Args:
        document: as `problem` made it, or its beginning.
    """
    if not document.startswith(_TYPE):
        return "other"
    return document[len(_TYPE) : document.find(b'"', len(_TYPE))].decode()


_TYPE = b'{"type":"urn:warmstead:problem:'


def errors_of(problems: Iterable[Problem]) -> list[ProblemError]:
    """Return problems as members of a problem document."""
    return [{"pointer": p.pointer, "code": p.code, "detail": p.detail} for p in problems]


def refusal(errors: Sequence[ProblemError], total: int | None = None) -> bytes:
    """Return the problem document of a refused request.

    Args:
        errors: those that are listed.
        total: how many there are, where not all are listed.
    """
    total = len(errors) if total is None else total
    return problem(422, things_to_mend(total, len(errors)), errors)


def at_fault() -> bytes:
    """Return the problem document of a fault of ours."""
    return problem(500, "this is our fault; the request was not at fault")


def parameter_error(parameter: str, code: ProblemCode, detail: str) -> ProblemError:
    """Return an error that is about a query parameter."""
    return {"parameter": parameter, "code": code, "detail": detail}


def query_errors(details: Iterable[Any], known: Collection[str]) -> list[ProblemError]:
    """Return what a model says of a query.

    Args:
        details: the errors of Pydantic.
        known: names that the query may have, to guess from.
    """
    return [_query_error(detail, known) for detail in details]


def install(app: FastAPI, query_parameters: Collection[str]) -> None:
    """Answer every error of the application with a problem document.

    Args:
        app: the application.
        query_parameters: names that a query may have, to guess from.
    """

    async def http_error(request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        headers = dict(error.headers or {})
        detail = str(error.detail)
        if error.status_code == 404:
            detail = "no such path; /openapi.json lists them all"
        if error.status_code == 405:
            headers["Allow"] = ", ".join(_methods_of(app, request))
            detail = f"this path takes {headers['Allow']}"
        return Response(problem(error.status_code, detail), error.status_code, headers, PROBLEM_JSON)

    async def query_error(request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        return Response(refusal(query_errors(error.errors(), query_parameters)), 422, media_type=PROBLEM_JSON)

    async def internal_error(request: Request, error: Exception) -> Response:
        # The reason goes to the log of the server, never to the caller: it could quote the request.
        return Response(at_fault(), 500, media_type=PROBLEM_JSON)

    app.add_exception_handler(HTTPException, http_error)
    app.add_exception_handler(RequestValidationError, query_error)
    app.add_exception_handler(Exception, internal_error)


def _methods_of(app: FastAPI, request: Request) -> list[str]:
    methods: set[str] = set()
    for route in app.router.routes:
        match, _ = route.matches(request.scope)
        if match is not Match.NONE:
            methods |= getattr(route, "methods", None) or set()
    return sorted(methods)


_QUERY_CODES: dict[str, ProblemCode] = {
    "extra_forbidden": "unknown_field",
    "literal_error": "unknown_choice",
    "missing": "missing_field",
    "float_parsing": "not_a_number",
    "finite_number": "not_a_number",
    "greater_than_equal": "out_of_range",
    "less_than_equal": "out_of_range",
}


def _query_error(detail: Any, known: Collection[str]) -> ProblemError:
    code: Literal["wrong_type"] | ProblemCode = _QUERY_CODES.get(detail["type"], "wrong_type")
    name = str(detail["loc"][-1])[:64]
    if code == "unknown_field":
        return parameter_error(name, code, f"unknown parameter; {nearest(name, known)}".replace("'", ""))
    return parameter_error(name, code, str(detail["msg"]))
