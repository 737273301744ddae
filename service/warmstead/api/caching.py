"""Answers to GET with an entity tag by their content, so that a caller need not fetch them twice."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256

from starlette.requests import Request
from starlette.responses import Response

CACHE_CONTROL = "public, max-age=3600"


def cached(request: Request, body: bytes, media_type: str, headers: Mapping[str, str]) -> Response:
    """Answer with an entity tag, or say that nothing has changed.

    Args:
        request: its If-None-Match counts.
        body: the whole answer.
        media_type: its media type.
        headers: further headers, sent either way.
    """
    tag = f'"{sha256(body).hexdigest()[:16]}"'
    all_headers = {"ETag": tag, "Cache-Control": CACHE_CONTROL, **headers}
    asked = request.headers.get("if-none-match", "")
    if asked == "*" or tag in [part.strip().removeprefix("W/") for part in asked.split(",")]:
        return Response(status_code=304, headers=all_headers)
    return Response(body, headers=all_headers, media_type=media_type)
