"""The questions that flat parameters can ask, each put together into its own request and answered as any other."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache, partial
from typing import Any, NamedTuple

from pydantic import TypeAdapter

from warmstead.building.findings import Problem, Refused
from warmstead.exchange.cells import layers
from warmstead.exchange.cells.answers import Cell
from warmstead.exchange.cells.numbers import NotANumber
from warmstead.exchange.cells.parameters import Parameter, Value, parameter, parameters_of
from warmstead.exchange.cells.query import LONGEST_NAME, ParameterProblem, ParametersRefused, Query, guess
from warmstead.exchange.documents import read_mapping
from warmstead.questions.registry import QUESTIONS, Question
from warmstead.questions.required_thickness import RequiredThicknessRequest

Json = dict[str, Any]
Result = Mapping[str, Any]
Given = Mapping[str, str]
Values = Mapping[str, Value]
Build = Callable[[Values, Given, list[ParameterProblem]], Json]
ParameterOf = Callable[[str, Given], str]

OPTIONS = ("format", "errors", "value")
"""Parameters about the answer rather than the question."""
MOST_GUESSES = 5
"""Misspelt names of one query that are worth a guess at what was meant."""


class CellQuestion(NamedTuple):
    """A question that flat parameters can ask."""

    question: Question
    makes_parameters: Callable[[], tuple[Parameter, ...]]
    value: str
    """Member of the answer that a bare number stands for."""
    build: Build
    """Puts the parameters together into the question's request."""
    parameter_of: ParameterOf
    """Finds the parameter behind a pointer into that request."""

    @property
    def name(self) -> str:
        """Its name in URLs."""
        return self.question.name

    @property
    def parameters(self) -> dict[str, Parameter]:
        """What may be given, by name."""
        return _parameters(self.name)

    @property
    def columns(self) -> tuple[Cell, ...]:
        """The single values of its answer, in order, without values; their units."""
        return _columns(self.name)


def ask(cell: CellQuestion, query: Query) -> Any:
    """Return the answer to a question asked by flat parameters.

    Args:
        cell: the question.
        query: the parameters; `OPTIONS` among them are passed over.

    Raises:
        ParametersRefused: something is wrong; all of it is said, each at its parameter.
    """
    problems = list(query.problems)
    values = _values(cell, query, problems)
    document = cell.build(values, query.given, problems)
    try:
        request = read_mapping(cell.question.request, document)
        if not problems:
            return cell.question.answer(request)
    except Refused as refused:
        problems += _at_parameters(cell, refused.problems, query.given, {p.parameter for p in problems})
    raise ParametersRefused(problems)


def cells_of(cell: CellQuestion, result: Result) -> list[Cell]:
    """Return the single values of an answer and, last, the codes of its warnings."""
    cells = [column._replace(value=result.get(column.name)) for column in cell.columns]
    codes = dict.fromkeys(warning["code"] for warning in result["warnings"])
    return [*cells, Cell("warnings", " ".join(codes))]


def _values(cell: CellQuestion, query: Query, problems: list[ParameterProblem]) -> dict[str, Value]:
    told = {problem.parameter for problem in problems}
    values: dict[str, Value] = {}
    guesses = 0
    for name, text in query.given.items():
        if name in OPTIONS or name in told:
            continue
        known = cell.parameters.get(name)
        if known is None:
            guessed = ""
            if guesses < MOST_GUESSES:
                guesses += 1
                guessed = f"; {guess(name, (*cell.parameters, *OPTIONS))}"
            problems.append(
                ParameterProblem(name[:LONGEST_NAME], "unknown_field", f"unknown parameter{guessed}")
            )
            continue
        try:
            values[name] = known.read(text)
        except NotANumber as error:
            problems.append(ParameterProblem(name, "not_a_number", str(error)))
    return values


def _at_parameters(
    cell: CellQuestion, found: list[Problem], given: Given, told: set[str]
) -> list[ParameterProblem]:
    """Return problems at their parameters; a parameter that was refused before is not refused for being absent."""
    problems: list[ParameterProblem] = []
    for pointer, code, detail in found:
        name = cell.parameter_of(pointer, given)
        if name not in told:
            problems.append(ParameterProblem(name, code, detail))
    return problems


