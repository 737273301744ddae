"""Routes that are served at once and described only when somebody asks for the description.

FastAPI reads the models of what a route takes and gives when the route is made. The service serves these routes itself, past
FastAPI, so that this would only make each start longer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from fastapi.routing import APIRoute
from starlette.routing import BaseRoute, Route
from starlette.types import ASGIApp


class LaterDescribed(Route):
    """A route for POST."""

    def __init__(self, path: str, served_by: ASGIApp, description: Callable[[], APIRoute]) -> None:
        """Take the path, what serves it, and what makes the route by which FastAPI describes it."""
        super().__init__(path, served_by, methods=["POST"], include_in_schema=False)
        self.deprecated: bool | None = None
        self._description = description

    def described(self) -> APIRoute:
        """Return the route by which FastAPI describes it; it serves nothing."""
        route = self._description()
        route.deprecated = self.deprecated
        return route


def described(routes: Iterable[BaseRoute]) -> list[BaseRoute]:
    """Return some routes as FastAPI describes them."""
    return [route.described() if isinstance(route, LaterDescribed) else route for route in routes]
