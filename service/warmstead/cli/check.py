"""The reference cases, put to a service."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from warmstead.cli.console import console


@click.command()
@click.option("--url", help="Service to check; in process where absent.")
@click.option(
    "--key",
    envvar="WARMSTEAD_KEY",
    help="Key for the service at --url; better in the environment as WARMSTEAD_KEY, where nobody else sees it.",
)
@click.option(
    "--command", help="Program to check: a request on standard input, its answer on standard output."
)
@click.option(
    "--cases",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="Folder of cases; this service's own where absent.",
)
@click.option("--question", "questions", multiple=True, help="Only cases of this question; may be repeated.")
@click.option("--flags", metavar="A,B", help="Only cases with one of these flags.")
@click.option(
    "--mapping",
    "mapping_file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="How a service that names things differently is asked.",
)
@click.option(
    "--timeout", default=30.0, show_default=True, type=click.FloatRange(0.001), help="Seconds for each case."
)
@click.option(
    "--concurrency", default=1, show_default=True, type=click.IntRange(1, 64), help="Requests at once."
)
@click.option("--fail-fast", is_flag=True, help="Stop at the first case that does not pass.")
@click.option("--junit", type=click.Path(dir_okay=False, path_type=Path), help="Write JUnit XML here.")
@click.option(
    "--json",
    "json_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the report as JSON here.",
)
def check(
    url: str | None,
    key: str | None,
    command: str | None,
    cases: Path | None,
    questions: tuple[str, ...],
    flags: str | None,
    mapping_file: Path | None,
    timeout: float,
    concurrency: int,
    fail_fast: bool,
    junit: Path | None,
    json_file: Path | None,
) -> None:
    """Put the reference cases to a service and compare its answers with the published values.

    Exit status: 0 the cases passed; 1 an answer was wrong; 2 wrong use, unusable cases, or no answer.
    """
    from warmstead.corpus import CorpusError, default_folder, load, load_mapping, reach, run, select
    from warmstead.corpus.junit import junit as as_junit
    from warmstead.corpus.terminal import progress, render

    if url is not None and command is not None:
        raise click.UsageError("--url and --command are two services; check one at a time")
    try:
        own = load(default_folder())
        loaded = own if cases is None else load(cases, registers=default_folder())
        wanted = [] if flags is None else [name.strip() for name in flags.split(",")]
        chosen = select(loaded, questions=questions, flags=wanted)
        mapping = None if mapping_file is None else load_mapping(mapping_file, known=(*own, *loaded))
        if url is not None:
            client = reach.reach_url(url, timeout, key)
        elif command is not None:
            client = reach.reach_program(command, timeout)
        else:
            from warmstead.api.app import app

            client = reach.reach_in_process(app, timeout)
    except CorpusError as error:
        click.echo(str(error), err=True)
        sys.exit(2)
    with client, progress(len(chosen)) as advance:
        report = run(chosen, client, concurrency, mapping=mapping, fail_fast=fail_fast, on_result=advance)
    console().print(render(report))
    for file, text in ((junit, as_junit), (json_file, type(report).json)):
        if file is not None:
            try:
                file.write_text(text(report), encoding="utf-8")
            except OSError as error:
                click.echo(f"the report cannot be written: {error}", err=True)
                sys.exit(2)
    sys.exit(report.exit_status)
