"""What an answer leads to: links of the OpenAPI document, from a member of an answer to the operation that takes it.

People find their way by them, and tools that test by the document follow them.
"""

from __future__ import annotations

from typing import Any

Links = dict[str, dict[str, Any]]

FROM_TABLES: Links = {
    "table": {
        "operationId": "get_table",
        "parameters": {"name": "$response.body#/tables/0/name"},
        "description": "Each name of the list is a table's.",
    }
}
FROM_TABLE: Links = {
    "value": {
        "operationId": "get_table_value",
        "parameters": {
            "table": "$request.path.name",
            "row": "$response.body#/rows/0/id",
            "column": "$response.body#/columns/0/name",
        },
        "description": "One value, by the id of a row and the name of a column.",
    }
}
FROM_EMPTY_WORKBOOK: Links = {
    "answer": {
        "operationId": "answer_workbook",
        "requestBody": "$response.body",
        "description": "The workbook once it is filled in; as it stands with `content=demo`.",
    }
}
FROM_WORKBOOK: Links = {
    "house_loss": {
        "operationId": "ask_house_loss",
        "requestBody": {"house": "$response.body#/survey/house"},
        "description": "With `format=json`: the house that was read, to be asked any question.",
    },
    "workbook": {
        "operationId": "answer_workbook",
        "requestBody": "$response.body#/survey",
        "description": "With `format=json`: the survey that was read, made a workbook again.",
    },
}
FROM_ELEMENT_TABLE: Links = {
    "house_loss": {
        "operationId": "ask_house_loss",
        "requestBody": {"house": "$response.body#/house"},
        "description": "With `format=house`: the house that was read, to be asked any question.",
    }
}
