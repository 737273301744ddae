"""Loaded by each Python of a test's service: houses of certain ids are slow, or deadly to their process."""

from __future__ import annotations

import os
import signal
import time
from typing import Any

from warmstead.exchange.batch import stating

state = stating.state
SLOW_SECONDS = 60.0


def planted(question: str, item: Any, *more: Any) -> Any:
    if b'"id": "slow"' in (item.text or b""):
        time.sleep(SLOW_SECONDS)
    if b'"id": "deadly"' in (item.text or b""):
        os.kill(os.getpid(), signal.SIGKILL)
    return state(question, item, *more)


vars(stating)["state"] = planted
