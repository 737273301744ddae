"""Where the documents of a batch come from: lines of JSON, a folder of JSON files, or a Parquet table."""

from __future__ import annotations

import gzip
import os
from collections.abc import Iterator
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import IO, Protocol, cast

from warmstead.exchange.batch.stating import Item
from warmstead.exchange.ndjson import LineReader

PIECE_BYTES = 256 * 1024


class Unreadable(Exception):
    """A source is not what its name says, or cannot be read; says what would be accepted."""


class Source(Protocol):
    """Documents in an order that is the same each time."""

    size: int
    """How large it is, in whatever it is read by: bytes, files or rows."""

    def items(self) -> Iterator[tuple[Item, int]]:
        """Yield each document, and how much of the source had been read by then.

        Raises:
            Unreadable: the source cannot be read on.
        """
        ...


class LineSource:
    """A file with a document on each line, compressed with gzip or not."""

    def __init__(self, path: Path, longest: int) -> None:
        """Args: path: the file; longest: bytes that a line may have."""
        self._path = path
        self._longest = longest
        self.size = path.stat().st_size

    def items(self) -> Iterator[tuple[Item, int]]:
        """Yield each line that is not blank, and the bytes of the file read by then."""
        reader = LineReader(self._longest)
        try:
            with self._path.open("rb") as file, self._text(file) as text:
                while piece := text.read(PIECE_BYTES):
                    read = file.tell()
                    for line in reader.feed(piece):
                        yield Item(line.number, line.text), read
                for line in reader.end():
                    yield Item(line.number, line.text), self.size
        except (OSError, EOFError) as error:
            raise Unreadable(f"{self._path} cannot be read on after line {reader.number}: {error}") from None

    def _text(self, file: IO[bytes]) -> AbstractContextManager[IO[bytes]]:
        compressed = self._path.suffix == ".gz"
        return cast("IO[bytes]", gzip.open(file)) if compressed else nullcontext(file)


class FolderSource:
    """A folder of JSON files, a document in each, by their names; the name without `.json` is the document's id."""

    def __init__(self, folder: Path, longest: int) -> None:
        """Args: folder: where the files are; longest: bytes that a file may have."""
        self._folder = folder
        self._longest = longest
        self._names = sorted(entry.name for entry in os.scandir(folder) if entry.name.endswith(".json"))
        self.size = len(self._names)
        if not self._names:
            raise Unreadable(f"{folder} has no file whose name ends in .json")

    def items(self) -> Iterator[tuple[Item, int]]:
        """Yield each file."""
        for number, name in enumerate(self._names, start=1):
            path = self._folder / name
            try:
                with path.open("rb") as file:
                    text: bytes | None = file.read(self._longest + 1)
            except OSError as error:
                raise Unreadable(f"{path} cannot be read: {error}") from None
            assert text is not None
            yield (
                Item(number, text if len(text) <= self._longest else None, name.removesuffix(".json")),
                number,
            )


def source_of(path: Path, form: str | None, longest: int) -> Source:
    """Return the documents at a path.

    Args:
        path: a file or a folder.
        form: `ndjson` or `parquet`; by the name's ending where None.
        longest: bytes that a document may have.

    Raises:
        Unreadable: its form is not known, or it has no documents.
    """
    if path.is_dir():
        return FolderSource(path, longest)
    if (form or form_of(path)) == "parquet":
        from warmstead.exchange.batch.parquet import ParquetSource

        return ParquetSource(path, longest)
    return LineSource(path, longest)


ENDINGS = {".ndjson": "ndjson", ".jsonl": "ndjson", ".parquet": "parquet"}


def form_of(path: Path) -> str:
    """Return the form that the ending of a name says, `.gz` after it left aside.

    Raises:
        Unreadable: no form is known by this ending.
    """
    name = path.name.removesuffix(".gz")
    ending = Path(name).suffix
    if ending not in ENDINGS or (ending == ".parquet" and name != path.name):
        raise Unreadable(
            f"{path.name}: no form is known by this ending; .ndjson, .jsonl, both with or without .gz, and .parquet are"
        )
    return ENDINGS[ending]
