"""Whether this process is about to end: told to (SIGTERM), it says so first and goes on answering for a moment.

A balancer needs that moment to see that the service is not ready, and clients with open connections need it to be told to
close them (`Connection: close`): a connection closed under a client that is just sending would lose its request.
"""

from __future__ import annotations

import asyncio
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from warmstead.api.settings import SETTINGS


class _State:
    draining = False


def is_draining() -> bool:
    """Return whether this process has been told to end."""
    return _State.draining


@contextmanager
def notice_before_the_end() -> Iterator[None]:
    """Within the event loop: let SIGTERM reach the server only after a notice of `seconds_of_notice`.

    Does nothing outside the main thread, where no signal arrives.
    """
    _State.draining = False
    ends = signal.getsignal(signal.SIGTERM)
    if threading.current_thread() is not threading.main_thread() or not callable(ends):
        yield
        return
    loop = asyncio.get_running_loop()

    def told(number: int, frame: FrameType | None) -> None:
        if not _State.draining:
            _State.draining = True
            loop.call_soon_threadsafe(loop.call_later, SETTINGS.seconds_of_notice, ends, number, None)

    signal.signal(signal.SIGTERM, told)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, ends)
