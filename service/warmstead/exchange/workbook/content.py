"""What a workbook is to hold, whatever its format."""

from __future__ import annotations

from typing import Any, NamedTuple

from warmstead.exchange.workbook.results import ResultSheet, Summary


class Content(NamedTuple):
    """A survey, and its results where it was answered."""

    document: dict[str, Any]
    empty_members: list[str]
    summary: Summary | None = None
    sheets: tuple[ResultSheet, ...] = ()
