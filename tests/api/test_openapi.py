"""The published schema: valid, complete, and true to what the service does."""

from __future__ import annotations

import asyncio
import copy
import json
from collections.abc import Callable, Iterator
from typing import Any

import httpx
import pytest
from jsonschema import Draft202012Validator
from openapi_spec_validator import validate
from starlette.routing import Route

from warmstead.api.app import app
from warmstead.questions.registry import QUESTIONS

Send = Callable[..., httpx.Response]
Json = dict[str, Any]

DOCUMENT: Json = app.openapi()
SCHEMAS: Json = DOCUMENT["components"]["schemas"]
OPERATIONS: list[tuple[str, str, Json]] = [
    (path, method, operation)
    for path, item in DOCUMENT["paths"].items()
    for method, operation in item.items()
]
OPERATION_IDS = [operation["operationId"] for _, _, operation in OPERATIONS]
LOWER_BOUNDS = {"minimum", "exclusiveMinimum"}
UPPER_BOUNDS = {"maximum", "exclusiveMaximum"}
PROBLEM = "#/components/schemas/ProblemDocument"


def nodes(node: Any, at: str = "") -> Iterator[tuple[str, Json]]:
    """Walk through every object of a document, examples left out."""
    if isinstance(node, dict):
        yield at, node
        for name, value in node.items():
            if name not in ("example", "examples"):
                yield from nodes(value, f"{at}/{name}")
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from nodes(value, f"{at}/{index}")


def reachable(node: Any) -> dict[str, Json]:
    """Return the component schemas that a part of the document leads to."""
    found: dict[str, Json] = {}
    ahead = [node]
    while ahead:
        for _, part in nodes(ahead.pop()):
            name = str(part.get("$ref", "")).rpartition("/")[2]
            if name and name not in found:
                found[name] = SCHEMAS[name]
                ahead.append(SCHEMAS[name])
    return found


REQUESTED = reachable(
    [operation["requestBody"] for _, _, operation in OPERATIONS if "requestBody" in operation]
)
ANSWERED = reachable([operation["responses"] for _, _, operation in OPERATIONS])


def is_number(schema: Json) -> bool:
    """Whether a schema is of a number, or a choice among numbers."""
    if schema.get("type") in ("number", "integer"):
        return True
    values = schema.get("enum", [schema["const"]] if "const" in schema else [])
    return any(isinstance(value, int | float) and not isinstance(value, bool) for value in values)


def numbers(schemas: dict[str, Json]) -> list[tuple[str, Json]]:
    """List every schema of a number."""
    return [(at, node) for at, node in nodes(schemas) if is_number(node)]


def pointed_here(schema: Any) -> Any:
    """Rewrite references to components as references to `$defs`."""
    text = json.dumps(schema).replace("#/components/schemas/", "#/$defs/")
    return json.loads(text)


# The components refer to each other as well.
SCHEMAS_HERE: Json = pointed_here(SCHEMAS)


def errors_in(instance: Any, schema: Json) -> list[str]:
    """Check an instance against a schema and say where it differs."""
    Draft202012Validator.check_schema(schema)
    whole = {"$defs": SCHEMAS_HERE, **pointed_here(schema)}
    return [
        f"{error.json_path}: {error.message}" for error in Draft202012Validator(whole).iter_errors(instance)
    ]


def closed(schema: Any) -> Any:
    """Return a schema whose objects take no members but those that it names."""
    if isinstance(schema, list):
        return [closed(part) for part in schema]
    if not isinstance(schema, dict):
        return schema
    made = {name: closed(part) for name, part in schema.items()}
    if made.get("type") == "object" and "properties" in made:
        made.setdefault("additionalProperties", False)
    return made


# --- The document itself --------------------------------------------------------------------------


def test_the_document_is_valid_openapi() -> None:
    validate(DOCUMENT)
    assert DOCUMENT["openapi"].startswith("3.1")


