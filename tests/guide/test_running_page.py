"""The guide's page on running the service lists every setting with its default, and every limit that has one.

UPDATE_GUIDE=1 pytest tests/guide/test_running_page.py    # writes the table of settings
"""

from __future__ import annotations

import os
import re
from pathlib import Path

import click.testing

from warmstead.api import guide
from warmstead.api.settings import Settings, default, variable
from warmstead.cli import main
from warmstead.exchange.documents import MOST_LISTED
from warmstead.exchange.problem_kinds import KINDS, OVER_MEMORY, OVER_TIME, WORK_ENDED
from warmstead.standards.iso_6946 import MAXIMUM_SECTIONS

FILE = Path(guide.__file__).parents[1] / "guide" / "running.md"
BEGIN, END = "<!-- settings -->\n", "<!-- end of settings -->"


def table() -> str:
    rows = [
        f"| `{variable(name)}` | {default(name)} | {field.description} |"
        for name, field in Settings.model_fields.items()
    ]
    return "\n".join(["| setting | default | what it says |", "| --- | --- | --- |", *rows]) + "\n"


def test_every_setting_is_listed_as_it_is() -> None:
    text = FILE.read_text(encoding="utf-8")
    before, _, rest = text.partition(BEGIN)
    listed, _, after = rest.partition(END)
    if os.environ.get("UPDATE_GUIDE"):
        FILE.write_text(f"{before}{BEGIN}{table()}{END}{after}", encoding="utf-8")
        return
    assert listed == table(), "write it again: UPDATE_GUIDE=1"


def test_help_lists_every_setting_too() -> None:
    shown = " ".join(click.testing.CliRunner().invoke(main, ["serve", "--help"]).output.split())
    for name in Settings.model_fields:
        assert variable(name) in shown
        assert f"[default: {default(name)}]" in shown


def test_the_table_of_limits_says_what_holds() -> None:
    limits = {
        row[0]: row
        for row in re.findall(r"^\| ([^|]+) \| ([^|]+) \| ([^|]*)\| ([^|]+) \|$", _limits(), re.MULTILINE)
    }
    settings = Settings()
    stated = {
        "body": f"{settings.maximum_body_bytes // 1024**2} MiB",
        "bodies coming in, together": f"{settings.body_bytes_at_hand // 1024**2} MiB",
        "first line and headers": f"{settings.maximum_header_bytes // 1024} KiB",
        "depth of JSON": f"{settings.maximum_json_depth}",
        "length of lists": f"in the schema, {settings.maximum_list_length:,} at most",
        "sections of a layered construction": f"{MAXIMUM_SECTIONS}",
        "draws": f"{settings.maximum_draws:,}, fewer in a large house",
        "errors that one refusal lists": f"{MOST_LISTED}",
        "time to send the headers": f"{settings.seconds_to_send_headers:g} s",
        "time to send the body": f"{settings.seconds_to_send_body:g} s",
        "time in which an answer is not read": f"{settings.seconds_to_take_answer:g} s",
        "time between two requests": f"{settings.seconds_between_requests} s",
        "open connections": f"{settings.connections_at_once}",
        "requests at hand": f"{settings.requests_at_once}",
        "long questions waiting": f"{settings.long_questions_waiting}, for {settings.seconds_waiting_for_a_turn:g} s",
        "work on a long question": f"{settings.seconds_for_a_question:g} s",
        "memory for a long question": f"{settings.memory_for_a_question_mebibytes // 1024} GiB of addresses",
    }
    for limit, value in stated.items():
        assert limits[limit][1] == value, limit
    kinds = {kind.rpartition(":")[2] for kind, _ in (*KINDS.values(), OVER_TIME, OVER_MEMORY, WORK_ENDED)}
    for _, _, _, answer in limits.values():
        for status, kind in re.findall(r"(\d{3}) `([a-z-]+)`", answer):
            assert kind in kinds
            assert int(status) in KINDS


def _limits() -> str:
    return FILE.read_text(encoding="utf-8").partition("## What happens")[2].partition("\n## ")[0]


def test_the_body_that_is_answered_at_once_is_stated() -> None:
    assert f"larger than {Settings().body_bytes_answered_at_once // 1024} KiB" in FILE.read_text(
        encoding="utf-8"
    )
