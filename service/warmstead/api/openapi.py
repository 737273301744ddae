"""The OpenAPI document, made complete: problems as problem+json, examples, nothing that the service does not do."""

from __future__ import annotations

from functools import cache
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from warmstead.api.problems import PROBLEM_JSON

Json = dict[str, Any]


def install(app: FastAPI) -> None:
    """Let the application publish the completed document."""

    def openapi() -> Json:
        if app.openapi_schema is None:
            app.openapi_schema = _document(app)
        return app.openapi_schema

    app.openapi = openapi  # type: ignore[method-assign]  # FastAPI's own way of replacing it


def _document(app: FastAPI) -> Json:
    document = get_openapi(
        title=app.title,
        version=app.version,
        summary=app.summary,
        description=app.description,
        routes=app.routes,
        tags=app.openapi_tags,
        servers=app.servers,
        license_info=app.license_info,
        contact=app.contact,
    )
    for path, item in document["paths"].items():
        for operation in item.values():
            _problems_as_problem_json(operation)
            _request_example(path, operation)
    if (table := document["paths"].get("/v1/tables/{name}")) is not None:
        table["get"]["responses"]["200"]["content"]["text/csv"] = {"schema": {"type": "string"}}
    schemas = document["components"]["schemas"]
    for unused in ("HTTPValidationError", "ValidationError"):
        schemas.pop(unused, None)
    return document


def _problems_as_problem_json(operation: Json) -> None:
    for status, response in operation["responses"].items():
        content = response.get("content", {})
        if status.startswith(("4", "5")) and "application/json" in content:
            content[PROBLEM_JSON] = content.pop("application/json")


def _request_example(path: str, operation: Json) -> None:
    body = operation.get("requestBody")
    if body is not None:
        example = demo_requests().get(path.removeprefix("/v1/"))
        body["content"]["application/json"]["example"] = example


@cache
def demo_requests() -> Json:
    """Return a complete request to each question, on the demo house."""
    from warmstead.demo import requests

    made: Json = requests()
    return made
