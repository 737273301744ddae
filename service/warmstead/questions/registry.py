"""All questions of the service, in the order in which a surveyor asks them."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from importlib import import_module
from typing import Any

from warmstead.survey.document import Document, described_later


class Question:
    """One question: its name in URLs, what it takes, what it gives, and how it is answered.

    Its module is imported when it is first needed: half of the modules are those of long questions, which a server has answered
    in other processes.
    """

    def __init__(self, name: str, *, long: bool = False) -> None:
        """Name a question.

        Args:
            name: as in URLs; its module and its models are named after it.
            long: whether it takes more than a millisecond or so, and must not hold up others.
        """
        self.name = name
        self.long = long

    @property
    def python_name(self) -> str:
        """Its name in Python: `house_loss` for `house-loss`."""
        return self.name.replace("-", "_")

    @cached_property
    def _module(self) -> Any:
        return import_module(f"warmstead.questions.{self.python_name}")

    def _model(self, role: str) -> Any:
        words = (word[0].upper() + word[1:] for word in self.name.split("-"))
        return getattr(self._module, "".join(words) + role)

    def load(self) -> None:
        """Import its module now."""
        _ = self._module

    @property
    def title(self) -> str:
        """What it is called."""
        title: str = self._module.TITLE
        return title

    @property
    def description(self) -> str:
        """What it is about, in a sentence or two."""
        description: str = self._module.DESCRIPTION
        return description

    @cached_property
    def request(self) -> type[Document]:
        """The model of what it takes: `HouseLossRequest` for `house-loss`."""
        request: type[Document] = self._model("Request")
        return request

    @cached_property
    def result(self) -> Any:
        """The shape of what it gives: `HouseLossResult`."""
        return described_later(self._model("Result"))

    @cached_property
    def answer(self) -> Callable[..., Any]:
        """Its function: `answer(request, workings=False) -> result`; raises Refused."""
        answer: Callable[..., Any] = self._module.answer
        return answer


QUESTIONS: dict[str, Question] = {
    question.name: question
    for question in (
        Question("u-value"),
        Question("required-thickness"),
        Question("room-loss"),
        Question("house-loss"),
        Question("emitter-check"),
        Question("heat-pump-sizing"),
        Question("improvements", long=True),
        Question("survey-comparison", long=True),
        Question("uncertainty", long=True),
        Question("measured-heat-loss", long=True),
        Question("radiator-output"),
        Question("element-loss"),
        Question("outside-temperature"),
    )
}
"""Questions by name."""
