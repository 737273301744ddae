"""What every part of a survey document shares: strict reading, no nulls, identifiers."""

from __future__ import annotations

from typing import Annotated, Any, TypeVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    GetCoreSchemaHandler,
    StringConstraints,
    with_config,
)
from pydantic_core import CoreSchema


def _without_null_defaults(schema: dict[str, Any]) -> None:
    """Take `"default": null` out of a schema: an absent field is absent, it has no null value."""
    for member in schema.get("properties", {}).values():
        if "default" in member and member["default"] is None:
            del member["default"]


class Document(BaseModel):
    """A strictly read part of a document: no unknown fields, no text or truth value taken as a number."""

    model_config = ConfigDict(
        extra="forbid",
        strict=True,
        allow_inf_nan=False,
        json_schema_extra=_without_null_defaults,
        defer_build=True,  # a part is built into the request that holds it, and never by itself
    )


described_later = with_config(ConfigDict(defer_build=True))
"""Decorates what is answered: it is never validated, and its schema is built when the description is asked for, not at each start."""


class _RefuseNull:
    """Lets a field be absent (None in Python) and yet refuses a null that was sent."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        nullable: Any = handler(source)  # always that of `T | None`
        inner: CoreSchema = nullable["schema"]
        return inner


Value = TypeVar("Value")
MayBeAbsent = Annotated[Value | None, _RefuseNull()]
"""A field that is absent or has a value; its default is None and is never sent."""

Identifier = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$")]
"""A name by which other parts of the document refer to this one."""

GivenText = Annotated[str, StringConstraints(min_length=1, max_length=200)]
"""A text for people that has to say something."""


def _as_whole(value: Any) -> Any:
    return int(value) if isinstance(value, float) and value.is_integer() else value


whole_number = BeforeValidator(_as_whole)
"""Takes 2.0 for 2, as JSON and its schema do; without it strict reading would not."""

Text = Annotated[str, StringConstraints(max_length=200)]
"""A free text for people; it is never interpreted."""
