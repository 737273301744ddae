"""Faults to plant, each behind a value that is allowed and unusual: a fuzzer that finds none of them is worth nothing."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, NamedTuple

from fuzzing.verdict import Kind
from warmstead.exchange import workbook
from warmstead.exchange.cells.query import Query
from warmstead.exchange.element_table import dialect
from warmstead.questions.registry import QUESTIONS

_drift = iter(range(10**9))


def _crash() -> None:
    """Divide by zero in a wall of one layer as thick as the model allows."""

    def touched(request: Any, answer: Any) -> None:
        layers = getattr(request.construction, "layers", ())
        for layer in layers:
            if layer.kind == "solid" and layer.thickness_mm >= 5000:
                layer.thickness_mm / 0

    _after("u-value", touched)


def _no_number() -> None:
    """Answer NaN where a surface is smaller than any wall."""

    def touched(request: Any, answer: Any) -> None:
        if request.area_m2 < 0.001:
            answer["heat_loss_w"] = float("nan")

    _after("element-loss", touched)


def _drifting() -> None:
    """Answer differently each time for a radiator of an unusual exponent."""

    def touched(request: Any, answer: Any) -> None:
        if request.exponent is not None and request.exponent > 1.4:
            answer["output_w"] += next(_drift)

    _after("radiator-output", touched)


def _wrong_sum() -> None:
    """Forget the first room of a house of many rooms."""

    def touched(request: Any, answer: Any) -> None:
        if len(request.house.rooms) == 3:
            answer["transmission_w"] -= 1.0

    _after("house-loss", touched)


def _hang() -> None:
    """Work for ever on a room as warm as the model allows."""

    def touched(request: Any, answer: Any) -> None:
        while request.internal_temperature_c >= 30:
            time.monotonic()

    _after("element-loss", touched)


def _hog() -> None:
    """Take half a gigabyte for a radiator that gives very much."""

    def touched(request: Any, answer: Any) -> None:
        if request.standard_output_w >= 100_000:
            bytearray(b"x") * (512 * 1024 * 1024)

    _after("radiator-output", touched)


def _after(name: str, touched: Callable[[Any, Any], None]) -> None:
    sound = QUESTIONS[name].answer

    def answer(request: Any, *, workings: bool = False) -> Any:
        made = sound(request, workings=workings)
        touched(request, made)
        return made

    QUESTIONS[name].answer = answer


def _in_a_cell() -> None:
    """Fall over a cell that holds a number beyond all quantities."""
    assemble = vars(workbook)["assemble"]

    def planted(grids: Any, results: Any) -> Any:
        for grid in grids:
            for row in grid.rows:
                if any(type(cell) in (int, float) and abs(cell) >= 1e18 for cell in row):
                    raise ZeroDivisionError
        return assemble(grids, results)

    vars(workbook)["assemble"] = planted


def _in_a_table() -> None:
    """Fall over a cell that is guarded against being run."""
    unguarded = dialect.unguarded

    def planted(text: str) -> str:
        if text.startswith("'="):
            raise ZeroDivisionError
        return unguarded(text)

    dialect.unguarded = planted


def _in_a_query() -> None:
    """Fall over a tab in a parameter."""
    from warmstead.api import cells

    split = vars(cells)["split"]

    def planted(raw: bytes) -> Query:
        query: Query = split(raw)
        if any("\t" in value for value in query.given.values()):
            raise ZeroDivisionError
        return query

    vars(cells)["split"] = planted


class Plant(NamedTuple):
    """A fault to plant."""

    target: str
    """Of the fuzzer, by name: the one that has to find it."""
    planted: Callable[[], None]
    kind: Kind
    """What it has to be found as."""
    says: str
    """Part of what is said of it, so that no other fault is taken for it."""


PLANTS: dict[str, Plant] = {
    "crash": Plant("values", _crash, "crash", "ZeroDivisionError"),
    "number that is none": Plant("values", _no_number, "wrong answer", "nan in an answer: at /heat_loss_w"),
    "drift": Plant("values", _drifting, "wrong answer", "the second time: radiator-output"),
    "wrong sum": Plant("values", _wrong_sum, "wrong answer", "house transmission is not its sum"),
    "hang": Plant("values", _hang, "hang", ""),
    "hog": Plant("values", _hog, "memory", ""),
    "crash in a cell": Plant("workbook", _in_a_cell, "crash", "ZeroDivisionError"),
    "crash in a table": Plant("table", _in_a_table, "crash", "ZeroDivisionError"),
    "crash in a query": Plant("query", _in_a_query, "crash", "ZeroDivisionError"),
}
"""By name."""
