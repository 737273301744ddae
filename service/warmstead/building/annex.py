"""The national annex of a house: its defaults, all of them data in `tables/`."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from warmstead.building.findings import Findings, WarningCode
from warmstead.tables import table

Row = Mapping[str, str | float]


def number(row: Row, column: str) -> float:
    """Return a number of a table row."""
    value = row[column]
    assert isinstance(value, float), f"column {column} holds numbers"
    return value


UNSEEN = ("from_memory", "derived")
"""Provenance of rows whose source nobody here saw, or that follow from such rows."""


class Default(NamedTuple):
    """A value that stands in for one the survey does not give."""

    value: float
    table: str
    seen: bool

    def take(self, findings: Findings, code: WarningCode, pointer: str, text: str) -> float:
        """Return the value, with a warning that it was taken, and one more where its row is from memory."""
        findings.warn(code, pointer, text)
        if not self.seen:
            findings.warn_of_memory(self.table, pointer)
        return self.value


def default(row: Row, column: str, table_name: str) -> Default:
    """Return a number of a table row as a default."""
    return Default(number(row, column), table_name, row["provenance"] not in UNSEEN)


class NationalAnnex:
    """The defaults of one national annex."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._parameters = {
            str(row["parameter"]): default(row, "value", "national-annexes")
            for row in table("national-annexes").rows
            if row["national_annex"] == name
        }
        rooms = [row for row in table("room-defaults").rows if row["national_annex"] == name]
        self._temperatures = {
            str(row["use"]): default(row, "design_temperature_c", "room-defaults") for row in rooms
        }
        self._air_changes = {str(row["use"]): default(row, "air_changes", "room-defaults") for row in rooms}
        self._shielding = {
            (str(row["shielding"]), str(row["exposed_openings"])): number(row, "coefficient")
            for row in table("shielding").rows
            if row["national_annex"] == name
        }

    def value(self, parameter: str, findings: Findings, pointer: str) -> float:
        """Return one parameter of the table `national-annexes`, in the unit of its name.

        For parameters that no survey gives, so that taking one is no default; a row from memory is told all the same.
        """
        taken = self._parameters[parameter]
        if not taken.seen:
            findings.warn_of_memory(taken.table, pointer)
        return taken.value

    def take(self, parameter: str, unit: str, findings: Findings, code: WarningCode, pointer: str) -> float:
        """Return one parameter as a default, with its warning."""
        taken = self._parameters[parameter]
        return taken.take(findings, code, pointer, self._taken(f"{taken.value:g} {unit}".rstrip()))

    def take_temperature(self, use: str, findings: Findings, pointer: str) -> float:
        """Return the design temperature for a use of the table `room-defaults`, °C, with its warning."""
        taken = self._temperatures[use]
        text = self._taken(f"{taken.value:g} °C for {use}")
        return taken.take(findings, "default.design_temperature", pointer, text)

    def take_air_changes(self, use: str, findings: Findings, pointer: str) -> float:
        """Return the air changes for a use of the table `room-defaults`, per hour, with their warning."""
        taken = self._air_changes[use]
        return taken.take(
            findings, "default.air_changes", pointer, self._taken(f"{taken.value:g} per hour for {use}")
        )

    def _taken(self, what: str) -> str:
        return f"{what} taken, national annex {self.name}"

    def shielding_coefficient(self, shielding: str, exposed_openings: str) -> float:
        """Return the shielding coefficient e of the table `shielding`."""
        return self._shielding[shielding, exposed_openings]


@cache
def national_annex(name: str) -> NationalAnnex:
    """Return the national annex of that name."""
    return NationalAnnex(name)


@cache
def height_factor(height_m: float) -> Default | None:
    """Return the height factor ε of the table `height-factors`, None above its range."""
    for row in table("height-factors").rows:
        if height_m <= number(row, "to_height_m"):
            return default(row, "factor", "height-factors")
    return None


@cache
def flue_air(kind: str) -> Default:
    """Return the air drawn by a chimney or flue of the table `flues`, in l/s."""
    return next(default(row, "air_l_s", "flues") for row in table("flues").rows if row["kind"] == kind)
