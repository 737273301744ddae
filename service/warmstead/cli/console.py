"""Where what a command says is drawn."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.console import Console


def console(**options: Any) -> Console:
    """Return a console that keeps tables whole when its output is a file; COLUMNS sets another width."""
    from rich.console import Console

    own = Console(**options)
    if own.is_terminal:
        return own
    return Console(width=int(os.environ.get("COLUMNS", "140")), **options)
