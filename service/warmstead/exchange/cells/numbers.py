"""Numbers as a cell writes them into an address: with a decimal point, or with a comma where it can only be a decimal one."""

from __future__ import annotations

import math
import re
from decimal import Decimal

_PLAIN = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?", re.ASCII)
_WITH_COMMA = re.compile(r"[+-]?([0-9]+),([0-9]+)(?:[eE][+-]?[0-9]{1,3})?", re.ASCII)
_LONGEST = 64
"""Characters of a number; no quantity needs more."""
SIGNIFICANT_DIGITS = 15


class NotANumber(ValueError):
    """A text cannot be read as one number; says why."""


def number(text: str) -> float:
    """Return the number that a text stands for.

    A point is always the decimal point. One comma is a decimal comma unless it could stand between thousands: three digits
    after it and one to three before it, the first of them no zero (`1,234`). Such a text is refused rather than guessed at,
    since the two readings differ by a factor of a thousand.

    Raises:
        NotANumber: the text is no number, could be two, or is beyond all bounds.
    """
    stripped = text.strip(" ")
    if len(stripped) > _LONGEST:
        raise NotANumber(f"a number has at most {_LONGEST} characters")
    value = float(stripped if _PLAIN.fullmatch(stripped) else _with_point(stripped))
    if not math.isfinite(value):
        raise NotANumber("beyond all bounds")
    return value


def _with_point(text: str) -> str:
    parts = _WITH_COMMA.fullmatch(text)
    if parts is None:
        if "," in text and ("." in text or text.count(",") > 1):
            raise NotANumber("leave out what groups thousands, and write a decimal point: 1234.5")
        raise NotANumber("not a number; write it like 12.5")
    before, after = parts.groups()
    if len(after) == 3 and len(before) <= 3 and not before.startswith("0"):
        raise NotANumber(
            f"{before},{after} could be {before}.{after} or {before}{after}; write a decimal point, or no comma"
        )
    return text.replace(",", ".")


def plain(value: float) -> str:
    """Write a number as a cell takes it: a decimal point, no exponent, no zero with a sign, fifteen significant digits.

    Fifteen, since cells keep no more, and the last two of a binary number only show how it was reached: −6.2, not
    −6.199999999999999. Without an exponent, since XPath, by which cells read XML, knows none.
    """
    if value == 0.0:
        return "0"
    text = format(Decimal(f"{value:.{SIGNIFICANT_DIGITS}g}"), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
