"""A Python client generated from the committed document asks every question, and none of its fields is of just any type."""

from __future__ import annotations

import importlib
import inspect
import json
import os
import re
import subprocess
import sys
import sysconfig
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import attrs
import pytest

from warmstead.questions.registry import QUESTIONS

Json = dict[str, Any]
NAME = "warmstead_client"
BLANK_SURVEY = "GetWorkbookResponse200.additional_properties"
"""What the workbook to fill in holds as JSON: not yet a survey, so that the schema of one does not fit."""
CONFIG = Path(__file__).parent / "python" / "generator.yaml"


@pytest.fixture(scope="module")
def client_folder(tmp_path_factory: pytest.TempPathFactory, schema_file: Path, absent: Any) -> Path:
    """Generate the client, as its users do, and leave out nothing."""
    scripts = sysconfig.get_path("scripts")
    generator = Path(scripts) / "openapi-python-client"
    if not generator.is_file():
        absent("openapi-python-client is not installed beside this Python")
    folder = tmp_path_factory.mktemp("python-client")
    command = [
        str(generator),
        "generate",
        "--path",
        str(schema_file),
        "--meta",
        "none",
        "--config",
        str(CONFIG),
    ]
    run = subprocess.run(
        [*command, "--output-path", str(folder / NAME), "--fail-on-warning"],
        env={**os.environ, "PATH": f"{scripts}{os.pathsep}{os.environ['PATH']}"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        timeout=300,
        check=False,
    )
    assert run.returncode == 0, run.stdout
    return folder


@pytest.fixture(scope="module")
def generated(client_folder: Path) -> Iterator[ModuleType]:
    sys.path.insert(0, str(client_folder))
    try:
        yield importlib.import_module(NAME)
    finally:
        sys.path.remove(str(client_folder))
        for name in [name for name in sys.modules if name.partition(".")[0] == NAME]:
            del sys.modules[name]


def operation(name: str) -> ModuleType:
    """Return the module of an operation."""
    folders = Path(importlib.import_module(f"{NAME}.api").__path__[0])
    (found,) = folders.glob(f"*/{name}.py")
    return importlib.import_module(f"{NAME}.api.{found.parent.name}.{name}")


def model(name: str) -> Any:
    """Return a model by its name."""
    return getattr(importlib.import_module(f"{NAME}.models"), name)


def request_model(ask: ModuleType) -> Any:
    """Return the model that an operation takes."""
    return inspect.signature(ask.sync_detailed).parameters["body"].annotation


@pytest.mark.parametrize("question", QUESTIONS)
def test_a_question_is_asked_and_its_answer_read(
    question: str, generated: ModuleType, service: str, demo: dict[str, Json], answers: dict[str, Json]
) -> None:
    ask = operation(f"ask_{QUESTIONS[question].python_name}")
    body = request_model(ask).from_dict(demo[question])
    assert body.to_dict() == demo[question]
    with generated.Client(base_url=service, raise_on_unexpected_status=True, timeout=120) as client:
        response = ask.sync_detailed(client=client, body=body)
    assert response.status_code == 200
    assert response.parsed.to_dict() == answers[question]


def test_a_request_is_made_from_its_parts(generated: ModuleType, service: str) -> None:
    wall = model("Declared")(kind="declared", u_value_w_m2k=1.4, source="an invented certificate")
    with generated.Client(base_url=service) as client:
        answer = operation("ask_u_value").sync(client=client, body=model("UValueRequest")(construction=wall))
    # By hand: a declared U-value is taken as it is given.
    assert answer.u_value_w_m2k == 1.4
    assert answer.stated == "1.40"
    assert answer.basis.contract == "v1"


def test_a_refusal_is_read_too(generated: ModuleType, service: str) -> None:
    wall = model("Declared")(kind="declared", u_value_w_m2k=1e6, source="an invented certificate")
    with generated.Client(base_url=service) as client:
        problem = operation("ask_u_value").sync(client=client, body=model("UValueRequest")(construction=wall))
    assert isinstance(problem, model("ProblemDocument"))
    assert [error.pointer for error in problem.errors] == ["/construction/u_value_w_m2k"]


def fields(generated: ModuleType) -> Iterator[tuple[str, str]]:
    """Yield each field of each model with its type as written.

    Left out is what a later version may add to an object of an answer that has members of its own: nobody can know its type.
    """
    models = importlib.import_module(f"{NAME}.models")
    for name in models.__all__:
        made = getattr(models, name)
        if attrs.has(made):
            own = attrs.fields(made)
            for field in own:
                if field.name != "additional_properties" or len(own) == 1:
                    yield f"{name}.{field.name}", str(field.type)


def test_no_field_is_of_just_any_type(generated: ModuleType, figures: Any, client_folder: Path) -> None:
    found = dict(fields(generated))
    assert found["UValueResult.u_value_w_m2k"] == "float"
    assert len(found) > 300
    open_ones = {name for name, kind in found.items() if re.search(r"\b(Any|object)\b", kind)}
    assert open_ones == {BLANK_SURVEY}
    sizes = [path.stat().st_size for path in (client_folder / NAME).rglob("*.py")]
    figures.note(
        f"generated Python client: {len(sizes)} files, {sum(sizes) / 1024:.0f} KiB, {len(found)} fields, "
        "none of them Any but the blank survey"
    )


@pytest.mark.parametrize("question", QUESTIONS)
def test_what_a_question_takes_and_gives_has_types(question: str, generated: ModuleType) -> None:
    ask = operation(f"ask_{QUESTIONS[question].python_name}").sync
    signature = inspect.signature(ask)
    kinds = [str(signature.return_annotation), *(str(p.annotation) for p in signature.parameters.values())]
    assert not [kind for kind in kinds if re.search(r"\bAny\b", kind)]
    assert "ProblemDocument" in str(signature.return_annotation)


def test_requests_written_again_lose_nothing(generated: ModuleType, demo: dict[str, Json]) -> None:
    """Variants of constructions, layers, boundaries and emitters are told apart, and none loses a member."""
    house = demo["house-loss"]["house"]
    assert json.loads(json.dumps(model("House").from_dict(house).to_dict())) == house
    kinds = {type(made).__name__ for made in _parts(model("House").from_dict(house))}
    assert kinds >= {
        "Layered",
        "Window",
        "SlabOnGround",
        "SuspendedFloor",
        "AirLayer",
        "Radiator",
        "AnotherRoom",
    }


def _parts(made: Any) -> Iterator[Any]:
    if isinstance(made, list):
        for item in made:
            yield from _parts(item)
    elif attrs.has(type(made)):
        yield made
        for field in attrs.fields(type(made)):
            value = getattr(made, field.name)
            yield from _parts(list(value.values()) if isinstance(value, dict) else value)
