"""The demonstration house (invented)."""

from typing import Any


def requests() -> dict[str, Any]:
    return {}
