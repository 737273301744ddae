"""The national annex of a house: its defaults, all of them data in `tables/`."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import NamedTuple

from warmstead.tables import table

Row = Mapping[str, str | float]


def number(row: Row, column: str) -> float:
    """Return a number of a table row."""
    value = row[column]
    assert isinstance(value, float), f"column {column} holds numbers"
    return value


class RoomDefault(NamedTuple):
    """What a room of one use is heated to, and how much air it changes."""

    design_temperature_c: float
    air_changes: float


class NationalAnnex:
    """The defaults of one national annex."""

    def __init__(self, name: str) -> None:
        self.name = name
        self._values = {
            str(row["parameter"]): number(row, "value")
            for row in table("national-annexes").rows
            if row["national_annex"] == name
        }
        self._rooms = {
            str(row["use"]): RoomDefault(number(row, "design_temperature_c"), number(row, "air_changes"))
            for row in table("room-defaults").rows
            if row["national_annex"] == name
        }
        self._shielding = {
            (str(row["shielding"]), str(row["exposed_openings"])): number(row, "coefficient")
            for row in table("shielding").rows
            if row["national_annex"] == name
        }

    def value(self, parameter: str) -> float:
        """Return one parameter of the table `national-annexes`, in the unit of its name."""
        return self._values[parameter]

    def room(self, use: str) -> RoomDefault:
        """Return the defaults for a use of the table `room-defaults`."""
        return self._rooms[use]

    def shielding_coefficient(self, shielding: str, exposed_openings: str) -> float:
        """Return the shielding coefficient e of the table `shielding`."""
        return self._shielding[shielding, exposed_openings]


@cache
def national_annex(name: str) -> NationalAnnex:
    """Return the national annex of that name."""
    return NationalAnnex(name)


@cache
def height_factor(height_m: float) -> float | None:
    """Return the height factor ε of the table `height-factors`, None above its range."""
    for row in table("height-factors").rows:
        if height_m <= number(row, "to_height_m"):
            return number(row, "factor")
    return None


@cache
def flue_air_l_s(kind: str) -> float:
    """Return the air drawn by a chimney or flue of the table `flues`, in l/s."""
    return next(number(row, "air_l_s") for row in table("flues").rows if row["kind"] == kind)
