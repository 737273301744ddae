"""Loaded by each Python of a test's service: houses of certain ids are slow, deaf to alarms, or deadly to their process."""

from __future__ import annotations

import os
import signal
import time
from typing import Any

from warmstead.api import batch
from warmstead.exchange.batch import working

batch.START_SECONDS = 8.0
state = working.state
SLOW_SECONDS = 60.0


def planted(question: str, item: Any, *more: Any) -> Any:
    if b'"id": "slow"' in (item.text or b""):
        time.sleep(SLOW_SECONDS)
    if b'"id": "deaf"' in (item.text or b""):
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGALRM})
        time.sleep(SLOW_SECONDS)
    if b'"id": "deadly"' in (item.text or b""):
        os.kill(os.getpid(), signal.SIGKILL)
    return state(question, item, *more)


working.state = planted
