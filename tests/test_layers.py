"""Imports point one way: model <- standards <- optics <- rules <- solver <- explain <- handover, study."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import optiselect

_ROOT = Path(optiselect.__file__).parent
_FRONT = {"__init__", "__main__"}
_MAY_IMPORT: dict[str, set[str]] = {
    "errors": set(),
    "model": {"errors"},
    "formats": {"errors", "model"},
    "demo": {"errors", "model"},
    "standards": {"errors", "model"},
    "optics": {"errors", "model", "standards"},
    "rules": {"errors", "model", "standards", "optics"},
    "solver": {"errors", "model", "standards", "optics", "rules"},
    "explain": {"errors", "model", "standards", "optics", "rules", "solver"},
    "handover": {"errors", "model", "formats", "standards", "optics", "rules", "solver", "explain"},
    "study": {"errors", "model", "formats", "standards", "optics", "rules", "solver", "explain"},
}
_DOORS = {
    ("model/document.py", "formats"),
    ("model/network.py", "formats"),
    ("model/network.py", "handover"),
    ("model/catalog.py", "formats"),
    ("model/catalog.py", "standards"),
    ("model/catalog.py", "handover"),
    ("model/inventory.py", "formats"),
    ("model/inventory.py", "standards"),
    ("model/plan.py", "handover"),
    ("model/explanation.py", "handover"),
    ("model/refusal.py", "handover"),
    ("solver/isolated.py", "explain"),
    ("solver/solve.py", "explain"),
}
"""Methods of nouns that stand for a layer above (load, save, to_graph, frame, ...): imported inside the method only, or for types."""


class Import(NamedTuple):
    file: str
    layer: str
    imports: str
    in_function: bool


def _ours(node: ast.AST, package: str) -> Iterator[str]:
    if isinstance(node, ast.Import):
        names = [alias.name for alias in node.names]
    elif isinstance(node, ast.ImportFrom):
        names = [f"{node.module}.{alias.name}" for alias in node.names] if node.level == 0 else [f"{package}.relative"]
    else:
        names = []
    yield from (name.split(".")[1] for name in names if name.startswith("optiselect."))


def _imports() -> Iterator[Import]:
    for path in sorted(_ROOT.rglob("*.py")):
        file = path.relative_to(_ROOT)
        layer = file.parts[0].removesuffix(".py")
        tree = ast.parse(path.read_text(encoding="utf-8"))
        late = [
            node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) or (isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING")
        ]
        inside = {id(node) for part in late for node in ast.walk(part)}
        for node in ast.walk(tree):
            for target in _ours(node, "optiselect"):
                yield Import(file.as_posix(), layer, target, id(node) in inside)


def _upward() -> list[Import]:
    return [found for found in _imports() if found.layer not in _FRONT and found.imports != found.layer and found.imports not in _MAY_IMPORT[found.layer]]


def test_every_folder_of_the_library_is_a_known_layer() -> None:
    layers = {path.relative_to(_ROOT).parts[0].removesuffix(".py") for path in _ROOT.rglob("*.py")}

    assert layers - _FRONT <= set(_MAY_IMPORT)


def test_no_module_imports_a_layer_above_it() -> None:
    assert [found for found in _upward() if not found.in_function] == []


def test_only_the_stated_doors_reach_up_and_only_when_they_are_called() -> None:
    assert {(found.file, found.imports) for found in _upward()} <= _DOORS


def test_the_rules_of_the_trade_know_no_solver() -> None:
    engines = {"ortools", "constraint", "highspy"}
    named = {
        (path.relative_to(_ROOT).as_posix(), alias.name.partition(".")[0])
        for path in _ROOT.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Import)
        for alias in node.names
    } | {
        (path.relative_to(_ROOT).as_posix(), (node.module or "").partition(".")[0])
        for path in _ROOT.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom)
    }

    assert {file.partition("/")[0] for file, module in named if module in engines} <= {"solver", "explain"}
