"""What the tree itself promises: files named for a concept, none too long, nothing left undone, one spelling."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

_ROOT = Path(__file__).resolve().parent.parent
_SKIPPED = {"build", "dist", "__pycache__", "node_modules"}
_SOURCES = sorted(path for path in (_ROOT / "optiselect").rglob("*.py"))
_WRITTEN = sorted(
    path
    for folder in ("optiselect", "tests", "catalogs", ".ci")
    for path in (_ROOT / folder).rglob("*")
    if path.suffix in {".py", ".md", ".yaml", ".toml", ".csv", ""} and path.is_file() and not _SKIPPED & set(path.parts)
) + [path for path in (_ROOT / "README.md", _ROOT / "DEVELOPERS.md", _ROOT / "pyproject.toml") if path.exists()]
_LONGEST = 420
_MEANINGLESS = {"utils", "util", "helpers", "helper", "common", "misc", "base", "core", "stuff"}
_UNWANTED = {
    "unfinished": re.compile(r"\b(TO" r"DO|FIX" r"ME|XX" r"X|HA" r"CK)\b"),
    "path of one machine": re.compile(r"(?<![\w.])/(home|root|work|Users|opt)/\w"),
    "ticket number": re.compile(r"\b[Ii]ssue #?\d"),
}
_BRITISH = re.compile(r"\b(colour|behaviour|neighbour|catalogue|analyse|centre)s?\b", re.IGNORECASE)


def _name(path: Path) -> str:
    return path.relative_to(_ROOT).as_posix()


@pytest.mark.parametrize("path", _SOURCES, ids=_name)
def test_file_is_named_for_a_concept(path: Path) -> None:
    assert path.stem not in _MEANINGLESS


@pytest.mark.parametrize("path", _SOURCES, ids=_name)
def test_file_holds_one_idea(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= _LONGEST


@pytest.mark.parametrize("what", sorted(_UNWANTED))
def test_nothing_unwanted_is_left_behind(what: str) -> None:
    found = [f"{_name(path)}: {match.group()}" for path in _WRITTEN for match in _UNWANTED[what].finditer(path.read_text(encoding="utf-8"))]

    assert found == []


def test_library_spells_the_american_way() -> None:
    found = [f"{_name(path)}: {match.group()}" for path in _SOURCES for match in _BRITISH.finditer(path.read_text(encoding="utf-8"))]

    assert found == []


def test_every_source_of_the_library_says_what_it_is_for() -> None:
    silent = [_name(path) for path in _SOURCES if path.stat().st_size and not path.read_text(encoding="utf-8").lstrip().startswith('"""')]

    assert silent == []
