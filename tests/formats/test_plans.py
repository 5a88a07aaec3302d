"""A plan is kept in a file as well: its figures stay figures and its texts stay texts."""

from __future__ import annotations

from pathlib import Path

import pytest

from optiselect.model.plan import Fact, Plan
from tests.handover.pier import plan

FACTS = [Fact(rule="light-budget", path="runs[0]", required=6.0, available="6.0"), Fact(rule="light-budget", path="010", required=1e-07, available="1e3")]


@pytest.mark.parametrize("suffix", [".yaml", ".json"])
def test_plan_reads_back_equal(suffix: str, tmp_path: Path) -> None:
    plan().save(tmp_path / f"it{suffix}")
    assert Plan.load(tmp_path / f"it{suffix}") == plan()


@pytest.mark.parametrize("suffix", [".yaml", ".json"])
def test_figure_and_text_of_a_reason_stay_what_they_are(suffix: str, tmp_path: Path) -> None:
    refused = {"id": "L9", "kind": "impossible", "request": {"rate": "1G", "hops": 2, "over": ["F1"]}, "candidates": 1, "tally": [], "conflict": FACTS}
    held = plan(unserved=[refused])
    held.save(tmp_path / f"it{suffix}")
    read = Plan.load(tmp_path / f"it{suffix}")
    assert [(fact.required, fact.available) for fact in read.unserved[0].conflict] == [(6.0, "6.0"), (1e-07, "1e3")]
    assert read == held
