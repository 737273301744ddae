"""Answers as files: each part by itself, then joined in the order of the source."""

from __future__ import annotations

import gzip
import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path

from warmstead.exchange.batch.parts import Asked
from warmstead.exchange.batch.stating import Statement

FORMS = ("ndjson", "ndjson.gz", "parquet")
COMPRESSION = 3
"""Of gzip: the higher ones take as long as the answers themselves."""


def written(statements: Sequence[Statement], asked: Asked) -> bytes:
    """Return a part's answers in the form that is asked for."""
    if asked.form == "parquet":
        from warmstead.exchange.batch.parquet import table_bytes

        return table_bytes(statements, asked)
    lines = b"".join(statement.line() for statement in statements)
    return gzip.compress(lines, COMPRESSION, mtime=0) if asked.form == "ndjson.gz" else lines


def join(parts: Iterable[Path], asked: Asked, output: Path) -> None:
    """Make the output of its parts, all of it or nothing."""
    unfinished = output.with_name(f"{output.name}.unfinished")
    if asked.form == "parquet":
        from warmstead.exchange.batch.parquet import join_tables

        join_tables(parts, asked, unfinished)
    else:
        with unfinished.open("wb") as file:
            for part in parts:
                with part.open("rb") as content:
                    shutil.copyfileobj(content, file)
    unfinished.replace(output)
