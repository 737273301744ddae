"""Batches in the OpenAPI document: FastAPI describes one line each way, and the media types are then said to hold lines of them."""

from __future__ import annotations

import json
from functools import cache
from typing import Annotated, Any, Literal, NotRequired

from fastapi import Query
from fastapi.routing import APIRoute
from pydantic import BaseModel, ConfigDict, Field
from pydantic.config import JsonDict
from typing_extensions import TypedDict

from warmstead.api.problems import ProblemDocument
from warmstead.exchange.batch.stating import Item, line_model, state
from warmstead.exchange.batch.summary import summary_type
from warmstead.questions.registry import QUESTIONS, Question
from warmstead.survey.document import MayBeAbsent, described_later

NDJSON = "application/x-ndjson"
TAG = {
    "name": "batches",
    "description": "A question asked of many houses in one request: lines of JSON in, lines of JSON out, both streamed.",
}
DESCRIPTION = (
    "{title}, for many documents in one request. Each line of the body is one request as `POST /v1/{name}` takes it, on one line, "
    "and may have an `id` beside it. Each line but blank ones gets a line of its own, in the same order: `line`, `status`, the "
    "`id`, and `answer` or `problem`; a line that is refused does not touch the others. Answers begin before the body ends: read "
    "while you send, since a reader that does not read stops the work and then the sending. The statuses of this operation itself "
    "are those before the first line."
)
UNCOUNTED: JsonDict = {"x-unit": "1"}


@cache
def path(question: Question) -> str:
    """Return the path of a question's batch."""
    return f"/v1/{question.name}/batch"


class BatchQuery(BaseModel):
    """Query parameters of a batch."""

    model_config = ConfigDict(extra="forbid")

    content: MayBeAbsent[Literal["full", "summary"]] = Field(
        None,
        description="The whole answers, or their totals alone with the codes of their warnings; full where absent.",
    )


def described(question: Question) -> APIRoute:
    """Return the route by which FastAPI describes a question's batch: by what one line holds."""

    async def described(line: Any, asked: Any) -> None: ...

    described.__annotations__ |= {"line": line_model(question), "asked": Annotated[BatchQuery, Query()]}
    return APIRoute(
        path(question),
        described,
        methods=["POST"],
        response_model=None,
        responses={
            200: {"description": "A line for each line that is not blank.", "model": line_answer(question)},
            415: {
                "description": "The body's media type is not NDJSON, or it is compressed.",
                "model": ProblemDocument,
            },
            422: {"description": "A query parameter is refused.", "model": ProblemDocument},
            503: {
                "description": "Too many batches at once; Retry-After says when to come back.",
                "model": ProblemDocument,
            },
        },
        summary=f"{question.title}: many at once",
        description=DESCRIPTION.format(title=question.title, name=question.name),
        operation_id=f"answer_{question.python_name}_batch",
        tags=[str(TAG["name"])],
    )


@cache
def line_answer(question: Question) -> Any:
    """Return the shape of a line of a batch's answer."""
    whole_or_totals = question.result | summary_type(question)
    members = {
        "line": Annotated[
            int, Field(description="Number of the line answered, from 1.", ge=1, json_schema_extra=UNCOUNTED)
        ],
        "status": Annotated[
            int,
            Field(
                description="HTTP status that the line would have had by itself: 200, 400, 413, 422; 408, 500, 503.",
                ge=200,
                le=599,
                json_schema_extra=UNCOUNTED,
            ),
        ],
        "id": NotRequired[Annotated[str, Field(description="The line's own id, where it had one.")]],
        "answer": NotRequired[
            Annotated[whole_or_totals, Field(description="The answer, or its totals; with status 200.")]
        ],
        "problem": NotRequired[
            Annotated[ProblemDocument, Field(description="Why there is none; with every other status.")]
        ],
    }
    name = f"{question.result.__name__.removesuffix('Result')}LineAnswer"
    shape = TypedDict(name, members)  # type: ignore[misc]  # made of another at run time
    shape.__doc__ = "What one line got."
    return described_later(shape)


def as_lines(document: dict[str, Any], requests: dict[str, Any]) -> None:
    """Say in a document that the bodies of batches are lines.

    The schema of a text's lines has its place in `contentSchema` (JSON Schema 2020-12): OpenAPI 3.1 has no word for a body that is
    a sequence of documents.
    """
    for question in QUESTIONS.values():
        if not question.long:
            operation = document["paths"][path(question)]["post"]
            sent = json.dumps(requests[question.name] | {"id": "house-1"}, ensure_ascii=False)
            got = state(question.name, Item(1, sent.encode()), "summary", len(sent)).line().decode()
            _as_lines(operation["requestBody"]["content"], f"{sent}\n")
            operation["requestBody"]["required"] = False  # a batch without a line is answered with none
            _as_lines(operation["responses"]["200"]["content"], got)


def _as_lines(content: dict[str, Any], example: str) -> None:
    line = content.pop("application/json")["schema"]
    content[NDJSON] = {
        "schema": {
            "type": "string",
            "contentMediaType": NDJSON,
            "contentSchema": {"type": "array", "items": line},
        },
        "example": example,
    }
