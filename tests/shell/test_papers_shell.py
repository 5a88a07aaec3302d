"""The shell on papers: one printed, all written, and the acceptance sheet taken back."""

from __future__ import annotations

import csv
import io
import json
import sys
from pathlib import Path

import pytest

from optiselect import Network, Plan
from optiselect.__main__ import main
from tests.handover.causeway import DEVICES, LINKS, RUNS, SITES


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """The causeway with its plan, planned from the shell."""
    Network(name="Causeway", sites=SITES, devices=DEVICES, panels=[{"id": "frame", "site": "mole"}], runs=RUNS, links=LINKS).save(tmp_path / "network.yaml")
    assert main(["plan", str(tmp_path / "network.yaml"), "--save", str(tmp_path / "plan.json")]) == 0
    return tmp_path


def _arguments(command: str, site: Path, *more: str) -> list[str]:
    return [command, str(site / "network.yaml"), "--plan", str(site / "plan.json"), *more]


def test_one_paper_is_printed_as_csv(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()

    assert main(_arguments("papers", site, "--paper", "labels")) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert sorted({row["link"] for row in rows}) == ["pair", "single", "trunk", "wire"]


def test_one_paper_is_printed_as_json(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    main(_arguments("papers", site, "--paper", "cautions", "--json"))

    assert json.loads(capsys.readouterr().out)["title"] == "Cautions"


def test_all_papers_are_written_and_told(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(_arguments("papers", site, "--folder", str(site / "papers"))) == 0
    shown = capsys.readouterr()

    assert (site / "papers" / "handover.html").exists()
    assert str(site / "papers" / "handover.xlsx") in shown.out
    assert shown.err == ""


def test_what_an_extra_is_missing_for_is_told_on_standard_error(site: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "jinja2", None)

    assert main(_arguments("papers", site, "--folder", str(site / "papers"))) == 0
    assert "Not written: handover.html: this needs an extra: pip install 'optiselect[report]'" in capsys.readouterr().err


def test_papers_of_a_network_that_was_changed_since_are_refused(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (site / "network.yaml").read_text(encoding="utf-8")
    (site / "network.yaml").write_text(text.replace("4200", "4300"), encoding="utf-8")

    assert main(_arguments("papers", site, "--folder", str(site / "papers"))) == 2
    assert "the plan was not made from this network" in capsys.readouterr().err


def test_a_filled_sheet_gives_a_new_network_and_a_new_plan(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    main(_arguments("papers", site, "--paper", "limits"))
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    place = next(index for index, row in enumerate(rows) if (row["run"], row["wavelength_nm"]) == ("B", "1310"))
    rows[place] |= {"method": "one-cord", "measured_loss_db": "9.9"}
    with (site / "filled.csv").open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, rows[0])
        out.writeheader()
        out.writerows(rows)
    saved = ["--save-network", str(site / "measured.yaml"), "--save", str(site / "again.json")]

    assert main(_arguments("measured", site, "--sheet", str(site / "filled.csv"), *saved)) == 1
    assert "over its cable limit" in capsys.readouterr().out
    fiber = Network.load(site / "measured.yaml").run_by_id["B"].fiber
    assert fiber is not None
    assert dict(fiber.measured_loss_db or {}) == {1310.0: 9.9}
    assert [refusal.id for refusal in Plan.load(site / "again.json").unserved] == ["pair", "single"]


def test_readings_as_json(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(_arguments("papers", site, "--folder", str(site / "papers")))
    capsys.readouterr()

    assert main(_arguments("measured", site, "--sheet", str(site / "papers" / "handover.xlsx"), "--json")) == 0
    assert json.loads(capsys.readouterr().out) == {"readings": [], "failed": [], "changes": []}
