"""Small faults put into the library's own code, one at a time: what a careless edit would do.

Only what runs inside functions is changed, and figures at the top of a module. Docstrings, annotations and the words of exceptions are
left alone.
"""

from __future__ import annotations

import ast
import copy
import gc
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from types import CodeType, FunctionType, ModuleType
from typing import Any

_COMPARED = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
}
_RECKONED = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.BitOr: ast.BitAnd}
_CALLED = {"min": "max", "max": "min", "any": "all", "all": "any", "sorted": "list", "abs": "float"}
_Cached = type(lru_cache(int))
_DONE = (ast.Expr, ast.AugAssign, ast.Continue, ast.Break)


@dataclass(frozen=True)
class Mutant:
    """One fault: the how manieth of its module, where it is and what it does."""

    module: str
    number: int
    line: int
    function: str
    words: str

    @property
    def name(self) -> str:
        """What tells it from others and stays when lines above it move."""
        return f"{self.module} {self.function}: {self.words}"

    def __str__(self) -> str:
        return f"line {self.line}: {self.name}"


def mutants_of(module: ModuleType) -> list[Mutant]:
    """Every mutant of a module, in the order of its lines."""
    faults = enumerate(_faults(ast.parse(_source(module))))
    found = [Mutant(module.__name__, number, _line(node), function, words) for number, (node, function, words) in faults]
    return sorted(found, key=lambda mutant: mutant.line)


def _line(node: Any) -> int:
    return node.iter.lineno if isinstance(node, ast.comprehension) else int(node.lineno)


def _source(module: ModuleType) -> str:
    return Path(str(module.__file__)).read_text(encoding="utf-8")


def _faults(tree: ast.Module, wanted: int | None = None) -> Iterator[tuple[Any, str, str]]:
    """All faults of a tree, counted; the wanted one is put in place when it is reached."""
    counter = 0
    for holder, function in _bodies(tree):
        for node, name, field in _code_in(holder):
            for words, put in _changes(node, name, field):
                if counter == wanted:
                    put()
                counter += 1
                yield node, function, words


def _bodies(tree: ast.Module) -> Iterator[tuple[ast.AST, str]]:
    """Functions that are not inside others, with their names; methods too; and figures at the top."""

    def within(nodes: list[ast.stmt], prefix: str) -> Iterator[tuple[ast.AST, str]]:
        for node in nodes:
            if isinstance(node, ast.FunctionDef):
                yield node, prefix + node.name
            elif isinstance(node, ast.ClassDef):
                yield from within(node.body, f"{prefix}{node.name}.")
            elif isinstance(node, ast.Assign) and not prefix and isinstance(node.value, ast.Constant) and isinstance(node.value.value, int | float):
                yield node, str(node.targets[0].id) if isinstance(node.targets[0], ast.Name) else ""

    yield from within(tree.body, "")


def _code_in(holder: ast.AST) -> Iterator[tuple[Any, Any, str]]:
    """Every node that runs, as (node, what holds it, under which field)."""
    for field, value in ast.iter_fields(holder):
        if field in ("annotation", "returns", "decorator_list", "targets", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.Raise | ast.Assert | ast.Import | ast.ImportFrom) or (
                isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)
            ):
                continue
            if isinstance(child, ast.AST):
                yield child, holder, field
                yield from _code_in(child)


