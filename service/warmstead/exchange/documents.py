"""JSON read into a request, or refused with every structural error at its JSON pointer."""

from __future__ import annotations

import json
from codecs import BOM_UTF8
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from functools import cache
from typing import Any, NamedTuple, TypeVar

import orjson
from pydantic import ValidationError
from pydantic_core import ErrorDetails

from warmstead.building.findings import Problem, ProblemCode, Refused
from warmstead.building.pointers import escaped
from warmstead.exchange.holding import CONTRACT, Most, TooDeep, refuse_too_much
from warmstead.survey.document import Document

Request = TypeVar("Request", bound=Document)
Schema = Mapping[str, Any]

MOST_LISTED = 100
"""Problems told at once; a hostile body could have a million, and nobody mends more in one go."""


class Malformed(Exception):
    """What was sent is not JSON at all."""


def read(request: type[Request], text: bytes | str, most: Most = CONTRACT) -> Request:
    """Return a request read from JSON.

    Args:
        request: the model to read.
        text: JSON, UTF-8.
        most: what it may hold.

    Raises:
        Malformed: the text is not JSON, or nested too deeply.
        Refused: the document has structural errors; all of them are in it.
    """
    if isinstance(text, bytes):
        text = text.removeprefix(BOM_UTF8)  # some programs begin every text with it
    try:
        refuse_too_much(text, most)
        document = request.model_validate_json(text)
    except TooDeep:
        raise Malformed(f"nested more than {most.json_depth} levels deep") from None
    except ValidationError as error:
        raise _refusal(request, error) from None
    _refuse_repeated_names(text)
    return document


def _refuse_repeated_names(text: bytes | str) -> None:
    """Refuse an object that has one name twice: of two constructions with one id, JSON readers keep the last in silence.

    Written again, the document has fewer names than it had; only then is it read slowly to find the place.
    """
    encoded = text if isinstance(text, bytes) else text.encode()
    # Every name brings a colon, and colons within texts stay as they are.
    if encoded.count(b":") <= orjson.dumps(orjson.loads(encoded)).count(b":"):
        return
    problems: list[Problem] = []
    _find_repeated_names(json.loads(encoded, object_pairs_hook=_Pairs), "", problems)
    if problems:
        raise Refused(problems)


class _Pairs(list[tuple[str, Any]]):
    """An object's names and values as they stand, repeated ones too."""


def _find_repeated_names(value: Any, at: str, problems: list[Problem]) -> None:
    if isinstance(value, _Pairs):
        seen: set[str] = set()
        for name, member in value:
            pointer = f"{at}/{escaped(name)}"
            if name in seen:
                problems.append(
                    Problem(pointer, "duplicate_id", "this name stands twice in one object; names are unique")
                )
            seen.add(name)
            _find_repeated_names(member, pointer, problems)
    elif isinstance(value, list):
        for index, item in enumerate(value):
            _find_repeated_names(item, f"{at}/{index}", problems)


def read_mapping(request: type[Request], document: Mapping[str, Any]) -> Request:
    """Return a request read from Python values as JSON would hold them.

    Raises:
        Refused: the document has structural errors; all of them are in it.
    """
    try:
        return request.model_validate(document)
    except ValidationError as error:
        raise _refusal(request, error) from None


def _refusal(request: type[Document], error: ValidationError) -> Malformed | Refused:
    details = error.errors(include_url=False)
    if details[0]["type"] == "json_invalid":
        return Malformed(str(details[0].get("ctx", {}).get("error", "not JSON")))
    schema = _schema(request)
    listed = details[:MOST_LISTED]
    return Refused([_problem(schema, detail) for detail in listed], unlisted=len(details) - len(listed))


@cache
def _schema(request: type[Document]) -> Schema:
    return request.model_json_schema()


def _path(detail: ErrorDetails) -> tuple[int | str, ...]:
    """Return the path to what an error is about: to a member whose name is wrong, without the mark that says so.

    A member may be called as the mark is; after the mark's own place the error's input is the name that stands before it.
    """
    path = detail["loc"]
    if len(path) > 1 and path[-1] == "[key]" and path[-2] == detail["input"]:
        return path[:-1]
    return path


class _Place(NamedTuple):
    """Where an error is: its JSON pointer, and the schema of what stands there and around it."""

    tokens: tuple[str, ...]
    here: Schema
    around: Schema

    def pointer(self, *further: str) -> str:
        return "".join(f"/{escaped(token)}" for token in (*self.tokens, *further))


def _locate(schema: Schema, path: Sequence[int | str]) -> _Place:
    """Follow a validation path through the schema: it names the variants of unions, which a pointer does not."""
    here = around = schema
    tokens: list[str] = []
    for step in path:
        here = _resolved(schema, here)
        mapping = here.get("discriminator", {}).get("mapping", {})
        if mapping:
            here = {"$ref": mapping[step]} if step in mapping else {}
        else:
            around = here
            here = _member(here, step)
            tokens.append(str(step))
    return _Place(tuple(tokens), _resolved(schema, here), around)


