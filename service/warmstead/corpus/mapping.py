"""A mapping file: how a service that names things differently is asked, and how its answers are read.

The one definition, from which `mapping.schema.json` is generated. What the rules do stands in `rewrite.py`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, JsonValue, model_validator

from warmstead.corpus.case import Pointer, Slug, Text
from warmstead.corpus.files import CorpusError, UnreadableError, read_model
from warmstead.corpus.nearest import nearest

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    from warmstead.corpus.case import Case

_PLACE = r"^([^/]+|(/[^/]*)*)$"


class _Record(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class FieldRule(_Record):
    """One thing by two names, in two units."""

    ours: Annotated[
        str,
        Field(
            pattern=_PLACE,
            description="A member's name, wherever it stands, or a pointer from the root of the document in which "
            "'*' is any member or index. A pointer carries all beneath it; the longest that fits counts.",
        ),
    ]
    theirs: Annotated[
        str | None, Field(pattern=_PLACE, description="The same, with as many '*' and in the same order.")
    ] = None
    dropped: Annotated[Literal[True] | None, Field(description="Not sent, with all beneath it.")] = None
    factor: Annotated[
        float | None, Field(gt=0, description="Theirs is ours times the factor, plus the offset.")
    ] = None
    offset: float | None = None
    values: Annotated[
        dict[str, str] | None, Field(description="Texts: ours to theirs. A text not listed stays.")
    ] = None

    @property
    def by_name(self) -> bool:
        """Whether this is about a name wherever it stands."""
        return bool(self.ours) and not self.ours.startswith("/")

    @model_validator(mode="after")
    def _both_sides_fit(self) -> Self:
        if (self.theirs is None) == (self.dropped is None):
            raise ValueError("a rule has exactly one of theirs and dropped")
        if self.theirs is not None:
            if self.by_name != (bool(self.theirs) and not self.theirs.startswith("/")):
                raise ValueError("ours and theirs are both names or both pointers")
            if _stars(self.ours) != _stars(self.theirs):
                raise ValueError("ours and theirs have as many '*'")
        if self.values is not None and len(set(self.values.values())) != len(self.values):
            raise ValueError("two values become the same text, which could not be read back")
        return self


def _stars(place: str) -> int:
    return place.split("/").count("*")


class QuestionMapping(_Record):
    """Where one question is asked, and rules of its own, which count before the shared ones."""

    path: Annotated[str, Field(pattern="^/", description="Takes the place of /v1/<question>.")]
    method: Literal["POST", "PUT"] | None = None
    request: tuple[FieldRule, ...] = ()
    answer: tuple[FieldRule, ...] = ()
    adds: Annotated[
        dict[Pointer, JsonValue], Field(description="Members of the request that ours does not have.")
    ] = Field(default_factory=dict)


class LeftOut(_Record):
    """Cases that this service is known not to pass, and why.

    They are asked all the same. One named by its id that passes is a failure, so that the list can't go stale.
    """

    flags: tuple[str, ...] = ()
    ids: tuple[Slug, ...] = ()
    reason: Annotated[Text, Field(min_length=15)]

    @model_validator(mode="after")
    def _names_something(self) -> Self:
        if not (self.flags or self.ids):
            raise ValueError("what is left out is named by flags or ids")
        return self


class Mapping(_Record):
    """The file."""

    schema_version: Literal[1]
    service: Annotated[Text, Field(description="Which service this is for, in words.")]
    questions: Annotated[
        dict[Slug, QuestionMapping],
        Field(min_length=1, description="A question that is not here is not asked."),
    ]
    request: tuple[FieldRule, ...] = ()
    answer: tuple[FieldRule, ...] = ()
    problem: Annotated[tuple[FieldRule, ...], Field(description="For answers of status 400 and above.")] = ()
    left_out: tuple[LeftOut, ...] = ()

    @model_validator(mode="after")
    def _each_side_once(self) -> Self:
        questions = self.questions.values()
        for rules in (self.request, self.answer, self.problem, *(one.request for one in questions)):
            _once("ours", [rule.ours for rule in rules])
        for rules in (self.answer, self.problem, *(one.answer for one in questions)):
            _once("theirs", [rule.theirs for rule in rules if rule.theirs is not None])
            if any(rule.dropped for rule in rules):
                raise ValueError(
                    "only a request has members to drop; what an answer has beyond ours is no matter"
                )
        return self

    def left_out_with(self, case: Case) -> LeftOut | None:
        """Return the entry that leaves the case out, one that names it first."""
        by_id = (one for one in self.left_out if case.id in one.ids)
        by_flag = (one for one in self.left_out if set(one.flags) & set(case.flags))
        return next(by_id, None) or next(by_flag, None)


def _once(side: str, places: list[str]) -> None:
    for place in places:
        if places.count(place) > 1:
            raise ValueError(f"{side} {place!r} stands in two rules")


def load_mapping(path: Path, known: Sequence[Case]) -> Mapping:
    """Read a mapping file.

    Args:
        path: the file.
        known: cases; each question, flag and id that the mapping names is one of theirs.

    Raises:
        CorpusError: the file is unreadable or breaks the schema, or a name in it is unknown.
    """
    try:
        mapping = read_model(path, Mapping)
    except UnreadableError as unreadable:
        raise CorpusError(f"{path.name}: {line}" for line in unreadable.lines) from unreadable
    problems = [
        *_unknown("question", mapping.questions, {case.question for case in known}),
        *_unknown(
            "flag",
            [flag for one in mapping.left_out for flag in one.flags],
            {flag for case in known for flag in case.flags},
        ),
        *_unknown("id", [name for one in mapping.left_out for name in one.ids], {case.id for case in known}),
    ]
    if problems:
        raise CorpusError(f"{path.name}: {problem}" for problem in problems)
    return mapping


def _unknown(what: str, names: Iterable[str], known: set[str]) -> Iterable[str]:
    for name in names:
        if name not in known:
            yield f"no case has the {what} {name!r}{nearest(name, known)}"


def mapping_schema() -> dict[str, Any]:
    """Return the JSON Schema of a mapping, as `reference_cases/mapping.schema.json` holds it."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **Mapping.model_json_schema(),
        "title": "Mapping of a service that names things differently",
    }
