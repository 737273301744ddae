"""What describes this version: files that are generated and committed."""

from __future__ import annotations

import json
from pathlib import Path

import click


@click.command()
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


@click.command()
def case_schema() -> None:
    """Write the JSON Schema of a reference case."""
    from warmstead.corpus.case import case_schema as schema

    click.echo(json.dumps(schema(), indent=2, ensure_ascii=False))


@click.command()
def mapping_schema() -> None:
    """Write the JSON Schema of a mapping to a service that names things differently."""
    from warmstead.corpus.mapping import mapping_schema as schema

    click.echo(json.dumps(schema(), indent=2, ensure_ascii=False))
