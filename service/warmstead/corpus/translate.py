"""What a case's request is in a service's own words, and what its answer is in ours."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any, NamedTuple

from warmstead.corpus.files import refuse_constant
from warmstead.corpus.rewrite import Rewriter, add

if TYPE_CHECKING:
    from warmstead.corpus.case import Case
    from warmstead.corpus.mapping import Mapping


class Outgoing(NamedTuple):
    """A request as it is sent."""

    method: str
    path: str
    content: str | None


def as_it_is(case: Case) -> Outgoing:
    """Return the request of a case as it stands."""
    request = case.request
    content = json.dumps(request.body, allow_nan=False) if request.body is not None else request.raw_body
    return Outgoing(request.method, request.path, content)


class Translator:
    """Puts requests into a service's own words and reads its answers back, by a mapping."""

    def __init__(self, mapping: Mapping) -> None:
        """Take the mapping."""
        self._mapping = mapping
        self._requests: dict[str, Rewriter] = {}
        self._places_back: dict[str, Rewriter] = {}
        self._answers: dict[str, Rewriter] = {}
        self._problems = Rewriter(mapping.problem, back=True)
        for name, question in mapping.questions.items():
            rules = (*question.request, *mapping.request)
            self._requests[name] = Rewriter(rules)
            self._places_back[name] = Rewriter(rules, back=True)
            self._answers[name] = Rewriter((*question.answer, *mapping.answer), back=True)

    def why_not_asked(self, case: Case) -> str | None:
        """Return the reason why the case cannot be put to this service, if it cannot."""
        if case.question not in self._mapping.questions:
            return f"the mapping has no path for the question {case.question}"
        if case.request.raw_body is not None:
            return "the characters of a raw body cannot be mapped"
        return None

    def request(self, case: Case) -> Outgoing:
        """Return the request of a case in the service's own words.

        Raises:
            UnmappableError: the rules lead two values to one place.
        """
        question = self._mapping.questions[case.question]
        path = question.path + case.request.path.removeprefix(f"/v1/{case.question}")
        if case.request.body is None:
            return Outgoing(case.request.method, path, None)
        body = self._requests[case.question].document(case.request.body)
        for pointer, value in question.adds.items():
            add(body, pointer, value)
        return Outgoing(question.method or case.request.method, path, json.dumps(body, allow_nan=False))

    def answer(self, case: Case, status: int, content: bytes) -> bytes:
        """Return an answer in our words; what is not JSON is left for the comparison to tell.

        Raises:
            UnmappableError: the rules lead two values to one place.
        """
        try:
            answer = json.loads(content, parse_constant=refuse_constant)
            rewriter = self._answers[case.question] if status < 400 else self._problems
            translated = rewriter.document(answer)
        except (ValueError, RecursionError):
            return content
        if status >= 400:
            self._read_places_back(case, translated)
        return json.dumps(translated).encode()

    def _read_places_back(self, case: Case, problem: Any) -> None:
        """Let the errors point into the request as the case has it."""
        errors = problem.get("errors") if isinstance(problem, dict) else None
        for error in errors if isinstance(errors, list) else []:
            if isinstance(error, dict) and isinstance(error.get("pointer"), str):
                error["pointer"] = self._places_back[case.question].pointer(error["pointer"])
