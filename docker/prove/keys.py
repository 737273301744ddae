"""Checks of a container that asks for keys, from its inside; run by prove.sh as `python - < keys.py` with the key in KEY."""

from __future__ import annotations

import os
import time
import urllib.error
import urllib.request

BASE = "http://127.0.0.1:8080"


def status(path: str, key: str | None = None) -> int:
    """Return the status of an answer."""
    headers = {} if key is None else {"Authorization": f"Bearer {key}"}
    try:
        with urllib.request.urlopen(
            urllib.request.Request(BASE + path, headers=headers), timeout=5
        ) as response:
            return int(response.status)
    except urllib.error.HTTPError as error:
        return error.code


def main() -> None:
    """Check everything; the first failure ends it."""
    for _ in range(3000):
        try:
            assert status("/readyz") == 200
            break
        except OSError:
            time.sleep(0.01)
    else:
        raise AssertionError("no answer within 30 s")
    key = os.environ["KEY"]
    asked = {"none": None, "a wrong one": key[:-1] + "!", "the right one": key}
    answered = {shown: status("/v1/tables", given) for shown, given in asked.items()}
    assert answered == {"none": 401, "a wrong one": 401, "the right one": 200}, answered
    assert status("/metrics") == 401
    assert status("/metrics", key) == 200
    print("by the key that is shown:", answered)


main()
