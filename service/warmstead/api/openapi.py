"""The OpenAPI document, made complete: problems as problem+json, examples, nothing that the service does not do."""

from __future__ import annotations

from functools import cache
from typing import Any
from warnings import catch_warnings, simplefilter

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic.warnings import UnsupportedFieldAttributeWarning

from warmstead.api.access_described import add_access
from warmstead.api.batch_described import as_lines
from warmstead.api.cells_described import complete as complete_cells
from warmstead.api.codes import all_codes
from warmstead.api.health import health, readiness
from warmstead.api.later_described import described
from warmstead.api.portable import make_portable
from warmstead.api.problems import PROBLEM_JSON
from warmstead.api.tables import listing, statement
from warmstead.tables import csv_text, table

EXAMPLE_TABLE = "surface-resistances"

Json = dict[str, Any]


def install(app: FastAPI) -> None:
    """Let the application publish the completed document."""

    def openapi() -> Json:
        if app.openapi_schema is None:
            app.openapi_schema = _document(app)
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]  # FastAPI's own way of replacing it


def _document(app: FastAPI) -> Json:
    with catch_warnings():
        # FastAPI keeps this one to itself where it builds models at once; ours are built here (`described_later`).
        simplefilter("ignore", UnsupportedFieldAttributeWarning)
        document = get_openapi(
            title=app.title,
            version=app.version,
            summary=app.summary,
            description=app.description,
            routes=described(app.routes),
            tags=app.openapi_tags,
            servers=app.servers,
            license_info=app.license_info,
            contact=app.contact,
        )
    as_lines(document, demo_requests())
    for path, item in document["paths"].items():
        for operation in item.values():
            _problems_as_problem_json(operation)
            _request_example(path, operation)
    one_table = document["paths"]["/v1/tables/{name}"]["get"]["responses"]["200"]["content"]
    one_table["text/csv"] = {"schema": {"type": "string"}, "example": csv_text(EXAMPLE_TABLE)}
    for path, example in _answers_to_get().items():
        document["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]["example"] = example
    add_access(document)
    make_portable(document)
    complete_cells(document["paths"])
    schemas = document["components"]["schemas"]
    for unused in ("HTTPValidationError", "ValidationError"):
        schemas.pop(unused, None)
    return document


def _answers_to_get() -> Json:
    """Return an answer to each operation that takes no document."""
    example = table(EXAMPLE_TABLE)
    return {
        "/v1/tables": listing(),
        "/v1/tables/{name}": statement(example, example.rows),
        "/v1/codes": all_codes(),
        "/healthz": health(),
        "/readyz": readiness(),
    }


def _problems_as_problem_json(operation: Json) -> None:
    for status, response in operation["responses"].items():
        content = response.get("content", {})
        if status.startswith(("4", "5")) and "application/json" in content:
            content[PROBLEM_JSON] = content.pop("application/json")


def _request_example(path: str, operation: Json) -> None:
    body = operation.get("requestBody")
    if body is not None and "example" not in body["content"].get("application/json", {"example": None}):
        example = demo_requests().get(path.removeprefix("/v1/"), demo_requests()["house-loss"])
        body["content"]["application/json"]["example"] = example


@cache
def demo_requests() -> Json:
    """Return a complete request to each question, on the demo house."""
    from warmstead.demo import requests

    made: Json = requests()
    return made
