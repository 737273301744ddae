"""Small wrong copies of a module: each differs from it in one place, as a slip of the pen would.

A mutant is made from the syntax tree, so that nothing is ever written to disk; `apply` puts it into the module that is
already imported, function by function, so that every name bound elsewhere to one of its functions sees the mutant too.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator, Sequence
from decimal import Decimal
from types import FunctionType, ModuleType
from typing import Any, NamedTuple

import numpy as np

ARITHMETIC: dict[type[ast.operator], tuple[type[ast.operator], ...]] = {
    ast.Add: (ast.Sub, ast.Mult),
    ast.Sub: (ast.Add, ast.Div),
    ast.Mult: (ast.Div, ast.Add),
    ast.Div: (ast.Mult, ast.Sub),
    ast.Pow: (ast.Mult,),
}
COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
SIGNS = {
    ast.Add: "+",
    ast.Sub: "−",
    ast.Mult: "·",
    ast.Div: "/",
    ast.Pow: "**",
    ast.Lt: "<",
    ast.LtE: "<=",
    ast.Gt: ">",
    ast.GtE: ">=",
    ast.Eq: "==",
    ast.NotEq: "!=",
    ast.Is: "is",
    ast.IsNot: "is not",
    ast.In: "in",
    ast.NotIn: "not in",
}
EXCHANGED_CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}
NUMBERS_OF_A_TABLE = 4
"""A module's assignment with at least so many numbers is a table; its entries are data, counted apart."""


class Mutant(NamedTuple):
    """One place of a module, changed."""

    module: str
    function: str
    """Qualified name of the function it lies in; empty for a module's constant."""
    line: int
    column: int
    kind: str
    change: str
    tree: ast.Module

    @property
    def name(self) -> str:
        """Say what was changed, and where."""
        place = f"{self.function or '(constants)'}:{self.line}:{self.column}"
        return f"{self.module}.{place} {self.kind}: {self.change}"


def mutants_of(module: str, source: str, every_table_entry: int = 1) -> Iterator[Mutant]:
    """Yield every mutant of a module's source, in the order of the source.

    Args:
        module: its name, for the report.
        source: its text.
        every_table_entry: of the entries of tables only each so manieth one.
    """
    tree = ast.parse(source)
    written = source.splitlines()
    entries = 0
    for path, function, table in _places(tree):
        if table:
            entries += 1
            if entries % every_table_entry:
                continue
        original = _at(tree, path)
        for kind, change, replacement in _changes(original, written, table):
            mutated = copy.deepcopy(tree)
            _put(mutated, path, replacement)
            line, column = getattr(original, "lineno", 0), getattr(original, "col_offset", 0)
            yield Mutant(module, function, line, column, kind, change, ast.fix_missing_locations(mutated))


# --- Places in a tree ------------------------------------------------------------------------------

_Path = tuple[tuple[str, int | None], ...]


def _places(tree: ast.Module) -> Iterator[tuple[_Path, str, bool]]:
    """Yield each node that may change: its path, the function around it, and whether it is a table's entry."""
    for index, statement in enumerate(tree.body):
        table = isinstance(statement, ast.Assign) and _numbers_in(statement) >= NUMBERS_OF_A_TABLE
        yield from _walk(statement, (("body", index),), "", table)


def _numbers_in(node: ast.AST) -> int:
    return sum(isinstance(one, ast.Constant) and isinstance(one.value, int | float) for one in ast.walk(node))


def _walk(node: ast.AST, path: _Path, function: str, table: bool) -> Iterator[tuple[_Path, str, bool]]:
    if isinstance(node, ast.If) and _is_type_checking(node.test):
        return
    if isinstance(node, ast.FunctionDef | ast.ClassDef):
        inside = f"{function}.{node.name}" if function else node.name
        skipped = {"decorator_list", "returns", "bases"}
        inside_function = inside
    else:
        skipped, inside_function = {"annotation", "returns"}, function
    yield path, function, table
    for name, value in ast.iter_fields(node):
        if name in skipped or isinstance(node, ast.JoinedStr):
            continue
        # Defaults are evaluated with the module, but belong to the function that takes them.
        if isinstance(value, list):
            for index, one in enumerate(value):
                if isinstance(one, ast.AST):
                    yield from _walk(one, (*path, (name, index)), inside_function, table)
        elif isinstance(value, ast.AST):
            yield from _walk(value, (*path, (name, None)), inside_function, table)


