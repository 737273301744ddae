"""What Schemathesis has to know to put this service's OpenAPI document to it: how the lines of a batch are made and sent."""

from __future__ import annotations

import json
from typing import Any

import schemathesis
from hypothesis import strategies as st
from schemathesis import HookContext, SerializationContext

from warmstead.demo import requests
from warmstead.questions.registry import QUESTIONS

GOOD = [json.dumps(requests()[name]) for name, question in QUESTIONS.items() if not question.long]
"""Of all questions: to each batch one of them is a good line, and the others are refused."""
VALUES: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
)
LINES = st.lists(st.sampled_from(GOOD) | VALUES.map(json.dumps) | st.text(), max_size=5).map("\n".join)


@schemathesis.serializer("application/x-ndjson")
def as_it_is(context: SerializationContext, value: Any) -> Any:
    return {"data": value.encode(errors="replace") if isinstance(value, str) else value}


@schemathesis.hook
def before_generate_body(context: HookContext, strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Any text is a batch to the schema; here most are lines that look like something."""
    if context.operation is not None and context.operation.path.endswith("/batch"):
        return LINES | strategy
    return strategy
