"""The questions as tools of an assistant (Model Context Protocol), made from the service's own OpenAPI document.

An optional part: it needs the extra `assistant`. The tools ask the service in this process, so that an assistant gets the very
answers of the HTTP interface, warnings and cautions included, and the reasons of a refusal.

An assistant reads every tool's schema before it begins. The house document is long and the same in each question, so it is
described in one tool, and the others say which; what an answer holds is said by its names. That leaves a fifth of the length.
"""

from __future__ import annotations

from typing import Any

import httpx2
from fastmcp import FastMCP
from fastmcp.exceptions import ToolError
from fastmcp.server.providers.openapi import MCPType, OpenAPITool, RouteMap

from warmstead.api.app import app
from warmstead.questions.registry import QUESTIONS

Json = dict[str, Any]

DESCRIBED_IN = "house_loss"
"""The tool that describes the house document."""
HOUSE = "#/$defs/House"
SEE_THERE: Json = {"type": "object", "description": f"A house document, as the tool {DESCRIBED_IN} takes it."}
MOST_REASONS = 50
"""Reasons of a refusal that are worth an assistant's while at once."""
INSTRUCTIONS = (
    "Heat loss of a house by EN 12831 and what follows from it. Units stand at the end of each name, in SI. Survey a house once and "
    f"send the same document to each question; the tool {DESCRIBED_IN} describes it. Use the ids of list_tables and get_table "
    "for materials and typical constructions, and never make up what a survey does not say. Every answer has warnings: tell "
    "defaults that were taken, and pass every caution on word for word. The numbers are no design and no advice; local codes and "
    "licensed practice decide."
)


def server() -> FastMCP:
    """Return the server of the tools: one for each question, and those that look tables up."""
    client = httpx2.AsyncClient(
        transport=httpx2.ASGITransport(app=app),
        base_url="http://warmstead",
        timeout=None,
        event_hooks={"response": [_refuse_in_words]},
    )
    return FastMCP.from_openapi(
        app.openapi(),
        client=client,
        name="Warmstead",
        instructions=INSTRUCTIONS,
        version=app.version,
        mcp_names={f"ask_{question.python_name}": question.python_name for question in QUESTIONS.values()},
        route_maps=[
            RouteMap(methods=["POST"], tags={"questions"}, mcp_type=MCPType.TOOL),
            RouteMap(methods=["GET"], tags={"tables"}, mcp_type=MCPType.TOOL),
            RouteMap(mcp_type=MCPType.EXCLUDE),
        ],
        mcp_component_fn=_shorten,
        validate_output=False,
        # Otherwise a misspelt argument would be dropped in silence.
        strict_input_validation=True,
    )


async def _refuse_in_words(response: httpx2.Response) -> None:
    """Give every reason of a refusal, with its place, in place of a problem document that is cut off."""
    if response.status_code < 400:
        return
    await response.aread()
    problem = response.json()
    reasons = [
        f"{error.get('pointer', error.get('parameter', ''))}: {error['code']}, {error['detail']}"
        for error in problem["errors"]
    ]
    if len(reasons) > MOST_REASONS:
        reasons[MOST_REASONS:] = [f"and {len(reasons) - MOST_REASONS} more"]
    raise ToolError("\n".join([f"{problem['title']}: {problem['detail']}", *reasons]))


def _shorten(route: Any, component: Any) -> None:
    """Leave out of a tool's schema what an assistant has read elsewhere, or has no use for."""
    if isinstance(component, OpenAPITool):
        schema = _without_titles(component.parameters)
        if component.name != DESCRIBED_IN:
            schema = _house_elsewhere(schema)
        component.parameters = _with_used_definitions(schema)


def _without_titles(node: Any) -> Any:
    """Leave out titles, which repeat names, and units in UCUM, which names end with."""
    if isinstance(node, list):
        return [_without_titles(part) for part in node]
    if not isinstance(node, dict):
        return node
    return {
        name: _without_titles(part)
        for name, part in node.items()
        # A member may be called `title`; then it has a schema of its own.
        if not (name in ("title", "x-unit") and isinstance(part, str))
    }


def _house_elsewhere(node: Any) -> Any:
    if isinstance(node, list):
        return [_house_elsewhere(part) for part in node]
    if not isinstance(node, dict):
        return node
    if node.get("$ref") == HOUSE:
        return SEE_THERE
    return {name: _house_elsewhere(part) for name, part in node.items()}


def _with_used_definitions(schema: Json) -> Json:
    """Leave out definitions that nothing refers to any more."""
    definitions: Json = schema.get("$defs", {})
    used: set[str] = set()
    ahead = _references({name: part for name, part in schema.items() if name != "$defs"})
    while ahead:
        name = ahead.pop()
        if name not in used:
            used.add(name)
            ahead |= _references(definitions[name])
    kept = {name: part for name, part in definitions.items() if name in used}
    rest = {name: part for name, part in schema.items() if name != "$defs"}
    return {**rest, "$defs": kept} if kept else rest


def _references(node: Any) -> set[str]:
    if isinstance(node, list):
        return set().union(*map(_references, node))
    if not isinstance(node, dict):
        return set()
    found = set().union(*map(_references, node.values()))
    if "$ref" in node:
        found.add(str(node["$ref"]).rpartition("/")[2])
    return found
