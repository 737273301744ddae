"""What the solver writes to standard output ends nowhere: answers go out by the same descriptor.

The solver was seen to write a line there in a search of forty measures that meet in pairs around a ring; no option stops it.
"""

from __future__ import annotations

import ctypes
import os
from typing import Any

import pytest
import scipy.optimize

from warmstead.building.improvement.choice import Choices, Chooser, States
from warmstead.building.improvement.quiet import quiet

NOISE = b"a line of the solver's\n"


def test_what_compiled_code_writes_ends_nowhere(capfd: pytest.CaptureFixture[str]) -> None:
    os.write(1, b"before\n")
    with quiet():
        os.write(1, NOISE)
        ctypes.CDLL(None).puts(NOISE)  # held back by the C library until it is flushed
    os.write(1, b"after\n")
    ctypes.CDLL(None).fflush(None)
    assert capfd.readouterr().out == "before\nafter\n"


def test_output_comes_back_after_an_error(capfd: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(ZeroDivisionError), quiet():
        raise ZeroDivisionError
    os.write(1, b"after\n")
    assert capfd.readouterr().out == "after\n"


def test_the_solver_is_called_quietly(
    capfd: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    solve = scipy.optimize.milp
    calls = []

    def noisy(*arguments: Any, **named: Any) -> Any:
        os.write(1, NOISE)
        calls.append(named)
        return solve(*arguments, **named)

    monkeypatch.setattr(scipy.optimize, "milp", noisy)
    one = frozenset({0})
    choices = Choices(
        costs=(1.0,),
        start=(1000.0, 100.0),
        scales=(1000.0, 1000.0),
        groups=(States((0,), {frozenset(): (0.0, 0.0), one: (-300.0, -300.0)}),),
        excluded=frozenset(),
    )
    answer = Chooser(choices, lambda chosen: choices.quantities(chosen) or ()).cheapest()
    assert answer.chosen == one
    assert calls
    assert capfd.readouterr().out == ""
