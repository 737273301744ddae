"""The mutator and the grid themselves: what a slip may be, and that the grid is sound. The run itself is a command."""

from __future__ import annotations

import importlib
import sys
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

HERE = Path(__file__).parent
SOURCE = '''
"""A made-up module."""
FACTOR = 2.50
TABLE = (1.0, 2.5, 3.25, 4.125)

def scaled(value: float, offset: float = 1.5) -> float:
    """Scale it."""
    check(value)
    if value < 3.0 and offset != 0.0:
        return FACTOR * value - offset
    return max(value, TABLE[1])

def check(value: float) -> None:
    if value < 0.0:
        raise ValueError(f"{value + 1} is below 0")
'''


@pytest.fixture(scope="module")
def mutants() -> Iterator[Any]:
    """Give the module of the mutator, which is a script's neighbour and no package."""
    yield from _module("mutants")


@pytest.fixture(scope="module")
def grid() -> Iterator[Any]:
    """Give the module of the grid."""
    yield from _module("grid")


def _module(name: str) -> Iterator[ModuleType]:
    sys.path.insert(0, str(HERE))
    try:
        yield importlib.import_module(name)
    finally:
        sys.path.remove(str(HERE))
        sys.modules.pop(name)


@pytest.fixture
def made_up() -> ModuleType:
    """Give the made-up module, imported."""
    module = ModuleType("made_up")
    module.__file__ = "made_up.py"
    exec(SOURCE, module.__dict__)
    return module


def changes(mutants: Any, kind: str) -> set[str]:
    return {one.change for one in mutants.mutants_of("made_up", SOURCE) if one.kind == kind}


def test_slips_of_numbers(mutants: Any) -> None:
    # By the rule: one more, one less, and one unit in the last place as written.
    constants = changes(mutants, "constant")
    assert {"2.50 to 3.5", "2.50 to 1.5", "2.50 to 2.51"} <= constants
    assert {"3.0 to 4", "3.0 to 2"} <= constants
    assert {"1 to 2", "1 to 0"} <= constants
    # Entries of tables by their last place and by a tenth, and no number within a text for people.
    assert changes(mutants, "table, last digit") == {
        "1.0 to 2",
        "2.5 to 2.6",
        "3.25 to 3.26",
        "4.125 to 4.126",
    }
    assert changes(mutants, "table, a tenth") == {
        "1.0 to 1.1",
        "2.5 to 2.75",
        "3.25 to 3.575",
        "4.125 to 4.5375",
    }
    assert not [one for one in mutants.mutants_of("made_up", SOURCE) if "value + 1" in one.change]


def test_slips_of_signs_and_conditions(mutants: Any) -> None:
    assert "− to + in FACTOR * value - offset" in changes(mutants, "arithmetic")
    assert "· to / in FACTOR * value" in changes(mutants, "arithmetic")
    assert {"< to <= in value < 3.0", "< to >= in value < 3.0", "!= to == in offset != 0.0"} <= changes(
        mutants, "comparison"
    )
    assert "and/or exchanged in value < 3.0 and offset != 0.0" in changes(mutants, "condition")
    assert {
        "max to min in max(value, TABLE[1])",
        "arguments 1 and 2 exchanged in max(value, TABLE[1])",
    } == changes(mutants, "call")
    assert changes(mutants, "statement") == {"left out check(value)"}
    assert len(changes(mutants, "return")) == 2


def test_each_mutant_differs_in_one_place(mutants: Any) -> None:
    names = [one.name for one in mutants.mutants_of("made_up", SOURCE)]
    assert len(set(names)) == len(names)
    # Every other entry of the table of four.
    sampled = [
        one
        for one in mutants.mutants_of("made_up", SOURCE, every_table_entry=2)
        if one.kind == "table, last digit"
    ]
    assert len(sampled) == 2


