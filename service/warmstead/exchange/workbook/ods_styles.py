"""How cells of an .ods file look: its automatic styles, as the format writes them."""

from __future__ import annotations

from warmstead.exchange.workbook.results import ONE, SHARE, THREE, TWO, WHOLE

_LINE = "0.05pt solid #c9d0d5"
_CENTIMETRES_PER_CHARACTER = 0.2


def _cell(
    name: str,
    *,
    text: str = "",
    cell: str = "",
    paragraph: str = "",
    data_style: str = "",
    locked: bool = True,
) -> str:
    protection = "protected" if locked else "none"
    size = "" if "fo:font-size" in text else 'fo:font-size="10pt"'
    data = f' style:data-style-name="{data_style}"' if data_style else ""
    return (
        f'<style:style style:name="{name}" style:family="table-cell" style:parent-style-name="Default"{data}>'
        f'<style:table-cell-properties style:cell-protect="{protection}" {cell}/>'
        f"<style:paragraph-properties {paragraph}/>"
        f"<style:text-properties {size} {text}/></style:style>"
    )


def column_style(width: int) -> str:
    """Return the style of a column that holds so many characters."""
    return (
        f'<style:style style:name="w{width}" style:family="table-column">'
        f'<style:table-column-properties style:column-width="{width * _CENTIMETRES_PER_CHARACTER:.2f}cm"/></style:style>'
    )


def _number(name: str, places: int, *, percentage: bool = False) -> str:
    tag = "percentage-style" if percentage else "number-style"
    sign = "<number:text>%</number:text>" if percentage else ""
    return (
        f'<number:{tag} style:name="{name}"><number:number number:decimal-places="{places}" '
        f'number:min-integer-digits="1"/>{sign}</number:{tag}>'
    )


_BOLD = 'fo:font-weight="bold"'
_WRAPPED = 'fo:wrap-option="wrap" style:vertical-align="top"'
_UNDER = f'fo:border-bottom="{_LINE}"'
_BOXED = f'fo:border="{_LINE}"'

NUMBER_STYLES = {WHOLE: "number-0", ONE: "number-1", TWO: "number-2", THREE: "number-3", SHARE: "share"}
"""Name of the cell style for each number format of results."""

STYLES = (
    '<style:style style:name="sheet" style:family="table" style:master-page-name="Default">'
    '<style:table-properties table:display="true"/></style:style>',
    '<style:style style:name="row" style:family="table-row">'
    '<style:table-row-properties style:use-optimal-row-height="true"/></style:style>',
    '<style:style style:name="head" style:family="table-row">'
    '<style:table-row-properties style:row-height="1.6cm" style:use-optimal-row-height="false"/></style:style>',
    *(_number(f"n{places}", places) for places in range(4)),
    _number("p1", 1, percentage=True),
    '<number:text-style style:name="text"><number:text-content/></number:text-style>',
    _cell("plain"),
    _cell("title", text='fo:font-weight="bold" fo:font-size="16pt"'),
    _cell("subject", text=f'{_BOLD} fo:color="#2f5d7c"', cell='style:vertical-align="top"'),
    _cell("wrapped", cell=_WRAPPED),
    _cell("line", cell=_UNDER),
    _cell("heading", text=_BOLD, cell=f'{_WRAPPED} {_UNDER} fo:background-color="#dce6ed"'),
    _cell(
        "required",
        text=f'{_BOLD} fo:color="#ffffff"',
        cell=f'{_WRAPPED} {_UNDER} fo:background-color="#2f5d7c"',
    ),
    _cell("result", text=_BOLD, cell=f'{_WRAPPED} {_UNDER} fo:background-color="#ddebe1"'),
    _cell("total", text=_BOLD, cell='fo:border-top="0.75pt solid #20262b"'),
    _cell("entry", cell=_BOXED, locked=False),
    _cell("entry-text", cell=_BOXED, data_style="text", locked=False),
    *(_cell(f"number-{places}", cell=_UNDER, data_style=f"n{places}") for places in range(4)),
    _cell("share", cell=_UNDER, data_style="p1"),
)
