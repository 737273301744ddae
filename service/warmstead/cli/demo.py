"""The demonstration house: the whole job on it, and requests to begin from."""

from __future__ import annotations

import json
import time
from typing import Any

import click

from warmstead.cli.ask import QUESTIONS
from warmstead.cli.console import console
from warmstead.cli.serve import served


@click.command()
def demo() -> None:
    """Run the whole job on the invented demonstration house, through the real HTTP service."""
    import httpx
    from rich.markdown import Markdown

    from warmstead.demo import requests
    from warmstead.exchange import terminal
    from warmstead.exchange.one_page import PARTS, one_page

    screen = console()
    asked = requests()
    answers: dict[str, Any] = {}
    with served() as url, httpx.Client(base_url=url, timeout=60.0) as client:
        screen.print(f"Serving on {url}; asking {len(PARTS)} questions about an invented house.\n")
        for question in PARTS:
            started = time.perf_counter()
            response = client.post(f"/v1/{question}", json=asked[question])
            elapsed_ms = 1000.0 * (time.perf_counter() - started)
            screen.rule(f"POST /v1/{question}: {response.status_code} in {elapsed_ms:.1f} ms", align="left")
            response.raise_for_status()
            answers[question] = response.json()
            screen.print(terminal.numbers(question, answers[question]))
            screen.print()
    screen.rule("All of it on one page, with what has to be minded", align="left")
    screen.print(Markdown(one_page(answers)))


@click.command()
@click.argument("question", type=click.Choice(QUESTIONS))
def example(question: str) -> None:
    """Write a complete request to QUESTION, on the invented demonstration house, to begin from."""
    from warmstead.demo import requests

    click.echo(json.dumps(requests()[question], indent=2, ensure_ascii=False))
