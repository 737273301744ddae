"""Keys that callers show: random, known here only by their hashes, in a file that may change while the service runs.

A key is 256 random bits. Nobody can guess one, so that a plain SHA-256 keeps it as safe as a slow hash would: slow hashes
protect words that people choose, and would cost each request what the answer itself costs.
"""

from __future__ import annotations

import hmac
import logging
import re
import secrets
import time
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import NamedTuple

PREFIX = "warmstead_"
"""Every key begins with it, so that programs that look for leaked secrets can know one."""
RANDOM_BYTES = 32
LONGEST_KEY = 256
"""Characters that are looked at; a key has 53."""
MOST_KEYS = 200
LARGEST_FILE = 64 * 1024
SECONDS_BETWEEN_LOOKS = 1.0
LINE = re.compile(r"(?P<name>[A-Za-z0-9][A-Za-z0-9_.-]{0,63})\s+sha256:(?P<hash>[0-9a-f]{64})")

_log = logging.getLogger(__name__)


class UnusableKeys(Exception):
    """A file of keys cannot be used; says why, and what it has to hold."""


class Key(NamedTuple):
    """A key in force: what it is called, and its hash."""

    name: str
    digest: bytes


class NewKey(NamedTuple):
    """A key that was just made."""

    secret: str
    """For the caller; kept nowhere."""
    line: str
    """For the keys file."""


def new_key(name: str) -> NewKey:
    """Make a key.

    Args:
        name: whose key it is: letters, digits, `.`, `_`, `-`; 64 at most.

    Raises:
        UnusableKeys: the name is not of that form.
    """
    secret = PREFIX + secrets.token_urlsafe(RANDOM_BYTES)
    line = f"{name} sha256:{sha256(secret.encode()).hexdigest()}"
    if LINE.fullmatch(line) is None:
        raise UnusableKeys(
            "a name has letters, digits, '.', '_' and '-', 64 at most, and begins with a letter or a digit"
        )
    return NewKey(secret, line)


def parsed(text: str) -> tuple[list[Key], list[str]]:
    """Return the keys of a file's text, and what is wrong with its other lines. Wrong lines let nobody in.

    Args:
        text: a key a line, `NAME sha256:HASH`; empty lines and those that begin with `#` are passed over.
    """
    keys: dict[str, Key] = {}
    wrong: list[str] = []
    for number, line in enumerate(text.splitlines(), start=1):
        stripped = line.strip()
        if not stripped or stripped.startswith("#"):
            continue
        found = LINE.fullmatch(stripped)
        if found is None:
            wrong.append(f"line {number} is not of the form NAME sha256:HASH")
        elif found["name"] in keys:
            wrong.append(f"line {number} has a name that is used already")
        elif len(keys) == MOST_KEYS:
            wrong.append(f"line {number} is past the {MOST_KEYS} keys that a file may hold")
        else:
            keys[found["name"]] = Key(found["name"], bytes.fromhex(found["hash"]))
    return list(keys.values()), wrong


class Keys:
    """The keys of a file, read again when it changes."""

    def __init__(self, file: Path, clock: Callable[[], float] = time.monotonic) -> None:
        """Read the file.

        Args:
            file: a key a line.
            clock: seconds that only grow.

        Raises:
            UnusableKeys: the file cannot be read, holds no key, or holds a line that is none.
        """
        self._file = file
        self._clock = clock
        self._next_look = clock() + SECONDS_BETWEEN_LOOKS
        self._seen: object = None
        try:
            self._keys, wrong = self._read()
        except OSError as error:
            raise UnusableKeys(f"the keys file cannot be read: {error.strerror or error}") from None
        if wrong:
            raise UnusableKeys(f"the keys file: {'; '.join(wrong[:5])}")
        if not self._keys:
            raise UnusableKeys("the keys file holds no key; `warmstead key new` makes one")

    def holder(self, secret: bytes) -> str | None:
        """Return the name of a key in force; nothing, where what was shown is none.

        Each key is compared, in a time that does not depend on what was shown.
        """
        self._look()
        if len(secret) > LONGEST_KEY:
            return None
        digest = sha256(secret).digest()
        holder = None
        for name, known in self._keys:
            if hmac.compare_digest(digest, known):
                holder = name
        return holder

    def _look(self) -> None:
        now = self._clock()
        if now < self._next_look:
            return
        self._next_look = now + SECONDS_BETWEEN_LOOKS
        try:
            if self._mark() == self._seen:
                return
            self._keys, wrong = self._read()
        except OSError as error:
            # A file that is being replaced may be gone for a moment; those who had a key must not notice.
            _log.error("the keys file cannot be read (%s); the keys read last stay in force", error.strerror)
            return
        _log.info("keys file read again: %d in force", len(self._keys))
        for problem in wrong:
            _log.error("keys file: %s; it lets nobody in", problem)

    def _mark(self) -> object:
        about = self._file.stat()
        return about.st_mtime_ns, about.st_size, about.st_ino

    def _read(self) -> tuple[list[Key], list[str]]:
        # The mark first: a change between the two is then seen at the next look.
        self._seen = self._mark()
        with self._file.open("rb") as opened:
            held = opened.read(LARGEST_FILE + 1)
        if len(held) > LARGEST_FILE:
            raise OSError(0, f"larger than {LARGEST_FILE} bytes")
        return parsed(held.decode("utf-8", errors="replace"))
