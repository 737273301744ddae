"""Questions in the OpenAPI document."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import Query
from fastapi.routing import APIRoute

from warmstead.api.problems import ProblemDocument
from warmstead.questions.registry import Question

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
Workings = Annotated[bool, Query(description="Whether to list each step of the calculation.")]


def path(question: Question) -> str:
    """Return the path of a question."""
    return f"/v1/{question.name}"


def described(question: Question) -> APIRoute:
    """Return the route by which FastAPI describes a question."""

    async def asked(body: Any, workings: Workings = False) -> None: ...

    asked.__annotations__ |= {"body": question.request, "workings": Workings}
    return APIRoute(
        path(question),
        asked,
        methods=["POST"],
        response_model=question.result,
        response_description="The answer.",
        responses=PROBLEM_RESPONSES,
        summary=question.title,
        description=question.description,
        operation_id=f"ask_{question.python_name}",
        tags=["questions"],
    )
