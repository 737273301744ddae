"""Documents put together into parts: what is given to a worker at once, and what is done or not done.

A part's key is made of all that its answers depend on. So a part that is done needs no trust to be passed over: where a document, the
question or the version is another, the key is another.
"""

from __future__ import annotations

from collections.abc import Iterator
from hashlib import blake2b
from typing import NamedTuple

from warmstead.exchange.batch.sources import Source
from warmstead.exchange.batch.stating import Content, Item
from warmstead.tables import TABLES_VERSION
from warmstead.version import __version__

MOST_BYTES = 2 * 1024 * 1024
MOST_ITEMS = 1000
KEY_BYTES = 16


class Asked(NamedTuple):
    """What is asked of every document, and how the answers are written."""

    question: str
    content: Content
    form: str
    """Of the answers: `ndjson`, `ndjson.gz` or `parquet`."""
    longest: int
    """Bytes that a document may have."""
    version: str = __version__
    """Of the service, so that a worker with another one says so."""
    tables: str = TABLES_VERSION


class Part(NamedTuple):
    """Some documents that stand one after the other."""

    number: int
    key: str
    items: list[Item]
    read: int
    """How much of the source had been read with the last of them."""


def parts(source: Source, asked: Asked) -> Iterator[Part]:
    """Cut a source into parts, the same each time it is the same."""
    items: list[Item] = []
    size = number = read = 0
    for item, read in source.items():
        items.append(item)
        size += len(item.text or b"")
        if size >= MOST_BYTES or len(items) >= MOST_ITEMS:
            yield Part(number, key_of(asked, items), items, read)
            items, size, number = [], 0, number + 1
    if items:
        yield Part(number, key_of(asked, items), items, read)


def key_of(asked: Asked, items: list[Item]) -> str:
    """Return what tells these documents and this question from all others."""
    made = blake2b(repr(asked).encode(), digest_size=KEY_BYTES)
    for item in items:
        # Lengths keep apart what stands next to each other.
        head = f"\n{item.number} {item.id!r} {-1 if item.text is None else len(item.text)}\n"
        made.update(head.encode())
        made.update(item.text or b"")
    return made.hexdigest()
