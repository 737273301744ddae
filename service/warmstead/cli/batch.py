"""One question asked of many documents: a housing stock."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from warmstead.cli.ask import QUESTIONS

if TYPE_CHECKING:
    from warmstead.exchange.batch.job import Counted
    from warmstead.exchange.batch.pools import Pool
    from warmstead.exchange.batch.sources import Source


@click.command()
@click.argument("documents", type=click.Path(exists=True, path_type=Path))
@click.argument("output", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--question", required=True, type=click.Choice(QUESTIONS), help="Asked of each document.")
@click.option(
    "--content",
    type=click.Choice(["full", "summary"]),
    default="full",
    show_default=True,
    help="Whole answers, or their totals.",
)
@click.option(
    "--from",
    "source_form",
    type=click.Choice(["ndjson", "parquet"]),
    help="Form of DOCUMENTS; by its name where absent.",
)
@click.option(
    "--as",
    "form",
    type=click.Choice(["ndjson", "ndjson.gz", "parquet"]),
    help="Form of OUTPUT; by its name where absent.",
)
@click.option(
    "--workers", type=click.IntRange(1, 512), help="Processes; one for each processor where absent."
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Scheduler of a Dask cluster that works instead, such as tcp://scheduler.example:8786.",
)
@click.option("--overwrite", is_flag=True, help="Write OUTPUT anew where it exists.")
def batch(
    documents: Path,
    output: Path,
    question: str,
    content: Any,
    source_form: str | None,
    form: str | None,
    workers: int | None,
    cluster: str | None,
    overwrite: bool,
) -> None:
    """Ask QUESTION of all DOCUMENTS and write what each got to OUTPUT.

    DOCUMENTS is a file with a request on each line (.ndjson, .jsonl, with or without .gz), a Parquet table with a column `document` of
    requests, or a folder with a request in each .json file. A request may have an `id` beside it.

    A run that was stopped goes on where it was when it is started again. Exit status: 0 all were answered; 1 some were refused, each
    with its reasons in OUTPUT; 2 wrong use, or the run could not be finished.
    """
    from warmstead.api.settings import SETTINGS
    from warmstead.exchange.batch.job import run
    from warmstead.exchange.batch.parts import Asked
    from warmstead.exchange.batch.pools import PoolFailed
    from warmstead.exchange.batch.sources import Unreadable, source_of

    if cluster is not None and workers is not None:
        raise click.UsageError("--workers are of this machine, a --cluster has its own")
    if output.exists() and not overwrite:
        raise click.UsageError(f"{output} exists; give another name, or --overwrite")
    started = time.monotonic()
    try:
        asked = Asked(question, content, form or _form_by_name(output), SETTINGS.maximum_body_bytes)
        source = source_of(documents, source_form, asked.longest)
        with _progress(source) as advance:
            counted = run(source, asked, output, _pool(workers, cluster), advance)
    except (Unreadable, PoolFailed, OSError) as error:
        click.echo(str(error), err=True)
        sys.exit(2)
    except KeyboardInterrupt:
        click.echo("stopped; the same command goes on from here", err=True)
        sys.exit(2)
    click.echo(_said(counted, output, time.monotonic() - started), err=True)
    sys.exit(1 if counted.refused else 0)


def _form_by_name(output: Path) -> str:
    from warmstead.exchange.batch.sources import form_of

    form = form_of(output)
    return f"{form}.gz" if output.suffix == ".gz" else form


def _pool(workers: int | None, cluster: str | None) -> Pool:
    from warmstead.exchange.batch.pools import ClusterPool, LocalPool

    if cluster is not None:
        return ClusterPool(cluster)
    return LocalPool(workers or os.cpu_count() or 1)


@contextmanager
def _progress(source: Source) -> Iterator[Callable[[Counted], None]]:
    """Yield what to call with how far a run is; draws a bar on standard error if that is a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TaskProgressColumn, TextColumn, TimeRemainingColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task("documents", total=source.size)

        def advance(counted: Counted) -> None:
            said = f"{counted.items:,} documents, {counted.refused:,} refused"
            bar.update(task, completed=counted.read, description=said)

        yield advance


def _said(counted: Counted, output: Path, seconds: float) -> str:
    done = counted.items - counted.taken_over
    earlier = f" ({counted.taken_over:,} by an earlier run)" if counted.taken_over else ""
    return (
        f"{counted.items:,} documents{earlier}: {counted.items - counted.refused:,} answered, {counted.refused:,} refused; "
        f"{done / seconds:,.0f} a second; in {output}"
    )


@click.command()
@click.option("--houses", default=1000, show_default=True, type=click.IntRange(1), help="How many.")
@click.option(
    "--seed", default=1, show_default=True, help="Of the numbers drawn: the same seed, the same houses."
)
def stock(houses: int, seed: int) -> None:
    """Write an invented housing stock to try `batch` on: variations of the demonstration house, one on each line."""
    import orjson

    from warmstead.demo.stock import housing_stock

    for request in housing_stock(houses, seed):
        click.echo(orjson.dumps(request))
