"""A survey as an .xlsx file, written by XlsxWriter: the same document gives the same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from io import BytesIO
from typing import Any

from warmstead.exchange.workbook import layout, read_me, results
from warmstead.exchange.workbook.charts import add_charts
from warmstead.exchange.workbook.content import Content
from warmstead.exchange.workbook.describe import describe, heading
from warmstead.exchange.workbook.grids import column_letters
from warmstead.exchange.workbook.layout import Column, FormSheet, ListSheet
from warmstead.exchange.workbook.reference import reference_sheets
from warmstead.exchange.workbook.results import ResultSheet
from warmstead.exchange.workbook.styles import Styles
from warmstead.exchange.workbook.tabulate import form_values, list_rows
from warmstead.exchange.workbook.texts import number_text

CREATED = datetime(2000, 1, 1)
"""Fixed: a time of day would make every file another."""
VALIDATED_ROWS = 2000
PRINTED_EMPTY_ROWS = 24
A4 = 9
LINE_HEIGHT = 15.0
"""Points."""
ALLOWED = {
    "insert_rows": True,
    "delete_rows": True,
    "sort": True,
    "format_cells": True,
    "format_columns": True,
    "format_rows": True,
    "autofilter": True,
}
"""On a sheet to fill in, which is protected so that its headings stay; there is no password."""
INLINE_CHOICES = 255
"""Most characters of a list of choices within a cell's validation."""


def write_xlsx(content: Content) -> bytes:
    """Return a workbook.

    Args:
        content: the survey, and results where there are some.
    """
    from xlsxwriter import Workbook

    file = BytesIO()
    with Workbook(
        file, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False}
    ) as workbook:
        workbook.set_properties({"title": read_me.HEADING, "created": CREATED})
        styles = Styles(workbook)
        _write_read_me(workbook, styles)
        for sheet in layout.SHEETS:
            if isinstance(sheet, FormSheet):
                _write_form(workbook, styles, sheet, form_values(sheet, content.document))
            else:
                _write_list(workbook, styles, sheet, list(list_rows(sheet, content.document)))
        _write_empty_members(workbook, styles, content.empty_members)
        if content.summary is not None:
            _write_results(workbook, styles, content)
        for reference in reference_sheets():
            _write_table(workbook, styles, reference, "#8C8C8C")
        first = results.SUMMARY if content.summary is not None else read_me.TITLE
        workbook.get_worksheet_by_name(first).activate()
    return file.getvalue()


def _exact(workbook: Any, title: str) -> Any:
    """Add a sheet whose numbers are written with all their digits; 16, the library's own, can miss the last bit."""
    from xlsxwriter.worksheet import Worksheet

    class ExactWorksheet(Worksheet):  # type: ignore[misc]  # the library has no types
        def _xml_number_element(self, number: float, attributes: Any = ()) -> None:
            given = "".join(f' {key}="{value}"' for key, value in attributes)
            self.fh.write(f"<c{given}><v>{number_text(number)}</v></c>")

    return workbook.add_worksheet(title, ExactWorksheet)


def _write_read_me(workbook: Any, styles: Styles) -> None:
    sheet = _exact(workbook, read_me.TITLE)
    sheet.hide_gridlines(2)
    sheet.set_column(0, 0, 18, styles.plain)
    sheet.set_column(1, 1, 92, styles.wrapped)
    sheet.write_string(0, 0, read_me.HEADING, styles.title)
    for row, (subject, text) in enumerate(read_me.LINES, 2):
        sheet.write_string(row, 0, subject, styles.subject)
        sheet.write_string(row, 1, text, styles.caution if text == read_me.CAUTION else styles.wrapped)
        sheet.set_row(row, _height(text, 92))
    _page(sheet, rows=len(read_me.LINES) + 2, columns=2, landscape=True, titled=False)
    sheet.fit_to_pages(1, 1)
    sheet.protect()


