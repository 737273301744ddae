"""The tools for an assistant, asked by the library's own client: in this process, and as the command that an assistant starts."""

from __future__ import annotations

import asyncio
import importlib.util
import json
import os
import re
import sys
from collections.abc import Callable
from typing import Any

import pytest

from warmstead.questions.registry import QUESTIONS

if importlib.util.find_spec("fastmcp") is None:
    if os.environ.get("WARMSTEAD_REQUIRE_CLIENTS") == "1":
        raise ModuleNotFoundError("fastmcp, of the extra `assistant`, and WARMSTEAD_REQUIRE_CLIENTS is 1")
    pytest.skip("fastmcp, of the extra `assistant`, is not installed", allow_module_level=True)

from fastmcp import Client
from fastmcp.client.transports import StdioTransport

from warmstead.api.app import app
from warmstead.assistant import DESCRIBED_IN, MOST_REASONS, server

Json = dict[str, Any]
WALL = {"kind": "declared", "u_value_w_m2k": 1.4, "source": "an invented certificate"}


@pytest.fixture(scope="module")
def tools() -> dict[str, Any]:
    async def listed() -> list[Any]:
        async with Client(server()) as client:
            return await client.list_tools()

    return {tool.name: tool for tool in asyncio.run(listed())}


def call(tool: str, arguments: Json) -> Any:
    async def called() -> Any:
        async with Client(server()) as client:
            return await client.call_tool(tool, arguments, raise_on_error=False)

    return asyncio.run(called())


def test_there_is_a_tool_for_each_question_and_for_the_tables(tools: dict[str, Any]) -> None:
    assert (
        set(tools)
        == {q.python_name for q in QUESTIONS.values()} | {"list_tables", "get_table"} | table_values()
    )


def table_values() -> set[str]:
    """Return the further operations on tables, whatever they are called."""
    return {
        operation["operationId"]
        for item in app.openapi()["paths"].values()
        for operation in item.values()
        if operation["tags"] == ["tables"]
    } - {"list_tables", "get_table"}


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_tool_is_described_as_its_operation(question: str, tools: dict[str, Any]) -> None:
    tool = tools[QUESTIONS[question].python_name]
    assert QUESTIONS[question].description in tool.description
    request = QUESTIONS[question].request.model_json_schema(mode="validation")
    assert set(tool.input_schema["properties"]) == {*request["properties"], "workings"}
    assert set(tool.input_schema.get("required", [])) == set(request.get("required", []))


def test_the_house_is_described_once(tools: dict[str, Any], figures: Any) -> None:
    lengths = {name: len(json.dumps(tool.input_schema)) for name, tool in tools.items()}
    described = [name for name, tool in tools.items() if '"floor_area_m2"' in json.dumps(tool.input_schema)]
    assert described == [DESCRIBED_IN]
    assert f"as the tool {DESCRIBED_IN} takes it" in json.dumps(tools["emitter_check"].input_schema)
    # Nothing is left that leads nowhere.
    for tool in tools.values():
        referred = set(re.findall(r'"#/\$defs/(\w+)"', json.dumps(tool.input_schema)))
        assert referred == set(tool.input_schema.get("$defs", {}))
    figures.note(f"assistant: {len(tools)} tools, {sum(lengths.values()) / 1024:.0f} KiB of schemas to read")


def test_every_question_is_answered_as_over_http(demo: dict[str, Json], answers: dict[str, Json]) -> None:
    async def asked() -> dict[str, Json]:
        async with Client(server()) as client:
            return {
                name: (await client.call_tool(QUESTIONS[name].python_name, request)).structured_content
                for name, request in demo.items()
            }

    told = asyncio.run(asked())
    assert set(told) == set(QUESTIONS)
    for name, answer in told.items():
        assert answer == answers[name], name


def test_the_assistant_is_told_to_pass_cautions_on() -> None:
    assert "pass every caution on word for word" in str(server().instructions)


def test_cautions_pass_through() -> None:
    chimney = {
        "house": {
            "conditions": {"external_temperature_c": -3},
            "constructions": {"wall": WALL},
            "rooms": [
                {
                    "id": "lounge",
                    "floor_area_m2": 20,
                    "height_m": 2.5,
                    "ventilation": {"air_changes": 0.5, "extract_l_s": 10},
                    "flues": [{"kind": "open_flue", "air_l_s": 5}],
                    "elements": [],
                }
            ],
        }
    }
    warnings = call("house_loss", chimney).structured_content["warnings"]
    assert "caution.flue_and_extract" in {warning["code"] for warning in warnings}


def test_a_table_is_looked_up() -> None:
    rows = call("get_table", {"name": "surface-resistances"}).structured_content["rows"]
    assert {row["heat_flow"] for row in rows} == {"horizontal", "upwards", "downwards"}


def test_a_refusal_gives_every_reason_with_its_place() -> None:
    result = call("u_value", {"construction": {"kind": "declared", "u_value_w_m2k": 1000}})
    assert result.is_error
    title, *reasons = result.content[0].text.splitlines()
    assert title.startswith("Request refused")
    assert [reason.partition(",")[0] for reason in reasons] == [
        "/construction/u_value_w_m2k: out_of_range",
        "/construction/source: missing_field",
    ]


def test_a_long_refusal_is_not_cut_in_the_middle() -> None:
    layers = [{"kind": "solid", "thickness_mm": -1, "conductivity_w_mk": 1}] * 60
    result = call(
        "u_value", {"construction": {"kind": "layered", "heat_flow": "upwards", "layers": layers[:20]}}
    )
    assert len(result.content[0].text.splitlines()) == 1 + 20
    house = {
        "conditions": {"external_temperature_c": -3},
        "constructions": {},
        "rooms": [{"id": f"room-{number}"} for number in range(60)],
    }
    lines = call("house_loss", {"house": house}).content[0].text.splitlines()
    assert len(lines) == 1 + MOST_REASONS + 1
    assert re.fullmatch(r"and \d+ more", lines[-1])


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ({}, "/construction: missing_field"),
        ({"construction": WALL, "wal": 1}, "wal"),
        ({"construction": "brick"}, "construction"),
    ],
)
def test_arguments_that_do_not_fit_are_refused_not_dropped(arguments: Json, said: str) -> None:
    result = call("u_value", arguments)
    assert result.is_error
    assert said in result.content[0].text


def test_the_command_serves_an_assistant() -> None:
    async def asked() -> tuple[int, Any]:
        transport = StdioTransport(
            command=sys.executable, args=["-m", "warmstead.cli", "assistant"], env=dict(os.environ)
        )
        async with Client(transport) as client:
            return len(await client.list_tools()), await client.call_tool("u_value", {"construction": WALL})

    count, result = asyncio.run(asked())
    assert count > len(QUESTIONS)
    # By hand: a declared U-value is taken as it is given.
    assert result.structured_content["u_value_w_m2k"] == 1.4


def test_without_the_extra_the_command_says_what_is_missing(
    monkeypatch: pytest.MonkeyPatch, invoke: Callable[..., Any]
) -> None:
    monkeypatch.setitem(sys.modules, "warmstead.assistant", None)
    result = invoke("assistant")
    assert result.exit_code == 1
    assert "warmstead[assistant]" in result.output


@pytest.fixture
def invoke() -> Callable[..., Any]:
    from click.testing import CliRunner

    from warmstead.cli import main

    return lambda *arguments: CliRunner().invoke(main, arguments)
