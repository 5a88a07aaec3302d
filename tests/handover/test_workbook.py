"""The workbook: figures come back exactly, text is text, and it is ready to be filtered and printed."""

from __future__ import annotations

import io
import re
import tempfile
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optiselect.errors import DocumentError
from optiselect.handover import frames
from optiselect.handover.dossier import Dossier
from optiselect.handover.hand_over import HandedOver
from optiselect.handover.papers import PAPERS
from optiselect.handover.sheet import Column, Sheet
from optiselect.handover.workbook import read_workbook, workbook


def _parts(raw: bytes) -> dict[str, str]:
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        return {name: archive.read(name).decode("utf-8") for name in archive.namelist()}


@pytest.mark.parametrize("table", ["links", "ends", "directions", "parts", "unserved"])
def test_tables_of_the_plan_come_back_exactly(table: str, written: HandedOver, folder: Path, terminal: Dossier) -> None:
    read = read_workbook(folder / "handover.xlsx")[table]
    names = frames.columns(table)

    assert [tuple(row[name] for name in names) for row in read] == [
        tuple(cell if cell != "" else None for cell in row) for row in frames.rows(terminal.plan, table)
    ]


@pytest.mark.parametrize("name", PAPERS)
def test_papers_come_back_exactly(name: str, written: HandedOver, folder: Path, terminal: Dossier) -> None:
    assert read_workbook(folder / "handover.xlsx")[name] == PAPERS[name](terminal).records()


@given(st.lists(st.tuples(st.floats(-1e15, 1e15).map(lambda value: round(value, 3)), st.integers(-(10**15), 10**15)), max_size=5))
def test_figures_of_three_decimals_and_counts_come_back_as_they_were(rows: list[tuple[float, int]]) -> None:
    """A workbook keeps 16 digits of a number."""
    sheet = Sheet("figures", "Figures", (), (Column("loss_db", "loss, dB", "figure"), Column("count", "count", "count")), tuple(rows))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "figures.xlsx")
        path.write_bytes(workbook([sheet], "Figures"))
        read = read_workbook(path)["figures"]

    assert [(row["loss_db"], row["count"]) for row in read] == [(float(f"{loss:.16G}"), count) for loss, count in rows]


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1", "-1", "@SUM(A1)", "http://example.invalid/x", "{=1}", "_x0041_", " a & b ", "<r>", "1e5", "007", "true"],
)
def test_text_stays_the_text_that_it_was(text: str, tmp_path: Path) -> None:
    raw = workbook([Sheet("notes", "Notes", (), (Column("note", "note"),), ((text,),))], "Notes")
    (tmp_path / "notes.xlsx").write_bytes(raw)

    assert read_workbook(tmp_path / "notes.xlsx")["notes"] == [{"note": text}]
    assert not any("<f>" in part or "hyperlink" in part for name, part in _parts(raw).items() if name.startswith("xl/worksheets"))


def test_text_that_looks_like_markup_stays_text(tmp_path: Path) -> None:
    (tmp_path / "notes.xlsx").write_bytes(workbook([Sheet("notes", "Notes", (), (Column("note", "note"),), (("<r>a</r>",),))], "Notes"))

    assert read_workbook(tmp_path / "notes.xlsx")["notes"] == [{"note": "<r>a</r> "}]


def test_text_longer_than_a_cell_is_cut_and_says_so(tmp_path: Path) -> None:
    (tmp_path / "notes.xlsx").write_bytes(workbook([Sheet("notes", "Notes", (), (Column("note", "note"),), (("x" * 40_000,),))], "Notes"))
    note = str(read_workbook(tmp_path / "notes.xlsx")["notes"][0]["note"])

    assert (len(note), note[-10:]) == (32_767, "(cut here)")


def test_headings_are_frozen_filtered_repeated_in_print_and_carry_units(written: HandedOver, folder: Path) -> None:
    parts = _parts((folder / "handover.xlsx").read_bytes())
    sheets = {re.sub(r"\D", "", name): part for name, part in parts.items() if name.startswith("xl/worksheets/sheet")}

    assert all('state="frozen"' in part and "<autoFilter" in part and 'orientation="landscape"' in part for part in sheets.values())
    assert parts["xl/workbook.xml"].count("_xlnm.Print_Titles") == len(sheets)
    assert {"measured A to B, dB", "length, m", "overload, dBm", "total, EUR", "lead time, days"} <= set(
        re.findall(r">([^<]+)</t>", parts["xl/sharedStrings.xml"])
    )


def test_every_sheet_prints_the_caution_at_its_foot(written: HandedOver, folder: Path) -> None:
    parts = _parts((folder / "handover.xlsx").read_bytes())

    assert all("never look into a port" in part for name, part in parts.items() if name.startswith("xl/worksheets/sheet"))


def test_what_was_a_number_and_is_none_is_told_with_its_place(tmp_path: Path) -> None:
    good = workbook([Sheet("figures", "Figures", (), (Column("loss_db", "loss, dB"),), (("much",),))], "Figures")
    with zipfile.ZipFile(io.BytesIO(good)) as source, zipfile.ZipFile(tmp_path / "bad.xlsx", "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            target.writestr(name, source.read(name).replace(b">text<", b">figure<"))

    with pytest.raises(DocumentError, match=r"bad\.xlsx figures row 2 loss_db: a number is due here, not 'much'"):
        read_workbook(tmp_path / "bad.xlsx")
