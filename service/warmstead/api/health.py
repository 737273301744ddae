"""Whether the service is up, whether it wants more to do, and its figures."""

from __future__ import annotations

from typing import Annotated, Any

import orjson
from fastapi import FastAPI
from pydantic import Field
from starlette.responses import Response
from typing_extensions import TypedDict

from warmstead.api import draining
from warmstead.api.observing import metrics
from warmstead.api.problems import PROBLEM_JSON, ProblemDocument, problem
from warmstead.exchange.problem_kinds import ENDING
from warmstead.survey.document import described_later
from warmstead.version import __version__

NOT_KEPT = {"Cache-Control": "no-store"}


@described_later
class Health(TypedDict):
    """The service is up."""

    status: Annotated[str, Field(description="`serving`.")]
    service_version: Annotated[str, Field(description="Version of the service.")]


@described_later
class Readiness(TypedDict):
    """The service wants questions."""

    status: Annotated[str, Field(description="`ready`.")]


async def healthz() -> Health:
    """Say that the service is up."""
    return health()


def health() -> Health:
    """Return what the service says of itself."""
    return {"status": "serving", "service_version": __version__}


def readiness() -> Readiness:
    """Return what the service says where it wants questions."""
    return {"status": "ready"}


async def readyz() -> Response:
    """Say whether to send questions here: not once the service is about to end. What was sent before is still answered."""
    if draining.is_draining():
        detail = "this process is about to end; ask another one"
        return Response(problem(503, detail, kind=ENDING), 503, NOT_KEPT, PROBLEM_JSON)
    return Response(orjson.dumps(readiness()), 200, NOT_KEPT, "application/json")


async def figures() -> Response:
    """Give the service's figures in the text format of Prometheus."""
    return Response(metrics.exposition(), 200, NOT_KEPT | {"Content-Type": metrics.MEDIA_TYPE})


def add_health(app: FastAPI) -> None:
    """Give the application its health check, its readiness and its figures."""
    app.router.add_api_route(
        "/healthz",
        healthz,
        methods=["GET"],
        response_model=Health,
        summary="Health",
        description=healthz.__doc__ or "",
        operation_id="get_health",
        tags=["service"],
    )
    app.router.add_api_route(
        "/readyz",
        readyz,
        methods=["GET"],
        response_model=Readiness,
        responses={503: {"description": "About to end.", "model": ProblemDocument}},
        summary="Readiness",
        description=readyz.__doc__ or "",
        operation_id="get_readiness",
        tags=["service"],
    )
    app.router.add_api_route(
        "/metrics",
        figures,
        methods=["GET"],
        response_class=_Text,
        responses={200: {"description": "The figures.", "content": {"text/plain": _TEXT}}},
        summary="Figures",
        description=figures.__doc__ or "",
        operation_id="get_metrics",
        tags=["service"],
    )


class _Text(Response):
    media_type = "text/plain"


_TEXT: dict[str, Any] = {
    "schema": {"type": "string"},
    "example": "# HELP warmstead_requests_at_hand Requests that are being answered.\n"
    "# TYPE warmstead_requests_at_hand gauge\n"
    "warmstead_requests_at_hand 1.0\n",
}
