"""Draws of a house's uncertain inputs, its loads for all of them, and what each input has to do with the spread.

The draws are made and balanced some thousand at a time, so that memory grows with the number of draws and not with the
size of the house. The stream of random numbers depends on the seed alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from warmstead.building.balance import Balance, BoolArray, FloatArray, Value
from warmstead.building.balance_inputs import HouseInputs, Key
from warmstead.building.uncertainty.inputs import UncertainInput

CHUNK = 2000
"""Draws at a time: few enough for the processor's cache, enough that Python's own time does not count."""
STEP = 1e-3
"""Of a standard uncertainty, for sensitivity coefficients: small against any curvature, large against rounding."""
INPUTS_AT_ONCE = 100
BIN_WIDTH = 0.25
HALF_BINS = 10
"""Bins of an input reach 2.5 standard uncertainties to either side; the outermost hold what is beyond."""
BINS = 2 * HALF_BINS


class Sample(NamedTuple):
    """The loads of all draws that are physical."""

    house_w: FloatArray
    rooms_w: FloatArray
    """One line for each room."""
    external_c: Value
    bins: NDArray[np.uint8]
    """One line for each input: in which bin it was drawn."""
    shares: list[float]
    """Share of the variance of the house's load that each input explains by itself, 0 or more."""
    left_out: int
    """Draws that contradict themselves."""
    redrawn: list[int]
    """Values of each input that fell beyond a physical limit and were drawn again."""


def values_of(item: UncertainInput, inputs: HouseInputs, values: Value) -> dict[Key, Value]:
    """Return the inputs of the balance for values of an uncertain input: all its keys keep their ratio."""
    first, *others = item.found.keys
    at: dict[Key, Value] = {first: values}
    for key in others:
        at[key] = values * (inputs.nominal[key] / item.found.value) if item.found.value else values
    return at


def draw(
    balance: Balance, inputs: HouseInputs, listed: Sequence[UncertainInput], rooms: int, count: int, seed: int
) -> Sample:
    """Return the loads for draws of all uncertain inputs (JCGM 101:2008, 7.3 and 7.4).

    Args:
        balance: prepared for the inputs to vary.
        inputs: of the house.
        listed: what is uncertain.
        rooms: number of rooms.
        count: number of draws.
        seed: of the random numbers.
    """
    generator = np.random.Generator(np.random.PCG64(seed))
    house = np.empty(count)
    lines = np.empty((rooms, count))
    external = np.empty(count)
    bins = np.empty((len(listed), count), dtype=np.uint8)
    redrawn = [0] * len(listed)
    explained = _Explained(len(listed))
    kept = 0
    for start in range(0, count, CHUNK):
        size = min(CHUNK, count - start)
        drawn: dict[Key, Value] = {}
        scaled = np.empty((len(listed), size))
        for place, item in enumerate(listed):
            values, again = item.distribution.draw(generator, size)
            redrawn[place] += again
            drawn.update(values_of(item, inputs, values))
            np.subtract(values, item.distribution.mean, out=scaled[place])
            scaled[place] /= item.distribution.standard_uncertainty
        loads = balance.loads(drawn, size)
        good: BoolArray | slice = slice(None) if loads.physical.all() else loads.physical
        held = slice(kept, kept + int(np.count_nonzero(loads.physical)))
        house[held] = loads.house_w[good]
        lines[:, held] = loads.rooms_w[:, good]
        external[held] = loads.external_c if isinstance(loads.external_c, float) else loads.external_c[good]
        scaled = scaled[:, good]
        explained.add(scaled, house[held])
        scaled /= BIN_WIDTH
        scaled += HALF_BINS
        np.clip(scaled, 0.0, BINS - 1, out=scaled)
        bins[:, held] = scaled
        kept = held.stop
    return Sample(
        house[:kept],
        lines[:, :kept],
        external[:kept],
        bins[:, :kept],
        explained.shares(),
        count - kept,
        redrawn,
    )