def _write_form(workbook: Any, styles: Styles, form: FormSheet, values: Sequence[Any]) -> None:
    sheet = _exact(workbook, form.title)
    sheet.set_tab_color(styles.ENTRY)
    sheet.hide_gridlines(2)
    for index, width in enumerate((40, 26, 74)):
        sheet.set_column(index, index, width, styles.plain)
    for index, words in enumerate((form.title, "Value", "Meaning")):
        sheet.write_string(0, index, words, styles.required)
    row = 1
    left = iter(values)
    for section in form.sections:
        sheet.write_string(row, 0, section.title, styles.subject)
        row += 1
        for line in section.lines:
            described = describe(form, line)
            sheet.write_string(
                row, 0, heading(form, line), styles.bold_line if described.required else styles.line
            )
            _write_cell(sheet, row, 1, next(left), styles.entry_box)
            sheet.write_string(row, 2, described.note, styles.note)
            sheet.set_row(row, _height(described.note, 74))
            _validate(sheet, form, line, row, 1, row)
            row += 1
    sheet.freeze_panes(1, 0)
    _page(sheet, rows=row, columns=3, landscape=True)
    sheet.protect("", {"format_cells": True, "format_columns": True, "format_rows": True})


def _write_list(workbook: Any, styles: Styles, listed: ListSheet, rows: list[list[Any]]) -> None:
    sheet = _exact(workbook, listed.title)
    sheet.set_tab_color(styles.ENTRY)
    for index, column in enumerate(listed.columns):
        described = describe(listed, column)
        entry = styles.entry if described.kind == "number" else styles.entry_text
        sheet.set_column(index, index, column.width, entry)
        sheet.write_string(0, index, heading(listed, column), styles.of_heading(described))
        sheet.write_comment(
            0, index, _heading_note(listed, column), {"author": "", "x_scale": 1.9, "y_scale": 1.1}
        )
        _validate(sheet, listed, column, 1, index, VALIDATED_ROWS)
        for number, row in enumerate(rows, 1):
            _write_cell(sheet, number, index, row[index], entry)
    sheet.set_row(0, 46)
    sheet.freeze_panes(1, _frozen_columns(listed))
    shown = max(len(rows), PRINTED_EMPTY_ROWS) + 1
    _page(sheet, rows=shown, columns=len(listed.columns), landscape=listed.landscape)
    sheet.protect("", ALLOWED)