def _is_type_checking(test: ast.expr) -> bool:
    return isinstance(test, ast.Name) and test.id == "TYPE_CHECKING"


def _at(tree: ast.AST, path: _Path) -> ast.AST:
    node: ast.AST = tree
    for name, index in path:
        value = getattr(node, name)
        node = value if index is None else value[index]
    return node


def _put(tree: ast.AST, path: _Path, replacement: ast.AST) -> None:
    holder = _at(tree, path[:-1])
    name, index = path[-1]
    if index is None:
        setattr(holder, name, replacement)
    else:
        getattr(holder, name)[index] = replacement


# --- What a slip may change ------------------------------------------------------------------------

_Change = tuple[str, str, ast.AST]


def _changes(node: ast.AST, written: Sequence[str], table: bool) -> Iterator[_Change]:
    if isinstance(node, ast.Constant):
        yield from _constants(node, written, table)
    if isinstance(node, ast.BinOp | ast.AugAssign):
        for other in ARITHMETIC.get(type(node.op), ()):
            changed = copy.deepcopy(node)
            changed.op = other()
            yield "arithmetic", f"{SIGNS[type(node.op)]} to {SIGNS[other]} in {_shown(node)}", changed
    if isinstance(node, ast.Compare):
        for index, operator in enumerate(node.ops):
            for replacement in COMPARISONS[type(operator)]:
                compared = copy.deepcopy(node)
                compared.ops[index] = replacement()
                which = f" (no. {index + 1})" if len(node.ops) > 1 else ""
                shown = f"{SIGNS[type(operator)]}{which} to {SIGNS[replacement]} in {_shown(node)}"
                yield "comparison", shown, compared
    if isinstance(node, ast.BoolOp):
        either = copy.deepcopy(node)
        either.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield "condition", f"and/or exchanged in {_shown(node)}", either
    if isinstance(node, ast.UnaryOp):
        kind = "condition" if isinstance(node.op, ast.Not) else "arithmetic"
        yield kind, f"sign or not left out of {_shown(node)}", copy.deepcopy(node.operand)
    if isinstance(node, ast.If | ast.IfExp) and not isinstance(node.test, ast.Compare | ast.UnaryOp):
        negated = copy.deepcopy(node)
        negated.test = ast.UnaryOp(ast.Not(), negated.test)
        yield "condition", f"negated {_shown(node.test)}", negated
    if isinstance(node, ast.Call):
        yield from _calls(node)
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
        yield "statement", f"left out {_shown(node)}", ast.Pass()
    if isinstance(node, ast.Return) and node.value is not None:
        doubled = ast.Call(ast.Name("_bent", ast.Load()), [copy.deepcopy(node.value)], [])
        yield "return", f"a tenth more than {_shown(node.value)}", ast.Return(doubled)


def _constants(node: ast.Constant, written: Sequence[str], table: bool) -> Iterator[_Change]:
    value = node.value
    if isinstance(value, bool):
        yield "constant", f"{value} to {not value}", ast.Constant(not value)
        return
    if not isinstance(value, int | float):
        return
    digits = written[node.lineno - 1].encode()[node.col_offset : node.end_col_offset].decode()
    slip = float(Decimal(digits) + Decimal(1).scaleb(_last_place(digits)))
    if table:
        yield "table, last digit", f"{digits} to {slip:g}", ast.Constant(slip)
        tenth = 1.1 * value if value else 0.1
        yield "table, a tenth", f"{digits} to {tenth:g}", ast.Constant(tenth)
        return
    changed = {value + 1: "", value - 1: ""} | ({slip: ""} if isinstance(value, float) else {})
    for other in changed:
        yield "constant", f"{digits} to {other:g}", ast.Constant(other)


