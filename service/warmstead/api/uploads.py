"""What an operation that takes a file needs: its media type, its query, its route, and what it says when it refuses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, TypeVar

from anyio import CapacityLimiter, to_thread
from fastapi.routing import APIRoute
from pydantic import BaseModel, ValidationError
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

from warmstead.api.limits.receiving import whole_body
from warmstead.api.long_work import worked_on
from warmstead.api.problems import ProblemDocument, problem, query_errors, refusal
from warmstead.api.replies import Answered, ClientGone, Reply, send_reply
from warmstead.api.settings import SETTINGS

QueryModel = TypeVar("QueryModel", bound=BaseModel)

FileAnswer = Callable[[bytes, str, QueryModel, str], Reply]

GET_RESPONSES: dict[int | str, dict[str, Any]] = {
    304: {"description": "Not changed."},
    422: {"description": "A query parameter is refused.", "model": ProblemDocument},
    503: {"description": "Too many requests at hand.", "model": ProblemDocument},
}
"""What a file to fill in may say beside 200."""
POST_RESPONSES: dict[int | str, dict[str, Any]] = {
    400: {"description": "The body is not JSON.", "model": ProblemDocument},
    408: {"description": "The body came too slowly.", "model": ProblemDocument},
    413: {"description": "The body is too large.", "model": ProblemDocument},
    415: {"description": "The body's media type is none of these.", "model": ProblemDocument},
    422: {
        "description": "The file is refused: every reason is listed with its place in it or its parameter.",
        "model": ProblemDocument,
    },
    503: {
        "description": "Too many requests at hand, or the work was ended: it took too long or too much memory.",
        "model": ProblemDocument,
    },
}
"""What a filled file may be answered with beside 200."""


@cache
def _threads() -> CapacityLimiter:
    return CapacityLimiter(SETTINGS.long_questions_at_once)


async def beside_the_loop(work: Callable[[], Response]) -> Response:
    """Do work of our own, which no request can make long, in a thread."""
    return await to_thread.run_sync(work, limiter=_threads())


def media_type(request: Request, accepted: Sequence[str]) -> str:
    """Return the media type of the body, the first accepted one where the request names none.

    Raises:
        Answered: it is none of those accepted.
    """
    given = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if not given:
        return accepted[0]
    if given not in accepted:
        raise Answered(415, problem(415, f"send one of {', '.join(accepted)}"))
    return given


def query(request: Request, model: type[QueryModel]) -> QueryModel:
    """Return the query parameters.

    Raises:
        Answered: they are refused.
    """
    try:
        return model.model_validate(dict(request.query_params))
    except ValidationError as error:
        errors = query_errors(error.errors(include_url=False), model.model_fields)
        raise Answered(422, refusal(errors)) from None


def route_of(
    accepted: Sequence[str], model: type[QueryModel], answer: FileAnswer[QueryModel]
) -> type[APIRoute]:
    """Return a kind of route that FastAPI describes by one function and that another serves.

    FastAPI would parse the body as JSON; here it may be a file.

    Args:
        accepted: media types, the first for a body that names none.
        model: query parameters.
        answer: takes the body, its media type, the query and the Accept header; works in another process.
    """

    async def reply(request: Request) -> Reply:
        asked = query(request, model)
        given = media_type(request, accepted)
        content = await whole_body(request.scope, request.receive)
        return await worked_on(
            request.receive, answer, content, given, asked, request.headers.get("accept", "")
        )

    async def serve(scope: Scope, receive: Receive, send: Send) -> None:
        try:
            replied = await reply(Request(scope, receive))
        except Answered as ended:
            replied = ended.reply
        except ClientGone:
            return
        await send_reply(send, replied)

    class FileRoute(APIRoute):
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self.app = serve

    return FileRoute
