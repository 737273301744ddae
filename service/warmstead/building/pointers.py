"""JSON pointers that become text only where somebody has to be told of the place."""

from __future__ import annotations


class Pointer:
    """The place of one item of a list, or of one entry of an object.

    Most places are never mentioned, and putting their text together for each would cost more than the arithmetic there.
    """

    __slots__ = ("_at", "_index", "_member")

    def __init__(self, at: str | Pointer, member: str, index: int | str) -> None:
        self._at = at
        self._member = member
        self._index = index

    def __str__(self) -> str:
        """Return the pointer as text (RFC 6901)."""
        return f"{self._at}/{self._member}/{self._index}"


def escaped(token: str) -> str:
    """Return a name as a pointer holds it (RFC 6901)."""
    return token.replace("~", "~0").replace("/", "~1")


Place = str | Pointer
"""Where something stands in the request; both kinds format alike."""
