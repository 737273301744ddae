"""Which media type an Accept header asks for."""

from __future__ import annotations

import pytest

from warmstead.api.accepting import preferred

OFFERED = ("text/plain", "application/json", "text/csv", "application/xml")
BROWSER = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"


@pytest.mark.parametrize(
    ("accept", "media_type"),
    [
        ("", "text/plain"),
        ("*/*", "text/plain"),
        ("application/json", "application/json"),
        ("Application/JSON", "application/json"),
        ("application/json;q=0.5, text/csv", "text/csv"),
        ("application/json, */*;q=0.5", "application/json"),
        ("text/*", "text/plain"),
        ("application/*", "application/json"),
        ("text/plain;q=0, */*", "application/json"),
        ("text/plain;q=0.2, text/*;q=0.8", "text/csv"),
        ("image/png", "text/plain"),
        ("application/xml; q=1", "application/xml"),
        (BROWSER, "application/xml"),
        ("text/csv;q=x", "text/plain"),
        (";;;,,,", "text/plain"),
        ("text/csv;q=9, application/json;q=1", "application/json"),  # no quality is above 1
    ],
)
def test_the_most_wanted_of_what_is_offered(accept: str, media_type: str) -> None:
    assert preferred(accept, OFFERED) == media_type
