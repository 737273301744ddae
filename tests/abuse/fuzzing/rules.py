"""What must hold of every answer and of every refusal."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from functools import cache
from typing import Any, get_args

import orjson
from pydantic import TypeAdapter, ValidationError

from fuzzing.verdict import WrongAnswer
from warmstead.building.findings import ProblemCode
from warmstead.questions.registry import QUESTIONS

CODES = frozenset(get_args(ProblemCode))
LONGEST_DETAIL = 4000
NEAR = 1e-9
_QUOTED = re.compile(r"'[^']*'")
"""Names that the caller gave."""
_CLUMSY = re.compile(r"Traceback|<class| object at 0x|\b(?:None|nan|inf|NoneType)\b")


def must_be_finite(value: Any, at: str = "") -> None:
    """No number without a value, and no null, anywhere in an answer."""
    if isinstance(value, dict):
        for name, member in value.items():
            must_be_finite(member, f"{at}/{name}")
    elif isinstance(value, list | tuple):
        for index, item in enumerate(value):
            must_be_finite(item, f"{at}/{index}")
    elif value is None:
        raise WrongAnswer(f"null in an answer: at {at}")
    elif isinstance(value, float) and not math.isfinite(value):
        raise WrongAnswer(f"{value} in an answer: at {at}")


@cache
def _statement(question: str) -> TypeAdapter[Any]:
    return TypeAdapter(QUESTIONS[question].result)


def must_be_as_described(question: str, answer: Any) -> None:
    """An answer has the members, kinds and choices that the OpenAPI document promises."""
    try:
        _statement(question).validate_python(answer)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = "/".join(str(step) for step in first["loc"] if not isinstance(step, int))
        raise WrongAnswer(f"not as described at {place}: {first['msg']}") from None


def must_add_up(answer: Any) -> None:
    """The identities of a house's loss that its contract names."""
    _same("house transmission", answer["transmission_w"], [r["transmission_w"] for r in answer["rooms"]])
    for room in answer["rooms"]:
        _same("room transmission", room["transmission_w"], [e["heat_loss_w"] for e in room["elements"]])
        parts = [room["transmission_w"], room["ventilation_w"], room["reheat_w"]]
        _same("room load", room["design_heat_load_w"], parts)
    parts = [answer["transmission_w"], answer["ventilation_w"], answer["reheat_w"]]
    _same("house load", answer["design_heat_load_w"], parts)


def _same(what: str, total: float, parts: Sequence[float]) -> None:
    scale = max((abs(part) for part in parts), default=0.0)
    if abs(total - math.fsum(parts)) > NEAR * max(scale, abs(total), 1e-300) * max(len(parts), 1):
        raise WrongAnswer(f"{what} is not its sum: {total!r} of {list(parts)!r}")


def must_be_a_refusal(problems: Sequence[Any], document: Any) -> None:
    """A refusal names at least one place that is there or could be, a published code, and what is wrong, each once.

    Args:
        problems: what was told, each with pointer, code and detail.
        document: the document that the pointers lead into; None where it is not at hand.
    """
    if not problems:
        raise WrongAnswer("a refusal without a reason: nothing is named")
    for problem in problems:
        must_be_a_reason(problem.code, problem.detail)
        if problem.pointer and not problem.pointer.startswith("/"):
            raise WrongAnswer(f"not a JSON pointer: {problem.pointer!r}")
        if document is not None and not leads_somewhere(problem.pointer, document):
            raise WrongAnswer(
                f"a pointer leads nowhere: {problem.pointer} ({problem.code}, {problem.detail})"
            )


def must_be_a_reason(code: str, detail: str) -> None:
    """One reason to refuse: a published code and a text of readable length."""
    if code not in CODES:
        raise WrongAnswer(f"a code that is not published: {code}")
    if not detail.strip() or len(detail) > LONGEST_DETAIL:
        raise WrongAnswer(f"a detail of {len(detail)} characters: {detail[:200]!r}")
    if _CLUMSY.search(_QUOTED.sub("", detail.partition(";")[0])):
        raise WrongAnswer(f"a detail not meant for people: {detail[:200]!r}")


def leads_somewhere(pointer: str, document: Any) -> bool:
    """Whether all but the last two steps of a pointer are there: what is missing may be a member of a missing object."""
    steps = [step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:]]
    holder = document
    for step in steps[:-2]:
        if isinstance(holder, dict) and step in holder:
            holder = holder[step]
        elif isinstance(holder, list) and step.isdecimal() and int(step) < len(holder):
            holder = holder[int(step)]
        else:
            return False
    return True


def must_be_told(problems: Sequence[Any]) -> None:
    """A refusal can be written as a problem document: no text in it is beyond UTF-8."""
    orjson.dumps([problem._asdict() for problem in problems])


def parsed(text: bytes) -> Any:
    """Return JSON as it was sent, None where Python's own reader does not take it."""
    try:
        return json.loads(text.removeprefix(b"\xef\xbb\xbf"))
    except (ValueError, RecursionError):
        return None
