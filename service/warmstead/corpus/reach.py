"""Clients for each way to reach what is checked: over HTTP, as a program, in this process."""

from __future__ import annotations

import shlex
from typing import Any

import httpx

from warmstead.corpus.files import CorpusError
from warmstead.corpus.in_process import InProcessTransport
from warmstead.corpus.program import ProgramTransport


def reach_url(url: str, timeout: float, key: str | None = None) -> httpx.Client:
    """Return a client of the service at an address.

    Args:
        url: the address.
        timeout: seconds for each answer.
        key: what the service asks its callers for, where it does.

    Raises:
        CorpusError: this is no address.
    """
    try:
        address = httpx.URL(url)
    except httpx.InvalidURL as error:
        raise CorpusError([f"{url!r} is no address: {error}"]) from error
    if address.scheme not in ("http", "https") or not address.host:
        raise CorpusError([f"{url!r} is no address; one begins with http:// or https://"])
    headers = {} if key is None else {"Authorization": f"Bearer {key}"}
    return httpx.Client(base_url=address, timeout=timeout, headers=headers)


def reach_program(command: str, timeout: float) -> httpx.Client:
    """Return a client of a program, given with its arguments as in a shell.

    Raises:
        CorpusError: nothing is named, or a quotation mark is not closed.
    """
    try:
        words = shlex.split(command)
    except ValueError as error:
        raise CorpusError([f"{command!r} is no command: {error}"]) from error
    if not words:
        raise CorpusError(["the command names no program"])
    return httpx.Client(transport=ProgramTransport(words), base_url="http://program", timeout=timeout)


def reach_in_process(app: Any, timeout: float) -> httpx.Client:
    """Return a client of an ASGI application in this process."""
    return httpx.Client(transport=InProcessTransport(app), base_url="http://in-process", timeout=timeout)
