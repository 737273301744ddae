"""What one item of a batch gets: its answer, or the problem with it, and never an exception."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Iterable
from functools import cache
from typing import Any, Literal, NamedTuple

import orjson
from pydantic import Field, create_model

from warmstead.building.findings import Problem, Refused
from warmstead.exchange.batch.summary import summary
from warmstead.exchange.documents import MOST_LISTED, Malformed, read
from warmstead.exchange.holding import CONTRACT, Most
from warmstead.exchange.problem_kinds import KINDS, things_to_mend
from warmstead.questions.registry import QUESTIONS, Question
from warmstead.survey.document import Document, GivenText, MayBeAbsent

log = logging.getLogger("warmstead.batch")

Content = Literal["full", "summary"]


class Item(NamedTuple):
    """One document of a batch."""

    number: int
    """Its place in the batch, from 1: the line, the row, the file."""
    text: bytes | None
    """The document as JSON, UTF-8; None for one that is longer than is taken."""
    id: str | None = None
    """What the source calls it, where the document itself has no id."""


class Statement(NamedTuple):
    """What one item got."""

    number: int
    id: str | None
    status: int
    answer: dict[str, Any] | None = None
    problem: dict[str, Any] | None = None

    def line(self) -> bytes:
        """Return it as a line of NDJSON, with its end."""
        members: dict[str, Any] = {"line": self.number, "status": self.status}
        if self.id is not None:
            members["id"] = self.id
        if self.answer is not None:
            members["answer"] = self.answer
        else:
            members["problem"] = self.problem
        return orjson.dumps(members) + b"\n"


@cache
def line_model(question: Question) -> type[Document]:
    """Return the model of a question's line: its request, and beside it an `id` that comes back with the answer."""
    own_id = MayBeAbsent[GivenText]
    described = Field(None, description="A name of your own for this line, given back with its answer.")
    name = f"{question.request.__name__.removesuffix('Request')}Line"
    doc = "A request on a line of its own."
    return create_model(name, __base__=question.request, __doc__=doc, id=(own_id, described))


def state(question: str, item: Item, content: Content, longest: int, most: Most = CONTRACT) -> Statement:
    """Return what an item gets.

    Args:
        question: its name in URLs.
        item: the document.
        content: the whole answer, or its totals alone.
        longest: bytes that a document may have, for the text of a refusal.
        most: what a document may hold.
    """
    asked = QUESTIONS[question]
    if item.text is None:
        return refuse(item, 413, f"at most {longest} bytes in one line")
    try:
        request = read(line_model(asked), item.text, most)
        answer = asked.answer(request)
    except Malformed as error:
        detail = f"the line is not JSON: {error}"
        return refuse(item, 400, detail, [Problem("", "invalid_json", detail)])
    except Refused as error:
        listed = error.problems[:MOST_LISTED]
        detail = things_to_mend(len(error.problems) + error.unlisted, len(listed))
        return refuse(item._replace(id=_id_in(item)), 422, detail, listed)
    except Exception as error:  # whatever a document meets, the others get their answers
        # Its own words could quote the document.
        frames = "".join(traceback.format_tb(error.__traceback__))
        log.error("a document could not be answered: %s\n%s", type(error).__name__, frames)
        return failed(item)
    own_id = getattr(request, "id", None) or item.id
    return Statement(item.number, own_id, 200, summary(answer) if content == "summary" else answer)


def answer_lines(
    question: str, items: Iterable[Item], content: Content, longest: int, most: Most = CONTRACT
) -> bytes:
    """Return what each of some items gets, a line each, in their order; arguments as those of `state`."""
    return b"".join(state(question, item, content, longest, most).line() for item in items)


def refuse(
    item: Item,
    status: int,
    detail: str,
    problems: Iterable[Problem] = (),
    kind: tuple[str, str] | None = None,
) -> Statement:
    """Return an item's problem document (RFC 9457).

    Args:
        item: what it is about.
        status: the HTTP status that it would have got alone.
        detail: what happened and what to do.
        problems: each single reason.
        kind: its kind and title, where the status has several.
    """
    named, title = kind or KINDS[status]
    errors = [{"pointer": p.pointer, "code": p.code, "detail": p.detail} for p in problems]
    document = {"type": named, "title": title, "status": status, "detail": detail, "errors": errors}
    return Statement(item.number, item.id, status, problem=document)


def failed(item: Item) -> Statement:
    """Return what an item gets when this service, not the document, is at fault."""
    return refuse(item, 500, "this is our fault; the document was not at fault")


def _id_in(item: Item) -> str | None:
    """Return the id of a refused document, so that its sender knows which it is."""
    assert item.text is not None
    try:
        document = orjson.loads(item.text.removeprefix(b"\xef\xbb\xbf"))
    except orjson.JSONDecodeError:
        return item.id
    given = document.get("id") if isinstance(document, dict) else None
    return given if isinstance(given, str) and 0 < len(given) <= 200 else item.id
