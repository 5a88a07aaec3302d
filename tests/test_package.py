"""The wheel: what must come along does, and the metadata keeps its promises."""

from __future__ import annotations

import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

import optiselect

_ROOT = Path(__file__).resolve().parent.parent
_PROJECT = tomllib.loads((_ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    """The names of the files of the wheel, built by the build backend itself."""
    folder = tmp_path_factory.mktemp("wheel")
    code = f"import hatchling.build as b; b.build_wheel({str(folder)!r})"
    subprocess.run([sys.executable, "-c", code], cwd=_ROOT, check=True, capture_output=True, stdin=subprocess.DEVNULL)
    return set(zipfile.ZipFile(next(folder.glob("*.whl"))).namelist())


def test_wheel_carries_every_module_and_every_data_file(wheel: set[str]) -> None:
    kept = {path.relative_to(_ROOT).as_posix() for path in (_ROOT / "optiselect").rglob("*") if path.suffix in {".py", ".yaml", ".typed", ".j2", ".css", ".js"}}

    assert kept <= wheel


def test_wheel_carries_nothing_but_the_library_and_its_license(wheel: set[str]) -> None:
    assert {name.partition("/")[0].partition("-")[0] for name in wheel} == {"optiselect"}
    assert any(name.endswith("licenses/LICENSE") for name in wheel)


def test_version_is_stated_once() -> None:
    assert _PROJECT["version"] == optiselect.__version__


def test_license_is_mit() -> None:
    assert _PROJECT["license"] == "MIT"
    assert (_ROOT / "LICENSE").read_text(encoding="utf-8").startswith("MIT License")


def test_solver_is_held_to_one_minor_version() -> None:
    """A plan's repeatability rests on the search of one version."""
    assert "ortools>=9.15,<9.16" in _PROJECT["dependencies"]
