"""A route for each question: bytes in, the model reads them, the question answers, bytes out.

FastAPI only describes these routes. Serving them goes past its own reading and writing, which would parse the body twice
and check the answer against its schema at every request (a test does that once instead).
"""

from __future__ import annotations

from functools import cache
from typing import Annotated, Any

import orjson
from anyio import CapacityLimiter, to_thread
from fastapi import FastAPI, Query
from fastapi.routing import APIRoute
from starlette.types import Receive, Scope, Send

from warmstead.api.problems import (
    PROBLEM_JSON,
    ProblemDocument,
    ProblemError,
    errors_of,
    parameter_error,
    problem,
    refusal,
)
from warmstead.api.settings import SETTINGS
from warmstead.building.findings import Refused
from warmstead.exchange.documents import Malformed, read
from warmstead.questions.registry import QUESTIONS, Question

JSON = b"application/json"
WORKINGS = {b"": False, b"workings=false": False, b"workings=true": True}
PROBLEM_RESPONSES: dict[int | str, dict[str, Any]] = {
    status: {"description": description, "model": ProblemDocument}
    for status, description in (
        (400, "The body is not JSON."),
        (413, "The body is too large."),
        (415, "The body's media type is not JSON."),
        (422, "The request is refused: every reason is listed with its JSON pointer."),
    )
}


class _Answered(Exception):
    """Ends a request early with a problem document."""

    def __init__(self, status: int, document: bytes) -> None:
        super().__init__(status)
        self.status = status
        self.document = document


@cache
def _long_questions() -> CapacityLimiter:
    """Long questions run beside the event loop, so many at a time; more would only take each other's turns."""
    return CapacityLimiter(SETTINGS.long_questions_at_once)


class QuestionEndpoint:
    """Serves one question as an ASGI application."""

    def __init__(self, question: Question) -> None:
        self._question = question

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        try:
            workings = _workings(scope["query_string"])
            _check_media_type(scope["headers"])
            body = await _body(receive)
            if self._question.long:
                answer = await to_thread.run_sync(self._answer, body, workings, limiter=_long_questions())
            else:
                answer = self._answer(body, workings)
        except _Answered as ended:
            await _send(send, ended.status, PROBLEM_JSON.encode(), ended.document)
        else:
            await _send(send, 200, JSON, answer)

    def _answer(self, body: bytes, workings: bool) -> bytes:
        try:
            request = read(self._question.request, body)
            return orjson.dumps(self._question.answer(request, workings=workings))
        except Malformed as error:
            detail = f"the body is not JSON: {error}"
            not_json: ProblemError = {"pointer": "", "code": "invalid_json", "detail": detail}
            raise _Answered(400, problem(400, detail, [not_json])) from None
        except Refused as error:
            raise _Answered(422, refusal(errors_of(error.problems))) from None


def add_questions(app: FastAPI) -> None:
    """Give the application a route for each question."""
    for question in QUESTIONS.values():
        _add(app, question)


def _add(app: FastAPI, question: Question) -> None:
    class QuestionRoute(APIRoute):
        """Described by FastAPI, served by the question's endpoint."""

        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self.app = QuestionEndpoint(question)

    async def described(
        body: question.request,  # type: ignore[name-defined]  # a model known at run time only
        workings: Annotated[bool, Query(description="Whether to list each step of the calculation.")] = False,
    ) -> None: ...

    # The annotation names a variable of this function, which FastAPI could not look up by itself.
    described.__annotations__["body"] = question.request
    described.__annotations__["workings"] = Annotated[
        bool, Query(description="Whether to list each step of the calculation.")
    ]
    app.router.add_api_route(
        f"/v1/{question.name}",
        described,
        methods=["POST"],
        response_model=question.result,
        response_description="The answer.",
        responses=PROBLEM_RESPONSES,
        summary=question.title,
        description=question.description,
        operation_id=f"ask_{question.python_name}",
        tags=["questions"],
        route_class_override=QuestionRoute,
    )


def _workings(query: bytes) -> bool:
    try:
        return WORKINGS[query]
    except KeyError:
        raise _Answered(422, refusal(_query_errors(query.decode("latin-1")))) from None


def _query_errors(query: str) -> list[ProblemError]:
    errors: list[ProblemError] = []
    for part in query.split("&"):
        name = part.partition("=")[0]
        if name == "workings":
            error = parameter_error("workings", "unknown_choice", "true or false, once")
            if error not in errors:
                errors.append(error)
        else:
            errors.append(
                parameter_error(name[:64], "unknown_field", "the only query parameter here is workings")
            )
    return errors


def _check_media_type(headers: list[tuple[bytes, bytes]]) -> None:
    for name, value in headers:
        if name == b"content-type":
            media_type = value.partition(b";")[0].strip().lower()
            if media_type != JSON and not media_type.endswith(b"+json"):
                raise _Answered(415, problem(415, "send application/json"))
            return


async def _body(receive: Receive) -> bytes:
    parts: list[bytes] = []
    size = 0
    while True:
        message = await receive()
        part = message.get("body", b"")
        size += len(part)
        if size > SETTINGS.maximum_body_bytes:
            raise _Answered(413, problem(413, f"at most {SETTINGS.maximum_body_bytes} bytes"))
        if not message.get("more_body", False):
            return b"".join((*parts, part)) if parts else part
        parts.append(part)


async def _send(send: Send, status: int, media_type: bytes, body: bytes) -> None:
    headers = [(b"content-type", media_type), (b"content-length", str(len(body)).encode())]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
