"""The commands that write and answer files: workbook and flat table."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from warmstead import cli
from warmstead.api.element_table import EXAMPLE
from warmstead.demo import survey
from warmstead.exchange import workbook


def run(*arguments: str | Path, given: str | None = None) -> Result:
    return CliRunner().invoke(cli.main, [str(argument) for argument in arguments], input=given)


@pytest.mark.parametrize("form", ["xlsx", "ods"])
def test_a_workbook_is_written_answered_and_read(tmp_path: Path, form: str) -> None:
    new, answered, read = (tmp_path / name for name in (f"new.{form}", f"answered.{form}", "read.json"))
    assert run("workbook", "new", "--demo", new).exit_code == 0
    assert run("workbook", "answer", new, answered).exit_code == 0
    assert run("workbook", "answer", answered, read).exit_code == 0
    assert json.loads(read.read_text(encoding="utf-8")) == survey()
    assert answered.read_bytes() == workbook.answered(workbook.read(new.read_bytes()), form)  # type: ignore[arg-type]  # xlsx or ods


def test_a_refused_workbook_ends_with_status_1_and_its_cells(tmp_path: Path) -> None:
    new = tmp_path / "new.xlsx"
    assert run("workbook", "new", new).exit_code == 0
    refused = run("workbook", "answer", new, tmp_path / "answered.xlsx")
    assert refused.exit_code == 1
    assert "Conditions!B7: missing_field" in refused.stderr
    assert not (tmp_path / "answered.xlsx").exists()


def test_another_ending_is_wrong_use(tmp_path: Path) -> None:
    assert run("workbook", "new", tmp_path / "new.doc").exit_code == 2


def test_a_flat_table_is_answered() -> None:
    answered = run("table", "-", "--external-temperature-c", "-3", given=EXAMPLE)
    assert answered.exit_code == 0
    assert "heat_loss_w" in answered.stdout
    house = run("table", "-", "--external-temperature-c", "-3", "--as", "house", given=EXAMPLE)
    assert json.loads(house.stdout)["house"]["conditions"] == {"external_temperature_c": -3}


def test_a_refused_table_ends_with_status_1_and_its_lines() -> None:
    refused = run("table", "-", "--external-temperature-c", "-3", given=EXAMPLE.replace("2.4", "x"))
    assert refused.exit_code == 1
    assert "line 3, area_m2: not_a_number" in refused.stderr
