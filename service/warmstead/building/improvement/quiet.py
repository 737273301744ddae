"""Standard output kept clean while compiled code works: the solver writes a line there now and then, whatever its options.

An answer on a command line and the answers of worker processes go out by the same descriptor, and a stray line spoils them.
"""

from __future__ import annotations

import ctypes
import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress

_STANDARD_OUTPUT = 1
_ONE_AT_A_TIME = threading.Lock()
"""The descriptor belongs to the whole process: two threads at once would put back each other's."""


@contextmanager
def quiet() -> Iterator[None]:
    """Send what compiled code writes to standard output nowhere; Python's own `sys.stdout` keeps what it has not written yet."""
    with _ONE_AT_A_TIME:
        try:
            kept = os.dup(_STANDARD_OUTPUT)
        except OSError:  # there is no standard output
            yield
            return
        _flush()
        nowhere = os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, _STANDARD_OUTPUT)
            yield
        finally:
            _flush()
            os.dup2(kept, _STANDARD_OUTPUT)
            os.close(nowhere)
            os.close(kept)


def _flush() -> None:
    """Write out what the C library holds back, so that it ends where it was meant to."""
    with suppress(OSError, TypeError, AttributeError):  # no C library to be had by that name
        ctypes.CDLL(None).fflush(None)
