"""Batches as Parquet tables: a column of documents in, columns of answers out. Needs the extra `parquet`."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import orjson

from warmstead.exchange.batch.parts import Asked
from warmstead.exchange.batch.sources import Unreadable
from warmstead.exchange.batch.stating import Item, Statement
from warmstead.exchange.batch.summary import WARNING_CODES, summary_columns
from warmstead.questions.registry import QUESTIONS

try:
    import pyarrow as pa
    import pyarrow.parquet as pq
except ImportError as error:
    raise Unreadable(f"Parquet needs the extra: pip install 'warmstead[parquet]' ({error})") from None

ROWS_AT_ONCE = 256
DOCUMENT, ID = "document", "id"
OWN = ("line", "status", ID, "problem")
"""Columns that every table of answers has; a total of the same name has `answer_` before it."""


class ParquetSource:
    """A table with a column `document` of JSON texts, and a column `id` if it likes."""

    def __init__(self, path: Path, longest: int) -> None:
        """Args: path: the file; longest: bytes that a document may have.

        Raises:
            Unreadable: it is no Parquet table, or has no such column.
        """
        self._path = path
        self._longest = longest
        try:
            with pq.ParquetFile(path) as file:
                self.size = file.metadata.num_rows
                names = file.schema_arrow.names
        except (OSError, pa.ArrowException) as error:
            raise Unreadable(f"{path} is no Parquet table: {error}") from None
        if DOCUMENT not in names:
            raise Unreadable(f"{path} has no column {DOCUMENT}, which holds the JSON documents")
        self._columns = [name for name in (DOCUMENT, ID) if name in names]

    def items(self) -> Iterator[tuple[Item, int]]:
        """Yield each row."""
        number = 0
        try:
            with pq.ParquetFile(self._path) as file:
                for rows in file.iter_batches(ROWS_AT_ONCE, columns=self._columns):
                    texts = rows.column(DOCUMENT).cast(pa.large_binary()).to_pylist()
                    ids = (
                        rows.column(ID).cast(pa.string()).to_pylist()
                        if ID in self._columns
                        else [None] * len(texts)
                    )
                    for text, own_id in zip(texts, ids, strict=True):
                        number += 1
                        text = text or b""
                        yield Item(number, text if len(text) <= self._longest else None, own_id), number
        except (OSError, pa.ArrowException) as error:
            raise Unreadable(f"{self._path} cannot be read on after row {number}: {error}") from None


def schema(asked: Asked) -> pa.Schema:
    """Return the columns of a table of answers: totals each in their own, whole answers and problems as JSON."""
    own = [("line", pa.int64()), ("status", pa.int16()), (ID, pa.string())]
    if asked.content == "full":
        return pa.schema([*own, ("answer", pa.string()), ("problem", pa.string())])
    kinds = {float: pa.float64(), int: pa.int64(), bool: pa.bool_(), str: pa.string()}
    totals = [
        (_column(name), kinds[kind]) for name, kind in summary_columns(QUESTIONS[asked.question]).items()
    ]
    return pa.schema([*own, *totals, (WARNING_CODES, pa.list_(pa.string())), ("problem", pa.string())])


def _column(total: str) -> str:
    return f"answer_{total}" if total in OWN else total


def table_bytes(statements: Sequence[Statement], asked: Asked) -> bytes:
    """Return answers as a Parquet file."""
    rows = [_row(statement, asked) for statement in statements]
    file = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(rows, schema(asked)), file)
    return file.getvalue()


def _row(statement: Statement, asked: Asked) -> dict[str, Any]:
    row: dict[str, Any] = {"line": statement.number, "status": statement.status, ID: statement.id}
    if statement.problem is not None:
        return row | {"problem": orjson.dumps(statement.problem).decode()}
    answer = statement.answer or {}
    if asked.content == "full":
        return row | {"answer": orjson.dumps(answer).decode()}
    return row | {_column(name): value for name, value in answer.items()}


def join_tables(parts: Iterable[Path], asked: Asked, output: Path) -> None:
    """Write the tables of all parts as one, part by part."""
    with pq.ParquetWriter(output, schema(asked)) as writer:
        for part in parts:
            writer.write_table(pq.read_table(part, schema=schema(asked)))
