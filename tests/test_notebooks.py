"""Every notebook runs from its first cell to its last, each in a kernel of its own."""

from __future__ import annotations

from pathlib import Path

import nbformat
import pytest
from nbclient import NotebookClient

_ROOT = Path(__file__).resolve().parent.parent
_NOTEBOOKS = sorted((_ROOT / "notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("path", _NOTEBOOKS, ids=lambda path: path.name)
def test_notebook_is_kept_without_outputs(path: Path) -> None:
    cells = [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]

    assert [cell for cell in cells if cell.outputs or cell.execution_count] == []


@pytest.mark.parametrize("path", _NOTEBOOKS, ids=lambda path: path.name)
def test_notebook_runs_to_its_end(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PYTHONPATH", str(_ROOT))
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(path.parent)}}).execute()

    assert all(cell.execution_count for cell in notebook.cells if cell.cell_type == "code" and cell.source.strip())
