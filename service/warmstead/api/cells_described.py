"""How the GETs for cells stand in the OpenAPI document: every parameter with its bounds, every form of the answer."""

from __future__ import annotations

from typing import Any

from warmstead.api.problems import ProblemDocument
from warmstead.exchange.cells import lookup
from warmstead.exchange.cells.answers import as_csv, as_xml, bare
from warmstead.exchange.cells.parameters import Parameter
from warmstead.exchange.cells.query import split
from warmstead.exchange.cells.questions import CELL_QUESTIONS, CellQuestion, ask, cells_of

Json = dict[str, Any]

EXAMPLES: dict[str, str] = {
    "u-value": (
        "heat_flow=horizontal&layer_1_thickness_mm=13&layer_1_conductivity_w_mk=0.57"
        "&layer_2_thickness_mm=215&layer_2_conductivity_w_mk=0.77"
        "&layer_3_thickness_mm=100&layer_3_conductivity_w_mk=0.036"
    ),
    "required-thickness": (
        "target_u_value_w_m2k=0.3&sought_layer=3&heat_flow=horizontal"
        "&layer_1_thickness_mm=13&layer_1_conductivity_w_mk=0.57"
        "&layer_2_thickness_mm=215&layer_2_conductivity_w_mk=0.77&layer_3_conductivity_w_mk=0.036"
    ),
    "radiator-output": (
        "standard_output_w=1450&flow_temperature_c=45&return_temperature_c=40&room_temperature_c=21&exponent=1.3"
    ),
    "element-loss": (
        "area_m2=9.8&u_value_w_m2k=2.1&internal_temperature_c=21&external_temperature_c=-3.2&surcharge_w_m2k=0.1"
    ),
    "outside-temperature": "place=Birmingham&altitude_m=150",
}
"""A query to each question; the values of its parameters stand in the document."""
EXAMPLE_VALUE = ("surface-resistances", "upwards", "internal_m2k_w")
FORMAT = {
    "name": "format",
    "in": "query",
    "required": False,
    "description": (
        "Form of the answer, in place of the Accept header: one bare value, the whole answer as JSON, or its single values as "
        "CSV or XML. Text where neither says."
    ),
    "schema": {"type": "string", "enum": ["text", "json", "csv", "xml"]},
}
ERRORS = {
    "name": "errors",
    "in": "query",
    "required": False,
    "description": (
        "`in_cell` answers 200 with a short text `#ERR parameter: reason` in place of a problem document, for programs that lose "
        "all but successes; the real status then stands in the header Warmstead-Status. `problem` where absent."
    ),
    "schema": {"type": "string", "enum": ["problem", "in_cell"]},
}


def question(cell: CellQuestion) -> Json:
    """Return the description of a question's GET."""
    return {
        "summary": f"{cell.question.title}, for a cell",
        "description": (
            f"{cell.question.description} Asked by flat parameters and answered like the POST; as text it is the bare "
            f"`{cell.value}`, or whichever single value `value` names."
        ),
        "operation_id": f"get_{cell.question.python_name}",
        "response_model": cell.question.result,
        "response_description": "The answer.",
        "responses": {200: {"content": _other_forms()}},
    }


def table_value() -> Json:
    """Return the description of the GET for one value of a table."""
    return {
        "summary": "One value of a table, for a cell",
        "description": (
            "One value of a table, by the id of its row and the name of its column. A row of a table without ids is named by its "
            "first columns, as many as tell all rows apart, with colons between them: `horizontal:25`, `GB:kitchen`."
        ),
        "operation_id": "get_table_value",
        "response_model": lookup.TableValue,
        "response_description": "The value and where it comes from.",
        "responses": {
            200: {"content": _other_forms()},
            404: {"description": "No such table, row or column.", "model": ProblemDocument},
        },
    }


def complete(paths: Json) -> None:
    """Put every parameter, and an answer in each of its forms, into the document's paths."""
    for cell in CELL_QUESTIONS.values():
        query = split(EXAMPLES[cell.name].encode())
        paths[f"/v1/{cell.name}"]["get"]["parameters"] = [
            *(_parameter(p, query.given.get(p.name)) for p in cell.parameters.values()),
            _value(cell),
            FORMAT,
            ERRORS,
        ]
        result = ask(cell, query)
        cells = cells_of(cell, result)
        _examples(paths[f"/v1/{cell.name}"], result, result[cell.value], cell.question.python_name, cells)
    path = paths["/v1/tables/{table}/{row}/{column}"]
    path["get"]["parameters"] += [FORMAT, ERRORS]
    found = lookup.look_up(*EXAMPLE_VALUE)
    _examples(path, found, lookup.value_of(found), "table_value", lookup.cells_of(found))
    for parameter, example in zip(("table", "row", "column"), EXAMPLE_VALUE, strict=True):
        next(p for p in path["get"]["parameters"] if p["name"] == parameter)["example"] = example


def _examples(path: Json, result: Any, value: float | str, root: str, cells: Any) -> None:
    content = path["get"]["responses"]["200"]["content"]
    content["application/json"]["example"] = result
    content["text/plain"]["example"] = bare(value)
    content["text/csv"]["example"] = as_csv(cells)
    content["application/xml"]["example"] = as_xml(root, cells)


def _other_forms() -> Json:
    return {
        media_type: {"schema": {"type": "string"}}
        for media_type in ("text/plain", "text/csv", "application/xml")
    }


def _parameter(parameter: Parameter, example: str | None) -> Json:
    described: Json = {
        "name": parameter.name,
        "in": "query",
        "required": parameter.required,
        "description": parameter.description,
        "schema": dict(parameter.schema),
    }
    if example is not None:
        described["example"] = parameter.read(example)
    return described


def _value(cell: CellQuestion) -> Json:
    return {
        "name": "value",
        "in": "query",
        "required": False,
        "description": f"Which single value of the answer the text is; `{cell.value}` where absent.",
        "schema": {"type": "string", "enum": [column.name for column in cell.columns]},
    }
