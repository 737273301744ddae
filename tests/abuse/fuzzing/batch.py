"""A batch of lines (NDJSON) as it is fuzzed: cut in pieces that end anywhere, every line answered once and in its place."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from random import Random

from fuzzing import changes, seeds
from fuzzing.verdict import WrongAnswer
from warmstead.exchange.batch.stating import Item, answer_lines
from warmstead.exchange.ndjson import Line, LineReader
from warmstead.questions.registry import QUESTIONS

LONGEST_LINE = 8_000
STATUSES = {200, 400, 413, 422}
BETWEEN = (b"\n", b"\r\n", b"\n\n", b"\n \n", b"\r", b"", b"\x00\n", b"\xef\xbb\xbf\n")


def judge_batch(data: bytes) -> str:
    """Answer a batch: the question's name up to the first line end, then its lines."""
    name, _, body = data.partition(b"\n")
    question = QUESTIONS.get(name.decode("ascii", "replace"))
    if question is None or question.long:
        return "passed over"
    lines = _lines(body, len(body) or 1)
    for size in (1, 7, 1000):
        if len(body) // size < 5000 and _lines(body, size) != lines:
            raise WrongAnswer(f"other lines in pieces: of {size} bytes")
    if any(len(line.text or b"") > LONGEST_LINE for line in lines):
        raise WrongAnswer("a line longer than is taken")
    items = [Item(line.number, line.text) for line in lines]
    made = answer_lines(question.name, items, "full", LONGEST_LINE)
    told = [json.loads(line, parse_constant=_no_number) for line in made.splitlines()]
    if [answer["line"] for answer in told] != [line.number for line in lines]:
        raise WrongAnswer("lines are answered twice, never, or out of turn")
    for answer, line in zip(told, lines, strict=True):
        if answer["status"] not in STATUSES or (line.text is None) != (answer["status"] == 413):
            raise WrongAnswer(f"status {answer['status']}: of a line")
        if ("answer" in answer) != (answer["status"] == 200):
            raise WrongAnswer("an answer and a problem, or neither: of a line")
    return "answered" if any(answer["status"] == 200 for answer in told) else "refused"


def _lines(body: bytes, size: int) -> list[Line]:
    reader = LineReader(LONGEST_LINE)
    found: list[Line] = []
    for begins in range(0, len(body), size):
        found += reader.feed(body[begins : begins + size])
    return found + reader.end()


def _no_number(token: str) -> float:
    raise WrongAnswer(f"{token} in an answer: of a line")


def batches() -> Iterator[bytes]:
    """Go through batches of a few short requests."""
    by_question: dict[bytes, list[bytes]] = {}
    for request in seeds.requests(long=False):
        name, _, body = request.partition(b"\n")
        if len(body) < LONGEST_LINE:
            by_question.setdefault(name, []).append(body)
    for name, bodies in by_question.items():
        for first in range(0, min(len(bodies), 12), 4):
            yield name + b"\n" + b"\n".join(bodies[first : first + 4])


def changed_batch(data: bytes, random: Random, mutate: Callable[[bytes, int], bytes]) -> bytes | None:
    """Change a line, or what stands between lines, or the order of lines."""
    name, _, body = data.partition(b"\n")
    lines = body.split(b"\n")
    place = random.randrange(len(lines))
    chosen = random.random()
    if chosen < 0.5:
        lines[place] = changes.changed(lines[place], random) or lines[place]
    elif chosen < 0.7:
        lines.insert(place, random.choice((b"", b" ", b"{", b"[]", b"null", b"x" * 9_000, lines[-1])))
    elif chosen < 0.8:
        del lines[place]
    elif chosen < 0.95:
        ends = random.choice(BETWEEN)
        return name + b"\n" + ends.join(lines)
    else:
        return None
    return name + b"\n" + b"\n".join(lines)
