"""Papers of plans in which something is not known, and what stops at the doors of the readers."""

from __future__ import annotations

import dataclasses
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from optiselect import Catalog, Network, Policy, solve
from optiselect.errors import DocumentError
from optiselect.handover import plots, remeasured
from optiselect.handover.changes import changes_between
from optiselect.handover.dossier import Dossier, dossier
from optiselect.handover.leaned_on import weak_figures
from optiselect.handover.limits import acceptance_sheet
from optiselect.handover.margins import Bar, margins_svg, summary
from optiselect.handover.papers import paper
from optiselect.handover.sheet import Column, Sheet
from optiselect.handover.workbook import read_workbook, workbook
from tests.handover.pier import CATALOG, NETWORK, direction, end, plan

L1 = plan().links[0].model_dump(by_alias=True)
UNKNOWN = Bar("L1", ("core/1", "cam/up"), None, None, None, None, None, None)


# -- what differs between two plans -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"rate": "100M"}, ["L1: rate: 1G -> 100M"]),
        ({"over": ("F1", "F9")}, ["L1: path: F1 -> F1, F9"]),
        ({"ends": (end("core", "2"), L1["ends"][1])}, ["L1: core/1: LAN-LX -> core/2 LAN-LX"]),
    ],
)
def test_what_differs_at_a_link_is_told(changes: dict[str, Any], told: list[str]) -> None:
    assert [str(change) for change in changes_between(plan(), plan(links=({**L1, **changes},)))] == told


def test_order_of_another_sum_is_told() -> None:
    assert [str(change) for change in changes_between(plan(), plan(parts=plan().parts[:2]))] == ["whole plan: order: 71.50 EUR -> 62.00 EUR"]


# -- light of which something is not known ------------------------------------------------------------------------


