"""What Schemathesis has to know when it puts a released OpenAPI document to the service of today."""

from __future__ import annotations

from typing import Any

import schemathesis
from schemathesis import Case, CheckContext, HookContext, Response

CODED = ("ProblemError", "ProblemMeaning", "Warning", "WarningMeaning")
STRUCTURAL = {
    "missing_field",
    "unknown_field",
    "null_value",
    "not_a_number",
    "wrong_type",
    "invalid_text",
    "out_of_range",
    "wrong_count",
    "unknown_choice",
}
"""Codes of what a schema states, so that a request which the released schema allows cannot earn one."""
NEEDED_AT_TIMES = {"/house/conditions/annual_mean_external_temperature_c"}
"""Members that the contract wants under a condition which no schema states: this one, once something stands on ground."""


@schemathesis.hook
def before_load_schema(context: HookContext, raw_schema: dict[str, Any]) -> None:
    """Mend what 0.1.0 published and neither it nor a later version meant.

    Codes may be added within v1: they were published as a closed list. And ids of constructions were never free.
    """
    schemas = raw_schema["components"]["schemas"]
    for name in CODED:
        schemas[name]["properties"]["code"].pop("enum", None)
    constructions = schemas["House"]["properties"]["constructions"]
    if "patternProperties" in constructions:
        constructions["additionalProperties"] = False


@schemathesis.check
def still_takes_what_was_released(ctx: CheckContext, response: Response, case: Case[Any]) -> None:
    """A request that the released schema allows is not refused for its structure."""
    if case.meta is None or not case.meta.generation.mode.is_positive or response.status_code != 422:
        return
    refused = [
        error
        for error in response.json()["errors"]
        if error["code"] in STRUCTURAL and error.get("pointer") not in NEEDED_AT_TIMES
    ]
    if refused:
        raise AssertionError(f"allowed by the released schema, refused today: {refused}")
