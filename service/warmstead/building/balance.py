"""The heat balance of a house for many values of its inputs at once.

`Balance` takes a resolved house apart into its inputs, each with a key, and states the loads again for other values of any
of them: numbers, or arrays of one length. For each single value it is the same balance as that of `building/house.py`.

What does not vary is added up once: walls of one construction towards one temperature become one term.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import reduce
from operator import mul
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from warmstead.building.balance_inputs import (
    AIRTIGHTNESS,
    ANNUAL_MEAN,
    AREA_FACTOR,
    EXTERNAL,
    SURCHARGE,
    TEMPERATURE_SHIFT,
    HouseInputs,
    Key,
    Row,
    Side,
    Surface,
    Target,
)
from warmstead.building.house import ResolvedHouse
from warmstead.building.ventilation import NO_AIR
from warmstead.standards.en_12831 import M3_H_PER_L_S

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Value = float | FloatArray
Values = Mapping[Key, Value]


class Loads(NamedTuple):
    """Loads for all values asked for."""

    house_w: FloatArray
    rooms_w: FloatArray
    """One line for each room."""
    external_c: Value
    physical: BoolArray
    """False where the values contradict each other: openings larger than their wall, a room as cold as outside, …"""


class _Coefficient:
    """Rows that face one temperature, as constants and what varies. The house's area factor is common to all but junctions."""

    def __init__(self) -> None:
        self.constant_w_k = 0.0
        """Of all areas that do not vary, by U-values that do not."""
        self.areas_m2: dict[Key, float] = {}
        """Fixed areas by the U-value (or the surcharge) that varies."""
        self.rows: list[tuple[Surface, Row]] = []
        """Rows whose own area varies."""
        self.bridges_w_k = 0.0
        self.junctions: list[Row] = []
        """Junctions whose ψ varies."""

    def add(self, row: Row, nominal: Mapping[Key, float], varying: Collection[Key]) -> None:
        """Take a row in."""
        if row.surface is None:
            if row.transmittance in varying:
                self.junctions.append(row)
            else:
                self.bridges_w_k += nominal[row.transmittance] * row.length_m
            return
        if row.surface.varies(varying):
            self.rows.append((row.surface, row))
            return
        area = row.surface.area(nominal)
        for key in (row.transmittance, *((SURCHARGE,) if row.bridged else ())):
            if key in varying:
                self.areas_m2[key] = self.areas_m2.get(key, 0.0) + area
            else:
                self.constant_w_k += nominal[key] * area

    def at(self, values: Values) -> Value:
        """Return the coefficient, W/K."""
        total: Value = self.constant_w_k
        for key, area in self.areas_m2.items():
            total = total + values[key] * area
        for surface, row in self.rows:
            transmittance = values[row.transmittance]
            if row.bridged:
                transmittance = transmittance + values[SURCHARGE]
            total = total + _area(surface, values) * transmittance
        total = total * values[AREA_FACTOR] + self.bridges_w_k
        for row in self.junctions:
            total = total + values[row.transmittance] * row.length_m
        return total


def _area(surface: Surface, values: Values) -> Value:
    """Return an element's area less its openings, m², without the house's area factor."""
    net: Value = reduce(mul, (values[key] for key in surface.own))
    for opening in surface.openings:
        net = net - reduce(mul, (values[key] for key in opening))
    return net


