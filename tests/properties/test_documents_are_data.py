"""Documents are data: nothing in the library turns a text into code, and a process is started without a shell."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import optiselect

SOURCES = sorted(Path(optiselect.__file__).parent.rglob("*.py"))
RUNS_CODE = {"pickle", "marshal", "shelve", "dill", "cloudpickle", "code", "runpy"}
CALLS = {"eval", "exec", "compile", "__import__"}


def imported(tree: ast.AST) -> set[str]:
    names = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    return {name.partition(".")[0] for name in names | {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}}


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_no_text_becomes_code(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    called = {node.func.id for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)}
    assert imported(tree) & RUNS_CODE == set()
    assert called & CALLS == set()


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: path.stem)
def test_no_process_is_started_through_a_shell(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert "shell" not in {word.arg for node in ast.walk(tree) if isinstance(node, ast.Call) for word in node.keywords}
    assert {"system", "popen"} & {node.func.attr for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)} == set()