def test_the_document_served_is_the_one_checked_here(send: Send) -> None:
    response = send("GET", "/openapi.json")
    assert response.status_code == 200
    assert response.json() == DOCUMENT, "write the file again: warmstead openapi --output openapi/v1.json"
    same = send("GET", "/openapi.json", headers={"if-none-match": response.headers["etag"]})
    assert (same.status_code, same.content) == (304, b"")


def test_behind_a_proxy_the_document_says_where_the_service_stands() -> None:
    async def asked() -> Json:
        below = httpx.ASGITransport(app=app, root_path="/heat")
        async with httpx.AsyncClient(transport=below, base_url="http://api.test") as client:
            document: Json = (await client.get("/heat/openapi.json")).json()
            return document

    document = asyncio.run(asked())
    assert document["servers"] == [{"url": "/heat"}, *DOCUMENT["servers"]]
    assert document["paths"] == DOCUMENT["paths"]


def test_the_document_says_who_what_and_under_which_licence() -> None:
    info = DOCUMENT["info"]
    assert info["title"]
    assert info["summary"]
    assert info["description"]
    assert info["version"]
    assert info["contact"]["name"]
    assert info["license"]["identifier"] == "MIT"
    assert DOCUMENT["servers"]


def test_every_path_that_is_served_is_published() -> None:
    hidden = {"/openapi.json", "/docs", "/docs/oauth2-redirect", "/guide", "/guide/{page}"}
    served = {
        route.path
        for route in app.router.routes
        if isinstance(route, Route) and not route.path.startswith("/static")
    }
    assert served - hidden == set(DOCUMENT["paths"])


def test_every_question_has_its_path() -> None:
    for name, question in QUESTIONS.items():
        operation = DOCUMENT["paths"][f"/v1/{name}"]["post"]
        assert operation["operationId"] == f"ask_{question.python_name}"


@pytest.mark.parametrize(("path", "method", "operation"), OPERATIONS, ids=OPERATION_IDS)
def test_every_operation_is_described(path: str, method: str, operation: Json) -> None:
    assert operation["summary"]
    assert operation["description"]
    assert operation["operationId"].isidentifier()
    assert len(operation["tags"]) == 1
    assert operation["tags"][0] in {tag["name"] for tag in DOCUMENT["tags"]}
    for parameter in operation.get("parameters", []):
        assert parameter["description"], parameter["name"]
    for status, response in operation["responses"].items():
        assert response["description"], status


@pytest.mark.parametrize(("path", "method", "operation"), OPERATIONS, ids=OPERATION_IDS)
def test_every_operation_has_an_example(path: str, method: str, operation: Json) -> None:
    place = operation["requestBody"] if "requestBody" in operation else operation["responses"]["200"]
    assert any(content.get("example") or content.get("examples") for content in place["content"].values())


def test_operation_ids_are_unique() -> None:
    assert len(set(OPERATION_IDS)) == len(OPERATION_IDS)


def test_tags_are_described_and_used() -> None:
    assert all(tag["description"] for tag in DOCUMENT["tags"])
    used = {tag for _, _, operation in OPERATIONS for tag in operation["tags"]}
    assert used == {tag["name"] for tag in DOCUMENT["tags"]}


def test_every_component_is_used() -> None:
    assert set(REQUESTED) | set(ANSWERED) == set(SCHEMAS)


# --- Nulls, numbers, variants ---------------------------------------------------------------------


def test_nothing_may_be_null() -> None:
    for at, node in nodes(DOCUMENT):
        assert node.get("type") != "null", at
        kinds = node.get("type")
        assert not isinstance(kinds, list) or "null" not in kinds, at
        assert not node.get("nullable"), at
        assert None not in node.get("enum", []), at
        assert not ("default" in node and node["default"] is None), at
    assert "null" not in json.dumps(DOCUMENT).replace('"null_value"', "").replace("null is", "")


def test_every_number_in_a_request_has_unit_bounds_and_description() -> None:
    found = numbers(REQUESTED)
    assert len(found) > 80
    for at, schema in found:
        assert schema.get("description"), at
        assert schema.get("x-unit"), at
        if "enum" not in schema and "const" not in schema:
            assert LOWER_BOUNDS & set(schema), at
            assert UPPER_BOUNDS & set(schema), at


