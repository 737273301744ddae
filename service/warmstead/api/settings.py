"""What the service may be told by its environment."""

from __future__ import annotations

import os

MAXIMUM_BODY_BYTES = int(os.environ.get("WARMSTEAD_MAXIMUM_BODY_BYTES", str(8 * 1024 * 1024)))
"""Largest request body; about 15,000 elements fit."""

LONG_QUESTIONS_AT_ONCE = int(os.environ.get("WARMSTEAD_LONG_QUESTIONS_AT_ONCE", str(os.cpu_count() or 1)))
"""Questions that take long (many draws, many states) and are worked on at the same time, in each worker process."""
