"""Which of several media types an Accept header asks for (RFC 9110, 12.5.1)."""

from __future__ import annotations

from collections.abc import Sequence

LONGEST_HEADER = 1024
"""Characters of an Accept header that are read; browsers send about 150."""


def preferred(accept: str, offered: Sequence[str]) -> str:
    """Return the media type that is wanted most.

    The first one offered, where the header is absent, wants none of them, or wants several alike.

    Args:
        accept: the header's value, empty where there is none.
        offered: media types without parameters, the one for `*/*` first.
    """
    ranges = [_range(part) for part in accept[:LONGEST_HEADER].split(",")]
    best, wanted = offered[0], 0.0
    for media_type in offered:
        quality = _quality(media_type, ranges)
        if quality > wanted:
            best, wanted = media_type, quality
    return best


def _range(part: str) -> tuple[str, float]:
    name, *parameters = (piece.strip().lower() for piece in part.split(";"))
    for parameter in parameters:
        if parameter.startswith("q="):
            try:
                return name, min(max(float(parameter[2:]), 0.0), 1.0)
            except ValueError:
                return name, 0.0
    return name, 1.0


def _quality(media_type: str, ranges: list[tuple[str, float]]) -> float:
    """Return how much a media type is wanted: by its own name, else by its main type, else by the wildcard."""
    main = media_type.partition("/")[0]
    for name in (media_type, f"{main}/*", "*/*"):
        for sought, quality in ranges:
            if sought == name:
                return quality
    return 0.0
