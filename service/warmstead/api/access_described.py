"""Who may call, as the OpenAPI document says it: a key where the service asks for one, and the two refusals."""

from __future__ import annotations

from typing import Any

from warmstead.api.access import OPEN_TO_ALL

SCHEME = "key"
DESCRIPTION = (
    "A key, where the service asks for one: on its own machine it need not, elsewhere it does unless a proxy in front checks "
    "who calls. Whoever runs the service gives keys out. A key is sent in this header only, never in an address."
)
REFUSALS = {
    "401": "A key is needed, or the one that was sent is not in force.",
    "403": "The service is not open to this caller.",
}


def add_access(document: dict[str, Any]) -> None:
    """Complete an OpenAPI document with the optional key and what is answered without it."""
    document["components"]["securitySchemes"] = {
        SCHEME: {"type": "http", "scheme": "bearer", "description": DESCRIPTION}
    }
    document["security"] = [{}, {SCHEME: []}]
    for path, item in document["paths"].items():
        for operation in item.values():
            if path in OPEN_TO_ALL:
                operation["security"] = []
            else:
                _add_refusals(operation["responses"])


def _add_refusals(responses: dict[str, Any]) -> None:
    problem = {"$ref": "#/components/schemas/ProblemDocument"}
    for status, description in REFUSALS.items():
        content = {"application/problem+json": {"schema": problem}}
        responses[status] = {"description": description, "content": content}
        if status == "401":
            responses[status]["headers"] = {
                "WWW-Authenticate": {
                    "description": "How to send a key: the scheme Bearer.",
                    "schema": {"type": "string"},
                }
            }