class _Explained:
    """Fits the load by a parabola of each input alone, from sums over the draws.

    The load is a straight line or nearly one in any single input, so that the parabola is the mean load for each of its values,
    and what it explains is the input's first-order share of the variance (the correlation ratio, Sobol's first index).
    """

    def __init__(self, inputs: int) -> None:
        self._count = 0
        self._offset: float | None = None
        self._load = self._load_squared = 0.0
        self._powers = np.zeros((4, inputs))
        self._products = np.zeros((2, inputs))

    def add(self, scaled: FloatArray, loads: FloatArray) -> None:
        """Take in draws: inputs in standard uncertainties off their mean, and loads."""
        if not loads.size:
            return
        if self._offset is None:
            self._offset = float(loads[0])
        off = loads - self._offset
        squares = scaled * scaled
        self._count += loads.size
        self._load += float(off.sum())
        # einsum, not @: what a threaded BLAS adds up depends on its number of threads.
        self._load_squared += float(np.einsum("i,i", off, off))
        self._powers[0] += scaled.sum(axis=1)
        self._powers[1] += squares.sum(axis=1)
        self._powers[2] += np.einsum("ij,ij->i", scaled, squares)
        self._powers[3] += np.einsum("ij,ij->i", squares, squares)
        self._products[0] += np.einsum("ij,j->i", scaled, off)
        self._products[1] += np.einsum("ij,j->i", squares, off)

    def shares(self) -> list[float]:
        """Return each input's share, corrected for the two numbers that every fit gets for nothing; 0 at least."""
        count = max(self._count, 4)
        mean = self._load / count
        variance = self._load_squared / count - mean * mean
        level = abs(self._offset or 0.0) + abs(mean)
        if variance <= (1e-9 * level) ** 2:
            return [0.0] * self._powers.shape[1]
        one, two, three, four = self._powers / count
        along = self._products[0] / count - one * mean
        bent = self._products[1] / count - two * mean
        c11, c12, c22 = two - one * one, three - one * two, four - two * two
        straight = along * along / c11
        determinant = c11 * c22 - c12 * c12
        curved = np.where(
            determinant > 1e-9 * c11 * c22,
            (c22 * along * along - 2.0 * c12 * along * bent + c11 * bent * bent)
            / np.where(determinant > 0.0, determinant, 1.0),
            straight,
        )
        left = (1.0 - np.minimum(curved / variance, 1.0)) * (count - 1) / (count - 3)
        shares: list[float] = np.maximum(0.0, 1.0 - left).tolist()
        return shares


class Sensitivity(NamedTuple):
    """The load at the inputs' means, and its slope along each of them."""

    load_w: float
    coefficients: list[float]
    """W for one unit of the input."""


def sensitivities(balance: Balance, inputs: HouseInputs, listed: Sequence[UncertainInput]) -> Sensitivity:
    """Return the sensitivity coefficients ∂Φ/∂x at the inputs' means (JCGM 100:2008, 5.1.3), by central differences.

    Args:
        balance: prepared for the inputs to vary.
        inputs: of the house.
        listed: what is uncertain.
    """
    centre: dict[Key, Value] = {}
    for item in listed:
        centre.update(values_of(item, inputs, item.distribution.mean))
    coefficients: list[float] = []
    load = 0.0
    for start in range(0, len(listed), INPUTS_AT_ONCE):
        part = listed[start : start + INPUTS_AT_ONCE]
        moved = dict(centre)
        for place, item in enumerate(part):
            values = np.full(2 * len(part) + 1, item.distribution.mean)
            step = STEP * item.distribution.standard_uncertainty
            values[2 * place] += step
            values[2 * place + 1] -= step
            moved.update(values_of(item, inputs, values))
        house = balance.loads(moved, 2 * len(part) + 1).house_w
        load = float(house[-1])
        for place, item in enumerate(part):
            step = STEP * item.distribution.standard_uncertainty
            coefficients.append(float(house[2 * place] - house[2 * place + 1]) / (2.0 * step))
    return Sensitivity(load, coefficients)
