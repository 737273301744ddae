"""Changes to a parsed document that keep its shape recognisable, so that they get past the reader into the equations."""

from __future__ import annotations

import copy
import json
import re
from collections.abc import Callable, Iterator
from random import Random
from typing import Any

from fuzzing import stock

Place = tuple[Any, Any]
"""A list or an object, and the index or name within it."""
_NUMBER = re.compile(rb"(?<=[:,\[])-?[0-9][0-9.eE+-]*")
_MEMBER = re.compile(rb'"[A-Za-z_]+":(?:-?[0-9][0-9.eE+-]*|"[^"\\]*"|true|false)')


def changed(text: bytes, random: Random) -> bytes | None:
    """Return JSON with one to four changes; None where the text is not JSON."""
    try:
        holder: list[Any] = [json.loads(text)]
    except (ValueError, RecursionError):
        return None
    for _ in range(random.choice((1, 1, 1, 2, 4))):
        places = list(_places(holder))
        where, step = random.choice(places)
        random.choice(_CHANGES)(where, step, random)
    made = json.dumps(holder[0], separators=(",", ":")).encode()
    if random.random() < 0.08:
        made = _replaced_token(made, random)
    if random.random() < 0.04:
        made = _doubled_member(made, random)
    return made


def _places(holder: Any) -> Iterator[Place]:
    steps = range(len(holder)) if isinstance(holder, list) else list(holder)
    for step in steps:
        yield holder, step
        if isinstance(holder[step], list | dict):
            yield from _places(holder[step])


def _usual(where: Any, step: Any, random: Random) -> None:
    """Put another value that real requests have there."""
    known = stock.by_name().get(step) if isinstance(step, str) else None
    if known:
        where[step] = copy.deepcopy(random.choice(known))
    elif isinstance(where, list) and where:
        where[step] = copy.deepcopy(random.choice(where))


def _bound(where: Any, step: Any, random: Random) -> None:
    """Put a number at a bound, or another choice, or scale what stands there."""
    value = where[step]
    limits = stock.bounds().get(step) if isinstance(step, str) else None
    texts = stock.choices().get(step) if isinstance(step, str) else None
    if limits and random.random() < 0.7:
        where[step] = random.choice(limits)
    elif texts:
        where[step] = random.choice(texts)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        where[step] = random.choice(
            (value * 10, value / 10, -value, value + 1, value * (1 + 1e-9), float(value))
        )


def _awkward(where: Any, step: Any, random: Random) -> None:
    """Put a value that nobody sends on purpose."""
    value = where[step]
    if isinstance(value, int | float) and random.random() < 0.7:
        where[step] = random.choice(stock.AWKWARD_NUMBERS)
    elif isinstance(value, str) and random.random() < 0.8:
        where[step] = random.choice(stock.AWKWARD_TEXTS)
    else:
        where[step] = copy.deepcopy(random.choice(stock.AWKWARD_VALUES))


def _removed(where: Any, step: Any, random: Random) -> None:
    del where[step]
    if isinstance(where, list) and not where:
        where.append({})  # the outermost list must keep one document


def _added(where: Any, step: Any, random: Random) -> None:
    """Add a member that belongs beside those that are there."""
    if not isinstance(where, dict):
        return
    names = [name for name in stock.beside().get(step, ()) if name not in where]
    if names:
        name = random.choice(names)
        values = stock.by_name().get(name)
        where[name] = copy.deepcopy(random.choice(values)) if values else random.choice((0, "a", {}, []))


def _repeated(where: Any, step: Any, random: Random) -> None:
    """Let an item of a list stand more than once, with its id or with another."""
    if isinstance(where[step], list) and where[step]:
        items = where[step]
        again = [copy.deepcopy(random.choice(items)) for _ in range(random.choice((1, 1, 3, 30)))]
        for number, item in enumerate(again):
            if isinstance(item, dict) and isinstance(item.get("id"), str) and random.random() < 0.8:
                item["id"] = f"{item['id'][:40]}-{number}"
        items += again


def _renamed(where: Any, step: Any, random: Random) -> None:
    if isinstance(where, dict):
        name = step[:-1] if step and random.random() < 0.5 else random.choice(stock.AWKWARD_TEXTS)
        where[name] = where.pop(step)


def _referred(where: Any, step: Any, random: Random) -> None:
    """Let a text be one that stands elsewhere in the same object or list: references cross and circle."""
    if isinstance(where[step], str):
        others = list(_texts(where))
        where[step] = random.choice(others)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict | list):
        for item in value.values() if isinstance(value, dict) else value:
            yield from _texts(item)


_CHANGES: tuple[Callable[[Any, Any, Random], None], ...] = (
    *(_usual,) * 6,
    *(_bound,) * 6,
    _referred,
    _awkward,
    _removed,
    _added,
    _added,
    _repeated,
    _renamed,
    _referred,
)


def _replaced_token(text: bytes, random: Random) -> bytes:
    found = list(_NUMBER.finditer(text))
    if not found:
        return text
    number = random.choice(found)
    return text[: number.start()] + random.choice(stock.AWKWARD_TOKENS) + text[number.end() :]


def _doubled_member(text: bytes, random: Random) -> bytes:
    found = list(_MEMBER.finditer(text))
    if not found:
        return text
    member = random.choice(found)
    return text[: member.end()] + b"," + member.group() + text[member.end() :]
