"""What the OpenAPI document says, said so that client generators understand it and old clients survive a newer service."""

from __future__ import annotations

from typing import Any

Json = dict[str, Any]

CODED = ("ProblemError", "ProblemMeaning", "Warning", "WarningMeaning")
"""Parts of answers with a member `code`; codes may be added within v1."""
GIVEN_BACK = {("HouseRead", "house"): "House", ("SurveyRead", "survey"): "SurveyDocument"}
"""Members of answers that hold a document as a question takes it; the service itself passes them on as plain objects."""


def make_portable(document: Json) -> None:
    """Rewrite the document in place."""
    _keys_by_property_names(document)
    schemas = document["components"]["schemas"]
    for name in CODED:
        _may_grow(schemas[name]["properties"]["code"])
    for (name, member), taken in GIVEN_BACK.items():
        described = schemas[name]["properties"][member]["description"]
        schemas[name]["properties"][member] = {
            "$ref": f"#/components/schemas/{taken}",
            "description": described,
        }


def _keys_by_property_names(node: Any) -> None:
    """State maps by `propertyNames` and `additionalProperties`.

    Generators read `patternProperties` as an object of anything, and without `additionalProperties` it lets through keys
    that do not fit the pattern.
    """
    if isinstance(node, dict):
        patterns: Json = node.get("patternProperties", {})
        if len(patterns) == 1:
            ((pattern, values),) = node.pop("patternProperties").items()
            node["propertyNames"] = {"pattern": pattern}
            node["additionalProperties"] = values
        for part in node.values():
            _keys_by_property_names(part)
    elif isinstance(node, list):
        for part in node:
            _keys_by_property_names(part)


def _may_grow(code: Json) -> None:
    """Publish the codes of today as a list that may grow: a client that was generated with a closed one breaks at a new code."""
    code["x-extensible-enum"] = code.pop("enum")