def _last_place(digits: str) -> int:
    exponent = Decimal(digits).as_tuple().exponent
    assert isinstance(exponent, int), digits
    # 50.0 is written to show that it is no integer: its last place is the one before the point.
    return 0 if digits.endswith(".0") else exponent


def _calls(node: ast.Call) -> Iterator[_Change]:
    if isinstance(node.func, ast.Name) and node.func.id in EXCHANGED_CALLS:
        exchanged = copy.deepcopy(node)
        exchanged.func = ast.Name(EXCHANGED_CALLS[node.func.id], ast.Load())
        yield "call", f"{node.func.id} to {EXCHANGED_CALLS[node.func.id]} in {_shown(node)}", exchanged
    for index in range(len(node.args) - 1):
        swapped = copy.deepcopy(node)
        swapped.args[index], swapped.args[index + 1] = swapped.args[index + 1], swapped.args[index]
        if ast.dump(swapped) != ast.dump(node):
            yield "call", f"arguments {index + 1} and {index + 2} exchanged in {_shown(node)}", swapped


def _shown(node: ast.AST) -> str:
    text = " ".join(ast.unparse(node).split())
    return text if len(text) <= 70 else f"{text[:67]}..."


# --- A mutant in place of the module ---------------------------------------------------------------


def bent(value: object) -> object:
    """Return a result with every number in it a tenth more, every truth value turned, a text lengthened."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, int | float):
        return value * 1.1 if value else 0.1
    if isinstance(value, str):
        return f"{value}0"
    if isinstance(value, tuple):
        parts: list[Any] = [one if isinstance(one, str | bool) else bent(one) for one in value]
        return type(value)(*parts) if hasattr(value, "_fields") else tuple(parts)
    if isinstance(value, list):
        return [bent(one) for one in value]
    if isinstance(value, np.ndarray) and value.dtype.kind == "f":
        return np.where(value == 0.0, 0.1, 1.1 * value)
    return value


def loads(mutant: Mutant, module: ModuleType) -> bool:
    """Whether a mutant can be imported at all; one that can't would never reach anybody."""
    try:
        _executed(mutant, module)
    except Exception:
        return False
    return True


def apply(mutant: Mutant, module: ModuleType) -> None:
    """Make an imported module behave as the mutant: its functions, their defaults and its constants.

    Its classes stay, as their instances and names are shared; only the functions and properties in them are exchanged,
    and what a named tuple's fields are where nothing is said.
    """
    namespace = _executed(mutant, module)
    module.__dict__["_bent"] = bent
    for name, new in namespace.items():
        old = module.__dict__.get(name)
        if isinstance(new, FunctionType) and isinstance(old, FunctionType):
            _take_over(old, new)
        elif isinstance(new, type) and isinstance(old, type):
            _take_over_members(old, new, module.__name__)
        elif not name.startswith("__") and not isinstance(new, ModuleType | FunctionType | type):
            module.__dict__[name] = new


def _executed(mutant: Mutant, module: ModuleType) -> dict[str, object]:
    namespace: dict[str, object] = {"__name__": module.__name__, "__file__": module.__file__, "_bent": bent}
    exec(compile(mutant.tree, module.__file__ or module.__name__, "exec"), namespace)
    return namespace


def _take_over_members(old: type, new: type, module: str) -> None:
    for member, changed in vars(new).items():
        kept = vars(old).get(member)
        if isinstance(kept, property) and isinstance(changed, property):
            kept, changed = kept.fget, changed.fget
        # What a named tuple brings along is another module's.
        own = isinstance(kept, FunctionType) and kept.__module__ == module
        if own and isinstance(kept, FunctionType) and isinstance(changed, FunctionType):
            _take_over(kept, changed)
    if hasattr(old, "_fields"):
        old.__new__.__defaults__ = new.__new__.__defaults__


def _take_over(old: FunctionType, new: FunctionType) -> None:
    old.__code__ = new.__code__
    old.__defaults__ = new.__defaults__
    old.__kwdefaults__ = new.__kwdefaults__