def test_every_number_in_a_query_has_unit_bounds_and_description() -> None:
    found = [
        (f"{path}?{parameter['name']}", parameter, node)
        for path, _, operation in OPERATIONS
        for parameter in operation.get("parameters", [])
        for _, node in nodes(parameter["schema"])
        if is_number(node)
    ]
    assert found
    for at, parameter, schema in found:
        assert parameter["description"], at
        assert schema.get("x-unit") or parameter["schema"].get("x-unit"), at
        assert LOWER_BOUNDS & set(schema), at
        assert UPPER_BOUNDS & set(schema), at


def test_every_number_in_an_answer_has_unit_and_description() -> None:
    cells = "/TableStatement/properties/rows/"  # of any column: each says its unit in `columns`
    found = [(at, schema) for at, schema in numbers(ANSWERED) if not at.startswith(cells)]
    assert len(found) > 60
    for at, schema in found:
        assert schema.get("description"), at
        assert schema.get("x-unit"), at


UCUM_OF_SUFFIX = {
    "_m": "m",
    "_mm": "mm",
    "_m2": "m2",
    "_mm2": "mm2",
    "_m3": "m3",
    "_c": "Cel",
    "_k": "K",
    "_w": "W",
    "_w_k": "W/K",
    "_w_m2": "W/m2",
    "_w_m2k": "W/(m2.K)",
    "_m2k_w": "m2.K/W",
    "_w_mk": "W/(m.K)",
    "_l_s": "L/s",
    "_m_s": "m/s",
    "_mm2_per_m": "mm2/m",
    "_kwh_m2": "kW.h/m2",
    "_mm2_per_m2": "mm2/m2",
    "_m2_per_m": "m2/m",
    "_wh_m3k": "W.h/(m3.K)",
    "_m3_h_m2": "m3/(h.m2)",
    "_kwh_per_day": "kW.h/d",
    "_mm_per_day": "mm/d",
    "_count": "1",
    "count_per_m2": "/m2",
    "_hours_per_day": "h",
}


def test_units_are_those_of_the_names() -> None:
    checked = 0
    for at, schema in numbers(REQUESTED | ANSWERED):
        name = at.rpartition("/")[2]
        fitting = [suffix for suffix in UCUM_OF_SUFFIX if name.endswith(suffix)]
        if fitting and "/properties/" in at:
            assert schema["x-unit"] == UCUM_OF_SUFFIX[max(fitting, key=len)], at
            checked += 1
    assert checked > 130


def test_lists_in_requests_are_bounded() -> None:
    for at, node in nodes(REQUESTED):
        if node.get("type") == "array":
            assert "maxItems" in node, at
        if node.get("type") == "object" and "properties" not in node:
            assert "maxProperties" in node, at


def test_texts_in_requests_are_bounded() -> None:
    for at, node in nodes(REQUESTED):
        if node.get("type") == "string" and "enum" not in node and "const" not in node:
            assert "maxLength" in node or "{0,63}" in node.get("pattern", ""), at


def test_objects_in_requests_take_no_unknown_fields() -> None:
    for name, schema in REQUESTED.items():
        if "properties" in schema:
            assert schema["additionalProperties"] is False, name


def test_every_member_is_described() -> None:
    for name, schema in SCHEMAS.items():
        if "oneOf" in schema or "anyOf" in schema:
            continue
        assert schema.get("description") or "enum" in schema, name
        discriminating = {"kind", "floor", "to", "method"}
        for member, node in schema.get("properties", {}).items():
            described = node.get("description") or "$ref" in node
            assert described or (member in discriminating and "const" in node), f"{name}/{member}"


