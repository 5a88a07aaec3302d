"""Acceptance limits by hand, and the filled sheet on its way back."""

from __future__ import annotations

import csv
import dataclasses
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from optiselect.errors import DocumentError, MismatchError, UnknownNameError
from optiselect.handover.dossier import Dossier
from optiselect.handover.limits import acceptance_sheet, inner_connections
from optiselect.handover.remeasured import readings_of, with_readings
from optiselect.handover.workbook import workbook
from tests.handover.causeway import causeway
from tests.handover.pier import CATALOG, NETWORK, plan


def _row(run: str, nm: int, of: Dossier | None = None, **asked: Any) -> dict[str, Any]:
    (found,) = [record for record in acceptance_sheet(of or causeway(), **asked).records() if (record["run"], record["wavelength_nm"]) == (run, nm)]
    return found


def test_cable_limits_by_hand() -> None:
    """4.2 km of OS2 at 0.4 dB/km (IEEE 802.3 Table 52-25) and 3 splices of 0.3 dB: 2.58 dB, and 0.5 dB for each end connection that is seen."""
    row = _row("B", 1310)

    assert [row[f"cable_limit_{cords}_cord_db"] for cords in ("one", "two", "three")] == [3.58, 3.08, 2.58]


@pytest.mark.parametrize(("edition", "limit"), [("iso-14763-3", 0.74), ("tia-568.3-d", 0.74), ("tia-568.3-e", 1.14)])
def test_end_connections_take_the_allowance_of_the_edition(edition: Any, limit: float) -> None:
    """40 m of OM4 at 3.5 dB/km: 0.14 dB, and two end connections of 0.3 dB or, by TIA-568.3-E, 0.5 dB."""
    assert _row("M", 850, edition=edition)["cable_limit_one_cord_db"] == limit


def test_an_edition_that_is_not_known_is_refused() -> None:
    with pytest.raises(UnknownNameError, match=r"known: tia-568\.3-d, tia-568\.3-e, iso-14763-3"):
        acceptance_sheet(causeway(), edition="iso-1")  # type: ignore[arg-type]


def test_the_sheet_names_methods_and_editions() -> None:
    about = " ".join(acceptance_sheet(causeway()).about)

    assert "IEC 61280-4-1, one-cord (older editions: method 2); TIA-526-14-C, one-cord (526-14-A: method B). Sees both end connections." in about
    assert "IEC 61280-4-2, two-cord (older editions: method A2); TIA-526-7-A, two-cord (526-7: method A.2). Sees one end connection." in about
    assert "iso-14763-3" in about


def test_channel_limit_is_what_the_run_may_lose_until_the_link_has_no_margin_left() -> None:
    """1000BASE-LX10 may lose 6.0 dB (IEEE 802.3 Clause 59); run A may lose 0.3 x 0.4 + 2 x 0.75 = 1.62 of it, which leaves B 4.38."""
    row = _row("B", 1310)

    assert (row["channel_limit_one_cord_db"], row["channel_limit_two_cord_db"], row["channel_limit_three_cord_db"]) == (4.38, 3.63, 2.88)
    assert (row["channel_limit_of"], row["governs"]) == ("pair", "cable")


def test_where_no_link_sends_there_is_no_channel_limit() -> None:
    row = _row("M", 1300)

    assert (row["channel_limit_one_cord_db"], row["channel_limit_of"], row["governs"]) == (None, None, "cable")


def test_every_run_of_fiber_is_tested_at_both_wavelengths_of_its_mode(terminal: Dossier) -> None:
    modes = {run.id: (1310, 1550) if run.fiber.grade.startswith("OS") else (850, 1300) for run in terminal.network.runs if run.fiber}
    shown = [(row["run"], row["wavelength_nm"]) for row in acceptance_sheet(terminal).records()]

    assert shown == [(run, nm) for run in sorted(modes) for nm in modes[run]]


@pytest.mark.parametrize(("stated", "inner"), [(None, 0), (0, 0), (1, 0), (2, 0), (5, 3)])
def test_connections_between_the_ends_are_those_stated_less_one_at_either_end(stated: int | None, inner: int) -> None:
    fiber = causeway().network.run_by_id["A"].fiber
    assert fiber is not None

    assert inner_connections(fiber.model_copy(update={"connections": stated})) == inner