def _height(text: str, width: int) -> float:
    """Return the height of a row in which a text is wrapped; some programs do not work it out when they open a file."""
    return LINE_HEIGHT * max(1, -(-len(text) * 10 // (width * 11)))


def _frozen_columns(listed: ListSheet) -> int:
    """Keep in sight to whom a row belongs and what it is called."""
    named = [index for index, column in enumerate(listed.columns) if column.path == ("id",)]
    if named:
        return named[0] + 1
    return max((index + 1 for index, column in enumerate(listed.columns) if column.belongs), default=0)


def _heading_note(listed: ListSheet, column: Column) -> str:
    described = describe(listed, column)
    note = described.note
    if described.choices:
        note += f"\nOne of: {', '.join(described.choices)}."
    elif described.minimum is not None:
        note += f"\nFrom {described.between[0]} to {described.between[1]}."
    return note


def _write_cell(sheet: Any, row: int, column: int, value: Any, style: Any) -> None:
    if value is None:
        sheet.write_blank(row, column, None, style)
    elif isinstance(value, str):
        sheet.write_string(row, column, value, style)
    else:
        sheet.write_number(row, column, value, style)


def _validate(sheet: Any, on: ListSheet | FormSheet, column: Column, row: int, index: int, last: int) -> None:
    described = describe(on, column)
    rule: dict[str, Any] = {"ignore_blank": True, "error_title": heading(on, column)[:32]}
    if described.choices and len(",".join(described.choices)) <= INLINE_CHOICES:
        # A list of texts that look like numbers lets numbers be entered too, and reading takes those as texts.
        rule |= {"validate": "list", "source": list(described.choices)}
        rule["error_message"] = f"One of: {', '.join(described.choices)}"[:255]
    elif column.refers_to is not None:
        rule |= {"validate": "list", "source": f"='{column.refers_to}'!$A$2:$A${VALIDATED_ROWS + 1}"}
        rule |= {
            "error_type": "warning",
            "error_message": f"There is no such name yet on the sheet {column.refers_to}.",
        }
    elif described.minimum is not None:
        rule |= {"validate": "decimal", "criteria": "between"}
        rule |= {"minimum": described.minimum, "maximum": described.maximum}
        rule["error_message"] = (
            f"A number from {described.between[0]} to {described.between[1]} {described.unit}".strip()
        )
    else:
        return
    sheet.data_validation(row, index, last, index, rule)


def _page(sheet: Any, *, rows: int, columns: int, landscape: bool, titled: bool = True) -> None:
    sheet.set_paper(A4)
    if landscape:
        sheet.set_landscape()
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
    sheet.fit_to_pages(1, 0)
    sheet.print_area(0, 0, max(rows - 1, 0), columns - 1)
    if titled:
        sheet.repeat_rows(0)
    sheet.set_footer("&L&8&A&R&8Page &P of &N")


def _write_empty_members(workbook: Any, styles: Styles, pointers: Sequence[str]) -> None:
    if not pointers:
        return
    sheet = _exact(workbook, layout.EMPTY_MEMBERS)
    sheet.set_column(0, 0, 80, styles.plain)
    sheet.write_string(0, 0, "Members without anything in them", styles.heading)
    for row, pointer in enumerate(pointers, 1):
        sheet.write_string(row, 0, pointer, styles.plain)
    sheet.hide()


# --- Results --------------------------------------------------------------------------------------


def _write_results(workbook: Any, styles: Styles, content: Content) -> None:
    assert content.summary is not None, "asked for only with results"
    sheet = _exact(workbook, results.SUMMARY)
    sheet.set_tab_color(styles.RESULT)
    sheet.hide_gridlines(2)
    for index, width in enumerate((38, 16, 8, 3)):
        sheet.set_column(index, index, width, styles.plain)
    sheet.write_string(0, 0, content.summary.title, styles.title)
    for row, (words, value, unit, digits) in enumerate(content.summary.lines, 2):
        first = row == 2
        sheet.write_string(row, 0, words, styles.bold_line if first else styles.line)
        style = styles.number(digits, bold=first, centred=True) if digits else styles.right
        _write_cell(sheet, row, 1, value if value is not None else "none", style)
        sheet.write_string(row, 2, unit, styles.unit)
    for result in content.sheets:
        _write_table(workbook, styles, result, styles.RESULT)
    last = add_charts(workbook, sheet, content)
    _page(sheet, rows=max(last, len(content.summary.lines) + 3), columns=14, landscape=True, titled=False)
    sheet.fit_to_pages(1, 1)
    sheet.center_horizontally()
    sheet.protect()


def _write_table(workbook: Any, styles: Styles, result: ResultSheet, colour: str) -> None:
    sheet = _exact(workbook, result.title)
    sheet.set_tab_color(colour)
    sheet.set_row(0, 46 if any(len(column.heading) > column.width for column in result.columns) else 20)
    for index, column in enumerate(result.columns):
        style = styles.number(column.digits) if column.digits else styles.text
        sheet.set_column(index, index, column.width, styles.plain)
        sheet.write_string(
            0, index, column.heading, styles.result_number if column.digits else styles.result_text
        )
        for number, row in enumerate(result.rows, 1):
            _write_cell(sheet, number, index, row[index], style)
    for number, row in enumerate(result.rows, 1):
        heights = [
            _height(value, column.width)
            for value, column in zip(row, result.columns, strict=True)
            if isinstance(value, str)
        ]
        if max(heights, default=LINE_HEIGHT) > LINE_HEIGHT:
            sheet.set_row(number, max(heights))
    rows = len(result.rows) + 1
    if result.rows and any(column.total for column in result.columns):
        _write_totals(sheet, styles, result)
        rows += 1
        if result.note:
            sheet.write_string(rows + 1, 0, result.note, styles.footnote)
            rows += 2
    sheet.freeze_panes(1, 1)
    if result.rows:
        sheet.autofilter(0, 0, len(result.rows), len(result.columns) - 1)
    _page(sheet, rows=rows, columns=len(result.columns), landscape=result.landscape)
    sheet.protect("", {"sort": True, "autofilter": True, "format_columns": True, "format_rows": True})


def _write_totals(sheet: Any, styles: Styles, result: ResultSheet) -> None:
    below = len(result.rows) + 1
    for index, column in enumerate(result.columns):
        if column.total and column.digits:
            letters = column_letters(index)
            total = sum(value for row in result.rows if isinstance(value := row[index], int | float))
            formula = f"=SUM({letters}2:{letters}{below})"
            sheet.write_formula(
                below, index, formula, styles.number(column.digits, bold=True, total=True), total
            )
        else:
            _write_cell(sheet, below, index, "Total" if index == 0 else None, styles.total)
