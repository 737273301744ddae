"""How cells of an .xlsx file look."""

from __future__ import annotations

from functools import cache
from typing import Any

from warmstead.exchange.workbook.describe import Description

INK = "#20262B"
SOFT = "#5F6A72"
LINE = "#C9D0D5"
FONT = {"font_name": "Calibri", "font_size": 10, "font_color": INK, "valign": "vcenter"}


class Styles:
    """The formats of one workbook; it knows each only once."""

    ENTRY = "#2F5D7C"
    RESULT = "#3E7A52"

    def __init__(self, workbook: Any) -> None:
        def made(**look: Any) -> Any:
            return workbook.add_format({**FONT, **look})

        self._made = cache(lambda look: made(**dict(look)))
        head = {"bold": True, "text_wrap": True, "valign": "top", "bottom": 1, "bottom_color": LINE}
        self.plain = made()
        self.title = made(bold=True, font_size=16)
        self.subject = made(bold=True, font_color=self.ENTRY, valign="top")
        self.wrapped = made(text_wrap=True, valign="top")
        self.caution = made(text_wrap=True, italic=True, font_color=SOFT, valign="top")
        self.heading = made(**head, bg_color="#DCE6ED", left=1, left_color=LINE)
        self.heading_text = made(**head, bg_color="#DCE6ED", left=1, left_color=LINE, indent=1)
        self.required = made(
            **{**head, "font_color": "#FFFFFF"}, bg_color=self.ENTRY, left=1, left_color=LINE
        )
        self.required_text = made(
            **{**head, "font_color": "#FFFFFF"}, bg_color=self.ENTRY, left=1, left_color=LINE, indent=1
        )
        self.result_text = made(**head, bg_color="#DDEBE1", indent=1)
        self.result_number = made(**head, bg_color="#DDEBE1", align="right")
        boxed = {"locked": False, "border": 1, "border_color": LINE}
        self.entry = made(**boxed)
        self.entry_text = made(**boxed, num_format="@", indent=1)
        self.entry_box = made(locked=False, border=1, border_color=LINE, bg_color="#F4F8FA", align="right")
        self.line = made(bottom=4, bottom_color=LINE)
        self.bold_line = made(bold=True, bottom=4, bottom_color=LINE)
        self.note = made(font_color=SOFT, text_wrap=True, indent=1, bottom=4, bottom_color=LINE)
        self.unit = made(font_color=SOFT, bottom=4, bottom_color=LINE)
        self.right = made(align="right", bottom=4, bottom_color=LINE)
        self.text = made(text_wrap=True, valign="top", bottom=4, bottom_color=LINE, indent=1)
        self.total = made(bold=True, top=1, top_color=INK, indent=1)
        self.footnote = made(italic=True, font_color=SOFT)

    def of_heading(self, described: Description) -> Any:
        """Return the format of a heading above cells to fill in."""
        if described.kind == "number":
            return self.required if described.required else self.heading
        return self.required_text if described.required else self.heading_text

    def number(self, digits: str, *, bold: bool = False, total: bool = False, centred: bool = False) -> Any:
        """Return the format of numbers of results."""
        look: dict[str, Any] = {"num_format": digits, "bold": bold, "valign": "vcenter" if centred else "top"}
        look |= {"top": 1, "top_color": INK} if total else {"bottom": 4, "bottom_color": LINE}
        return self._made(tuple(look.items()))
