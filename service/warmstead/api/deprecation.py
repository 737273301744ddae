"""How a route says that it will go: in its headers (RFC 9745, RFC 8594) and in the OpenAPI document.

Nothing is deprecated. Within v1 the contract only grows; a v2 would list here what of v1 it replaces.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from email.utils import format_datetime
from typing import NamedTuple

from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from warmstead.api.later_described import LaterDescribed


class Deprecation(NamedTuple):
    """When a route was deprecated, when it stops, and where that is explained."""

    since: datetime
    sunset: datetime
    """In UTC, as `since`, and not before it."""
    link: str
    """Address of the entry in the changelog, with what to use instead."""


DEPRECATED: Mapping[tuple[str, str], Deprecation] = {}
"""By method and path: `("POST", "/v1/u-value")`."""


def announce(app: FastAPI, deprecated: Mapping[tuple[str, str], Deprecation] = DEPRECATED) -> None:
    """Let each deprecated route say so; called when all routes are there, those for HEAD included.

    Raises:
        ValueError: there is no such route, or it would stop before it was deprecated.
    """
    for (method, path), deprecation in deprecated.items():
        if deprecation.sunset < deprecation.since:
            raise ValueError(f"{method} {path}: the sunset lies before the deprecation")
        methods = {"GET", "HEAD"} if method == "GET" else {method}
        routes = [
            route
            for route in app.router.routes
            if isinstance(route, APIRoute | LaterDescribed)
            and route.path == path
            and (route.methods or set()) & methods
        ]
        if not routes:
            raise ValueError(f"{method} {path}: no such route")
        for route in routes:
            route.deprecated = True
            route.app = _with_headers(route.app, headers(deprecation))


def headers(deprecation: Deprecation) -> list[tuple[bytes, bytes]]:
    """Return the headers that every answer of a deprecated route carries, errors included."""
    since = f"@{int(deprecation.since.timestamp())}"
    sunset = format_datetime(deprecation.sunset, usegmt=True)
    link = f'<{deprecation.link}>; rel="deprecation", <{deprecation.link}>; rel="sunset"'
    return [
        (name, value.encode())
        for name, value in ((b"deprecation", since), (b"sunset", sunset), (b"link", link))
    ]


def _with_headers(app: ASGIApp, added: list[tuple[bytes, bytes]]) -> ASGIApp:
    async def answered(scope: Scope, receive: Receive, send: Send) -> None:
        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message.get("headers", ()), *added]}
            await send(message)

        await app(scope, receive, sending)

    return answered
