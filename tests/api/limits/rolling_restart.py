"""Does a rolling restart lose requests? Restarts under load, one after the other, every request counted.

    python -m tests.api.limits.rolling_restart [--restarts 5] [--workers 2] [--connections 16]

The load is small questions without pause over connections kept open, by clients that send no request over a connection after
they were told that it closes. Ends with status 1 where a request was lost.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import signal
import sys
import tempfile
from pathlib import Path

from .running import serving
from .steady_load import Load


def main() -> int:
    """Restart, count and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--restarts", type=int, default=5)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--connections", type=int, default=16)
    asked = parser.parse_args()
    answered = connections = lost = 0
    with (
        tempfile.TemporaryDirectory() as folder,
        serving(Path(folder), "--workers", str(asked.workers)) as service,
    ):
        for restart in range(1, asked.restarts + 1):
            before = service.servers()

            def restarted(before: set[int] = before) -> bool:
                now = service.servers()
                return len(now) == asked.workers and not now & before

            load = Load(service.port, asked.connections)
            outcome = asyncio.run(
                load.until(restarted, lambda: os.kill(service.process.pid, signal.SIGHUP), seconds=600)
            )
            answered += outcome.answered
            connections += outcome.connections
            lost += len(outcome.lost)
            print(
                f"restart {restart}: {outcome.answered} answered over {outcome.connections} connections, lost: {outcome.lost or 'none'}"
            )
    print(f"{answered} answered over {connections} connections, {lost} lost")
    return 1 if lost else 0


if __name__ == "__main__":
    sys.exit(main())
