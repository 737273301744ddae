"""Rewrite a document from one set of names and units into another, by the rules of a mapping.

A document is taken apart into its leaves, each with the steps that lead to it; each leaf gets new steps and, where
a rule says so, a new value; then the document is put together again. Reading back is the same with the sides of
every rule exchanged.
"""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from warmstead.corpus.mapping import FieldRule

_Steps = tuple[str | int, ...]


class UnmappableError(Exception):
    """The rules lead two leaves to one place, or to no possible one."""


class _Leaf(NamedTuple):
    value: Any


class _Pattern(NamedTuple):
    source: tuple[str, ...]
    target: tuple[str, ...]
    rule: FieldRule


class Rewriter:
    """Rewrites documents by one list of rules; where two rules are for the same place, the first counts."""

    def __init__(self, rules: Iterable[FieldRule], *, back: bool = False) -> None:
        """Take the rules; `back` reads theirs as ours."""
        self._back = back
        self._names: dict[str, FieldRule] = {}
        patterns: dict[tuple[str, ...], _Pattern] = {}
        for rule in rules:
            source = rule.theirs if back else rule.ours
            if source is None:
                continue
            if rule.by_name:
                self._names.setdefault(source, rule)
            else:
                target = (rule.ours if back else rule.theirs) or ""
                steps = tuple(map(str, split(source)))
                patterns.setdefault(steps, _Pattern(steps, tuple(map(str, split(target))), rule))
        # The longest pattern that fits counts; of two as long, the one with fewer stars.
        self._patterns = sorted(patterns.values(), key=lambda one: (-len(one.source), one.source.count("*")))

    def document(self, document: Any) -> Any:
        """Return the document in the other names and units.

        Raises:
            UnmappableError: two leaves would come to stand in one place.
        """
        root: dict[str | int, Any] = {}
        for steps, value in _leaves(document, ()):
            target, rule = self._target(steps)
            if target is not None:
                _place(root, ("", *target), self._convert(value, rule))
        return _put_together(root[""]) if root else {}

    def pointer(self, pointer: str) -> str:
        """Return the pointer to the same place in the other document."""
        target, _ = self._target(split(pointer))
        return pointer if target is None else join(target)

    def _target(self, steps: _Steps) -> tuple[_Steps | None, FieldRule | None]:
        """Return where a leaf comes to stand, None where it is dropped, and the rule about its value."""
        pattern = next((one for one in self._patterns if _fits(one.source, steps)), None)
        beneath = steps if pattern is None else steps[len(pattern.source) :]
        if pattern is not None and pattern.rule.dropped:
            return None, None
        moved = () if pattern is None else _filled_in(pattern, steps)
        renamed: list[str | int] = []
        by_name: FieldRule | None = None
        for step in beneath:
            if isinstance(step, int):
                renamed.append(step)
                continue
            by_name = self._names.get(step)
            if by_name is not None and by_name.dropped:
                return None, None
            name = step if by_name is None else by_name.ours if self._back else by_name.theirs
            renamed.append(name if name is not None else step)
        return (*moved, *renamed), by_name if beneath or pattern is None else pattern.rule

    def _convert(self, value: Any, rule: FieldRule | None) -> Any:
        if rule is None:
            return value
        if isinstance(value, str) and rule.values is not None:
            values = {theirs: ours for ours, theirs in rule.values.items()} if self._back else rule.values
            return values.get(value, value)
        if isinstance(value, bool) or not isinstance(value, int | float):
            return value
        if rule.factor is None and rule.offset is None:
            return value
        # In decimals, so that a value at the end of a printed interval does not fall out of it.
        factor, offset = Decimal(repr(rule.factor or 1)), Decimal(repr(rule.offset or 0))
        number = Decimal(repr(value))
        return float((number - offset) / factor if self._back else number * factor + offset)


def split(pointer: str) -> _Steps:
    """Return the steps of a JSON pointer, a list's index as a number."""
    steps = (step.replace("~1", "/").replace("~0", "~") for step in pointer.split("/")[1:])
    return tuple(int(step) if step.isdecimal() else step for step in steps)


def join(steps: Iterable[str | int]) -> str:
    """Return the JSON pointer with these steps."""
    return "".join("/" + str(step).replace("~", "~0").replace("/", "~1") for step in steps)


def add(document: Any, pointer: str, value: Any) -> None:
    """Put a value into a document of objects, at a place that is still empty.

    Raises:
        UnmappableError: something stands there, or on the way to it.
    """
    *way, last = map(str, split(pointer))
    holder = document
    for step in way:
        holder = holder.setdefault(step, {}) if isinstance(holder, dict) else None
    if not isinstance(holder, dict) or last in holder:
        raise UnmappableError(f"the mapping adds {pointer}, where the request has something already")
    holder[last] = value


def _leaves(value: Any, steps: _Steps) -> Iterator[tuple[_Steps, Any]]:
    if isinstance(value, dict) and value:
        for name, member in value.items():
            yield from _leaves(member, (*steps, name))
    elif isinstance(value, list) and value:
        for index, member in enumerate(value):
            yield from _leaves(member, (*steps, index))
    else:
        yield steps, value


def _fits(pattern: tuple[str, ...], steps: _Steps) -> bool:
    if len(pattern) > len(steps):
        return False
    return all(one in ("*", str(step)) for one, step in zip(pattern, steps, strict=False))


def _filled_in(pattern: _Pattern, steps: _Steps) -> _Steps:
    stars = (step for one, step in zip(pattern.source, steps, strict=False) if one == "*")
    return tuple(
        next(stars) if one == "*" else int(one) if one.isdecimal() else one for one in pattern.target
    )


def _place(root: dict[str | int, Any], steps: _Steps, value: Any) -> None:
    *way, last = steps
    holder: Any = root
    for step in way:
        holder = holder.setdefault(step, {})
        if isinstance(holder, _Leaf):
            raise UnmappableError(f"the mapping puts something beneath the value at {join(steps[1:])}")
    if last in holder:
        raise UnmappableError(f"the mapping leads two values to {join(steps[1:]) or 'the whole document'}")
    holder[last] = _Leaf(value)


def _put_together(node: Any) -> Any:
    if isinstance(node, _Leaf):
        return node.value
    indices = [step for step in node if isinstance(step, int)]
    if not indices:
        return {name: _put_together(member) for name, member in node.items()}
    if len(indices) != len(node):
        raise UnmappableError("the mapping puts names and indices into one list")
    # A member of which all was dropped is an empty object, so that those after it keep their place.
    return [_put_together(node[index]) if index in node else {} for index in range(max(indices) + 1)]
