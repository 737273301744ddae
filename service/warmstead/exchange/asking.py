"""Questions asked from Python or a command line: the same answers as over HTTP, without a server."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from warmstead.exchange.documents import read, read_mapping
from warmstead.questions.registry import QUESTIONS
from warmstead.survey.document import Document


def ask(
    question: str, document: bytes | str | Mapping[str, Any] | Document, *, workings: bool = False
) -> Any:
    """Return the answer to a question.

    Args:
        question: its name in URLs, such as `house-loss`.
        document: the request as JSON text, as Python values, or as the question's request model.
        workings: whether to list each step.

    Raises:
        KeyError: there is no such question.
        Malformed: the text is not JSON.
        Refused: the request is refused.
    """
    asked = QUESTIONS[question]
    if isinstance(document, bytes | str):
        request: Document = read(asked.request, document)
    elif isinstance(document, Document):
        request = document
    else:
        request = read_mapping(asked.request, document)
    return asked.answer(request, workings=workings)


def asker(python_name: str) -> Callable[..., Any]:
    """Return the function behind `from warmstead import house_loss`."""
    question = QUESTIONS[python_name.replace("_", "-")]

    def asks(document: bytes | str | Mapping[str, Any] | Document, *, workings: bool = False) -> Any:
        return ask(question.name, document, workings=workings)

    asks.__name__ = asks.__qualname__ = python_name
    asks.__doc__ = (
        f"{question.description}\n\nTakes the request as JSON text, Python values or a request model."
    )
    return asks