def test_variants_are_told_apart_by_text() -> None:
    found = [(at, node["discriminator"], node) for at, node in nodes(DOCUMENT) if "discriminator" in node]
    assert len(found) >= 5
    for at, discriminator, node in found:
        mapping = discriminator["mapping"]
        assert all(isinstance(name, str) for name in mapping), at
        assert all(
            isinstance(target, str) and target.startswith("#/components/") for target in mapping.values()
        ), at
        variants = [variant["$ref"] for variant in node["oneOf"]]
        assert set(variants) == set(mapping.values()), at
        for value, target in mapping.items():
            variant = SCHEMAS[target.rpartition("/")[2]]
            if "oneOf" in variant:
                continue  # ground floors are told apart once more
            member = discriminator["propertyName"]
            assert variant["properties"][member]["const"] == value, at
            assert member in variant["required"], at
            assert "default" not in variant["properties"][member], at


# --- Problems -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("path", "method", "operation"), OPERATIONS, ids=OPERATION_IDS)
def test_every_refusal_is_published_as_a_problem(path: str, method: str, operation: Json) -> None:
    for status, response in operation["responses"].items():
        if status.startswith(("4", "5")):
            assert set(response["content"]) == {"application/problem+json"}, status
            assert response["content"]["application/problem+json"]["schema"] == {"$ref": PROBLEM}, status
    if operation["tags"] == ["batches"]:
        assert {"200", "415", "422", "503"} <= set(operation["responses"])  # each line has the rest
    elif method == "post":
        assert {"200", "400", "413", "415", "422"} <= set(operation["responses"])
    assert "HTTPValidationError" not in json.dumps(operation)


def test_a_problem_of_each_status_fits_the_published_schema(ask: Send, send: Send) -> None:
    found = [
        ask("u-value", "{"),
        send("GET", "/nothing"),
        send("GET", "/v1/tables/nothing"),
        send("PUT", "/v1/u-value"),
        ask("u-value", b" " * 9_000_000),
        ask("u-value", "{}", headers={"content-type": "text/plain"}),
        ask("u-value", {"construction": {"kind": "layered"}, "surprise": 1}),
        ask("u-value", {}, query="?surprise=1"),
    ]
    assert [response.status_code for response in found] == [400, 404, 404, 405, 413, 415, 422, 422]
    for response in found:
        assert errors_in(response.json(), closed(SCHEMAS["ProblemDocument"])) == []


# --- The service does as it says ------------------------------------------------------------------


def ok(path: str, method: str) -> Json:
    """Return the schema of an operation's good answer."""
    schema: Json = DOCUMENT["paths"][path][method]["responses"]["200"]["content"]["application/json"][
        "schema"
    ]
    return schema


@pytest.mark.parametrize("workings", ["false", "true"])
@pytest.mark.parametrize("name", list(QUESTIONS))
def test_an_answer_fits_the_published_schema(
    name: str, workings: str, ask: Send, requests: dict[str, Json]
) -> None:
    answer = ask(name, requests[name], query=f"?workings={workings}").json()
    assert errors_in(answer, ok(f"/v1/{name}", "post")) == []


@pytest.mark.parametrize("name", list(QUESTIONS))
def test_an_answer_has_no_member_that_is_not_published(
    name: str, ask: Send, requests: dict[str, Json]
) -> None:
    answer = ask(name, requests[name], query="?workings=true").json()
    published = copy.deepcopy({"$defs": closed(SCHEMAS_HERE), **pointed_here(ok(f"/v1/{name}", "post"))})
    told = [
        f"{error.json_path}: {error.message}" for error in Draft202012Validator(published).iter_errors(answer)
    ]
    assert told == []


@pytest.mark.parametrize("name", list(QUESTIONS))
def test_a_request_that_is_answered_fits_the_published_schema(
    name: str, ask: Send, requests: dict[str, Json]
) -> None:
    body = DOCUMENT["paths"][f"/v1/{name}"]["post"]["requestBody"]
    assert body["required"] is True
    schema = body["content"]["application/json"]["schema"]
    assert ask(name, requests[name]).status_code == 200
    assert errors_in(requests[name], schema) == []


