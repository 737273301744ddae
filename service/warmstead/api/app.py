"""The application: questions, tables, documentation and health."""

from __future__ import annotations

import gc
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi_offline import FastAPIOffline

from warmstead.api import problems
from warmstead.api.batch import add_batches
from warmstead.api.batch_described import TAG as BATCHES
from warmstead.api.cells import add_cells
from warmstead.api.codes import add_codes
from warmstead.api.deprecation import announce
from warmstead.api.description import add_description
from warmstead.api.documentation import add_documentation
from warmstead.api.draining import notice_before_the_end
from warmstead.api.element_table import add_element_table
from warmstead.api.guide import add_guide
from warmstead.api.health import add_health
from warmstead.api.long_work import workers
from warmstead.api.openapi import install as install_openapi
from warmstead.api.questions import add_questions
from warmstead.api.settings import Settings, from_environment
from warmstead.api.surroundings import surround
from warmstead.api.tables import TableQuery, add_tables
from warmstead.api.workbook import BlankQuery, add_workbook
from warmstead.questions.registry import QUESTIONS
from warmstead.version import __version__

TAGS = [
    {"name": "questions", "description": "One house document, many questions. All take and give JSON."},
    BATCHES,
    {
        "name": "cells",
        "description": "Small questions by GET, for the cells of a spreadsheet: flat parameters, one number.",
    },
    {"name": "tables", "description": "Cited data behind defaults, materials and design temperatures."},
    {
        "name": "files",
        "description": "The same survey as a workbook or as a flat table, filled in and given back with results.",
    },
    {"name": "service", "description": "The service itself."},
]
DESCRIPTION = (
    "Heat loss of a house, line by line: U-values, room and house load (EN 12831), emitters at a flow temperature, and the "
    "smallest heat pump that carries the load. Stateless: nothing that is sent is kept or logged. Results are unrounded, in SI "
    "units named in each field; `?workings=true` lists every step with its clause. Results that touch safety carry a caution "
    "and defer to local codes and licensed practice."
)

NO_TELEMETRY = dict.fromkeys(("auto_configure", "logs", "metrics", "operation_spans", "tracing"), False)
"""FastAPI's own would tell bodies, queries and words of exceptions; `observing/tracing.py` sends what may be told."""


@asynccontextmanager
async def _lifetime(app: FastAPI) -> AsyncIterator[None]:
    """From start to end: an end gives notice, and ends the processes of long questions."""
    for question in QUESTIONS.values():
        if not question.long:  # those are answered in other processes
            question.load()
    # Keep the garbage collector off what lives as long as the process: models, schemas, tables.
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
    with notice_before_the_end():
        yield
    workers().close()
    gc.unfreeze()


def _add_heads(app: FastAPI) -> None:
    """Answer HEAD wherever GET is answered: spreadsheet programs ask for it first."""
    for route in list(app.router.routes):
        if isinstance(route, APIRoute) and route.methods == {"GET"}:
            app.router.add_api_route(route.path, route.endpoint, methods=["HEAD"], include_in_schema=False)


def create_app(settings: Settings | None = None) -> FastAPI:
    """Return the application.

    Args:
        settings: those of the environment, where absent.
    """
    app = FastAPIOffline(
        docs_url=None,
        redoc_url=None,
        title="Warmstead",
        version=__version__,
        summary="The heat loss of a house, line by line.",
        description=DESCRIPTION,
        openapi_tags=TAGS,
        license_info={"name": "MIT", "identifier": "MIT"},
        contact={"name": "The Warmstead contributors"},
        servers=[{"url": "/", "description": "This server."}],
        redirect_slashes=False,
        lifespan=_lifetime,
        telemetry=NO_TELEMETRY,
    )
    add_questions(app)
    add_batches(app)
    add_tables(app)
    add_cells(app)
    add_workbook(app)
    add_element_table(app)
    add_codes(app)
    add_health(app)
    add_description(app)
    add_documentation(app)
    add_guide(app)
    _add_heads(app)
    announce(app)
    problems.install(app, {*TableQuery.model_fields, *BlankQuery.model_fields})
    install_openapi(app)
    surround(app, from_environment(os.environ) if settings is None else settings)
    return app


app = create_app()
