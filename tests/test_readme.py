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

from optiselect.rules import ALL_RULES
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

    assert [step for step in steps if step not in carried_out] == [".venv/bin/python -m pip install ."]


def test_commands_of_the_readme_run_on_the_demo(tmp_path: Path) -> None:
    demo = [part for line in _COMMANDS for part in line.split(" && ") if " demo " in part]
    commands = [line for line in _COMMANDS if line.startswith(".venv/bin/python -m optiselect")]
    ended = [_run(command, tmp_path) for command in demo + commands]

    assert [run.stderr for run in ended] == [""] * len(ended)
    assert {run.returncode for run in ended} <= {0, 1}
    assert len(ended) >= 4


def test_rules_table_is_the_rules() -> None:
    assert rewritten(_TEXT) == _TEXT


def test_rules_table_has_a_row_for_every_rule() -> None:
    table = TABLE.search(_TEXT)

    assert table is not None
    assert re.findall(r"^\| `([a-z-]+)` \|", table[2], re.MULTILINE) == [rule.id for rule in ALL_RULES]
