"""The front door: few names, all of them usable, and nothing heavy behind it until it is needed."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import optiselect

_SOURCE = Path(optiselect.__file__)
_HEAVY = ("ortools", "pandas", "numpy", "networkx", "constraint", "pydantic", "yaml", "scipy")


def _names_for_type_checkers() -> set[str]:
    guarded = next(node for node in ast.parse(_SOURCE.read_text(encoding="utf-8")).body if isinstance(node, ast.If))
    return {alias.name for node in guarded.body if isinstance(node, ast.ImportFrom) for alias in node.names}


def _loaded_after(statement: str) -> set[str]:
    code = f"{statement}\nimport sys\nprint('\\n'.join(sys.modules))"
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, stdin=subprocess.DEVNULL)
    return {line.partition(".")[0] for line in shown.stdout.splitlines()}


def test_type_checkers_and_users_see_the_same_names() -> None:
    assert _names_for_type_checkers() == set(optiselect.__all__)


def test_public_names_are_sorted_and_each_stands_once() -> None:
    assert list(optiselect.__all__) == sorted(set(optiselect.__all__))


@pytest.mark.parametrize("name", optiselect.__all__)
def test_public_name_is_documented_where_it_is_defined(name: str) -> None:
    thing = getattr(optiselect, name)

    assert thing.__name__ == name
    assert thing.__doc__


def test_dir_lists_every_public_name() -> None:
    assert set(optiselect.__all__) <= set(dir(optiselect))


def test_a_name_that_is_not_there_is_refused_by_its_name() -> None:
    with pytest.raises(AttributeError, match="has no attribute 'no_such_name'"):
        optiselect.no_such_name  # noqa: B018 - the access is what is tested


def test_import_alone_loads_nothing_heavy() -> None:
    assert _loaded_after("import optiselect").isdisjoint(_HEAVY)


def test_nouns_load_neither_solver_nor_frames() -> None:
    loaded = _loaded_after("from optiselect import Network, Catalog, Policy, Plan")

    assert loaded.isdisjoint({"ortools", "pandas", "numpy", "networkx", "constraint", "yaml"})


def test_explain_is_a_function_also_after_its_folder_is_loaded() -> None:
    code = "import importlib, optiselect\nimportlib.import_module('optiselect.explain')\nassert type(optiselect.explain).__name__ == 'function'"

    assert subprocess.run([sys.executable, "-c", code], stdin=subprocess.DEVNULL, check=False).returncode == 0
