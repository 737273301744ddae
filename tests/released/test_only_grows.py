"""Within v1 the contract only grows: what a released OpenAPI document promised still stands in that of today.

A path, its method and its operationId stay. A request that was allowed is still allowed: no member of it is newly required or
gone, no bound narrower, no choice missing. An answer still has every member that it always had, of the same type; choices in it
do not grow, except for codes, of which the contract says that they may.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from warmstead.api.app import app

Json = dict[str, Any]

RELEASED = sorted((Path(__file__).parents[2] / "openapi" / "released").glob("v1-*.json"))
LOWER = ("minimum", "exclusiveMinimum", "minLength", "minItems", "minProperties")
UPPER = ("maximum", "exclusiveMaximum", "maxLength", "maxItems", "maxProperties")
CODES = "code"
"""The one member of answers whose list of values may grow."""
DOCUMENTS = ("House", "SurveyDocument")
"""What callers send and some answers give back: it is compared as what they send."""


class Pair(NamedTuple):
    """The released document and that of today, and where in both something is looked at."""

    old: Json
    new: Json
    old_document: Json
    new_document: Json
    at: str

    def down(self, old: Json, new: Json, step: str) -> Pair:
        return self._replace(old=old, new=new, at=f"{self.at}/{step}").resolved()

    def resolved(self) -> Pair:
        return self._replace(
            old=resolved(self.old, self.old_document), new=resolved(self.new, self.new_document)
        )


def resolved(schema: Json, document: Json) -> Json:
    while "$ref" in schema:
        schema = document["components"]["schemas"][schema["$ref"].rpartition("/")[2]]
    return schema


def breaks(old: Json, new: Json) -> list[str]:
    """Say what a caller of the old document would stumble over."""
    found = []
    for path, item in old["paths"].items():
        for method, was in item.items():
            at = f"{method.upper()} {path}"
            now = new["paths"].get(path, {}).get(method)
            if now is None:
                found.append(f"{at}: gone")
            elif was["operationId"] != now["operationId"]:
                found.append(f"{at}: operationId {was['operationId']} is now {now['operationId']}")
            else:
                found += operation_breaks(Pair(was, now, old, new, at))
    return found


def operation_breaks(pair: Pair) -> Iterator[str]:
    yield from parameter_breaks(pair)
    was, now = pair.old.get("requestBody"), pair.new.get("requestBody")
    if was is not None and now is not None:
        yield from content_breaks(pair._replace(old=was, new=now), narrower)
    elif now is not None and now.get("required"):
        yield f"{pair.at}: a body is now required"
    for status, response in pair.old["responses"].items():
        answered = pair.new["responses"].get(status)
        if answered is not None:
            yield from content_breaks(pair._replace(old=response, new=answered), poorer)
        elif status.startswith("2"):
            yield f"{pair.at}: {status} gone"


def parameter_breaks(pair: Pair) -> Iterator[str]:
    was, now = (
        {(p["in"], p["name"]): p for p in operation.get("parameters", [])}
        for operation in (pair.old, pair.new)
    )
    for key, parameter in was.items():
        if key not in now:
            yield f"{pair.at}: parameter {key[1]} gone"
        else:
            yield from narrower(pair.down(parameter["schema"], now[key]["schema"], key[1]))
    for key, parameter in now.items():
        if parameter.get("required") and not was.get(key, {}).get("required"):
            yield f"{pair.at}: parameter {key[1]} is now required"


def content_breaks(pair: Pair, compare: Callable[[Pair], Iterator[str]]) -> Iterator[str]:
    for media_type, was in pair.old.get("content", {}).items():
        now = pair.new.get("content", {}).get(media_type)
        if now is None:
            yield f"{pair.at}: {media_type} gone"
        else:
            yield from compare(pair.down(was["schema"], now["schema"], media_type))


def narrower(pair: Pair) -> Iterator[str]:
    """Say which requests of old are no longer taken."""
    for was in variants(pair.old):
        same = alike(was, pair.old_document, variants(pair.new), pair.new_document)
        if same is None:
            yield f"{pair.at}: no longer taken: {label(was, pair.old_document)}"
        else:
            yield from one_narrower(pair.down(was, same, label(was, pair.old_document)))


def one_narrower(pair: Pair) -> Iterator[str]:
    old, new, at = pair.old, pair.new, pair.at
    if values(new) is not None and not set(values(old) or ()) <= set(values(new) or ()):
        yield f"{at}: choices gone"
    if old.get("type") != new.get("type") and (old.get("type"), new.get("type")) != ("integer", "number"):
        yield f"{at}: {old.get('type')} is now {new.get('type')}"
    if "pattern" in new and new["pattern"] != old.get("pattern"):
        yield f"{at}: another pattern"
    for bound in LOWER:
        if bound in new and new[bound] > old.get(bound, float("-inf")):
            yield f"{at}: {bound} is now {new[bound]}"
    for bound in UPPER:
        if bound in new and new[bound] < old.get(bound, float("inf")):
            yield f"{at}: {bound} is now {new[bound]}"
    for name in sorted(set(new.get("required", [])) - set(old.get("required", []))):
        yield f"{at}: {name} is now required"
    yield from inside(pair, narrower)


def poorer(pair: Pair) -> Iterator[str]:
    """Say what an answer of today has that no caller of old expects, or no longer has."""
    if any(pair.new is pair.new_document["components"]["schemas"].get(name) for name in DOCUMENTS):
        return
    for now in variants(pair.new):
        same = alike(now, pair.new_document, variants(pair.old), pair.old_document)
        if same is None:
            yield f"{pair.at}: never answered before: {label(now, pair.new_document)}"
        else:
            yield from one_poorer(pair.down(same, now, label(now, pair.new_document)))


def one_poorer(pair: Pair) -> Iterator[str]:
    old, new, at = pair.old, pair.new, pair.at
    may_grow = CODES in at.split("/")[-2:]
    if (
        values(old) is not None
        and not may_grow
        and not set(values(new) or ("anything",)) <= set(values(old) or ())
    ):
        yield f"{at}: choices never answered before"
    if old.get("type") != new.get("type") and (old.get("type"), new.get("type")) != ("number", "integer"):
        yield f"{at}: {old.get('type')} is now {new.get('type')}"
    for name in sorted(set(old.get("required", [])) - set(new.get("required", []))):
        yield f"{at}: {name} is no longer always there"
    yield from inside(pair, poorer)


def inside(pair: Pair, compare: Callable[[Pair], Iterator[str]]) -> Iterator[str]:
    """Compare members, items and values."""
    for name, was in pair.old.get("properties", {}).items():
        now = pair.new.get("properties", {}).get(name)
        if now is None:
            yield f"{pair.at}: {name} gone"
        else:
            yield from compare(pair.down(was, now, name))
    for step, part in (("*", lambda schema: schema.get("items")), ("{}", values_of_map)):
        was, now = part(pair.old), part(pair.new)
        if was is not None and now is not None:
            yield from compare(pair.down(was, now, step))


def values_of_map(schema: Json) -> Json | None:
    """Return the schema of a map's values, in whichever of two ways it is stated."""
    for stated in (*schema.get("patternProperties", {}).values(), schema.get("additionalProperties")):
        if isinstance(stated, dict):
            return stated
    return None


