"""What one request may hold, where whoever runs the service allows less than the contract does."""

from __future__ import annotations

from typing import Any, NamedTuple

import orjson

from warmstead.building.findings import Problem, Refused
from warmstead.building.pointers import escaped


class Most(NamedTuple):
    """What a request may hold at most. As it stands, it is what the contract allows and the parser reads."""

    json_depth: int = 200
    """Objects and lists within each other."""
    list_length: int = 20_000
    """Items of each list, and members of each object."""
    combinations: int = 128
    """Ways through the bridged layers of a construction."""
    draws: int = 100_000
    """Draws of an uncertainty."""


CONTRACT = Most()


class TooDeep(Exception):
    """JSON is nested more deeply than is taken."""


def refuse_too_much(text: bytes | str, most: Most) -> None:
    """Refuse a document that holds more than is allowed here; what is no JSON, or has a wrong form, is left to its model.

    Args:
        text: JSON, UTF-8.
        most: what is allowed.

    Raises:
        TooDeep: it is nested too deeply.
        Refused: it holds too much of something; every place is in it.
    """
    if most == CONTRACT:
        return
    try:
        document = orjson.loads(text)
    except orjson.JSONDecodeError:
        return
    problems: list[Problem] = []
    _look(document, "", most.json_depth, most, problems)
    if problems:
        raise Refused(problems)


def _look(value: Any, at: str, depth: int, most: Most, problems: list[Problem]) -> None:
    if not isinstance(value, dict | list):
        return
    if depth == 0:
        raise TooDeep
    if len(value) > most.list_length:
        detail = f"at most {most.list_length} here, not {len(value)}"
        problems.append(Problem(at, "wrong_count", detail))
        return
    if isinstance(value, list):
        for index, item in enumerate(value):
            _look(item, f"{at}/{index}", depth - 1, most, problems)
        return
    _look_at_members(value, at, most, problems)
    for name, member in value.items():
        _look(member, f"{at}/{escaped(name)}", depth - 1, most, problems)


def _look_at_members(value: dict[str, Any], at: str, most: Most, problems: list[Problem]) -> None:
    draws = value.get("draws")
    if isinstance(draws, int | float) and draws > most.draws:
        problems.append(Problem(f"{at}/draws", "out_of_range", f"at most {most.draws} here"))
    layers = value.get("layers")
    if isinstance(layers, list) and _combinations(layers) > most.combinations:
        detail = f"the bridges make more than the {most.combinations} sections that are taken here"
        problems.append(Problem(f"{at}/layers", "not_covered", detail))


def _combinations(layers: list[Any]) -> int:
    """Return the number of ways through some layers, at most: a path that was crossed before divides nothing again."""
    ways = 1
    crossed: set[str] = set()
    for layer in layers:
        bridges = layer.get("bridges") if isinstance(layer, dict) else None
        if isinstance(bridges, list):
            paths = [_path(bridge) for bridge in bridges]
            ways *= 1 + sum(path not in crossed for path in paths)
            crossed |= {path for path in paths if path is not None}
    return ways


def _path(bridge: Any) -> str | None:
    path = bridge.get("path") if isinstance(bridge, dict) else None
    return path if isinstance(path, str) else None
