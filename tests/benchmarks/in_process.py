"""What an answer costs in process, against reading the same bytes by their model; and how that grows with the house."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from statistics import linear_regression, median
from typing import NamedTuple, ParamSpec

import orjson
from requests_sent import bodies, house_of

from warmstead.exchange.documents import read
from warmstead.questions.registry import QUESTIONS, Question

Parameters = ParamSpec("Parameters")
SIZES = (10, 30, 100, 300, 1000, 3000, 10_000)


class InProcess(NamedTuple):
    """Medians over distinct requests; the processor's time, so that others on the machine count for little."""

    whole_s: float
    """From bytes to bytes, as the service does it."""
    validation_s: float
    """The model's own reading of the same bytes."""
    times_validation: float
    """The median of both, taken request by request."""

    def __str__(self) -> str:
        return (
            f"{self.times_validation:.2f} × validate_json ({1e6 * self.whole_s:.0f} µs against "
            f"{1e6 * self.validation_s:.0f} µs)"
        )


def in_process(question: str, count: int) -> InProcess:
    """Measure one question, reading and answering interleaved."""
    asked = QUESTIONS[question]
    wholes, validations = [], []
    for text in bodies(question, count):
        validations.append(_seconds(asked.request.model_validate_json, text))
        wholes.append(_seconds(_answered, asked, text))
    ratios = [whole / validation for whole, validation in zip(wholes, validations, strict=True)]
    return InProcess(median(wholes), median(validations), median(ratios))


class Growth(NamedTuple):
    """How an answer's cost grows with the number of elements."""

    slope: float
    """Of the logarithm of the time over that of the number of elements, from 100 elements on: 1 is linear."""
    by_size: dict[int, float]
    """Time for each element, as a multiple of that at the largest size."""

    def __str__(self) -> str:
        sizes = ", ".join(f"{size:,}: {times:.2f}" for size, times in self.by_size.items())
        return f"cost goes as elements to the power {self.slope:.2f}; for each element, by size, {sizes}"


def growth(rounds: int) -> Growth:
    """Measure houses of 10 to 10,000 elements."""
    asked = QUESTIONS["house-loss"]
    texts = {size: house_of(size) for size in SIZES}
    times: dict[int, list[float]] = {size: [] for size in SIZES}
    for _ in range(rounds):
        for size, text in texts.items():
            times[size].append(_seconds(_answered, asked, text))
    each = {size: median(seconds) for size, seconds in times.items()}
    large = [size for size in SIZES if size >= 100]
    fitted = linear_regression([math.log(size) for size in large], [math.log(each[size]) for size in large])
    largest = each[SIZES[-1]] / SIZES[-1]
    return Growth(fitted.slope, {size: each[size] / size / largest for size in SIZES})


def _answered(asked: Question, text: bytes) -> bytes:
    """Answer from bytes to bytes, as the service does."""
    return orjson.dumps(asked.answer(read(asked.request, text)))


def _seconds(
    work: Callable[Parameters, object], *args: Parameters.args, **kwargs: Parameters.kwargs
) -> float:
    """Return the processor's time that some work takes."""
    started = time.process_time_ns()
    work(*args, **kwargs)
    return (time.process_time_ns() - started) / 1e9
