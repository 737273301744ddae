"""Charts on the first sheet of results; their data stand on the sheets beside it."""

from __future__ import annotations

from typing import Any

from warmstead.exchange.workbook import results
from warmstead.exchange.workbook.content import Content
from warmstead.exchange.workbook.results import ResultSheet

LEFT, RIGHT = 0, 4
"""Columns of the first sheet: under the figures, and beside them."""
WIDTH = {LEFT: 455, RIGHT: 640}
ROW_HEIGHT = 20
MOST_BARS = 40
"""A chart with more could not be read."""
COLOURS = ("#2F5D7C", "#7FB0A0", "#C9A24B")
TEXT = {"name": "Calibri", "size": 9}


def add_charts(workbook: Any, sheet: Any, content: Content) -> int:
    """Put the charts beside and below the figures and return the first row below them."""
    by_title = {result.title: result for result in content.sheets}
    figures = len(content.summary.lines) if content.summary is not None else 0
    below = {LEFT: figures + 3, RIGHT: 2}
    for add, title, column in (
        (_constructions, results.BY_CONSTRUCTION, LEFT),
        (_rooms, results.BY_ROOM, RIGHT),
        (_emitters, results.EMITTERS_BY_ROOM, RIGHT),
    ):
        result = by_title.get(title)
        if result is None or not result.rows:
            continue
        chart, height = add(workbook, result)
        chart.set_size({"width": WIDTH[column], "height": height})
        chart.set_chartarea({"border": {"color": "#C9D0D5"}})
        sheet.insert_chart(below[column], column, chart, {"description": f"Chart of the sheet {title}"})
        below[column] += height // ROW_HEIGHT + 2
    return max(below.values())


def _series(result: ResultSheet, heading: str, categories: int, colour: str, name: str) -> dict[str, Any]:
    column = next(index for index, column in enumerate(result.columns) if column.heading == heading)
    last = min(len(result.rows), MOST_BARS)
    return {
        "name": name,
        "categories": [result.title, 1, categories, last, categories],
        "values": [result.title, 1, column, last, column],
        "fill": {"color": colour},
        "gap": 60,
    }


def _axes(chart: Any, title: str, *, bars: bool = False) -> None:
    chart.set_title({"name": title, "overlay": False, "name_font": {**TEXT, "size": 11, "bold": True}})
    watts = {
        "name": "W",
        "name_font": {**TEXT, "bold": False},
        "num_font": TEXT,
        "num_format": "0",
        "major_gridlines": {"visible": True, "line": {"color": "#E3E7EA"}},
        "line": {"none": True},
    }
    names = {"num_font": TEXT, "label_position": "low"}
    if bars:
        chart.set_y_axis({**names, "reverse": True})
        chart.set_x_axis({**watts, "label_position": "high", "num_font": {**TEXT, "rotation": -45}})
    else:
        chart.set_x_axis({**names, "num_font": {**TEXT, "rotation": -45}})
        chart.set_y_axis(watts)


def _rooms(workbook: Any, result: ResultSheet) -> tuple[Any, int]:
    chart = workbook.add_chart({"type": "column", "subtype": "stacked"})
    for heading, colour in zip(("Transmission, W", "Ventilation, W", "Reheat, W"), COLOURS, strict=True):
        chart.add_series(_series(result, heading, 0, colour, heading.partition(",")[0]))
    _axes(chart, "Heat load of each room")
    chart.set_legend({"position": "bottom", "font": TEXT})
    return chart, 320


def _constructions(workbook: Any, result: ResultSheet) -> tuple[Any, int]:
    chart = workbook.add_chart({"type": "bar"})
    series = _series(result, "Heat loss, W", 2, COLOURS[0], "Heat loss")
    chart.add_series(series)
    _axes(chart, "Heat loss by construction", bars=True)
    chart.set_legend({"none": True})
    return chart, 120 + 20 * min(len(result.rows), MOST_BARS)


def _emitters(workbook: Any, result: ResultSheet) -> tuple[Any, int]:
    chart = workbook.add_chart({"type": "column"})
    chart.add_series(_series(result, "Needed, W", 0, COLOURS[2], "Needed"))
    chart.add_series(_series(result, "Available, W", 0, COLOURS[0], "Available"))
    _axes(chart, "Emitters: needed and available")
    chart.set_legend({"position": "bottom", "font": TEXT})
    return chart, 320
