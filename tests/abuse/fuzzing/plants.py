"""Faults to plant, each behind a value that is allowed and unusual: a fuzzer that finds none of them is worth nothing."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

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
    """Answer differently each time where water is as cold as it may be."""

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
    """Work for ever on a house that is exactly as cold as its surroundings may be."""

    def touched(request: Any, answer: Any) -> None:
        while request.internal_temperature_c == request.external_temperature_c:
            time.monotonic()

    _after("element-loss", touched)


def _hog() -> None:
    """Take half a gigabyte for a radiator that gives very much."""

    def touched(request: Any, answer: Any) -> None:
        if request.standard_output_w >= 100_000:
            bytearray(b"x") * (512 * 1024 * 1024)

    _after("radiator-output", touched)


def _after(name: str, touched: Callable[[Any, Any], None]) -> None:
    question = QUESTIONS[name]

    def answer(request: Any, *, workings: bool = False) -> Any:
        made = question.answer(request, workings=workings)
        touched(request, made)
        return made

    QUESTIONS[name] = question._replace(answer=answer)


def _in_a_cell() -> None:
    """Fall over a cell that holds an overflowing number's text."""
    assemble = workbook.assemble

    def planted(grids: Any, results: Any) -> Any:
        for grid in grids:
            for row in grid.rows:
                if 1e308 in row:
                    raise ZeroDivisionError
        return assemble(grids, results)

    workbook.assemble = planted  # type: ignore[attr-defined]


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

    split = cells.split

    def planted(raw: bytes) -> Query:
        query = split(raw)
        if any("\t" in value for value in query.given.values()):
            raise ZeroDivisionError
        return query

    cells.split = planted


PLANTS: dict[str, Callable[[], None]] = {
    "crash": _crash,
    "no-number": _no_number,
    "drift": _drifting,
    "wrong-sum": _wrong_sum,
    "hang": _hang,
    "hog": _hog,
    "cell-crash": _in_a_cell,
    "table-crash": _in_a_table,
    "query-crash": _in_a_query,
}
"""By name on the command line."""