class Balance:
    """The heat balance of one house, prepared for certain inputs to vary."""

    def __init__(self, house: ResolvedHouse, inputs: HouseInputs, varying: Collection[Key]) -> None:
        self._house = house
        self._inputs = inputs
        self._varying = frozenset(varying)
        self._rooms = house.rooms
        self._places = {room.id: index for index, room in enumerate(house.rooms)}
        self._links: dict[tuple[int, Target], _Coefficient] = {}
        for row in inputs.rows:
            link = self._links.setdefault((self._places[row.owner], row.target), _Coefficient())
            link.add(row, inputs.nominal, self._varying)
        self._sides: dict[str, dict[Side, _Coefficient]] = {name: {} for name in inputs.spaces}
        for name, sides in inputs.spaces.items():
            for side, row in sides:
                coefficient = self._sides[name].setdefault(side, _Coefficient())
                coefficient.add(row, inputs.nominal, self._varying)
        surfaces = [row.surface for row in inputs.rows if row.surface is not None]
        surfaces += [row.surface for sides in inputs.spaces.values() for _, row in sides if row.surface]
        self._with_openings = [
            surface for surface in surfaces if surface.openings and surface.varies(self._varying)
        ]

    @property
    def terms(self) -> int:
        """Number of terms of one evaluation, to bound its cost."""
        coefficients = [*self._links.values(), *(c for sides in self._sides.values() for c in sides.values())]
        return len(self._rooms) + sum(
            2 + len(c.areas_m2) + len(c.rows) + len(c.junctions) for c in coefficients
        )

    def loads(self, drawn: Values, count: int) -> Loads:
        """Return the loads of the house for other values of its inputs.

        Args:
            drawn: arrays of one length, or numbers, by key; all others keep the survey's value.
            count: the length of the arrays.
        """
        values: dict[Key, Value] = {**self._inputs.nominal, **drawn}
        physical = np.ones(count, dtype=np.bool_)
        shift = values[TEMPERATURE_SHIFT]
        temperatures = [values["temperature", room.id] + shift for room in self._rooms]
        outside = values[EXTERNAL]
        if TEMPERATURE_SHIFT in drawn or EXTERNAL in drawn or any(key[0] == "temperature" for key in drawn):
            for temperature in temperatures:
                physical &= np.greater(temperature, outside)
        for surface in self._with_openings:
            physical &= np.greater_equal(_area(surface, values), -1e-9)
        spaces = {name: self._space(name, values, temperatures, physical) for name in self._sides}
        rooms = [
            room.reheat_w + air
            for room, air in zip(self._rooms, self._air(values, temperatures), strict=True)
        ]
        house: Value = self._house_air(rooms, values, temperatures)
        for (place, target), link in self._links.items():
            coefficient = link.at(values)
            if target.kind == "room":
                heat = coefficient * (temperatures[place] - temperatures[self._places[target.name]])
                rooms[self._places[target.name]] = rooms[self._places[target.name]] - heat
            else:
                heat = coefficient * self._difference(target, values, temperatures[place], spaces)
                house = house + heat
            rooms[place] = rooms[place] + heat
        lines = np.empty((len(rooms), count))
        for line, load in zip(lines, rooms, strict=True):
            line[:] = load
        return Loads(np.broadcast_to(np.asarray(house, dtype=np.float64), (count,)), lines, outside, physical)

    def _difference(
        self, target: Target, values: Values, inside: Value, spaces: Mapping[str, Value]
    ) -> Value:
        """Return the effective temperature difference of a row, K."""
        if target.kind == "external":
            return inside - values[EXTERNAL]
        if target.kind == "ground":
            return (inside - values[ANNUAL_MEAN]) * self._inputs.ground_weight
        if target.kind == "space":
            return inside - spaces[target.name]
        assert target.key is not None, "every other kind has an input of its own"
        if target.kind == "reduced":
            return values[target.key] * (inside - values[EXTERNAL])
        return inside - self._given(target.key, values)

    def _given(self, key: Key, values: Values) -> Value:
        """Return a temperature that the survey gives, a neighbour's with what is common to all neighbours."""
        return values[key] + values[("neighbour_shift",)] if key[0] == "neighbour" else values[key]

    def _space(self, name: str, values: Values, temperatures: list[Value], physical: BoolArray) -> Value:
        """Return the temperature of an unheated space from its balance, °C (EN 12831:2003, 7.1.2)."""
        outside = values[EXTERNAL]
        air = self._inputs.space_air_w_k_per_change[name] * values["space_air", name]
        total, weighted = air, air * outside
        sides: list[tuple[Value, Value]] = [(air, outside)]
        for side, side_coefficient in self._sides[name].items():
            coefficient = side_coefficient.at(values)
            if side.kind == "room":
                behind = temperatures[self._places[side.name]]
            elif side.kind == "ground":
                coefficient, behind = coefficient * self._inputs.ground_weight, values[ANNUAL_MEAN]
            elif side.kind == "external":
                behind = outside
            else:
                assert side.key is not None, "a neighbour's temperature is an input"
                behind = self._given(side.key, values)
            total = total + coefficient
            weighted = weighted + coefficient * behind
            sides.append((coefficient, behind))
        positive = np.greater(total, 0.0)
        physical &= positive
        balanced: Value = weighted / np.where(positive, total, 1.0)
        if name in self._inputs.spaces_with_junctions:
            # Negative linear bridges may take a little off, never outweigh the rest.
            counted = [(np.greater(c, 0.0), t) for c, t in sides]
            coldest = reduce(np.minimum, (np.where(c, t, np.inf) for c, t in counted))
            warmest = reduce(np.maximum, (np.where(c, t, -np.inf) for c, t in counted))
            physical &= (balanced >= coldest - 1e-6) & (balanced <= warmest + 1e-6)
        return balanced

    def _air(self, values: Values, temperatures: list[Value]) -> list[Value]:
        """Return each room's ventilation loss, W."""
        ventilation = self._house.ventilation
        capacity = ventilation.air_heat_capacity_wh_m3k
        losses: list[Value] = []
        for room, temperature in zip(self._rooms, temperatures, strict=True):
            supply = M3_H_PER_L_S * ((room.room.ventilation or NO_AIR).supply_l_s or 0.0)
            drawn_in = M3_H_PER_L_S * ventilation.room_unbalanced_l_s(room)
            recovered = values["heat_recovery", room.id] * supply
            natural = values["air_changes", room.id] * values[("air_factor",)] * room.volume_m3
            flue = M3_H_PER_L_S * values["flue_air", room.id]
            if room.id in self._inputs.infiltration_m3_h_per_change:
                infiltration = self._inputs.infiltration_m3_h_per_change[room.id] * values[AIRTIGHTNESS]
                natural = np.maximum(infiltration + (supply + drawn_in), natural)
                flow = natural - recovered + flue
            else:
                flow = natural + (supply + drawn_in) - recovered + flue
            losses.append(flow * capacity * (temperature - values[EXTERNAL]))
        return losses

    def _house_air(self, rooms: list[Value], values: Values, temperatures: list[Value]) -> Value:
        """Return the house's ventilation and reheat: the rooms' sum by air changes, less by airtightness."""
        if not self._inputs.infiltration_m3_h_per_change:
            return sum(rooms)
        ventilation = self._house.ventilation
        entering: Value = 0.0
        hygienic: Value = 0.0
        kept: Value = 0.0
        for room, temperature in zip(self._rooms, temperatures, strict=True):
            difference = temperature - values[EXTERNAL]
            supply = M3_H_PER_L_S * ((room.room.ventilation or NO_AIR).supply_l_s or 0.0)
            drawn_in = M3_H_PER_L_S * ventilation.room_unbalanced_l_s(room)
            infiltration = self._inputs.infiltration_m3_h_per_change[room.id] * values[AIRTIGHTNESS]
            entering = entering + (0.5 * infiltration + supply + drawn_in) * difference
            minimum = values["air_changes", room.id] * values[("air_factor",)] * room.volume_m3
            hygienic = hygienic + minimum * difference
            flue = M3_H_PER_L_S * values["flue_air", room.id]
            kept = kept + (flue - values["heat_recovery", room.id] * supply) * difference
        flow = np.maximum(entering, hygienic) + kept
        return self._house.reheat_w + ventilation.air_heat_capacity_wh_m3k * flow
