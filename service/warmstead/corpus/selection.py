"""Choose some of the cases: by question, by flag."""

from __future__ import annotations

from typing import TYPE_CHECKING

from warmstead.corpus.files import CorpusError
from warmstead.corpus.nearest import nearest

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from warmstead.corpus.case import Case


def select(
    cases: Sequence[Case], *, questions: Iterable[str] = (), flags: Iterable[str] = ()
) -> tuple[Case, ...]:
    """Return the cases with one of the questions and one of the flags; an empty choice admits all.

    Raises:
        CorpusError: a question or a flag that no case has, or no case left.
    """
    questions, flags = tuple(questions), tuple(flags)
    known_questions = {case.question for case in cases}
    known_flags = {flag for case in cases for flag in case.flags}
    problems = [
        *(_unknown("question", name, known_questions) for name in questions if name not in known_questions),
        *(_unknown("flag", name, known_flags) for name in flags if name not in known_flags),
    ]
    if problems:
        raise CorpusError(problems)
    chosen = tuple(
        case
        for case in cases
        if (not questions or case.question in questions) and (not flags or set(flags) & set(case.flags))
    )
    if not chosen:
        raise CorpusError(["no case has one of these questions and one of these flags: nothing to check"])
    return chosen


def _unknown(what: str, name: str, known: Iterable[str]) -> str:
    return f"no case has the {what} {name!r}{nearest(name, known)}"