@pytest.mark.parametrize("name", list(QUESTIONS))
def test_an_example_of_the_document_is_answered(name: str, ask: Send) -> None:
    content = DOCUMENT["paths"][f"/v1/{name}"]["post"]["requestBody"]["content"]["application/json"]
    examples = [content["example"]] if "example" in content else []
    examples += [example["value"] for example in content.get("examples", {}).values()]
    assert examples
    for example in examples:
        assert errors_in(example, content["schema"]) == []
        response = ask(name, example)
        assert response.status_code == 200, response.text
        assert errors_in(response.json(), ok(f"/v1/{name}", "post")) == []


def test_tables_and_health_fit_the_published_schema(send: Send) -> None:
    for path in ("/v1/tables", "/healthz"):
        assert errors_in(send("GET", path).json(), ok(path, "get")) == []
    for entry in send("GET", "/v1/tables").json()["tables"]:
        answer = send("GET", f"/v1/tables/{entry['name']}").json()
        assert errors_in(answer, ok("/v1/tables/{name}", "get")) == []


def test_a_table_is_published_as_csv_too() -> None:
    assert "text/csv" in DOCUMENT["paths"]["/v1/tables/{name}"]["get"]["responses"]["200"]["content"]


def beyond(bounds: Json) -> list[float]:
    """Return numbers that are just outside the bounds of a schema."""
    if bounds["type"] == "integer":
        return [int(bounds["minimum"]) - 1, int(bounds["maximum"]) + 1]
    found = [bounds[bound] for bound in ("exclusiveMinimum", "exclusiveMaximum") if bound in bounds]
    if "minimum" in bounds:
        found.append(bounds["minimum"] - 1e-6 * max(1.0, abs(bounds["minimum"])))
    if "maximum" in bounds:
        found.append(bounds["maximum"] + 1e-6 * max(1.0, abs(bounds["maximum"])))
    return found


def numeric_members(request: Any, schema: Json) -> Iterator[tuple[Any, Any, Json]]:
    """Walk a request along its schema: each number with what holds it, its key and its schema."""
    schema = resolved(schema, request)
    if isinstance(request, dict):
        free: Json = schema.get("additionalProperties") or next(
            iter(schema.get("patternProperties", {}).values()), {}
        )
        for name, value in request.items():
            member = schema.get("properties", {}).get(name, free)
            yield from step_into(request, name, value, member)
    elif isinstance(request, list):
        for index, value in enumerate(request):
            yield from step_into(request, index, value, schema["items"])


def step_into(holder: Any, key: Any, value: Any, schema: Any) -> Iterator[tuple[Any, Any, Json]]:
    """Give a number itself, or what is within anything else."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        yield holder, key, schema
    else:
        yield from numeric_members(value, schema)


def resolved(schema: Json, value: Any) -> Json:
    """Follow references, and the variant that a value says it is."""
    while "$ref" in schema or "discriminator" in schema:
        if "$ref" in schema:
            schema = SCHEMAS[schema["$ref"].rpartition("/")[2]]
        else:
            chosen = value[schema["discriminator"]["propertyName"]]
            schema = {"$ref": schema["discriminator"]["mapping"][chosen]}
    return schema


@pytest.mark.parametrize("name", list(QUESTIONS))
def test_every_published_bound_is_kept(name: str, ask: Send, requests: dict[str, Json]) -> None:
    """Each number of a request in turn just outside its published bounds: refused as out of range, there."""
    schema = DOCUMENT["paths"][f"/v1/{name}"]["post"]["requestBody"]["content"]["application/json"]["schema"]
    tried = 0
    seen: set[str] = set()
    for holder, key, bounds in list(numeric_members(requests[name], schema)):
        if json.dumps(bounds) in seen or "enum" in bounds:
            continue
        seen.add(json.dumps(bounds))
        kept = holder[key]
        for value in beyond(bounds):
            holder[key] = value
            response = ask(name, requests[name])
            assert response.status_code == 422, (key, value)
            assert [error["code"] for error in response.json()["errors"]] == ["out_of_range"], (key, value)
            tried += 1
        holder[key] = kept
    assert tried >= 4
