"""The survey in other shapes: workbook, flat table, one page."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any, BinaryIO

import click


@click.group()
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


@click.command()
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


@click.command("one-page")
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
