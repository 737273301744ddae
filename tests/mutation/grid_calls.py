"""How the grid's calls are written down: a function with its arguments, over the values of some axes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import product
from typing import Any

Call = tuple[Callable[..., Any], tuple[Any, ...], dict[str, Any]]


def over(function: Callable[..., Any], **axes: Sequence[Any]) -> Iterator[Call]:
    """Every combination of the values of each argument."""
    for values in product(*axes.values()):
        yield function, (), dict(zip(axes, values, strict=True))


def one_by_one(function: Callable[..., Any], usual: dict[str, Any], **axes: Sequence[Any]) -> Iterator[Call]:
    """Usual values with one of them changed at a time."""
    yield function, (), usual
    for name, values in axes.items():
        for value in values:
            yield function, (), {**usual, name: value}