def test_bar_of_which_nothing_is_known_is_drawn_by_its_name(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "margin unknown" in margins_svg(plan(), NETWORK, CATALOG, (UNKNOWN,))
    monkeypatch.setattr(plots, "bars", lambda *_: (UNKNOWN,))
    assert len(plots.plot_margins(plan(), NETWORK, CATALOG).patches) == 0


def test_chart_of_unknown_margins_names_no_least_one() -> None:
    assert "Least margin" not in summary((UNKNOWN,), 0)


def test_receiver_that_is_not_known_to_bear_anything_still_shows_what_arrives() -> None:
    stated = Bar("L1", ("core/1", "cam/up"), -19.0, -12.0, -10.66, -3.1, -3.0, 1.34)
    without = dataclasses.replace(stated, overload_dbm=None)
    marks = [margins_svg(plan(), NETWORK, CATALOG, (bar,)).count('stroke-width="2.5"') for bar in (stated, without)]
    assert marks[0] == marks[1] + 1


@pytest.mark.parametrize("changes", [{"margin_db": None}, {"wavelength_nm": (1000.0, 1100.0)}], ids=["margin", "attenuation"])
def test_channel_limits_are_of_links_of_which_all_is_known(changes: dict[str, Any]) -> None:
    of = dossier(plan(links=({**L1, "directions": (direction("core/1", "cam/up", 3.0) | changes,)},)), NETWORK, CATALOG, None)
    assert {row["channel_limit_of"] for row in acceptance_sheet(of).records()} == {None}


# -- sites of one kind --------------------------------------------------------------------------------------------


@cache
def solved(**changes: Any) -> Dossier:
    network, policy = Network(**SLUICE | dict(changes)), Policy(attenuation="ieee-802.3", spares={"service_level": 0.9})
    return dossier(solve(network, PARTS, policy), network, PARTS, policy)


def _single(part: str, sent: tuple[int, int], heard: tuple[int, int], other: str) -> dict[str, Any]:
    light = {"medium": "fiber", "mode": "single-mode", "strands": 1, "tx_nm": sent, "rx_nm": heard, "role": part[-1], "pairs_with": other[-1]}
    light |= {"tx_dbm": [0, 3], "rx_dbm": [-24, -3], "penalty_db": 1, "dispersion_ps_nm": 1000, "reach_m": {"single-mode": 40_000}}
    return {"part": part, "form": "SFP", "rates": ["1G"], "connector": "LC", "temperature_c": [-40, 85], "power_w": 1, "laser_class": "1", **light}


OUTDOOR = {"ambient_c": [-20, 40]}
SLUICE: dict[str, Any] = {
    "name": "Sluice",
    "sites": [{"id": "house", **OUTDOOR}, {"id": "gate", **OUTDOOR}],
    "devices": [
        {
            "id": "core",
            "site": "house",
            "ports": [{"ids": "1-2", "kind": "cage", "form": "SFP", "rates": ["1G"]}, {"id": "eth", "kind": "copper", "rates": ["1G"]}],
        },
        {"id": "cam", "site": "gate", "ports": [{"id": "1", "kind": "cage", "form": "SFP", "rates": ["1G"]}, {"id": "eth", "kind": "copper", "rates": ["1G"]}]},
    ],
    "runs": [{"id": "F1", "ends": ["core", "cam"], "fiber": {"grade": "OS2", "length_m": 300, "strands": 3, "connectors": ["LC", "LC"], "polish": "UPC"}}],
    "links": [{"id": "single", "ends": ["core/1", "cam/1"], "rate": "1G"}, {"id": "wire", "ends": ["core/eth", "cam/eth"], "rate": "1G"}],
}
LX = {"standard": "1000BASE-LX10", "rates": ["1G"], "connector": "LC"}
PARTS = Catalog(
    currency="EUR",
    modules=[_single("SL-D", (1480, 1500), (1260, 1360), "SL-U"), _single("SL-U", (1260, 1360), (1480, 1500), "SL-D")],
    converters=[{"part": "SL-MC", "copper_rates": ["1G"], "optic": LX, "temperature_c": [-40, 85]}],
    cords=[{"part": f"SL-{strands}", "grade": "OS2", "connectors": ["LC", "LC"], "polish": ["UPC", "UPC"], "strands": strands} for strands in (1, 2)],
    attenuators=[{"part": "SL-ATT", "mode": "single-mode", "connector": "LC", "loss_db": 10}],
)


def test_attenuator_of_one_strand_sits_in_its_socket() -> None:
    assert "in the single-strand socket; both directions pass it" in str(paper(solved(), "ports").rows)


def test_figures_of_a_converter_are_leaned_on_like_those_of_a_module() -> None:
    assert any(weak.text.startswith("1000BASE-LX10: ") and "wire" in weak.places for weak in weak_figures(solved()))


def test_spares_of_a_part_whose_failures_nobody_states_are_not_reckoned() -> None:
    said = {row["arithmetic"] for row in paper(solved(), "spares").records()}
    assert said == {"no failure rate is stated: ask the supplier for it"}


def test_attenuation_that_the_policy_states_is_no_question() -> None:
    assert "attenuation of the table" not in str(paper(solved(), "questions").rows)


DARK: dict[str, Any] = {"links": ()}


def test_papers_of_a_site_that_lights_nothing(tmp_path: Path) -> None:
    of = solved(**DARK)
    assert "strands" not in str(paper(of, "questions").column("question"))
    page = of.plan.hand_over(tmp_path, of.network, of.catalog, of.policy).files[0].read_text(encoding="utf-8")
    assert "Least margin" not in page
    assert plots.plot_map(of.plan, of.network, of.catalog, of.policy).get_legend() is None


# -- what is read -------------------------------------------------------------------------------------------------


def test_filled_sheet_that_is_too_large_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "limits.csv").write_text("run,reading\n" * 20, encoding="utf-8")
    monkeypatch.setattr(remeasured, "MAX_BYTES", 64)
    with pytest.raises(DocumentError, match="larger than 0 MB"):
        remeasured.readings_of(tmp_path / "limits.csv", solved())


def test_file_that_is_no_workbook_is_no_workbook_of_papers(tmp_path: Path) -> None:
    (tmp_path / "papers.xlsx").write_bytes(b"no archive")
    with pytest.raises(DocumentError, match="not a workbook"):
        read_workbook(tmp_path / "papers.xlsx")


COUNTED = Sheet("counts", "Counts", (), (Column("count", "count", "count"),), ((3,),))


def test_count_that_is_no_whole_number_is_a_fault(tmp_path: Path) -> None:
    halved = Sheet("counts", "Counts", (), (Column("count", "count", "count"),), ((2.5,),))
    (tmp_path / "papers.xlsx").write_bytes(workbook([halved], "Counts"))
    with pytest.raises(DocumentError, match=r"a number is due here, not '2\.5'"):
        read_workbook(tmp_path / "papers.xlsx")


def test_sheet_that_was_taken_out_has_no_rows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from optiselect.handover import workbook as books

    (tmp_path / "papers.xlsx").write_bytes(workbook([COUNTED], "Counts"))
    read = books.xlsx_texts
    monkeypatch.setattr(books, "xlsx_texts", lambda path: {name: rows for name, rows in read(path).items() if name != "counts"})
    assert read_workbook(tmp_path / "papers.xlsx") == {"counts": []}
