"""Rooms times elements as one flat table, for people who keep a CSV: read as a house, and given back with what each row loses."""

from __future__ import annotations

from typing import Any

from warmstead.building.findings import Refused
from warmstead.exchange.element_table import dialect as dialects
from warmstead.exchange.element_table import stating
from warmstead.exchange.element_table.dialect import PLAIN, Dialect
from warmstead.exchange.element_table.reading import (
    TableProblem,
    TableRead,
    TableRefused,
    at_lines,
    read_table,
)
from warmstead.questions import house_loss
from warmstead.questions.house_loss import HouseLossRequest, HouseLossResult

__all__ = [
    "TableProblem",
    "TableRead",
    "TableRefused",
    "answered",
    "empty",
    "read_table",
    "stated",
    "surveyed",
]

Json = dict[str, Any]


def answered(table: TableRead) -> HouseLossResult:
    """Return what the house of a table loses.

    Raises:
        TableRefused: the question refuses it; every reason is in it, with line and column.
    """
    try:
        return house_loss.answer(table.request)
    except Refused as error:
        raise TableRefused(at_lines(error.problems, table.lines)) from None


def stated(house: Json, result: HouseLossResult, dialect: Dialect = PLAIN) -> bytes:
    """Return a house as a table with what each row loses."""
    return dialects.written(
        [stating.header(results=True), *stating.rows(house, result, results=True)], dialect
    )


def surveyed(house: Json) -> bytes:
    """Return a house as a table to change, as far as a table can say it: each construction by its U-value.

    Flues, junctions and the balance of unheated spaces have no column. A suspended floor becomes a U-value on ground, which
    by the rule `annual_mean` counts towards the annual mean and not, as a floor over a ventilated space, towards outside.

    Raises:
        Refused: the house is refused.
    """
    result = house_loss.answer(HouseLossRequest.model_validate({"house": house}))
    return dialects.written(
        [stating.header(results=False), *stating.rows(house, result, results=False)], PLAIN
    )


def empty() -> bytes:
    """Return a table with its first line alone."""
    return dialects.written([stating.header(results=False)], PLAIN)
