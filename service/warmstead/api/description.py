"""The OpenAPI document as it is published: the file that each build compares with what the routes say.

To make it from the routes takes seconds, which a client that generates code would wait for, and everybody else with it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import orjson
from fastapi import FastAPI
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from warmstead.api.caching import cached

FILE = Path("openapi", "v1.json")


def add_description(app: FastAPI) -> None:
    """Let the application publish its document, in front of FastAPI's own route for it."""
    assert app.openapi_url is not None, "a service without a description helps nobody"
    app.router.routes.insert(0, Route(app.openapi_url, _description, include_in_schema=False))


async def _description(request: Request) -> Response:
    return cached(request, _text(request.scope.get("root_path", "").rstrip("/")), "application/json", {})


@cache
def _text(root: str) -> bytes:
    """Return the document, with the address below which a proxy has put the service, where it has."""
    document: dict[str, Any] = orjson.loads(_file().read_bytes())
    if root:
        document["servers"] = [{"url": root}, *document["servers"]]
    return orjson.dumps(document)


def _file() -> Path:
    """Return the file packed with the package, or else the checkout's own."""
    package = Path(__file__).resolve().parents[1]
    packed = package / FILE
    return packed if packed.is_file() else package.parents[1] / FILE
