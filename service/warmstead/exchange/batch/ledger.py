"""Which parts of a run are done: a folder of finished parts beside the output, and a list of them that only grows.

A part is written under another name and then renamed, and only after that listed. A run that is killed at any moment therefore
leaves parts that are whole and listed, or that are done again; none is lost, and none counts twice.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import NamedTuple

import orjson

LIST = "done.ndjson"


class Done(NamedTuple):
    """A finished part."""

    key: str
    items: int
    refused: int


class Ledger:
    """The finished parts of one output."""

    def __init__(self, output: Path) -> None:
        """Args: output: the file that is joined of the parts in the end."""
        self.folder = output.with_name(f"{output.name}.parts")
        self.folder.mkdir(parents=True, exist_ok=True)
        self._done = {done.key: done for done in self._listed()}

    def done(self, key: str) -> Done | None:
        """Return a part that is finished, if it is."""
        return self._done.get(key)

    def path(self, key: str) -> Path:
        """Return the file of a part."""
        return self.folder / key

    def keep(self, done: Done, content: bytes) -> None:
        """Keep a finished part so that it survives whatever comes."""
        unfinished = self.folder / f"{done.key}.unfinished"
        _write_through(unfinished, content, "wb")
        unfinished.replace(self.path(done.key))
        # A line's end before it as well: the line before may have been cut off.
        _write_through(self.folder / LIST, b"\n" + orjson.dumps(done._asdict()) + b"\n", "ab")
        self._done[done.key] = done

    def remove(self) -> None:
        """Remove all parts; their output is made."""
        shutil.rmtree(self.folder)

    def _listed(self) -> list[Done]:
        try:
            lines = (self.folder / LIST).read_bytes().split()
        except FileNotFoundError:
            return []
        found = []
        for line in lines:
            try:
                found.append(Done(**orjson.loads(line)))
            except (orjson.JSONDecodeError, TypeError):
                continue  # cut off when the run was killed
        return [done for done in found if self.path(done.key).is_file()]


def _write_through(path: Path, content: bytes, mode: str) -> None:
    with path.open(mode) as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
