"""The service with a fault planted from outside: `python planted.py leak serve --port 8080`.

leak     keeps some kilobytes of every request
wrong    answers every five hundredth request with a digit changed
sockets  opens a descriptor for every fiftieth request and forgets it
"""

from __future__ import annotations

import os
import sys
from itertools import count
from typing import Any

import warmstead.api.app as served

KEPT_BYTES = int(os.environ.get("SOAK_KEPT_BYTES", "4096"))
_kept: list[Any] = []
_number = count(1)


def _planted(fault: str, app: Any) -> Any:
    async def planted(scope: Any, receive: Any, send: Any) -> None:
        number = next(_number) if scope["type"] == "http" else 0
        if fault == "leak" and number:
            _kept.append(bytes(KEPT_BYTES))
        if fault == "sockets" and number and number % 50 == 0:
            _kept.append(os.open(os.devnull, os.O_RDONLY))

        async def changed(message: Any) -> None:
            if fault == "wrong" and number % 500 == 0 and message["type"] == "http.response.body":
                message = message | {"body": message["body"].replace(b"1", b"2")}
            await send(message)

        await app(scope, receive, changed)

    return planted


if __name__ == "__main__":
    from warmstead.cli import main

    served.app = _planted(sys.argv[1], served.app)
    sys.argv = ["warmstead", *sys.argv[2:]]
    main()
