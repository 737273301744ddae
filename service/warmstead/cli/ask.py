"""Questions asked without a server."""

from __future__ import annotations

import json
import sys
from typing import BinaryIO

import click

from warmstead.cli.console import console

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


@click.command()
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
            console(stderr=True).print(terminal.problems(error.problems))
        if error.unlisted:
            click.echo(f"… and {error.unlisted} more", err=True)
        sys.exit(1)
    if shape == "json":
        click.echo(json.dumps(result, indent=2, ensure_ascii=False))
    else:
        console().print(terminal.render(question, result))
