"""The stock that changes are drawn from: members that occur beside each other, bounds of the models, awkward values."""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from typing import Any

from pydantic import BaseModel

from fuzzing.seeds import documents
from warmstead.exchange.workbook import SurveyDocument
from warmstead.questions.registry import QUESTIONS

AWKWARD_NUMBERS: tuple[Any, ...] = (
    0,
    -0.0,
    1,
    -1,
    0.5,
    1e-300,
    5e-324,
    -1e-9,
    1e9,
    1e308,
    -1e308,
    sys.float_info.max,
    2**31,
    2**53 + 1,
    2**63,
    2**64,
    10**30,
    math.nan,
    math.inf,
    -math.inf,
)
AWKWARD_TEXTS: tuple[str, ...] = (
    "",
    " ",
    "a",
    "A.b-c_d",
    "x" * 64,
    "x" * 65,
    "x" * 201,
    "~",
    "/",
    "~0~1/",
    "a:b",
    "\x00",
    "\t",
    "a\nb",
    "é",
    "\ud800",
    "\U0001f525",
    "=1+1",
    "'=1",
    "#REF!",
    "1",
    "1,5",
    "1e400",
    "NaN",
    "true",
    "None",
    "__class__",
    "$ref",
    "[key]",
)
AWKWARD_VALUES: tuple[Any, ...] = (None, True, False, [], {}, [[]], {"": {}}, {"kind": None}, "", 0)
AWKWARD_TOKENS: tuple[bytes, ...] = (
    b"NaN",
    b"-Infinity",
    b"1e999",
    b"-0",
    b"1" + b"0" * 5000,
    b"0." + b"0" * 400 + b"1",
    b"null",
    b"[" * 300,
    b'{"a":' * 300,
    b"[" * 3000 + b"]" * 3000,
    b'"\\ud800"',
    b'"\\u0000"',
    b'"\xff"',
    b"01",
    b"+1",
    b"1.",
    b"tru",
    b"//",
    b"",
)
"""Texts in place of a number in JSON, well formed or not."""


@cache
def by_name() -> dict[str, list[Any]]:
    """Return the values that members have in real requests, by the member's name."""
    found: dict[str, list[Any]] = defaultdict(list)
    for _, document in documents():
        for holder in _objects(document):
            for name, value in holder.items():
                if len(found[name]) < 200 and value not in found[name]:
                    found[name].append(value)
    for name, numbers in bounds().items():
        found[name] = found[name] or list(numbers)
    for name, texts in choices().items():
        found[name] = found[name] or list(texts)
    return dict(found)


@cache
def beside() -> dict[str, list[str]]:
    """Return the names that occur in one object with a name, in a request or in a model."""
    found: dict[str, set[str]] = defaultdict(set)
    for _, document in documents():
        for holder in _objects(document):
            if len(holder) < 40:
                for name in holder:
                    found[name] |= holder.keys()
    for node in _definitions():
        names = node.get("properties", {}).keys()
        for name in names:
            found[name] |= names
    return {name: sorted(names) for name, names in found.items()}


@cache
def bounds() -> dict[str, list[float]]:
    """Return the bounds that members have in the models, each with its two neighbours, by the member's name."""
    found: dict[str, list[float]] = defaultdict(list)
    for node in _definitions():
        for name, member in node.get("properties", {}).items():
            for key in ("minimum", "exclusiveMinimum", "maximum", "exclusiveMaximum"):
                if key in member:
                    limit = float(member[key])
                    found[name] += [
                        limit,
                        math.nextafter(limit, math.inf),
                        math.nextafter(limit, -math.inf),
                    ]
    return {name: sorted(set(numbers)) for name, numbers in found.items()}


@cache
def choices() -> dict[str, list[str]]:
    """Return the choices that members have in the models, by the member's name."""
    found: dict[str, list[str]] = defaultdict(list)
    for node in _definitions():
        for name, member in node.get("properties", {}).items():
            found[name] += member.get("enum", []) + ([member["const"]] if "const" in member else [])
    return {name: sorted(set(map(str, texts))) for name, texts in found.items() if texts}


def _definitions() -> Iterator[dict[str, Any]]:
    models: list[type[BaseModel]] = [question.request for question in QUESTIONS.values()]
    models.append(SurveyDocument)
    for model in models:
        schema = model.model_json_schema()
        yield schema
        yield from schema.get("$defs", {}).values()


def _objects(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
        value = list(value.values())
    if isinstance(value, list):
        for item in value:
            yield from _objects(item)