@cache
def _parameters(name: str) -> dict[str, Parameter]:
    return {parameter.name: parameter for parameter in CELL_QUESTIONS[name].makes_parameters()}


@cache
def _columns(name: str) -> tuple[Cell, ...]:
    schema = TypeAdapter(QUESTIONS[name].result).json_schema()
    return tuple(
        Cell(member, None, node.get("x-unit", ""))
        for member, node in schema["properties"].items()
        if node.get("type") in ("number", "string")
    )


# --- How parameters make up a request ----------------------------------------------------------------------------------


def _flat(values: Values, given: Given, problems: list[ParameterProblem]) -> Json:
    return dict(values)


def _flat_parameter(pointer: str, given: Given) -> str:
    return pointer.removeprefix("/")


def _u_value(values: Values, given: Given, problems: list[ParameterProblem]) -> Json:
    return {"construction": layers.construction(values, given, problems)}


SOUGHT_LAYER = "sought_layer"
_SOUGHT = Parameter(
    SOUGHT_LAYER,
    "Number of the solid layer whose thickness is sought, 1 at the inside as in the names; its own thickness may be left out.",
    {"type": "integer", "minimum": 1, "maximum": layers.MOST_LAYERS, "x-unit": "1"},
    required=True,
)
_ANY_THICKNESS_MM = 1.0
"""The request wants a thickness for every solid layer; that of the layer that is sought does not matter."""


def _required_thickness(values: Values, given: Given, problems: list[ParameterProblem]) -> Json:
    said = layers.layers_said(given)
    sought = values.get(SOUGHT_LAYER)
    document: Json = {}
    if isinstance(sought, int):
        solid = [number for number, kind in said.items() if kind == "solid"]
        if sought in solid:
            document["layer"] = sought - 1
            thickness = f"layer_{sought}_thickness_mm"
            if thickness not in given:
                values = {**values, thickness: _ANY_THICKNESS_MM}
                given = {**given, thickness: ""}
        else:
            listed = ", ".join(map(str, sorted(solid))) or "none"
            detail = f"no solid layer of that number; solid here: {listed}"
            problems.append(ParameterProblem(SOUGHT_LAYER, "not_found", detail))
    document["construction"] = layers.construction(values, given, problems)
    if "target_u_value_w_m2k" in values:
        document["target_u_value_w_m2k"] = values["target_u_value_w_m2k"]
    return document


def _layered_parameter(pointer: str, given: Given) -> str:
    tokens = pointer.split("/")[1:]
    if tokens and tokens[0] == "construction":
        return layers.parameter_of(tokens[1:], given)
    return SOUGHT_LAYER if tokens == ["layer"] else "/".join(tokens)


def _required_thickness_parameters() -> tuple[Parameter, ...]:
    target = parameter(RequiredThicknessRequest, "target_u_value_w_m2k")
    return (_SOUGHT, target, *layers.construction_parameters())


def _cell_question(
    name: str,
    value: str,
    makes_parameters: Callable[[], tuple[Parameter, ...]] | None = None,
    build: Build = _flat,
    parameter_of: ParameterOf = _flat_parameter,
) -> CellQuestion:
    question = QUESTIONS[name]
    if makes_parameters is None:
        makes_parameters = partial(parameters_of, question.request)
    return CellQuestion(question, makes_parameters, value, build, parameter_of)


CELL_QUESTIONS: dict[str, CellQuestion] = {
    cell.name: cell
    for cell in (
        _cell_question(
            "u-value", "u_value_w_m2k", layers.construction_parameters, _u_value, _layered_parameter
        ),
        _cell_question(
            "required-thickness",
            "thickness_mm",
            _required_thickness_parameters,
            _required_thickness,
            _layered_parameter,
        ),
        _cell_question("radiator-output", "output_w"),
        _cell_question("element-loss", "heat_loss_w"),
        _cell_question("outside-temperature", "external_temperature_c"),
    )
}
"""By name in URLs."""