def variants(schema: Json) -> list[Json]:
    found: list[Json] = schema.get("oneOf") or schema.get("anyOf") or [schema]
    return found


def alike(one: Json, document: Json, others: list[Json], their_document: Json) -> Json | None:
    """Find the variant of the same kind, or the only one that there is to compare with."""
    if len(others) == 1:
        return others[0]
    wanted = label(one, document)
    return next((other for other in others if label(other, their_document) == wanted), None)


def label(schema: Json, document: Json) -> str:
    """Say which variant this is: by what tells it apart, else by its name, else by its type."""
    own = resolved(schema, document)
    constants = [
        f"{name} {node['const']}" for name, node in own.get("properties", {}).items() if "const" in node
    ]
    if constants:
        return ", ".join(constants)
    return str(schema["$ref"]).rpartition("/")[2] if "$ref" in schema else str(own.get("type", "anything"))


def values(schema: Json) -> list[Any] | None:
    """Return the choices, where it is a closed list of them."""
    if "const" in schema:
        return [schema["const"]]
    found: list[Any] | None = schema.get("enum")
    return found


# --- What was released ----------------------------------------------------------------------------


@pytest.mark.parametrize("released", RELEASED, ids=[path.stem for path in RELEASED])
def test_nothing_that_was_released_breaks(released: Path) -> None:
    assert breaks(json.loads(released.read_text(encoding="utf-8")), app.openapi()) == []


