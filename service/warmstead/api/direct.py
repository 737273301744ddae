"""A question by POST goes straight to its endpoint: its path is looked up in a dictionary instead of being tried on each route.

The router, and what FastAPI puts around a route that it serves itself, cost a small question as much as its answer. Everything else,
another method included, goes through them.
"""

from __future__ import annotations

from starlette.routing import BaseRoute
from starlette.types import ASGIApp, Receive, Scope, Send

from warmstead.api.problems import PROBLEM_JSON, at_fault
from warmstead.api.questions import QuestionRoute
from warmstead.api.replies import Reply, send_reply


class Direct:
    """Answers questions, and leaves the rest to the application."""

    def __init__(self, app: ASGIApp, routes: list[BaseRoute]) -> None:
        """Take the application and its routes, when all of them are there."""
        self._app = app
        self._routes = {route.path: route for route in routes if isinstance(route, QuestionRoute)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        route = self._routes.get(scope["path"]) if scope["type"] == "http" else None
        if route is None or scope["method"] != "POST":
            await self._app(scope, receive, send)
            return
        scope["route"] = route
        try:
            await route.app(scope, receive, send)
        except Exception:
            # Whatever failed, failed before anything was sent: a reply is sent whole.
            await send_reply(send, Reply(500, PROBLEM_JSON, at_fault()))
            raise
