"""The known names nearest to a misspelt one, for messages."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


def nearest(name: str, known: Iterable[str]) -> str:
    """Return `; nearest: 'a', 'b'`, or nothing where no known name is near."""
    near = difflib.get_close_matches(name, sorted(known), n=3)
    return f"; nearest: {', '.join(map(repr, near))}" if near else ""
