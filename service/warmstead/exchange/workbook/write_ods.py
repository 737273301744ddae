"""A survey as an .ods file, written by odfdo. It has no charts; all else is as in the .xlsx file.

The same document gives the same bytes: the archive is packed anew with a fixed time.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Sequence
from datetime import datetime
from io import BytesIO
from typing import Any

from warmstead.exchange.workbook import layout, read_me, results
from warmstead.exchange.workbook.content import Content
from warmstead.exchange.workbook.describe import describe, heading
from warmstead.exchange.workbook.grids import column_letters
from warmstead.exchange.workbook.layout import Column, FormSheet, ListSheet
from warmstead.exchange.workbook.ods_styles import NUMBER_STYLES, STYLES, column_style
from warmstead.exchange.workbook.ods_table import OdsTable, cell
from warmstead.exchange.workbook.reference import reference_sheets
from warmstead.exchange.workbook.results import ResultSheet
from warmstead.exchange.workbook.tabulate import form_values, list_rows

CREATED = datetime(2000, 1, 1)
PAGE = {
    "fo:page-width": "29.7cm",
    "fo:page-height": "21cm",
    "style:print-orientation": "landscape",
    "style:scale-to-X": "1",
    "style:scale-to-Y": "0",
}
PACKED = (1980, 1, 1, 0, 0, 0)
VALIDATED_ROWS = 2000
EMPTY_BODY = b"<office:spreadsheet/>"


def write_ods(content: Content) -> bytes:
    """Return a workbook.

    Args:
        content: the survey, and results where there are some.
    """
    return _Workbook().file(content)


class _Workbook:
    def __init__(self) -> None:
        from odfdo import Document, Element

        self._element: Any = Element
        document: Any = Document("spreadsheet")
        self._document = document
        document.body.clear()
        self._styles = self._document.get_part("content.xml").get_element("//office:automatic-styles")
        self._widths: set[int] = set()
        self._validations: list[str] = []
        self._landscape()
        for style in STYLES:
            self._styles.append(Element.from_tag(style))

    def file(self, content: Content) -> bytes:
        """Put all sheets together."""
        sheets = [self._read_me()]
        for sheet in layout.SHEETS:
            if isinstance(sheet, FormSheet):
                sheets.append(self._form(sheet, form_values(sheet, content.document)))
            else:
                sheets.append(self._list(sheet, list_rows(sheet, content.document)))
        if content.empty_members:
            rows = [[pointer] for pointer in content.empty_members]
            sheets.append(
                self._plain(layout.EMPTY_MEMBERS, [80], [["Members without anything in them"], *rows])
            )
        if content.summary is not None:
            lines = [[words, value, unit] for words, value, unit, _ in content.summary.lines]
            sheets.append(self._plain(results.SUMMARY, [40, 16, 8], [[content.summary.title], [], *lines]))
        sheets += [self._result(result) for result in (*content.sheets, *reference_sheets())]
        validations = "".join(self._validations)
        body = f"<table:content-validations>{validations}</table:content-validations>"
        return self._packed(body + "".join(sheet.xml() for sheet in sheets))

    def _landscape(self) -> None:
        """Print every sheet on A4 across, as wide as it is."""
        for page in self._document.get_part("styles.xml").get_elements("//style:page-layout-properties"):
            for name, value in PAGE.items():
                page.set_attribute(name, value)

    def _packed(self, body: str) -> bytes:
        """Save the document and pack it anew, its sheets put into the body that was left empty.

        As elements of the library the rows of a large house would take minutes: it indexes them again with each.
        """
        meta = self._document.meta
        meta.creation_date = meta.date = CREATED
        meta.title = read_me.HEADING
        meta.generator = "Warmstead"
        saved, packed = BytesIO(), BytesIO()
        self._document.save(saved)
        with zipfile.ZipFile(saved) as before, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as after:
            for name in sorted(before.namelist(), key=lambda name: (name != "mimetype", name)):
                content = before.read(name)
                if name == "content.xml":
                    assert content.count(EMPTY_BODY) == 1, "the body was cleared"
                    filled = f"<office:spreadsheet>{body}</office:spreadsheet>"
                    content = content.replace(EMPTY_BODY, filled.encode())
                how = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
                after.writestr(zipfile.ZipInfo(name, PACKED), content, how)
        return packed.getvalue()

    # --- Sheets -----------------------------------------------------------------------------------

    def _started(self, title: str, widths: Sequence[int]) -> OdsTable:
        for width in widths:
            if width not in self._widths:
                self._widths.add(width)
                self._styles.append(self._element.from_tag(column_style(width)))
        return OdsTable(title, widths)

    def _read_me(self) -> OdsTable:
        table = self._started(read_me.TITLE, [20, 100])
        table.put([cell(read_me.HEADING, "title")])
        table.put([])
        for subject, text in read_me.LINES:
            table.put([cell(subject, "subject"), cell(text, "wrapped")])
        return table

    def _form(self, form: FormSheet, values: Sequence[Any]) -> OdsTable:
        table = self._started(form.title, [40, 26, 80])
        table.put([cell(words, "required") for words in (form.title, "Value", "Meaning")])
        left = iter(values)
        for section in form.sections:
            table.put([cell(section.title, "subject")])
            for line in section.lines:
                validation = self._validation(form, line)
                table.put(
                    [
                        cell(heading(form, line), "line"),
                        cell(next(left), "entry", validation=validation),
                        cell(describe(form, line).note, "wrapped"),
                    ],
                )
        return table

    def _list(self, listed: ListSheet, rows: Iterable[Sequence[Any]]) -> OdsTable:
        table = self._started(listed.title, [column.width for column in listed.columns])
        table.put(
            [
                cell(
                    heading(listed, column),
                    "required" if describe(listed, column).required else "heading",
                    note=describe(listed, column).note,
                )
                for column in listed.columns
            ],
            "head",
        )
        kept = [(self._validation(listed, column), self._entry(listed, column)) for column in listed.columns]
        written = 0
        for row in rows:
            table.put([cell(v, style, validation=name) for v, (name, style) in zip(row, kept, strict=True)])
            written += 1
        left = max(VALIDATED_ROWS - written, 2)
        table.put([cell(None, style, validation=name) for name, style in kept], times=left)
        return table

    @staticmethod
    def _entry(listed: ListSheet, column: Column) -> str:
        return "entry" if describe(listed, column).kind == "number" else "entry-text"

    def _validation(self, on: ListSheet | FormSheet, column: Column) -> str | None:
        """Add what a cell may hold and return its name; None where anything may stand there."""
        described = describe(on, column)
        if described.choices:
            listed = ";".join(f'"{choice}"' for choice in described.choices)
            condition = f"of:cell-content-is-in-list({listed})"
            stop, message = "stop", f"One of: {', '.join(described.choices)}"
        elif column.refers_to is not None:
            condition = f"of:cell-content-is-in-list([$'{column.refers_to}'.$A$2:.$A${VALIDATED_ROWS + 1}])"
            stop, message = "warning", f"There is no such name yet on the sheet {column.refers_to}."
        elif described.minimum is not None:
            between = f"cell-content-is-between({described.between[0]},{described.between[1]})"
            condition = f"of:cell-content-is-decimal-number() and {between}"
            stop = "stop"
            message = (
                f"A number from {described.between[0]} to {described.between[1]} {described.unit}".strip()
            )
        else:
            return None
        name = f"v{len(self._validations) + 1}"
        quoted = condition.replace("&", "&amp;").replace('"', "&quot;")
        self._validations.append(
            f'<table:content-validation table:name="{name}" table:condition="{quoted}" table:allow-empty-cell="true" '
            f'table:display-list="unsorted"><table:error-message table:message-type="{stop}" table:display="true">'
            f"<text:p>{message}</text:p></table:error-message></table:content-validation>"
        )
        return name

    def _plain(self, title: str, widths: Sequence[int], rows: Sequence[Sequence[Any]]) -> OdsTable:
        table = self._started(title, widths)
        for number, row in enumerate(rows):
            style = "title" if number == 0 else "line"
            table.put([cell(value, style) for value in row])
        return table

    def _result(self, result: ResultSheet) -> OdsTable:
        table = self._started(result.title, [column.width for column in result.columns])
        table.put([cell(column.heading, "result") for column in result.columns], "head")
        looks = [NUMBER_STYLES[column.digits] if column.digits else "wrapped" for column in result.columns]
        for row in result.rows:
            table.put([cell(value, look) for value, look in zip(row, looks, strict=True)])
        if result.rows and any(column.total for column in result.columns):
            table.put([self._total(result, index, looks[index]) for index in range(len(result.columns))])
        return table

    def _total(self, result: ResultSheet, index: int, look: str) -> str:
        if not result.columns[index].total:
            return cell("Total" if index == 0 else None, "total")
        letters = column_letters(index)
        total = sum(value for row in result.rows if isinstance(value := row[index], int | float))
        return cell(total, look, formula=f"of:=SUM([.{letters}2:.{letters}{len(result.rows) + 1}])")
