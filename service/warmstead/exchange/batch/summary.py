"""An answer cut down to its totals: what stands alone in it, without lists and workings."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Annotated, Any, NotRequired, Required, get_args, get_origin, get_type_hints

from pydantic import Field
from typing_extensions import TypedDict

from warmstead.questions.registry import Question
from warmstead.survey.document import described_later

WARNING_CODES = "warning_codes"


def summary(answer: Mapping[str, Any]) -> dict[str, Any]:
    """Return the totals of an answer, and the codes of its warnings: a number is never without what it was warned of."""
    totals = {name: value for name, value in answer.items() if isinstance(value, int | float | str)}
    return totals | {WARNING_CODES: sorted({warning["code"] for warning in answer["warnings"]})}


@cache
def summary_columns(question: Question) -> dict[str, type]:
    """Return the totals that an answer to a question may have, each with its type: float, int, bool or str."""
    hints = get_type_hints(question.result)
    found = {name: _value_type(hint) for name, hint in hints.items()}
    return {name: kind for name, kind in found.items() if kind is not None}


@cache
def summary_type(question: Question) -> Any:
    """Return the shape of a summary of an answer to a question, for its description."""
    described = get_type_hints(question.result, include_extras=True)
    members: dict[str, Any] = {name: described[name] for name in summary_columns(question)}
    codes = Annotated[
        list[str],
        Field(
            description="Codes of the answer's warnings, each once; `content=full` gives them with their places."
        ),
    ]
    name = f"{question.result.__name__.removesuffix('Result')}Summary"
    shape = TypedDict(name, {**members, WARNING_CODES: codes})  # type: ignore[misc]  # made of another at run time
    shape.__doc__ = "The totals of an answer."
    return described_later(shape)


def _value_type(hint: Any) -> type | None:
    """Return the type of a member that is one value, else None."""
    while get_origin(hint) in (NotRequired, Required, Annotated):
        hint = get_args(hint)[0]
    if get_origin(hint) is not None and all(isinstance(choice, str) for choice in get_args(hint)):
        return str  # a choice among texts
    return hint if hint in (float, int, bool, str) else None
