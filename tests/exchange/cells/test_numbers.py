"""Numbers as cells write them into an address, and as cells can read them."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from warmstead.exchange.cells.numbers import NotANumber, number, plain


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12", 12.0),
        ("12.5", 12.5),
        ("-3.2", -3.2),
        ("+3", 3.0),
        (" 3", 3.0),  # what "+3" decodes to
        (".5", 0.5),
        ("5.", 5.0),
        ("1e-3", 0.001),
        ("1E3", 1000.0),
        ("1.234", 1.234),  # a point is always the decimal point
        ("1,5", 1.5),
        ("-3,2", -3.2),
        ("0,035", 0.035),
        ("0,234", 0.234),  # no group of thousands begins with zero
        ("1,2340", 1.234),
        ("1234,567", 1234.567),  # four digits are no group
        ("12,34", 12.34),
        ("2,5e-2", 0.025),
    ],
)
def test_a_number_is_read(text: str, value: float) -> None:
    assert number(text) == value


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("1,234", "1.234 or 1234"),
        ("12,345", "12.345 or 12345"),
        ("123,456", "123.456 or 123456"),
        ("1,234.5", "thousands"),
        ("1.234,5", "thousands"),
        ("1,234,567", "thousands"),
        ("1 234", "not a number"),
        ("1\u00a0234", "not a number"),
        ("1\u202f234", "not a number"),
        ("1'234", "not a number"),
        ("", "not a number"),
        ("abc", "not a number"),
        ("12 mm", "not a number"),
        ("0x10", "not a number"),
        ("1_000", "not a number"),
        ("٣", "not a number"),
        ("nan", "not a number"),
        ("Infinity", "not a number"),
        ("1e999", "beyond all bounds"),
        ("1e9999", "not a number"),
        ("9" * 65, "characters"),
        ("#VALUE!", "not a number"),
        ("−3", "not a number"),
    ],
)
def test_what_is_no_number_or_could_be_two_is_refused(text: str, reason: str) -> None:
    with pytest.raises(NotANumber, match=re.escape(reason)):
        number(text)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (20.0, "20"),
        (1000000.0, "1000000"),
        (-6.199999999999999, "-6.2"),
        (0.1 + 0.2, "0.3"),
        (1e-7, "0.0000001"),
        (1.5e16, "15000000000000000"),
        (0.30141314486486087, "0.301413144864861"),
    ],
)
def test_a_number_is_written_for_a_cell(value: float, text: str) -> None:
    assert plain(value) == text


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12))
def test_what_is_written_is_plain_and_read_back_to_fifteen_digits(value: float) -> None:
    text = plain(value)
    assert re.fullmatch(r"-?(0|[1-9][0-9]*)(\.[0-9]*[1-9])?", text)
    assert text != "-0"
    assert float(text) == pytest.approx(value, rel=5e-15, abs=0)


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e6, max_value=1e6))
def test_a_decimal_comma_means_the_same_or_is_refused(value: float) -> None:
    text = plain(round(value, 12))  # no longer than a number may be
    try:
        assert number(text.replace(".", ",")) == float(text)
    except NotANumber:
        assert re.fullmatch(r"-?[1-9][0-9]{0,2}\.[0-9]{3}", text)
