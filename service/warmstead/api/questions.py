"""A route for each question: bytes in, the model reads them, the question answers, bytes out.

FastAPI only describes these routes. Serving them goes past its own reading and writing, which would parse the body twice
and check the answer against its schema at every request (a test does that once instead).
"""

from __future__ import annotations

from typing import Annotated, Any

import orjson
from fastapi import FastAPI, Query
from fastapi.routing import APIRoute
from starlette.types import Receive, Scope, Send

from warmstead.api.limits.receiving import whole_body
from warmstead.api.long_work import worked_on
from warmstead.api.problems import ProblemDocument, ProblemError, parameter_error, problem, refusal
from warmstead.api.replies import JSON, Answered, ClientGone, Reply, replied, send_reply
from warmstead.api.settings import SETTINGS
from warmstead.exchange.documents import read
from warmstead.questions.registry import QUESTIONS, Question

JSON_BYTES = JSON.encode()
MOST_HELD = SETTINGS.most_held
WORKINGS = {b"": False, b"workings=false": False, b"workings=true": True}
PROBLEM_RESPONSES: dict[int | str, dict[str, Any]] = {
    status: {"description": description, "model": ProblemDocument}
    for status, description in (
        (400, "The body is not JSON."),
        (408, "The body came too slowly."),
        (413, "The body is too large."),
        (415, "The body's media type is not JSON."),
        (422, "The request is refused: every reason is listed with its JSON pointer."),
        (503, "Too many requests at hand, or the work was ended: it took too long or too much memory."),
    )
}


class QuestionEndpoint:
    """Serves one question as an ASGI application."""

    def __init__(self, question: Question) -> None:
        self._question = question

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        try:
            workings = _workings(scope["query_string"])
            _check_media_type(scope["headers"])
            body = await whole_body(scope, receive)
            if self._question.long or len(body) > SETTINGS.body_bytes_answered_at_once:
                reply = await worked_on(receive, answered, self._question.name, body, workings)
            else:
                reply = replied(answered, self._question.name, body, workings)
        except Answered as ended:
            reply = ended.reply
        except ClientGone:
            return
        await send_reply(send, reply)


def answered(name: str, body: bytes, workings: bool) -> Reply:
    """Return the answer to a question.

    Raises:
        Malformed, Refused: there is none.
    """
    question = QUESTIONS[name]
    request = read(question.request, body, MOST_HELD)
    return Reply(200, JSON, orjson.dumps(question.answer(request, workings=workings)))


def add_questions(app: FastAPI) -> None:
    """Give the application a route for each question."""
    for question in QUESTIONS.values():
        _add(app, question)


class QuestionRoute(APIRoute):
    """Described by FastAPI, served by a question's endpoint."""


def _add(app: FastAPI, question: Question) -> None:
    class Served(QuestionRoute):
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
        route_class_override=Served,
    )


def _workings(query: bytes) -> bool:
    try:
        return WORKINGS[query]
    except KeyError:
        raise Answered(422, refusal(_query_errors(query.decode("latin-1")))) from None


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
            if media_type != JSON_BYTES and not media_type.endswith(b"+json"):
                raise Answered(415, problem(415, "send application/json"))
            return
