"""What is fuzzed: how an input is judged, what to begin with, and how inputs are changed."""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable
from functools import partial
from random import Random
from typing import Any, NamedTuple

import orjson

from fuzzing import changes, rules, seeds, text_changes, workbook_changes
from fuzzing.batch import batches, changed_batch, judge_batch
from fuzzing.over_http import judge_query
from fuzzing.verdict import WrongAnswer
from warmstead.building.findings import Refused
from warmstead.exchange import element_table, workbook
from warmstead.exchange.documents import Malformed, read
from warmstead.exchange.element_table import TableRefused
from warmstead.exchange.workbook import Unreadable
from warmstead.exchange.workbook.answers import answers
from warmstead.questions.registry import QUESTIONS

Mutate = Callable[[bytes, int], bytes]
MOST_PROBLEMS_CHECKED = 50


class Target(NamedTuple):
    """One thing to fuzz."""

    judge: Callable[[bytes], str]
    """Says what became of an input; raises WrongAnswer, or whatever the code under test raises and should not."""
    seeds: Callable[[], Iterable[bytes]]
    changed: Callable[[bytes, Random, Mutate], bytes | None] | None
    """Changes an input, knowing its structure; where there is none, or it gives None, the fuzzer changes bytes."""
    worth_changing: frozenset[str] = frozenset({"answered"})
    """Outcomes of inputs to build on: what is changed after a refusal is nearly always refused for the first reason."""


def _one_in(several: int, data: bytes) -> bool:
    """Whether an input is one of every so many; the same input always is or never is."""
    return zlib.crc32(data) % several == 0


def judge_request(data: bytes) -> str:
    """Ask a question: the name up to the first line end, then the document."""
    name, _, body = data.partition(b"\n")
    question = QUESTIONS.get(name.decode("ascii", "replace"))
    if question is None:
        return "passed over"
    try:
        request = read(question.request, body)
        answer = question.answer(request)
    except Malformed as error:
        if not str(error):
            raise WrongAnswer("malformed without a reason") from None
        return "refused"
    except Refused as error:
        document = rules.parsed(body)
        rules.must_be_a_refusal(error.problems[:MOST_PROBLEMS_CHECKED], document)
        rules.must_be_told(error.problems)
        return "refused"
    _check_answer(question.name, answer)
    if _one_in(8 if question.long else 2, data):
        again = question.answer(read(question.request, body))
        if orjson.dumps(again) != orjson.dumps(answer):
            raise WrongAnswer(f"another answer the second time: {question.name}")
    if _one_in(4, data):
        worked = question.answer(read(question.request, body), workings=True)
        rules.must_be_finite(worked)
        beside = {
            "workings": None,
            "warnings": None,
        }  # workings may take a default of their own, and warn of it
        if orjson.dumps(worked | beside) != orjson.dumps(answer | beside):
            raise WrongAnswer(f"another answer with workings: {question.name}")
    return "answered"


def _check_answer(name: str, answer: Any) -> None:
    rules.must_be_finite(answer)
    rules.must_be_as_described(name, answer)
    if name == "house-loss":
        rules.must_add_up(answer)


def judge_workbook(data: bytes) -> str:
    """Read a workbook, answer it, and for some write the answer."""
    try:
        reading = workbook.read(data)
        told = answers(reading.survey)
    except (Unreadable, Refused) as error:
        if not error.problems:
            raise WrongAnswer("a refusal without a reason: of a workbook") from None
        for problem in error.problems[:MOST_PROBLEMS_CHECKED]:
            rules.must_be_a_reason(problem.code, problem.detail)
        rules.must_be_told(error.problems)
        return "refused"
    rules.must_be_finite(reading.document)
    _check_answer("house-loss", told.house)
    if _one_in(10, data):
        form = reading.format if _one_in(3, data) else "ods"
        again = workbook.read(workbook.answered(reading, form))
        if again.document != reading.document:
            raise WrongAnswer("a workbook given back holds another survey")
    return "answered"


def judge_table(data: bytes) -> str:
    """Read a flat table, answer it, and write it with results."""
    house: dict[str, Any] = {
        "conditions": {"external_temperature_c": -3.2, "annual_mean_external_temperature_c": 10.1}
    }
    try:
        table = element_table.read_table(data, house)
        result = element_table.answered(table)
    except TableRefused as error:
        if not error.problems:
            raise WrongAnswer("a refusal without a reason: of a table") from None
        for problem in error.problems[:MOST_PROBLEMS_CHECKED]:
            rules.must_be_a_reason(problem.code, problem.detail)
            if not problem.line and not problem.pointer and problem.code not in ("wrong_type",):
                raise WrongAnswer(f"no place in the table: {problem.code}, {problem.detail}") from None
        rules.must_be_told(error.problems)
        return "refused"
    _check_answer("house-loss", result)
    stated = element_table.stated(table.house, result, table.dialect)
    again = element_table.answered(element_table.read_table(stated, house))
    if again["design_heat_load_w"] != result["design_heat_load_w"]:
        raise WrongAnswer("a table given back loses something else")
    return "answered"


def _changed_request(data: bytes, random: Random, mutate: Mutate) -> bytes | None:
    name, _, body = data.partition(b"\n")
    made = changes.changed(body, random)
    if made is None:
        return None
    return name + b"\n" + made


TARGETS: dict[str, Target] = {
    "text": Target(judge_request, seeds.requests, None, frozenset({"answered", "refused"})),
    "values": Target(judge_request, partial(seeds.requests, long=False), _changed_request),
    "long-values": Target(judge_request, partial(seeds.requests, long=True), _changed_request),
    "workbook": Target(judge_workbook, seeds.workbooks, workbook_changes.changed),
    "table": Target(
        judge_table, seeds.tables, lambda data, random, mutate: text_changes.changed_table(data, random)
    ),
    "batch": Target(judge_batch, batches, changed_batch),
    "query": Target(
        judge_query, seeds.queries, lambda data, random, mutate: text_changes.changed_query(data, random)
    ),
}
"""By name on the command line."""
