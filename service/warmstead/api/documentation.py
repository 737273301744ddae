"""The interactive documentation: one page that carries its assets, so that it needs no internet and may load nothing else."""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256

from fastapi import FastAPI
from fastapi.openapi.docs import get_swagger_ui_html
from starlette.requests import Request
from starlette.responses import Response

ASSETS = "/static-offline-docs"
INLINE_SCRIPT = re.compile(rb"<script>(.*?)</script>", re.DOTALL)


def add_documentation(app: FastAPI) -> None:
    """Give the application its documentation page."""

    async def documentation(request: Request) -> Response:
        root = request.scope.get("root_path", "")
        page = get_swagger_ui_html(
            openapi_url=f"{root}{app.openapi_url}",
            title=f"{app.title}: questions and answers",
            swagger_js_url=f"{root}{ASSETS}/swagger-ui-bundle.js",
            swagger_css_url=f"{root}{ASSETS}/swagger-ui.css",
            swagger_favicon_url=f"{root}{ASSETS}/favicon.png",
        )
        page.headers["Content-Security-Policy"] = policy(bytes(page.body))
        return page

    app.router.add_api_route("/docs", documentation, methods=["GET"], include_in_schema=False)


def policy(page: bytes) -> str:
    """Return what the page may do: its own assets, its own small script, and questions to this service.

    Args:
        page: HTML; the policy holds for exactly the scripts that stand within it.
    """
    scripts = " ".join(
        f"'sha256-{b64encode(sha256(script).digest()).decode()}'" for script in INLINE_SCRIPT.findall(page)
    )
    return (
        f"default-src 'none'; script-src 'self' {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
        "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    )
