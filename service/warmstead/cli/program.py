"""The commands, together. A command imports what it works with when it runs, so that `--help` is quick."""

from __future__ import annotations

import click

from warmstead.cli.ask import ask
from warmstead.cli.batch import batch, stock
from warmstead.cli.check import check
from warmstead.cli.demo import demo, example
from warmstead.cli.describe import case_schema, mapping_schema, openapi
from warmstead.cli.files import one_page, table, workbook
from warmstead.cli.keys import key
from warmstead.cli.serve import assistant, serve
from warmstead.version import __version__

COMMANDS = (
    ask,
    assistant,
    batch,
    case_schema,
    check,
    demo,
    example,
    key,
    mapping_schema,
    one_page,
    openapi,
    serve,
    stock,
    table,
    workbook,
)


@click.group()
@click.version_option(__version__)
def main() -> None:
    """Heat loss of a house, line by line."""


for command in COMMANDS:
    main.add_command(command)
