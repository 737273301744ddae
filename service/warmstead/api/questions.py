"""A route for each question: bytes in, the model reads them, the question answers, bytes out.

FastAPI's own reading and writing would parse the body twice and check the answer against its schema at every request (a test does
that once instead).
"""

from __future__ import annotations

from functools import partial

import orjson
from fastapi import FastAPI
from starlette.types import Receive, Scope, Send

from warmstead.api.later_described import LaterDescribed
from warmstead.api.limits.receiving import whole_body
from warmstead.api.long_work import worked_on
from warmstead.api.problems import ProblemError, parameter_error, problem, refusal
from warmstead.api.questions_described import described, path
from warmstead.api.replies import JSON, Answered, ClientGone, Reply, replied, send_reply
from warmstead.api.settings import SETTINGS
from warmstead.exchange.documents import read
from warmstead.questions.registry import QUESTIONS, Question

JSON_BYTES = JSON.encode()
MOST_HELD = SETTINGS.most_held
WORKINGS = {b"": False, b"workings=false": False, b"workings=true": True}


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


class QuestionRoute(LaterDescribed):
    """The route of one question."""

    def __init__(self, question: Question) -> None:
        """Take the question."""
        super().__init__(path(question), QuestionEndpoint(question), partial(described, question))


def add_questions(app: FastAPI) -> None:
    """Give the application a route for each question."""
    for question in QUESTIONS.values():
        app.router.routes.append(QuestionRoute(question))


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
