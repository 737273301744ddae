"""An answer as plain values: it can be made in another process and is sent in two messages."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from starlette.types import Send
from typing_extensions import ParamSpec

from warmstead.api.problems import PROBLEM_JSON, ProblemError, errors_of, problem, refusal
from warmstead.building.findings import Refused
from warmstead.exchange.documents import MOST_LISTED, Malformed

JSON = "application/json"
CLOSE = (("connection", "close"),)
RETRY = (("retry-after", "1"),)
Parameters = ParamSpec("Parameters")


class Reply(NamedTuple):
    """An answer, or a problem."""

    status: int
    media_type: str
    body: bytes
    headers: Sequence[tuple[str, str]] = ()


class Answered(Exception):
    """Ends a request early with a problem document."""

    def __init__(self, status: int, document: bytes, headers: Sequence[tuple[str, str]] = ()) -> None:
        super().__init__(status)
        self.reply = Reply(status, PROBLEM_JSON, document, headers)

    @classmethod
    def with_reply(cls, reply: Reply) -> Answered:
        """Return the end of a request with a reply that is made."""
        return cls(reply.status, reply.body, reply.headers)


class ClientGone(Exception):
    """Nobody waits for an answer any more; there is none."""


def replied(work: Callable[Parameters, Reply], *args: Parameters.args, **kwargs: Parameters.kwargs) -> Reply:
    """Return what some work makes; what it refuses becomes a problem document."""
    try:
        return work(*args, **kwargs)
    except Answered as ended:
        return ended.reply
    except Malformed as error:
        detail = f"the body is not JSON: {error}"
        not_json: ProblemError = {"pointer": "", "code": "invalid_json", "detail": detail}
        return Reply(400, PROBLEM_JSON, problem(400, detail, [not_json]))
    except Refused as error:
        total = len(error.problems) + error.unlisted
        return Reply(422, PROBLEM_JSON, refusal(errors_of(error.problems[:MOST_LISTED]), total))


def busy(why: str) -> Reply:
    """Return the reply to a request that came at a time when there are too many."""
    return Reply(503, PROBLEM_JSON, problem(503, f"{why}; ask again in a moment"), RETRY)


async def send_reply(send: Send, reply: Reply) -> None:
    """Send an answer."""
    headers = [
        (b"content-type", reply.media_type.encode()),
        (b"content-length", str(len(reply.body)).encode()),
    ]
    headers += [(name.lower().encode(), value.encode()) for name, value in reply.headers]
    await send({"type": "http.response.start", "status": reply.status, "headers": headers})
    await send({"type": "http.response.body", "body": reply.body})