def _filled(folder: Path, *filled: tuple[str, int, dict[str, str]], of: Dossier | None = None) -> Path:
    sheet = acceptance_sheet(of or causeway())
    with (folder / "filled.csv").open("w", newline="", encoding="utf-8") as file:
        out = csv.DictWriter(file, sheet.names)
        out.writeheader()
        for record in sheet.records():
            entries = next((entries for run, nm, entries in filled if (run, nm) == (record["run"], record["wavelength_nm"])), {})
            out.writerow({**record, **entries})
    return folder / "filled.csv"


def test_blank_sheet_has_no_readings(tmp_path: Path) -> None:
    assert readings_of(_filled(tmp_path), causeway()) == ()


@pytest.mark.parametrize(("method", "whole_db"), [("one-cord", 2.9), ("two-cord", 3.65), ("Three-Cord ", 4.4)])
def test_end_connections_that_a_method_does_not_see_are_added(method: str, whole_db: float, tmp_path: Path) -> None:
    """0.75 dB each: what the policy allows for a connection."""
    (reading,) = readings_of(_filled(tmp_path, ("B", 1310, {"method": method, "measured_loss_db": "2.9"})), causeway())

    assert reading.whole_db == whole_db


def test_the_greater_of_both_directions_counts(tmp_path: Path) -> None:
    entries = {"method": "one-cord", "measured_loss_db": "2.1", "measured_loss_back_db": "2.35"}
    (reading,) = readings_of(_filled(tmp_path, ("B", 1310, entries)), causeway())

    assert reading.loss_db == 2.35


def test_a_reading_over_its_limits_is_told_with_both(tmp_path: Path) -> None:
    (reading,) = readings_of(_filled(tmp_path, ("B", 1310, {"method": "one-cord", "measured_loss_db": "4.5"})), causeway())

    assert reading.verdicts == (
        "B at 1310 nm reads 4.50 dB (one-cord), over its cable limit of 3.58 dB",
        "B at 1310 nm reads 4.50 dB (one-cord), over its channel limit of 4.38 dB",
    )


@pytest.mark.parametrize(
    ("entries", "told"),
    [
        ({"measured_loss_db": "2.1"}, "say how it was measured"),
        ({"method": "two", "measured_loss_db": "2.1"}, "say how it was measured"),
        ({"method": "one-cord", "measured_loss_db": "2,1"}, "a loss in dB is due here, as 1.25, from 0 to 200, not '2,1'"),
        ({"method": "one-cord", "measured_loss_db": "-2.1"}, "a loss in dB is due here"),
        ({"method": "one-cord", "measured_loss_db": "1e9"}, "a loss in dB is due here"),
        ({"method": "one-cord", "measured_loss_db": "nan"}, "a loss in dB is due here"),
        ({"method": "one-cord", "measured_loss_db": "201"}, "a loss in dB is due here"),
        ({"method": "one-cord", "measured_loss_db": "2.1", "run": "Z"}, "no run 'Z' to be tested at '1310' nm"),
        ({"method": "one-cord", "measured_loss_db": "2.1", "wavelength_nm": "1625"}, "no run 'B' to be tested at '1625' nm"),
    ],
)
def test_a_reading_that_cannot_be_used_is_told_with_its_row(entries: dict[str, str], told: str, tmp_path: Path) -> None:
    with pytest.raises(DocumentError) as refused:
        readings_of(_filled(tmp_path, ("B", 1310, entries)), causeway())

    assert told in str(refused.value)
    assert refused.value.faults[0].place == "filled.csv row 4"


def test_all_faults_of_a_sheet_are_told_at_once(tmp_path: Path) -> None:
    with pytest.raises(DocumentError) as refused:
        readings_of(_filled(tmp_path, ("A", 1310, {"measured_loss_db": "x"}), ("B", 1310, {"measured_loss_db": "2"})), causeway())

    assert len(refused.value.faults) == 2


