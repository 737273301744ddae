"""Read a JSON file into a model, strictly: no NaN, no infinity, no member given twice."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, NoReturn, TypeVar

from pydantic import BaseModel, ValidationError

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

_Model = TypeVar("_Model", bound=BaseModel)


class CorpusError(Exception):
    """Cases, a selection of them or a mapping cannot be used; `problems` says all that is wrong."""

    def __init__(self, problems: Iterable[str]) -> None:
        """Take the problems, one text for each."""
        self.problems = tuple(problems)
        super().__init__("\n".join(self.problems))


class UnreadableError(Exception):
    """One file cannot be read; `lines` is the list of what is wrong."""

    def __init__(self, *lines: str) -> None:
        """Take what is wrong, one text for each."""
        self.lines = lines
        super().__init__("\n".join(lines))


def read_model(path: Path, model: type[_Model]) -> _Model:
    """Return what the file holds.

    Raises:
        UnreadableError: no such file, not JSON, or not what the model describes.
    """
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise UnreadableError(f"cannot be read: {error}") from error
    try:
        # The model's own JSON reader lets NaN and repeated members pass; this one does not.
        strict_json(text)
    except ValueError as error:
        raise UnreadableError(f"is not JSON: {error}") from error
    try:
        return model.model_validate_json(text)
    except ValidationError as error:
        lines = (f"{'/'.join(map(str, one['loc'])) or '(whole)'}: {one['msg']}" for one in error.errors())
        raise UnreadableError(*lines) from error


def strict_json(text: str) -> Any:
    """Return what the text says, which any JSON reader understands alike.

    Raises:
        ValueError: not JSON, NaN, a number beyond all bounds, a member given twice, or nested too deep.
    """
    try:
        return json.loads(
            text, parse_constant=refuse_constant, parse_float=_finite, object_pairs_hook=_refuse_repeated
        )
    except RecursionError as error:
        raise ValueError("nested too deep") from error


def refuse_constant(name: str) -> NoReturn:
    """Refuse NaN and Infinity, which Python's reader takes for JSON."""
    raise ValueError(f"{name} is not a number in JSON")


def _finite(text: str) -> float:
    value = float(text)
    if math.isinf(value):
        raise ValueError(f"{text} is beyond all bounds")
    return value


def _refuse_repeated(pairs: list[tuple[str, object]]) -> dict[str, object]:
    result = dict(pairs)
    if len(result) != len(pairs):
        raise ValueError("a member is given twice in one object")
    return result