def _member(node: Schema, step: int | str) -> Schema:
    if isinstance(step, int):
        items: Schema = node.get("items", {})
        return items
    if step in node.get("properties", {}):
        member: Schema = node["properties"][step]
        return member
    for values in node.get("patternProperties", {}).values():
        found: Schema = values
        return found
    return {}


def _resolved(schema: Schema, node: Schema) -> Schema:
    while "$ref" in node:
        node = schema["$defs"][node["$ref"].rpartition("/")[2]]
    return node


_CODES: dict[str, ProblemCode] = {
    "missing": "missing_field",
    "extra_forbidden": "unknown_field",
    "float_type": "not_a_number",
    "finite_number": "not_a_number",
    "int_type": "not_a_number",
    "int_from_float": "not_a_number",
    "greater_than": "out_of_range",
    "greater_than_equal": "out_of_range",
    "less_than": "out_of_range",
    "less_than_equal": "out_of_range",
    "literal_error": "unknown_choice",
    "string_pattern_mismatch": "invalid_text",
    "string_too_long": "invalid_text",
    "string_unicode": "invalid_text",
    "too_long": "wrong_count",
    "too_short": "wrong_count",
    "union_tag_invalid": "unknown_choice",
    "union_tag_not_found": "missing_field",
}


def _problem(schema: Schema, detail: ErrorDetails) -> Problem:
    kind, given, context = detail["type"], detail["input"], detail.get("ctx", {})
    place = _locate(schema, _path(detail))
    code = _CODES.get(kind, "wrong_type")
    if kind.startswith("union_tag"):
        return _variant_problem(place, given, str(context["discriminator"]).strip("'"))
    if given is None and kind != "missing":
        needed = place.tokens and place.tokens[-1] in place.around.get("required", ())
        advice = "give" if needed else "leave the field out, or give"
        return Problem(
            place.pointer(), "null_value", f"null is no value here: {advice} {_wanted(place.here)}"
        )
    if kind == "missing":
        return Problem(place.pointer(), code, f"missing; give {_wanted(place.here)}")
    if kind == "extra_forbidden":
        return Problem(place.pointer(), code, _unknown_field(place))
    if kind == "literal_error":
        choices = _choices(place.here)
        return Problem(place.pointer(), code, f"one of {', '.join(choices)}{_guess(given, choices)}")
    return Problem(place.pointer(), code, f"must be {_wanted(place.here)}")


def _variant_problem(place: _Place, given: object, member: str) -> Problem:
    """State that the field which tells variants apart is missing or names none of them."""
    choices = sorted(place.here.get("discriminator", {}).get("mapping", {}))
    wanted = f"one of {', '.join(choices)}"
    if not isinstance(given, Mapping):
        return Problem(place.pointer(), "wrong_type", f"must be an object with {member}: {wanted}")
    if member not in given:
        return Problem(place.pointer(member), "missing_field", f"missing; give {wanted}")
    if given[member] is None:
        return Problem(place.pointer(member), "null_value", f"null is no value here: give {wanted}")
    return Problem(place.pointer(member), "unknown_choice", f"{wanted}{_guess(given[member], choices)}")


def _unknown_field(place: _Place) -> str:
    known = sorted(place.around.get("properties", {}))
    close = get_close_matches(place.tokens[-1], known, n=1, cutoff=0.5)
    return f"unknown; did you mean {close[0]}?" if close else f"unknown; known here: {', '.join(known)}"


def _choices(node: Schema) -> list[str]:
    values = node.get("enum") or [node["const"]] if "const" in node or "enum" in node else []
    return [str(value) for value in values]


def _guess(given: object, choices: list[str]) -> str:
    close = get_close_matches(given, choices, n=1) if isinstance(given, str) else []
    return f"; did you mean {close[0]}?" if close else ""


_NOUNS = {"object": "an object", "array": "a list", "string": "a text", "boolean": "true or false"}


def _wanted(node: Schema) -> str:
    """Say in words what a schema accepts."""
    if "enum" in node or "const" in node:
        return f"one of {', '.join(_choices(node))}"
    mapping = node.get("discriminator", {})
    if mapping:
        return f"an object with {mapping['propertyName']}: one of {', '.join(sorted(mapping['mapping']))}"
    kind = node.get("type")
    if kind in ("number", "integer"):
        return _number(node)
    words = _NOUNS.get(str(kind), "another value")
    if "pattern" in node:
        words += f" of the form {node['pattern']}"
    if "maxLength" in node:
        words += f" of at most {node['maxLength']} characters"
    if kind == "object" and "patternProperties" in node:
        words += f" whose keys are of the form {next(iter(node['patternProperties']))}"
    if "minItems" in node or "maxItems" in node:
        words += f" of {node.get('minItems', 0)} to {node.get('maxItems', 'any number of')} items"
    return words


def _number(node: Schema) -> str:
    bounds = [
        f"{word} {node[key]:g}"
        for key, word in (
            ("exclusiveMinimum", "above"),
            ("minimum", "from"),
            ("exclusiveMaximum", "below"),
            ("maximum", "up to"),
        )
        if key in node
    ]
    noun = "a whole number" if node.get("type") == "integer" else "a finite number"
    unit = f" ({node['x-unit']})" if node.get("x-unit", "1") != "1" else ""
    return " ".join([noun, *bounds]) + unit
