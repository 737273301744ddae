"""The command `warmstead`: serve, demo, ask, example, check, and what writes generated files.

Exit status: 0 done; 1 a request was refused or a case failed; 2 wrong use, or a service that gave no answer.
"""

from __future__ import annotations

import json
import os
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, BinaryIO

import click
from rich.console import Console

from warmstead.version import __version__

QUESTIONS = (
    "u-value",
    "required-thickness",
    "room-loss",
    "house-loss",
    "emitter-check",
    "heat-pump-sizing",
    "improvements",
    "survey-comparison",
    "uncertainty",
    "measured-heat-loss",
    "radiator-output",
    "element-loss",
    "outside-temperature",
)
"""As in the registry, which is too slow to import for `--help`; a test keeps the two alike."""
STARTUP_SECONDS = 20.0


@click.group()
@click.version_option(__version__)
def main() -> None:
    """Heat loss of a house, line by line."""


@main.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port", default=8080, show_default=True, type=click.IntRange(0, 65535), help="Port to listen on."
)
@click.option("--workers", default=1, show_default=True, type=click.IntRange(1, 64), help="Worker processes.")
@click.option("--access-log/--no-access-log", default=False, help="Log each request's path; never a body.")
def serve(host: str, port: int, workers: int, access_log: bool) -> None:
    """Serve the questions over HTTP; the documentation is at /docs."""
    import uvicorn

    uvicorn.run(
        "warmstead.api.app:app",
        host=host,
        port=port,
        workers=workers,
        access_log=access_log,
        server_header=False,
    )


@main.command()
def assistant() -> None:
    """Offer the questions to an assistant as tools (Model Context Protocol), over standard input and output."""
    try:
        from warmstead.assistant import server
    except ImportError as error:
        raise click.ClickException(
            f"this needs the extra: pip install 'warmstead[assistant]' ({error})"
        ) from None
    server().run(show_banner=False)


@main.command()
def demo() -> None:
    """Run the whole job on the invented demonstration house, through the real HTTP service."""
    import httpx
    from rich.markdown import Markdown

    from warmstead.demo import requests
    from warmstead.exchange import terminal
    from warmstead.exchange.one_page import PARTS, one_page

    console = _console()
    asked = requests()
    answers: dict[str, Any] = {}
    with _served() as url, httpx.Client(base_url=url, timeout=60.0) as client:
        console.print(f"Serving on {url}; asking {len(PARTS)} questions about an invented house.\n")
        for question in PARTS:
            started = time.perf_counter()
            response = client.post(f"/v1/{question}", json=asked[question])
            elapsed_ms = 1000.0 * (time.perf_counter() - started)
            console.rule(f"POST /v1/{question}: {response.status_code} in {elapsed_ms:.1f} ms", align="left")
            response.raise_for_status()
            answers[question] = response.json()
            console.print(terminal.numbers(question, answers[question]))
            console.print()
    console.rule("All of it on one page, with what has to be minded", align="left")
    console.print(Markdown(one_page(answers)))


@main.command()
@click.argument("question", type=click.Choice(QUESTIONS))
@click.argument("document", type=click.File("rb"))
@click.option("--workings", is_flag=True, help="List each step of the calculation.")
@click.option(
    "--as", "shape", type=click.Choice(["json", "table"]), default="json", show_default=True, help="Output."
)
def ask(question: str, document: BinaryIO, workings: bool, shape: str) -> None:
    """Answer QUESTION for the request in DOCUMENT (`-` for standard input), without a server."""
    from warmstead.building.findings import Refused
    from warmstead.exchange import terminal
    from warmstead.exchange.asking import ask as answer
    from warmstead.exchange.documents import Malformed

    try:
        result = answer(question, document.read(), workings=workings)
    except Malformed as error:
        click.echo(f"the document is not JSON: {error}", err=True)
        sys.exit(1)
    except Refused as error:
        if shape == "json":
            listed = [{"pointer": p.pointer, "code": p.code, "detail": p.detail} for p in error.problems]
            click.echo(json.dumps({"errors": listed}, indent=2, ensure_ascii=False), err=True)
        else:
            _console(stderr=True).print(terminal.problems(error.problems))
        sys.exit(1)
    if shape == "json":
        click.echo(json.dumps(result, indent=2, ensure_ascii=False))
    else:
        _console().print(terminal.render(question, result))


@main.command()
@click.option("--url", help="Service to check; in process where absent.")
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
            client = reach.reach_url(url, timeout)
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
    _console().print(render(report))
    for file, text in ((junit, as_junit), (json_file, type(report).json)):
        if file is not None:
            try:
                file.write_text(text(report), encoding="utf-8")
            except OSError as error:
                click.echo(f"the report cannot be written: {error}", err=True)
                sys.exit(2)
    sys.exit(report.exit_status)


@main.command()
@click.argument("question", type=click.Choice(QUESTIONS))
def example(question: str) -> None:
    """Write a complete request to QUESTION, on the invented demonstration house, to begin from."""
    from warmstead.demo import requests

    click.echo(json.dumps(requests()[question], indent=2, ensure_ascii=False))


@main.command()
def case_schema() -> None:
    """Write the JSON Schema of a reference case."""
    from warmstead.corpus.case import case_schema as schema

    click.echo(json.dumps(schema(), indent=2, ensure_ascii=False))


