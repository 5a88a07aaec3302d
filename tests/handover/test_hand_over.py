"""All papers in one folder: complete, of one plan and its documents, and nothing half written."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

from optiselect import Policy
from optiselect.errors import MismatchError, OptiselectError, UnknownNameError
from optiselect.handover.dossier import Dossier
from optiselect.handover.hand_over import HandedOver
from optiselect.handover.papers import PAPERS
from optiselect.model.plan import Plan
from tests.handover.pier import CATALOG, NETWORK, plan

_PAGES = ("handover.html", "labels.html", "handover.xlsx", "handover.json", "map.svg", "margins.svg")
_TEXTS = ("plan.txt", "unserved.txt", "cautions.txt", "plan.json")
_TABLES = (*PAPERS, "links", "ends", "directions", "parts", "unserved")


def test_papers_are_all_there_and_nothing_else(tmp_path: Path) -> None:
    written = plan().hand_over(tmp_path / "papers", NETWORK, CATALOG)
    there = {path.relative_to(tmp_path / "papers").as_posix() for path in (tmp_path / "papers").rglob("*") if path.is_file()}

    assert there == {path.relative_to(tmp_path / "papers").as_posix() for path in written.files}
    assert there == {*_PAGES, *_TEXTS, *(f"tables/{name}.csv" for name in _TABLES)}
    assert written.left_out == ()


def test_saved_plan_reads_back_equal(tmp_path: Path) -> None:
    plan().hand_over(tmp_path, NETWORK, CATALOG)

    assert Plan.load(tmp_path / "plan.json") == plan()


@pytest.mark.parametrize(
    ("documents", "named"),
    [
        ((NETWORK.model_copy(update={"name": "Another pier"}), CATALOG, None), ("network",)),
        ((NETWORK, CATALOG.model_copy(update={"currency": "USD"}), None), ("catalog",)),
        ((NETWORK, CATALOG, Policy(design_margin_db=2.0)), ("policy",)),
        ((NETWORK.model_copy(update={"name": "Another pier"}), CATALOG, Policy(design_margin_db=2.0)), ("network", "policy")),
    ],
    ids=["network", "catalog", "policy", "two"],
)
def test_papers_of_mixed_documents_are_refused(documents: Any, named: tuple[str, ...], tmp_path: Path) -> None:
    with pytest.raises(MismatchError, match="the plan was not made from this") as refused:
        plan().hand_over(tmp_path / "papers", *documents)

    assert refused.value.documents == named
    assert not (tmp_path / "papers").exists()


def test_a_plan_that_does_not_say_what_it_was_made_from_is_refused(tmp_path: Path) -> None:
    with pytest.raises(MismatchError, match="network and not from this catalog and not from this policy"):
        plan(hashes={}).hand_over(tmp_path, NETWORK, CATALOG)


@pytest.mark.parametrize("name", PAPERS)
def test_each_paper_comes_by_itself_as_frame_csv_and_records(name: str) -> None:
    paper = plan().paper(name, NETWORK, CATALOG)

    assert list(paper.frame().columns) == list(paper.names)
    assert len(paper.frame()) == len(paper.records()) == len(paper.rows)
    assert paper.csv().startswith(",".join(f'"{column}"' for column in paper.names))


def test_a_paper_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(UnknownNameError, match="no paper 'ducts'; there are bill, ports, cords, strands, limits, labels, spares, cautions, questions"):
        plan().paper("ducts", NETWORK, CATALOG)


def test_json_holds_every_paper_with_the_plan_that_it_is_of(written: HandedOver, folder: Path) -> None:
    told = json.loads((folder / "handover.json").read_text(encoding="utf-8"))

    assert (told["format"], set(told["papers"]), set(told["made_from"])) == ("optiselect-handover/1", set(_TABLES), {"network", "catalog", "policy"})


def test_papers_are_written_again_over_older_ones(tmp_path: Path) -> None:
    plan().hand_over(tmp_path, NETWORK, CATALOG)
    again = plan().unserved[0].model_copy(update={"text": "L2: stopped before it was looked at"})
    plan(unserved=(again,)).hand_over(tmp_path, NETWORK, CATALOG)

    assert "L2 (impossible)\nL2: stopped before it was looked at" in (tmp_path / "unserved.txt").read_text(encoding="utf-8")


def test_unserved_links_keep_their_reasons(tmp_path: Path) -> None:
    plan().hand_over(tmp_path, NETWORK, CATALOG)

    assert "L2 (impossible)\nL2 cannot be served: no module runs 100M" in (tmp_path / "unserved.txt").read_text(encoding="utf-8")


def test_cautions_of_the_plan_come_before_those_of_every_handover(tmp_path: Path) -> None:
    plan().hand_over(tmp_path, NETWORK, CATALOG)
    lines = (tmp_path / "cautions.txt").read_text(encoding="utf-8").splitlines()

    assert lines[3:5] == [
        "- L1: 5 dB above the damage level without its attenuator.",
        "- Invisible laser light: never look into a port, a plug or a fiber end, with or without optics.",
    ]


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")

    with pytest.raises(OptiselectError, match="the papers cannot be written there"):
        plan().hand_over(tmp_path / "file" / "papers", NETWORK, CATALOG)


def test_the_same_plan_gives_the_same_papers(tmp_path: Path) -> None:
    for name in ("one", "two"):
        plan().hand_over(tmp_path / name, NETWORK, CATALOG)
    kept = [name for name in (*_PAGES, *_TEXTS) if not name.endswith(".xlsx")]  # a workbook carries the time at which it was written

    assert [(tmp_path / "one" / name).read_bytes() for name in kept] == [(tmp_path / "two" / name).read_bytes() for name in kept]


@pytest.mark.parametrize(("module", "left"), [("jinja2", ["handover.html", "labels.html"]), ("xlsxwriter", ["handover.xlsx"]), ("segno", ["labels.html"])])
def test_without_an_extra_the_other_papers_are_written_and_what_is_missing_is_told(
    module: str, left: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, module, None)
    written = plan().hand_over(tmp_path, NETWORK, CATALOG)

    assert [told.partition(":")[0] for told in written.left_out] == left
    assert all("pip install 'optiselect[" in told for told in written.left_out)
    assert (tmp_path / "tables" / "ports.csv").exists()


def test_a_plan_that_was_changed_by_hand_is_handed_over_with_a_warning_before_everything_else(terminal: Dossier, tmp_path: Path) -> None:
    links = [link.model_dump(by_alias=True) for link in terminal.plan.links]
    place = next(index for index, link in enumerate(links) if link["id"] == "ring-1")
    links[place]["ends"][0]["module"] = links[place]["ends"][1]["module"]  # two of one kind never hear each other
    changed = Plan(**{**terminal.plan.model_dump(by_alias=True), "links": links})
    changed.hand_over(tmp_path, terminal.network, terminal.catalog, terminal.policy)
    lines = (tmp_path / "cautions.txt").read_text(encoding="utf-8").splitlines()

    assert lines[2].startswith("- ring-1: do not build this link: it breaks the rule wavelength")
    assert [line for line in lines if line.startswith("- do not order from this bill: ")] == [
        "- do not order from this bill: the bill has 5 of 'BW-10BRD-I' in use, and the links use 4, so the plan was changed by hand",
        "- do not order from this bill: the bill has 5 of 'BW-10BRU-I' in use, and the links use 6, so the plan was changed by hand",
    ]
    assert "do not build this link" in (tmp_path / "handover.html").read_text(encoding="utf-8")


@pytest.mark.parametrize("count", [0, 9])
def test_a_plan_that_takes_strands_which_are_not_there_is_refused(count: int, tmp_path: Path) -> None:
    link = {**plan().links[0].model_dump(by_alias=True), "strands": {"F1": count}}

    with pytest.raises(OptiselectError, match=f"link 'L1' is to have {count} strands of run 'F1', of which 4 are left; plan again"):
        plan(links=(link,)).hand_over(tmp_path, NETWORK, CATALOG)