@pytest.mark.parametrize(
    ("change", "argument", "result"),
    [
        # The right module gives 2.5 · 2 − 1.5 = 3.5 and max(4, 2.5) = 4; by hand from each change.
        ("2.50 to 2.51", 2.0, 3.52),
        ("− to + in FACTOR * value - offset", 2.0, 6.5),
        ("1.5 to 2.5", 2.0, 2.5),
        ("max to min in max(value, TABLE[1])", 4.0, 2.5),
        ("2.5 to 2.6", 2.55, 4.875),
        ("a tenth more than max(value, TABLE[1])", 4.0, 4.4),
    ],
)
def test_mutant_in_place_of_its_module(
    mutants: Any, made_up: ModuleType, change: str, argument: float, result: float
) -> None:
    bound_before = made_up.scaled
    (mutant,) = (one for one in mutants.mutants_of("made_up", SOURCE) if one.change == change)
    assert mutants.loads(mutant, made_up)
    mutants.apply(mutant, made_up)
    # Whoever has taken the function by its name has the mutant too.
    assert bound_before is made_up.scaled
    assert bound_before(argument) == pytest.approx(result)


def test_arrays_are_bent_too(mutants: Any) -> None:
    # By the rule: a tenth more, 0 to 0.1; what is no number stays.
    assert mutants.bent(np.array([2.0, 0.0])).tolist() == pytest.approx([2.2, 0.1])
    assert mutants.bent(np.array([True])).tolist() == [True]


def test_mutant_without_its_check_lets_through_what_was_refused(mutants: Any, made_up: ModuleType) -> None:
    with pytest.raises(ValueError, match="below 0"):
        made_up.scaled(-1.0)
    (mutant,) = (one for one in mutants.mutants_of("made_up", SOURCE) if one.kind == "statement")
    mutants.apply(mutant, made_up)
    # By hand: 2.5 · −1 − 1.5.
    assert made_up.scaled(-1.0) == pytest.approx(-4.0)


OF_CLASSES = """
from typing import NamedTuple

class Span(NamedTuple):
    low: float = 2.0
    high: float = 5.0

    @property
    def width(self) -> float:
        return self.high - self.low

    def _half(self) -> float:
        return 0.5 * self.width
"""


@pytest.mark.parametrize(
    ("change", "width", "half"),
    [
        # The right class gives 5 − 2 = 3 and a half of it; by hand from each change.
        ("− to + in self.high - self.low", 7.0, 3.5),
        ("5.0 to 6", 4.0, 2.0),
        ("0.5 to 0.6", 3.0, 1.8),
    ],
)
def test_mutant_within_a_class(mutants: Any, change: str, width: float, half: float) -> None:
    of_classes = ModuleType("of_classes")
    of_classes.__file__ = "of_classes.py"
    exec(OF_CLASSES, of_classes.__dict__)
    bound_before = of_classes.Span
    (mutant,) = (one for one in mutants.mutants_of("of_classes", OF_CLASSES) if one.change == change)
    mutants.apply(mutant, of_classes)
    assert bound_before is of_classes.Span
    assert bound_before().width == pytest.approx(width)
    assert bound_before()._half() == pytest.approx(half)


def test_grid_has_every_public_function_of_every_module(grid: Any) -> None:
    names = {path.stem for path in Path(sys.modules["warmstead.standards"].__path__[0]).glob("*.py")}
    assert set(grid.MODULES) == names - {"__init__"}
    for name in grid.MODULES:
        called = {call[0].__name__ for call in grid.calls_of(name)}
        module = importlib.import_module(f"warmstead.standards.{name}")
        public = {
            key for key, value in vars(module).items()
            if callable(value) and not key.startswith("_") and not isinstance(value, type)
            and getattr(value, "__module__", "") == module.__name__
        }  # fmt: skip
        assert public <= called, name


def test_grid_is_refused_for_reasons_only(grid: Any) -> None:
    for name in grid.MODULES:
        outcomes = [grid.outcome(call) for call in grid.calls_of(name)]
        assert {one[1] for one in outcomes if grid.is_refusal(one)} <= {"NotPhysical", "OutOfScope"}, name
        assert sum(not grid.is_refusal(one) for one in outcomes) >= 12, name


def test_same_within_a_billionth(grid: Any) -> None:
    assert grid.same([1.0, "crosses"], [1.0 + 0.9e-9, "crosses"])
    assert not grid.same([1.0], [1.0 + 1.1e-9])
    # Of the value itself where that is more than 1.
    assert grid.same([5000.0], [5000.0 + 4e-6])
    assert not grid.same([5000.0], [5000.0 + 6e-6])
    assert not grid.same([1.0, "crosses"], [1.0, "above"])
    assert not grid.same(["NotPhysical", "area_m2", "above 0"], [0.0])