@main.command()
def mapping_schema() -> None:
    """Write the JSON Schema of a mapping to a service that names things differently."""
    from warmstead.corpus.mapping import mapping_schema as schema

    click.echo(json.dumps(schema(), indent=2, ensure_ascii=False))


@main.command()
@click.option(
    "--output", type=click.Path(dir_okay=False, path_type=Path), help="File; standard output where absent."
)
def openapi(output: Path | None) -> None:
    """Write the OpenAPI document of this version."""
    from warmstead.api.app import app

    text = json.dumps(app.openapi(), indent=2, ensure_ascii=False) + "\n"
    if output is None:
        click.echo(text, nl=False)
    else:
        output.write_text(text, encoding="utf-8")


@main.group()
def workbook() -> None:
    """The survey as a workbook, .xlsx or .ods by the ending of its name."""


@workbook.command("new")
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--demo", "demonstration", is_flag=True, help="With the invented demonstration house in it.")
def workbook_new(file: Path, demonstration: bool) -> None:
    """Write a workbook to fill in to FILE."""
    from warmstead.demo import survey
    from warmstead.exchange import workbook as workbooks

    document = survey() if demonstration else workbooks.blank()
    file.write_bytes(workbooks.written(document, _workbook_format(file)))


@workbook.command("answer")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("output", type=click.Path(dir_okay=False, path_type=Path))
def workbook_answer(file: Path, output: Path) -> None:
    """Read the survey in FILE and write it with its results to OUTPUT; as JSON, where that ends in .json."""
    from warmstead.exchange import workbook as workbooks

    try:
        reading = workbooks.read(file.read_bytes())
        if output.suffix == ".json":
            made = json.dumps(reading.document, indent=2, ensure_ascii=False).encode() + b"\n"
        else:
            made = workbooks.answered(reading, _workbook_format(output))
    except workbooks.Unreadable as error:
        for problem in error.problems:
            click.echo(f"{problem.cell or file.name}: {problem.code}: {problem.detail}", err=True)
        sys.exit(1)
    output.write_bytes(made)


def _workbook_format(file: Path) -> Any:
    if file.suffix not in (".xlsx", ".ods"):
        raise click.UsageError(f"{file.name}: the name of a workbook ends in .xlsx or .ods")
    return file.suffix[1:]


@main.command()
@click.argument("file", type=click.File("rb"))
@click.option(
    "--external-temperature-c", required=True, type=float, help="Outside design temperature, in °C."
)
@click.option("--annual-mean-external-temperature-c", type=float, help="Needed with something on ground.")
@click.option(
    "--as", "shape", type=click.Choice(["csv", "house"]), default="csv", show_default=True, help="Output."
)
def table(
    file: BinaryIO,
    external_temperature_c: float,
    annual_mean_external_temperature_c: float | None,
    shape: str,
) -> None:
    """Answer the flat table of elements in FILE (CSV, `-` for standard input) with what each row loses."""
    from warmstead.exchange import element_table

    conditions = {"external_temperature_c": external_temperature_c}
    if annual_mean_external_temperature_c is not None:
        conditions["annual_mean_external_temperature_c"] = annual_mean_external_temperature_c
    try:
        read = element_table.read_table(file.read(), {"conditions": conditions})
        result = element_table.answered(read)
    except element_table.TableRefused as error:
        for problem in error.problems:
            click.echo(f"line {problem.line}, {problem.column}: {problem.code}: {problem.detail}", err=True)
        sys.exit(1)
    if shape == "house":
        click.echo(json.dumps({"house": read.house}, indent=2, ensure_ascii=False))
    else:
        sys.stdout.buffer.write(element_table.stated(read.house, result, read.dialect))


@main.command("one-page")
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--as",
    "shape",
    type=click.Choice(["markdown", "html"]),
    default="markdown",
    show_default=True,
    help="Output.",
)
def one_page(folder: Path, shape: str) -> None:
    """Put the answers in FOLDER, each in a file named by its question (`house-loss.json`), on one page."""
    from warmstead.exchange import one_page as pages

    try:
        answers = {
            file.stem: json.loads(file.read_text(encoding="utf-8")) for file in sorted(folder.glob("*.json"))
        }
        write = pages.one_page_html if shape == "html" else pages.one_page
        click.echo(write(answers), nl=False)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        click.echo(f"{folder}: not the answers of this version's questions: {error!r}", err=True)
        sys.exit(1)


@contextmanager
def _served() -> Iterator[str]:
    """Serve on a free port of this machine in a thread; yields the address."""
    import uvicorn

    config = uvicorn.Config("warmstead.api.app:app", host="127.0.0.1", port=0, log_level="warning")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    deadline = time.monotonic() + STARTUP_SECONDS
    while not server.started:
        if time.monotonic() > deadline or not thread.is_alive():
            raise click.ClickException("the service did not start")
        time.sleep(0.01)
    try:
        port = server.servers[0].sockets[0].getsockname()[1]
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(timeout=5.0)


def _console(**options: Any) -> Console:
    """Return a console that keeps tables whole when its output is a file; COLUMNS sets another width."""
    console = Console(**options)
    if console.is_terminal:
        return console
    return Console(width=int(os.environ.get("COLUMNS", "140")), **options)


if __name__ == "__main__":
    main()
