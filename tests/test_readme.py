"""What the README shows is executed: its Python in order, its commands as they stand, its table against the rules."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from sybil import Document
from sybil.parsers.markdown import PythonCodeBlockParser

from optiselect.formats import archive, limits
from optiselect.formats.units import UNITS
from optiselect.rules import ALL_RULES
from optiselect.solver.paths import MOST_PATHS
from tests.write_rules_table import README, TABLE, rewritten

_ROOT = README.parent
_TEXT = README.read_text(encoding="utf-8")
_COMMANDS = [line for block in re.findall(r"```bash\n(.*?)```", _TEXT, re.DOTALL) for line in block.splitlines()]
_VENV = "python3 -m venv .venv && "


def _run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    words = [sys.executable if word == ".venv/bin/python" else word for word in shlex.split(command)]
    return subprocess.run(
        words, cwd=folder, env={**os.environ, "PYTHONPATH": str(_ROOT)}, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False
    )


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_every_python_block_runs_in_order(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(_ROOT)
    document = Document.parse(str(_ROOT / name), PythonCodeBlockParser())
    blocks = list(document.examples())
    for block in blocks:
        block.evaluate()

    assert len(blocks) == (_ROOT / name).read_text(encoding="utf-8").count("```python")


def test_install_commands_are_those_that_continuous_integration_runs() -> None:
    carried_out = (_ROOT / ".ci" / "run").read_text(encoding="utf-8").replace('"$python"', ".venv/bin/python").replace(" --quiet", "")
    steps = [step for line in _COMMANDS if line.startswith(_VENV) for step in line.removeprefix(_VENV).split(" && ")]

    assert [step for step in steps if step not in carried_out] == [".venv/bin/python -m pip install '.[workbook,report]'"]


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which the README's demo command has run."""
    folder = tmp_path_factory.mktemp("demo")
    (command,) = [part for line in _COMMANDS for part in line.split(" && ") if " demo " in part]
    ended = _run(command, folder)

    assert (ended.returncode, ended.stderr) == (0, "")
    return folder


def test_commands_of_the_readme_run_on_the_demo(demo: Path) -> None:
    commands = [line for line in _COMMANDS if line.startswith(".venv/bin/python -m optiselect")]
    ended = [_run(command, demo) for command in commands]

    assert [run.stderr for run in ended] == [""] * len(ended)
    assert [run.returncode for run in ended] == [1, 0, 1, 0, 1, 0]
    # links that are not served; the only finding is waived; outer-light is not served; one paper; links that are not served; a schema


def test_pictures_of_the_readme_are_what_the_demo_gives_now(demo: Path) -> None:
    """To draw them anew: the command in DEVELOPERS.md, under "The pictures in the README"."""
    shown = re.findall(r"!\[[^]]+\]\(([^)]+\.svg)\)", _TEXT)

    assert [Path(name).name for name in shown] == ["map.svg", "margins.svg"]
    assert [(_ROOT / name).read_text(encoding="utf-8") for name in shown] == [
        (demo / "demo-papers" / Path(name).name).read_text(encoding="utf-8") for name in shown
    ]


def test_units_of_columns_are_those_that_are_read() -> None:
    (told,) = re.findall(r"<!-- units: .*? -->\n(.*?)\n<!-- end of units -->", _TEXT, re.DOTALL)
    pairs = [(suffix, own) for group in told.split("; ") for suffixes, own in [group.split(" for ")] for suffix in suffixes.split(", ")]

    assert pairs == [(f"`{unit.suffix}`", f"`{unit.own}`") for unit in UNITS]


@pytest.mark.parametrize(
    "limit",
    [
        f"the {MOST_PATHS} shortest paths",
        f"A file may be {limits.MAX_BYTES // 1024 // 1024} MB, a workbook may unpack to {limits.MAX_BYTES // 1024 // 1024} MB in {archive._MAX_ENTRIES} parts",
        f"over {archive._MAX_RATIO} times its packed size",
        f"hold {limits.MAX_VALUES:,} values",
        f"nest {limits.MAX_DEPTH} deep",
        f"{len(ALL_RULES)} rules",
    ],
)
def test_limits_are_those_of_the_code(limit: str) -> None:
    assert limit in " ".join(_TEXT.split())


def test_rules_table_is_the_rules() -> None:
    assert rewritten(_TEXT) == _TEXT


def test_rules_table_has_a_row_for_every_rule() -> None:
    table = TABLE.search(_TEXT)

    assert table is not None
    assert re.findall(r"^\| `([a-z-]+)` \|", table[2], re.MULTILINE) == [rule.id for rule in ALL_RULES]


def test_developers_are_told_of_every_file_of_the_solver() -> None:
    page = (_ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## From documents to a plan")[2].partition("\n## ")[0]
    told = set(re.findall(r"`([a-z_]+)`", page))

    assert {path.stem for path in (_ROOT / "optiselect" / "solver").glob("[a-z]*.py")} - told == set()
