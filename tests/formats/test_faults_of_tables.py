"""What is wrong in a table is told at its cell, in a folder and in a workbook."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from optiselect.errors import DocumentError, OptiselectError
from optiselect.formats import workbooks
from optiselect.model.catalog import Catalog
from optiselect.model.network import Network
from tests.formats.quay import QUAY, SHELF

MODULES: dict[str, tuple[str, str]] = {
    "an unknown column": ("part,frm\nA,SFP", "modules.csv row 1 column frm: unknown column; did you mean form? ('frm')"),
    "a column that is like no other": ("part,qqqq\nA,x", "modules.csv row 1 column qqqq: unknown column ('qqqq')"),
    "a column twice": ("part,form,form\nA,SFP,SFP", "modules.csv row 1 column form: this column is given twice ('form')"),
    "a cell beside the table": ("part,form\nA,SFP,x", "modules.csv row 2 column 3 modules[0]: this cell has no column name"),
    "half a pair": ("part,tx_nm_low\nA,1260", "modules.csv row 2 column tx_nm_low modules[0].tx_nm: the other column of this pair is empty"),
    "a figure without a name": ("part,reach_m\nA,550", "modules[0].reach_m: write name=figure; name=figure here, not '550'"),
    "a figure twice": ("part,reach_m\nA,OM2=550; OM2=500", "modules[0].reach_m: 'OM2' is given twice"),
    "a key twice in JSON": ('part,reach_m\nA,"{""OM2"": 1, ""OM2"": 2}"', "OM2: a key that is given twice"),
    "JSON in a column of another unit": ('part,reach_ft\nA,"{""OM2"": 1}"', "JSON text is in the document's own unit; name the column reach_m"),
}


@pytest.mark.parametrize(("text", "told"), MODULES.values(), ids=MODULES)
def test_fault_of_a_catalog_is_told_at_its_cell(text: str, told: str, tmp_path: Path) -> None:
    (tmp_path / "modules.csv").write_text(text + "\n", encoding="utf-8")
    with pytest.raises(DocumentError) as refused:
        Catalog.load(tmp_path)
    assert any(told in str(fault) for fault in refused.value.faults), str(refused.value)


def test_port_given_twice_as_installed_is_told_and_so_is_a_name_that_a_table_has(tmp_path: Path) -> None:
    QUAY.save(tmp_path / "it")
    (tmp_path / "it" / "installed.csv").write_text("port,part\ncore/1,A\ncore/1,B\ncore/2,\n", encoding="utf-8")
    (tmp_path / "it" / "network.csv").write_text("name,links,\nPier,L1,x\n", encoding="utf-8")
    with pytest.raises(DocumentError) as refused:
        Network.load(tmp_path / "it")
    told = str(refused.value)
    assert told.count("a row gives port and part, each port once") == 2
    assert told.count("this column needs a name of its own") == 2


def test_fault_of_a_workbook_names_sheet_and_cell(tmp_path: Path) -> None:
    """Columns beyond Z have two letters."""
    tables = {"network": [["name"], ["Pier"]], "devices": [["id", *[""] * 26, "sight"], ["core", *[""] * 26, "hall"]]}
    (tmp_path / "it.xlsx").write_bytes(workbooks.xlsx_content(tables))  # type: ignore[arg-type]
    with pytest.raises(DocumentError, match=r"it\.xlsx devices!AB1: unknown column; did you mean site\? \('sight'\)"):
        Network.load(tmp_path / "it.xlsx")


def test_two_files_of_one_name_and_a_folder_of_none_are_refused(tmp_path: Path) -> None:
    with pytest.raises(DocumentError, match=r"the folder holds no \.csv files"):
        Catalog.load(tmp_path)
    for name in ("modules.csv", "modules.CSV"):
        (tmp_path / name).write_text("part\nA\n", encoding="utf-8")
    with pytest.raises(DocumentError, match="there is another file of this name"):
        Catalog.load(tmp_path)


@pytest.mark.parametrize(("library", "suffix"), [("python_calamine", "read"), ("xlsxwriter", "written")])
def test_workbook_without_the_extra_names_the_extra(library: str, suffix: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    SHELF.save(tmp_path / "read.xlsx")
    monkeypatch.setitem(sys.modules, library, None)
    calls = {"read": lambda: Catalog.load(tmp_path / "read.xlsx"), "written": lambda: SHELF.save(tmp_path / "new.xlsx")}
    with pytest.raises(OptiselectError, match=r"workbooks need the extra: pip install optiselect\[workbook\]"):
        calls[suffix]()


def test_text_and_table_that_no_sheet_holds_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(OptiselectError, match="a cell of a workbook holds 32767 characters"):
        workbooks.xlsx_content({"devices": [["id"], ["x" * 32_768]]})
    monkeypatch.setattr(workbooks, "_MOST_ROWS", 2)
    with pytest.raises(OptiselectError, match="devices: a sheet holds 2 rows"):
        workbooks.xlsx_content({"devices": [["id"], ["a"], ["b"]]})
