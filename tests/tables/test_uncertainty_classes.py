"""Uncertainties by how something is known, re-read from what their sources print; typed from there and not from the CSV."""

from __future__ import annotations

import pytest

from warmstead.tables import table


def share(quantity: str, confidence: str) -> float:
    """Return the relative standard uncertainty of a class."""
    (row,) = (
        row
        for row in table("uncertainty-classes").rows
        if (row["quantity"], row["class"]) == (quantity, confidence)
    )
    value = row["relative_standard_uncertainty"]
    assert isinstance(value, float)
    return value


def test_assumed_walls_spread_as_measured_ones_do() -> None:
    # Seen (abstract): solid walls, 40 of brick and 18 of stone, "a mean value of 1.3 ± 0.4" W/(m²K).
    assert share("u_value", "assumed") == pytest.approx(0.4 / 1.3, abs=0.005)


def test_a_wall_measured_by_heat_flow_meter() -> None:
    # ISO 9869-1 (from memory): 14 % by the root of the squares of its parts.
    assert share("u_value", "measured") == 0.14


def test_airtightness_by_what_is_known_of_the_test() -> None:
    # Seen (abstract): 4 % with verification of how the building was prepared, up to 20 % without.
    assert share("airtightness", "measured") == 0.04
    assert share("airtightness", "documented") == 0.20


def test_air_changes_by_tracer_gas() -> None:
    # Seen (abstract): "about 20 %" in controlled field experiments.
    assert share("air_changes", "measured") == 0.20


@pytest.mark.parametrize(
    ("quantity", "ranked"),
    [
        ("u_value", ["measured", "documented", "inspected", "assumed"]),
        ("air_changes", ["measured", "assumed"]),
        ("airtightness", ["measured", "documented"]),
    ],
)
def test_who_knows_less_is_less_certain(quantity: str, ranked: list[str]) -> None:
    shares = [share(quantity, confidence) for confidence in ranked]
    assert shares == sorted(shares)
    assert len(set(shares)) == len(shares)
