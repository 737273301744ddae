"""The page says what the answers say, and nothing that was not asked."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from warmstead.cli import main
from warmstead.demo import requests
from warmstead.exchange.asking import ask
from warmstead.exchange.one_page import one_page, one_page_html

SHOWN = (
    "house-loss",
    "heat-pump-sizing",
    "uncertainty",
    "improvements",
    "emitter-check",
    "survey-comparison",
    "measured-heat-loss",
)


@cache
def answers() -> dict[str, Any]:
    return {question: ask(question, requests()[question]) for question in SHOWN}


def test_every_number_of_a_table_of_units_comes_from_the_answer() -> None:
    page = one_page(answers())
    for row in answers()["heat-pump-sizing"]["candidates"]:
        line = next(line for line in page.splitlines() if line.startswith(f"| {row['id']} |"))
        assert f"{row['capacity_at_design_w'] / 1000:.1f} kW" in line
        assert f"{row['coverage']:.0%}" in line
        assert row["verdict"] in line


def test_it_names_the_cheapest_set_first_and_says_what_was_proved() -> None:
    page = one_page(answers())
    cheapest = answers()["improvements"]["cheapest"]
    rows = page.split("Sets of measures that reach the goal")[1].splitlines()[2:]
    assert rows[0].startswith(f"| {', '.join(cheapest['measures'])} | {cheapest['cost']:.0f} |")
    assert "It is proved that the first is the least." in page


def test_the_statements_shown_and_the_rest_make_up_the_difference() -> None:
    comparison = answers()["survey-comparison"]
    page = one_page(answers()).split("## Why the other survey")[1].split("##")[0]
    shown = [int(text.replace(",", "").replace("−", "-")) for text in re.findall(r"([+−][\d,]+) W", page)]
    # Each is rounded to a watt.
    assert sum(shown) == pytest.approx(comparison["difference_w"], abs=len(shown))


def test_every_caution_stands_there_once() -> None:
    page = one_page(answers())
    details = {
        w["detail"] for a in answers().values() for w in a["warnings"] if w["code"].startswith("caution.")
    }
    assert details
    for detail in details:
        assert page.count(detail[1:]) == 1, detail


@pytest.mark.parametrize("question", SHOWN)
def test_one_answer_alone_makes_a_page_with_one_part(question: str) -> None:
    page = one_page({question: answers()[question]})
    assert len(re.findall(r"^## ", page, re.MULTILINE)) == 3
    assert "None" not in page.replace("None:", "")
    assert "nan" not in page


def test_what_has_no_place_on_the_page_is_refused() -> None:
    with pytest.raises(ValueError, match="none of these has a place"):
        one_page({"u-value": ask("u-value", requests()["u-value"])})


def test_the_printed_page_needs_nothing_else() -> None:
    page = one_page_html(answers())
    assert page.count("<table>") == 4
    assert not re.search(r"(src|href)=", page)


def test_the_command_reads_a_folder_of_answers(tmp_path: Path) -> None:
    for question in ("house-loss", "emitter-check"):
        (tmp_path / f"{question}.json").write_text(json.dumps(answers()[question]))
    told = CliRunner().invoke(main, ["one-page", str(tmp_path)])
    assert told.exit_code == 0
    assert told.output == one_page({q: answers()[q] for q in ("house-loss", "emitter-check")})


def test_a_file_that_is_no_answer_is_named(tmp_path: Path) -> None:
    (tmp_path / "house-loss.json").write_text("[1, 2]")
    told = CliRunner().invoke(main, ["one-page", str(tmp_path)])
    assert told.exit_code == 1
    assert str(tmp_path) in told.output
