"""Whether the service is up."""

from __future__ import annotations

from typing import Annotated

from fastapi import FastAPI
from pydantic import Field
from typing_extensions import TypedDict

from warmstead.survey.document import described_later
from warmstead.version import __version__


@described_later
class Health(TypedDict):
    """The service is up."""

    status: Annotated[str, Field(description="`serving`.")]
    service_version: Annotated[str, Field(description="Version of the service.")]


async def healthz() -> Health:
    """Say that the service is up."""
    return health()


def health() -> Health:
    """Return what the service says of itself."""
    return {"status": "serving", "service_version": __version__}


def add_health(app: FastAPI) -> None:
    """Give the application its health check."""
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
