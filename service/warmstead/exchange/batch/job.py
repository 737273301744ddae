"""A whole run: parts are given out, kept when they come back, and joined; a run that was stopped goes on where it was."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import FIRST_COMPLETED, CancelledError, Future, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from warmstead.exchange.batch.ledger import Done, Ledger
from warmstead.exchange.batch.outputs import join, written
from warmstead.exchange.batch.parts import Asked, Part, parts
from warmstead.exchange.batch.pools import Pool, PoolFailed
from warmstead.exchange.batch.sources import Source
from warmstead.exchange.batch.stating import Item, state
from warmstead.tables import TABLES_VERSION
from warmstead.version import __version__

MOST_TRIES = 3
"""Times that a part is given out when its workers break; after that it is the part that breaks them."""


class Counted(NamedTuple):
    """How far a run is."""

    items: int = 0
    refused: int = 0
    taken_over: int = 0
    """Of the items, those that an earlier run had done."""
    read: int = 0
    """How much of the source, as `Source.size` counts."""


class OtherVersion(Exception):
    """A worker has another version of this package or of its tables."""


def answer_part(asked: Asked, items: list[Item]) -> tuple[int, bytes]:
    """Return how many of some items were refused, and what all of them got, written; done by a worker.

    Raises:
        OtherVersion: this worker would give other answers than the others.
    """
    if (__version__, TABLES_VERSION) != (asked.version, asked.tables):
        raise OtherVersion(
            f"a worker has version {__version__} with tables {TABLES_VERSION}, not {asked.version} with {asked.tables}"
        )
    statements = [state(asked.question, item, asked.content, asked.longest) for item in items]
    return sum(statement.status != 200 for statement in statements), written(statements, asked)


def run(
    source: Source, asked: Asked, output: Path, pool: Pool, advance: Callable[[Counted], None]
) -> Counted:
    """Answer all documents of a source into a file, and return how many there were.

    Args:
        source: the documents.
        asked: the question, and the form of the answers.
        output: the file; finished parts stand in a folder beside it until it is whole.
        pool: who works.
        advance: called with how far the run is, after each part.

    Raises:
        Unreadable: the source cannot be read on.
        PoolFailed: the work cannot go on.
    """
    ledger = Ledger(output)
    with closing(pool):
        giving_out = _GivingOut(asked, ledger, pool, advance)
        keys = [giving_out.take(part) for part in parts(source, asked)]
        giving_out.finish()
    join((ledger.path(key) for key in keys), asked, output)
    ledger.remove()
    return giving_out.counted


class _GivingOut:
    """Parts that are given out, as many as the pool takes at a time."""

    def __init__(self, asked: Asked, ledger: Ledger, pool: Pool, advance: Callable[[Counted], None]) -> None:
        self._asked = asked
        self._ledger = ledger
        self._pool = pool
        self._advance = advance
        self._waiting: dict[Future[tuple[int, bytes]], Part] = {}
        self._tries: dict[str, int] = {}
        self.counted = Counted()

    def take(self, part: Part) -> str:
        """Give out a part, unless it is done; returns its key."""
        done = self._ledger.done(part.key)
        if done is not None:
            self._count(done, part, taken_over=done.items)
            return part.key
        while len(self._waiting) >= self._pool.window:
            self._collect()
        self._give_out(part)
        return part.key

    def finish(self) -> None:
        """Wait for all that is given out."""
        while self._waiting:
            self._collect()

    def _give_out(self, part: Part) -> None:
        self._tries[part.key] = self._tries.get(part.key, 0) + 1
        try:
            future = self._pool.submit(answer_part, self._asked, part.items)
        except BrokenProcessPool as error:  # it broke just now, and nothing has come back yet
            future = Future()
            future.set_exception(error)
        self._waiting[future] = part

    def _collect(self) -> None:
        """Keep what has come back, at least one part."""
        for future in wait(self._waiting, return_when=FIRST_COMPLETED).done:
            part = self._waiting[future]
            try:
                refused, content = future.result()
            except BrokenProcessPool:
                self._begin_again()
                return
            except CancelledError:
                raise PoolFailed("the cluster gave the work back undone") from None
            except Exception as error:
                # Of the worker, of the cluster, of its disk: it is named, and the run can go on later.
                raise PoolFailed(
                    f"part {part.number} could not be done: {type(error).__name__}: {error}"
                ) from None
            del self._waiting[future]
            done = Done(part.key, len(part.items), refused)
            self._ledger.keep(done, content)
            self._tries.pop(part.key)
            self._count(done, part)

    def _begin_again(self) -> None:
        """Give out once more what was lost with a broken process."""
        lost = list(self._waiting.values())
        self._waiting.clear()
        tried_most = max(lost, key=lambda part: self._tries[part.key])
        if self._tries[tried_most.key] >= MOST_TRIES:
            first, last = tried_most.items[0].number, tried_most.items[-1].number
            raise PoolFailed(
                f"processes ended {MOST_TRIES} times, at documents {first} to {last} or others at the same time"
            )
        self._pool.begin_again()
        for part in lost:
            self._give_out(part)

    def _count(self, done: Done, part: Part, taken_over: int = 0) -> None:
        was = self.counted
        self.counted = Counted(
            was.items + done.items,
            was.refused + done.refused,
            was.taken_over + taken_over,
            max(was.read, part.read),
        )
        self._advance(self.counted)
