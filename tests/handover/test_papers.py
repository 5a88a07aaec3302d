"""The papers of a plan in a folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from optiselect.errors import OptiselectError
from optiselect.handover.papers import write_papers
from optiselect.model.plan import Plan
from tests.handover.pier import CATALOG, NETWORK, plan


def test_papers_are_all_there_and_nothing_else(tmp_path: Path) -> None:
    written = write_papers(plan(), NETWORK, CATALOG, tmp_path / "papers")

    assert sorted(path.name for path in (tmp_path / "papers").iterdir()) == sorted(path.name for path in written)
    assert [path.name for path in written] == [
        *("plan.json", "plan.txt", "bill.csv", "links.csv", "ends.csv", "directions.csv", "margins.svg", "unserved.txt", "cautions.txt"),
    ]


def test_saved_plan_reads_back_equal(tmp_path: Path) -> None:
    write_papers(plan(), NETWORK, CATALOG, tmp_path)

    assert Plan.load(tmp_path / "plan.json") == plan()


def test_cautions_of_the_plan_come_before_those_of_every_handover(tmp_path: Path) -> None:
    write_papers(plan(), NETWORK, CATALOG, tmp_path)
    lines = (tmp_path / "cautions.txt").read_text(encoding="utf-8").splitlines()

    assert lines[:4] == [
        "Lantern pier: cautions",
        "",
        "- L1: 5 dB above the damage level without its attenuator.",
        "- Invisible laser light: never look into a port, a plug or a fiber end, with or without optics.",
    ]


def test_unserved_links_keep_their_reasons(tmp_path: Path) -> None:
    write_papers(plan(), NETWORK, CATALOG, tmp_path)

    assert "L2 (impossible)\nL2 cannot be served: no module runs 100M" in (tmp_path / "unserved.txt").read_text(encoding="utf-8")


def test_papers_are_written_again_over_older_ones(tmp_path: Path) -> None:
    write_papers(plan(), NETWORK, CATALOG, tmp_path)
    write_papers(plan(unserved=()), NETWORK, CATALOG, tmp_path)

    assert (tmp_path / "unserved.txt").read_text(encoding="utf-8") == "Lantern pier: links that are not served\n\nEvery link is served.\n"


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")

    with pytest.raises(OptiselectError, match="the papers cannot be written there"):
        write_papers(plan(), NETWORK, CATALOG, tmp_path / "file" / "papers")
