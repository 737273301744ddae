"""Find a value in an answer by a JSON pointer, or by the name a list member goes by."""

from __future__ import annotations

import re
from typing import Any

from warmstead.corpus.nearest import nearest

_SELECTOR = re.compile(r"^[a-z_]+=[^,=]+(,[a-z_]+=[^,=]+)*$")


class NothingThereError(LookupError):
    """A pointer leads to nothing; `holder_found` tells whether all but its last step did."""

    def __init__(self, message: str, *, holder_found: bool) -> None:
        """Take what is missing and where."""
        super().__init__(message)
        self.holder_found = holder_found


def find(document: Any, pointer: str) -> Any:
    """Return the value at `pointer`.

    A step is as in RFC 6901. In a list, where RFC 6901 allows only an index, a step may also name the one
    member with the given texts: `/rooms/id=kitchen/elements/id=wall`, or
    `/by_construction/construction=wall,boundary=outside`.

    Raises:
        NothingThereError: a member is missing, an index is outside the list, or a name fits none or
            several.
    """
    value = document
    steps = [step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:]]
    for position, step in enumerate(steps):
        try:
            value = _step(value, step)
        except LookupError as error:
            where = "/" + "/".join(steps[:position]) if position else "the whole answer"
            last = position == len(steps) - 1
            raise NothingThereError(
                f"nothing at pointer: in {where}, {error.args[0]}", holder_found=last
            ) from None
    return value


def _step(value: Any, step: str) -> Any:
    if isinstance(value, dict):
        if step not in value:
            raise LookupError(f"no member {step!r}{nearest(step, value)}")
        return value[step]
    if isinstance(value, list):
        if _SELECTOR.match(step):
            return _select(value, step)
        if not re.fullmatch(r"0|[1-9][0-9]*", step):
            raise LookupError(f"no list index {step!r}")
        if int(step) >= len(value):
            raise LookupError(f"no index {step} of {len(value)} members")
        return value[int(step)]
    raise LookupError(f"no member {step!r}: not an object or a list")


def _select(members: list[Any], selector: str) -> Any:
    wanted = dict(part.split("=") for part in selector.split(","))
    fitting = [
        member
        for member in members
        if isinstance(member, dict) and all(member.get(name) == text for name, text in wanted.items())
    ]
    if len(fitting) != 1:
        raise LookupError(f"{len(fitting)} members with {selector}")
    return fitting[0]
