"""Kinds of problem documents (RFC 9457): the same over HTTP and in the lines of a batch."""

from __future__ import annotations

KINDS: dict[int, tuple[str, str]] = {
    400: ("urn:warmstead:problem:malformed", "Not JSON"),
    401: ("urn:warmstead:problem:key-missing", "A key is needed"),
    403: ("urn:warmstead:problem:not-open", "Not open to this caller"),
    404: ("urn:warmstead:problem:not-found", "Nothing here"),
    405: ("urn:warmstead:problem:method", "Method not allowed"),
    408: ("urn:warmstead:problem:too-slow", "Sent too slowly"),
    413: ("urn:warmstead:problem:too-large", "Body too large"),
    414: ("urn:warmstead:problem:query-too-long", "Query too long"),
    415: ("urn:warmstead:problem:media-type", "Media type not supported"),
    422: ("urn:warmstead:problem:refused", "Request refused"),
    431: ("urn:warmstead:problem:headers-too-large", "Headers too large"),
    500: ("urn:warmstead:problem:internal", "Internal error"),
    503: ("urn:warmstead:problem:busy", "Busy; try again"),
}
"""Kind and title by status."""
KEY_UNKNOWN = ("urn:warmstead:problem:key-unknown", "Not a key in force")
KEY_IN_ADDRESS = ("urn:warmstead:problem:key-in-address", "A key in an address")
ENDING = ("urn:warmstead:problem:ending", "About to end")
OVER_TIME = ("urn:warmstead:problem:over-time", "Took too long")
OVER_MEMORY = ("urn:warmstead:problem:over-memory", "Needed too much memory")
WORK_ENDED = ("urn:warmstead:problem:work-ended", "Work ended unexpectedly")


def things_to_mend(total: int, listed: int) -> str:
    """Say how many reasons a refusal has.

    Args:
        total: all that were found.
        listed: those that it lists.
    """
    if total > listed:
        return f"{total} things to mend; errors lists the first {listed}"
    return f"{total} thing{'s' if total != 1 else ''} to mend; see errors"
