"""Keys that callers show."""

from __future__ import annotations

import os
from pathlib import Path

import click


@click.group()
def key() -> None:
    """Keys that callers show to a service."""


@key.command("new")
@click.option("--name", default="caller", show_default=True, help="Whose key it is; one name a key.")
@click.option(
    "--file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Keys file to which the line is added; it is made where there is none.",
)
def new(name: str, file: Path | None) -> None:
    """Make a key and print it, once: it is kept nowhere. Only its hash goes into the keys file."""
    from warmstead.api.keys import UnusableKeys, new_key

    try:
        made = new_key(name)
        if file is not None:
            _add(file, name, made.line)
    except UnusableKeys as error:
        raise click.UsageError(str(error)) from None
    except OSError as error:
        raise click.ClickException(f"{file}: {error.strerror}") from None
    click.echo("Key, for the caller; it is shown this once:", err=True)
    click.echo(made.secret)
    if file is None:
        click.echo("Line for the keys file:", err=True)
        click.echo(made.line)
    else:
        click.echo(f"Its line was added to {file}; a service that runs takes it within a second.", err=True)


def _add(file: Path, name: str, line: str) -> None:
    """Add a line to a keys file, which only its owner may read when it is made here."""
    from warmstead.api.keys import UnusableKeys, parsed

    descriptor = os.open(file, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
    with os.fdopen(descriptor, "a+", encoding="utf-8") as opened:
        opened.seek(0)
        before = opened.read()
        if name in {each.name for each in parsed(before)[0]}:
            raise UnusableKeys(f"{file} has a key of the name {name!r} already; choose another with --name")
        opened.write(("" if not before or before.endswith("\n") else "\n") + line + "\n")
