"""Five thousand documents a run that were good once: each is read or refused, in little time and memory, and nothing else comes out.

A document that is not as it should be is told by its name, `KIND NUMBER`; `python -m tests.properties.malformed KIND NUMBER 1` takes it again.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("resource", reason="memory limits are a matter of POSIX")

ROOT = Path(__file__).resolve().parents[2]
SHARES = {"yaml": (2, 600), "json": (2, 600), "csv": (2, 450), "xlsx": (2, 300), "graph": (1, 500), "memory": (1, 450), "planned": (2, 75)}
"""How many processes, and how many documents each: 5,000 in all."""
BATCHES = [(kind, share * count, count) for kind, (shares, count) in SHARES.items() for share in range(shares)]


def test_shares_add_up() -> None:
    assert sum(count for _, _, count in BATCHES) == 5000


@pytest.mark.parametrize(("kind", "first", "count"), BATCHES)
def test_malformed_document_is_read_or_refused(kind: str, first: int, count: int) -> None:
    command = [sys.executable, "-m", "tests.properties.malformed", kind, str(first), str(count)]
    child = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL)
    outcomes = dict(json.loads(line) for line in child.stdout.splitlines())
    assert {name: told for name, told in outcomes.items() if told not in ("read", "refused")} == {}
    assert (child.returncode, len(outcomes), set(outcomes.values())) == (0, count, {"read", "refused"}), child.stderr[-2000:]