def _changes(node: Any, holder: Any, field: str) -> Iterator[tuple[str, Any]]:
    """The faults that can be put at one node."""
    text = ast.unparse(node)
    if isinstance(node, ast.Compare):
        for index, operator in enumerate(node.ops):
            other = _COMPARED[type(operator)]
            yield f"{text} with {other.__name__}", lambda index=index, other=other: node.ops.__setitem__(index, other())
    elif isinstance(node, ast.BinOp) and type(node.op) in _RECKONED:
        other_kind = _RECKONED[type(node.op)]
        yield f"{text} with {other_kind.__name__}", lambda: setattr(node, "op", other_kind())
    elif isinstance(node, ast.BoolOp):
        flipped = ast.Or if isinstance(node.op, ast.And) else ast.And
        yield f"{text} with {flipped.__name__}", lambda: setattr(node, "op", flipped())
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
        yield f"{text} without its sign", lambda: _replace(holder, field, node, node.operand)
    elif isinstance(node, ast.IfExp | ast.If):
        yield f"if {ast.unparse(node.test)} the other way", lambda: setattr(node, "test", ast.UnaryOp(ast.Not(), node.test))
    elif isinstance(node, ast.Constant):
        yield from _other_value(node)
    elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _CALLED:
        yield f"{text} by {_CALLED[node.func.id]}", lambda: setattr(node.func, "id", _CALLED[node.func.id])
    elif isinstance(node, ast.comprehension):
        for condition in node.ifs:
            yield f"for {ast.unparse(node.iter)} without if {ast.unparse(condition)}", lambda condition=condition: node.ifs.remove(condition)
    if isinstance(node, _DONE) and isinstance(getattr(holder, field), list):
        yield f"{text} left out", lambda: _replace(holder, field, node, ast.Pass())
    if isinstance(node, ast.Return) and node.value is not None and not (isinstance(node.value, ast.Constant) and node.value.value is None):
        yield f"{text} as None", lambda: setattr(node, "value", ast.Constant(None))


def _other_value(node: ast.Constant) -> Iterator[tuple[str, Any]]:
    value = node.value
    if isinstance(value, bool):
        other: Any = not value
    elif isinstance(value, int | float):
        other = value + 1
    elif isinstance(value, str):
        other = f"{value}?"
    else:
        return
    yield f"{value!r} as {other!r}", lambda: setattr(node, "value", other)


def _replace(holder: Any, field: str, node: ast.AST, by: ast.AST) -> None:
    value = getattr(holder, field)
    if isinstance(value, list):
        value[next(index for index, item in enumerate(value) if item is node)] = by
    else:
        setattr(holder, field, by)


# -- into the running library --------------------------------------------------------------------------------------------


def put_in(mutant: Mutant) -> bool:
    """Change the functions of the running process; False where the code that runs has no such place."""
    module = sys.modules[mutant.module]
    tree = ast.parse(_source(module))
    for _ in _faults(tree, mutant.number):
        pass
    new = compile(ast.fix_missing_locations(tree), str(module.__file__), "exec", dont_inherit=True)
    codes = {code.co_qualname: code for code in _codes_in(new)}
    changed = False
    for thing in gc.get_objects():
        if isinstance(thing, _Cached):
            thing.cache_clear()
        elif isinstance(thing, FunctionType) and thing.__module__ == mutant.module and _is_in(thing, mutant) and thing.__qualname__ in codes:
            thing.__code__ = codes[thing.__qualname__]
            _put_defaults(thing, tree)
            changed = True
    return changed or _put_figure(mutant, module, tree)


def _is_in(function: FunctionType, mutant: Mutant) -> bool:
    return function.__qualname__ == mutant.function or function.__qualname__.startswith(f"{mutant.function}.")


def _put_defaults(function: FunctionType, tree: ast.Module) -> None:
    """Figures and words that stand in the head of a function belong to it and not to its code."""
    nodes = (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name == function.__name__)
    for node in nodes:
        given = {argument.arg: value for argument, value in zip(node.args.kwonlyargs, node.args.kw_defaults, strict=True) if isinstance(value, ast.Constant)}
        function.__kwdefaults__ = {name: given[name].value if name in given else old for name, old in (function.__kwdefaults__ or {}).items()} or None
        values = zip(node.args.defaults, function.__defaults__ or (), strict=False)
        function.__defaults__ = tuple(value.value if isinstance(value, ast.Constant) else old for value, old in values) or None


def _put_figure(mutant: Mutant, module: ModuleType, tree: ast.Module) -> bool:
    statement = next((node for node in tree.body if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == mutant.function), None)
    if statement is None or not isinstance(statement.value, ast.Constant):
        return False
    old = getattr(module, mutant.function)
    for other in [other for name, other in sys.modules.items() if name.startswith("optiselect.")]:
        if getattr(other, mutant.function, None) is old:
            setattr(other, mutant.function, copy.copy(statement.value.value))
    return True


def _codes_in(code: CodeType) -> Iterator[CodeType]:
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield constant
            yield from _codes_in(constant)
