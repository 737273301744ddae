"""What a flat parameter may hold: taken from the request model that it ends up in, so that the two cannot differ."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple

from warmstead.exchange.cells.numbers import NotANumber, number
from warmstead.survey.document import Document

Value = float | int | str
Schema = Mapping[str, Any]


class Parameter(NamedTuple):
    """One flat parameter: its name, and what may stand in it."""

    name: str
    description: str
    schema: Schema
    """JSON schema with bounds and `x-unit`."""
    required: bool = False

    def read(self, text: str) -> Value:
        """Return what a text in the query means here.

        Raises:
            NotANumber: a number is needed.
        """
        kind = self.schema.get("type")
        if kind == "number":
            return number(text)
        if kind == "integer":
            value = number(text)
            if not value.is_integer():
                raise NotANumber("a whole number is needed")
            return int(value)
        return text


def parameter(
    model: type[Document],
    member: str,
    *,
    name: str | None = None,
    description: str | None = None,
    required: bool | None = None,
) -> Parameter:
    """Return the parameter for a member of a request model.

    Args:
        model: the model.
        member: a member that is a number or a text.
        name: of the parameter, where it is not the member's.
        description: in place of the member's.
        required: whether it has to be given, where the model's own rule does not decide.
    """
    whole = _schema(model)
    node = dict(whole["properties"][member])
    own = str(node.pop("description", ""))
    node.pop("title", None)
    assert node.get("type") in ("number", "integer", "string"), f"{member} is no flat value"
    return Parameter(
        name or member,
        description or own,
        node,
        member in whole.get("required", ()) if required is None else required,
    )


def parameters_of(model: type[Document]) -> tuple[Parameter, ...]:
    """Return a parameter for each member of a flat request model, in its order."""
    return tuple(parameter(model, member) for member in model.model_fields)


@cache
def _schema(model: type[Document]) -> Schema:
    return model.model_json_schema()