def test_there_is_a_release_to_compare_with() -> None:
    assert RELEASED


# --- That the comparing sees anything -------------------------------------------------------------


def schema(document: Json, name: str) -> Json:
    found: Json = document["components"]["schemas"][name]
    return found


def remove_path(document: Json) -> None:
    del document["paths"]["/v1/codes"]


def rename_operation(document: Json) -> None:
    document["paths"]["/v1/u-value"]["post"]["operationId"] = "ask_u"


def require_a_parameter(document: Json) -> None:
    document["paths"]["/v1/u-value"]["post"]["parameters"][0]["required"] = True


def remove_a_media_type(document: Json) -> None:
    del document["paths"]["/v1/tables/{name}"]["get"]["responses"]["200"]["content"]["text/csv"]


def require_a_new_member_far_down(document: Json) -> None:
    room = schema(document, "Room")
    room["properties"]["storey"] = {"type": "integer"}
    room["required"].append("storey")


def require_a_member_that_was_optional(document: Json) -> None:
    schema(document, "Room")["required"].append("use")


def remove_a_member_of_a_request(document: Json) -> None:
    del schema(document, "SolidLayer")["properties"]["bridges"]


def narrow_a_bound_far_down(document: Json) -> None:
    schema(document, "SolidLayer")["properties"]["thickness_mm"]["maximum"] = 500


def remove_a_choice_of_a_request(document: Json) -> None:
    schema(document, "Layered")["properties"]["heat_flow"]["enum"].remove("downwards")


def remove_a_variant(document: Json) -> None:
    construction = schema(document, "UValueRequest")["properties"]["construction"]
    construction["oneOf"] = [v for v in construction["oneOf"] if not v["$ref"].endswith("Typical")]


def remove_a_member_of_an_answer(document: Json) -> None:
    del schema(document, "ElementLoss")["properties"]["heat_loss_w"]


def make_a_member_of_an_answer_optional(document: Json) -> None:
    schema(document, "ElementLoss")["required"].remove("heat_loss_w")


def change_a_type_in_an_answer(document: Json) -> None:
    schema(document, "UValueResult")["properties"]["u_value_w_m2k"]["type"] = "string"


def add_a_choice_to_an_answer(document: Json) -> None:
    schema(document, "CandidateStatement")["properties"]["verdict"]["enum"].append("nearly")


BREAKING = [
    remove_path,
    rename_operation,
    require_a_parameter,
    remove_a_media_type,
    require_a_new_member_far_down,
    require_a_member_that_was_optional,
    remove_a_member_of_a_request,
    narrow_a_bound_far_down,
    remove_a_choice_of_a_request,
    remove_a_variant,
    remove_a_member_of_an_answer,
    make_a_member_of_an_answer_optional,
    change_a_type_in_an_answer,
    add_a_choice_to_an_answer,
]


@pytest.mark.parametrize("plant", BREAKING, ids=lambda plant: plant.__name__)
def test_a_planted_break_is_seen(plant: Callable[[Json], None]) -> None:
    changed = copy.deepcopy(app.openapi())
    plant(changed)
    assert breaks(app.openapi(), changed)


def test_growth_is_no_break() -> None:
    grown = copy.deepcopy(app.openapi())
    grown["paths"]["/v1/further"] = grown["paths"]["/v1/u-value"]
    schema(grown, "Room")["properties"]["storey"] = {"type": "integer"}
    schema(grown, "ElementLoss")["properties"]["share"] = {"type": "number"}
    schema(grown, "SolidLayer")["properties"]["thickness_mm"]["maximum"] = 9000
    schema(grown, "Layered")["properties"]["heat_flow"]["enum"].append("sideways")
    schema(grown, "Warning")["properties"]["code"]["x-extensible-enum"].append("caution.new")
    assert breaks(app.openapi(), grown) == []