def test_a_run_that_is_measured_twice_is_refused(tmp_path: Path) -> None:
    path = _filled(tmp_path, ("B", 1310, {"method": "one-cord", "measured_loss_db": "2.1"}))
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    path.write_text("".join([*lines, lines[3]]), encoding="utf-8")

    with pytest.raises(DocumentError, match="B at 1310 nm is measured twice; leave one"):
        readings_of(path, causeway())


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b'run\n"unclosed'], ids=["empty", "not text", "not CSV"])
def test_what_is_no_sheet_is_refused(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "filled.csv").write_bytes(content)

    with pytest.raises(DocumentError, match="acceptance sheet"):
        readings_of(tmp_path / "filled.csv", causeway())


def test_a_filled_workbook_is_read_as_the_csv_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    sheet = acceptance_sheet(causeway())
    at = {name: sheet.names.index(name) for name in ("run", "wavelength_nm", "method", "measured_loss_db")}
    entries = {at["method"]: "one-cord", at["measured_loss_db"]: 2.125}
    rows = tuple(
        tuple(entries.get(index, cell) if (row[at["run"]], row[at["wavelength_nm"]]) == ("B", 1310) else cell for index, cell in enumerate(row))
        for row in sheet.rows
    )
    (tmp_path / "filled.xlsx").write_bytes(workbook([dataclasses.replace(sheet, rows=rows)], "Causeway"))
    (reading,) = readings_of(tmp_path / "filled.xlsx", causeway())

    assert (reading.run, reading.wavelength_nm, reading.method, reading.loss_db) == ("B", 1310, "one-cord", 2.125)


def test_a_workbook_of_something_else_is_refused(tmp_path: Path) -> None:
    with xlsxwriter.Workbook(tmp_path / "other.xlsx") as book:
        book.add_worksheet("limits")

    with pytest.raises(DocumentError, match="no workbook of papers: it has no sheet 'columns'"):
        readings_of(tmp_path / "other.xlsx", causeway())


def test_readings_join_what_the_network_states_at_other_wavelengths(tmp_path: Path) -> None:
    of = causeway()
    run = of.network.run_by_id["B"]
    assert run.fiber is not None
    stated = of.network.stated()
    stated["runs"][1]["fiber"]["measured_loss_db"] = {"1310": 9.9, "1550": 1.5}
    readings = readings_of(_filled(tmp_path, ("B", 1310, {"method": "one-cord", "measured_loss_db": "2.5"})), of)
    fiber = with_readings(type(of.network)(**stated), readings).run_by_id["B"].fiber

    assert fiber is not None
    assert dict(fiber.measured_loss_db or {}) == {1310.0: 2.5, 1550.0: 1.5}


def test_readings_are_planned_with_and_what_changes_is_told(tmp_path: Path) -> None:
    """5.5 dB on B and 0.4 + 0.75 dB on A are 6.65 dB; 1000BASE-LX10 and -BX10-U may lose 6.0 dB (IEEE 802.3 Clause 59): neither is served any more."""
    of = causeway()
    sheet = _filled(tmp_path, ("B", 1310, {"method": "one-cord", "measured_loss_db": "5.5"}), ("A", 1310, {"method": "two-cord", "measured_loss_db": "0.4"}))
    told = of.plan.read_back(sheet, of.network, of.catalog, of.policy)

    assert [refusal.id for refusal in told.plan.unserved] == ["pair", "single"]
    assert ("pair", "service", "served", "not served") in [(change.link, change.what, change.before, change.after) for change in told.changes]
    assert len(told.failed) == 2
    assert "2 readings taken over." in told.text()
    assert "A at 1310 nm: 0.75 dB added" in told.text()
    assert "pair: service: served -> not served" in told.text()


def test_readings_that_confirm_the_plan_change_its_margins_only(tmp_path: Path) -> None:
    of = causeway()
    told = of.plan.read_back(_filled(tmp_path, ("B", 1310, {"method": "one-cord", "measured_loss_db": "2.0"})), of.network, of.catalog, of.policy)

    assert {change.what for change in told.changes} == {"least margin"}
    assert told.failed == ()
    assert "Every reading is within its limits." in told.text()


def test_the_sheet_of_another_plan_is_refused(tmp_path: Path) -> None:
    with pytest.raises(MismatchError):
        plan(hashes={}).read_back(_filled(tmp_path), NETWORK, CATALOG)
