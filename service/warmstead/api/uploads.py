"""What an operation that takes a file needs: its media type, its bytes within the limit, and long work beside the event loop."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from functools import cache
from typing import Any, TypeVar

from anyio import CapacityLimiter, to_thread
from fastapi.routing import APIRoute
from pydantic import BaseModel, ValidationError
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import request_response

from warmstead.api.problems import PROBLEM_JSON, ProblemError, errors_of, problem, query_errors, refusal
from warmstead.api.settings import SETTINGS
from warmstead.building.findings import Refused
from warmstead.exchange.documents import Malformed

QueryModel = TypeVar("QueryModel", bound=BaseModel)


class Answered(Exception):
    """Ends a request early with a problem document."""

    def __init__(self, status: int, document: bytes) -> None:
        super().__init__(status)
        self.response = Response(document, status, media_type=PROBLEM_JSON)


@cache
def _limiter() -> CapacityLimiter:
    return CapacityLimiter(SETTINGS.long_questions_at_once)


async def beside_the_loop(work: Callable[[], Response]) -> Response:
    """Do long work in a thread, so many at a time; what it refuses becomes a problem document."""
    try:
        return await to_thread.run_sync(work, limiter=_limiter())
    except Answered as ended:
        return ended.response
    except Malformed as error:
        detail = f"the body is not JSON: {error}"
        not_json: ProblemError = {"pointer": "", "code": "invalid_json", "detail": detail}
        return Answered(400, problem(400, detail, [not_json])).response
    except Refused as error:
        return Answered(422, refusal(errors_of(error.problems))).response


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


async def body(request: Request) -> bytes:
    """Return the body.

    Raises:
        Answered: it is larger than the limit.
    """
    parts: list[bytes] = []
    size = 0
    async for part in request.stream():
        size += len(part)
        if size > SETTINGS.maximum_body_bytes:
            raise Answered(413, problem(413, f"at most {SETTINGS.maximum_body_bytes} bytes"))
        parts.append(part)
    return b"".join(parts)


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


def route_of(serve: Callable[[Request], Awaitable[Response]]) -> type[APIRoute]:
    """Return a kind of route that FastAPI describes by one function and that another serves.

    FastAPI would parse the body as JSON; here it may be a file.
    """

    class FileRoute(APIRoute):
        def __init__(self, *args: Any, **kwargs: Any) -> None:
            super().__init__(*args, **kwargs)
            self.app = request_response(serve)

    return FileRoute
