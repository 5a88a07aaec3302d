"""Workbooks of which a reader would make far more than is in them, or something else: small files that would end the process."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from optiselect.model.network import Network
from tests.formats.quay import QUAY
from tests.formats.test_hostile_files import WITHIN_512_MB

pytest.importorskip("resource", reason="memory limits are a matter of POSIX")

MAIN = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
RELATIONS = "xl/_rels/workbook.xml.rels"
FIRST = "xl/worksheets/sheet1.xml"
SECOND = "xl/worksheets/sheet2.xml"
Parts = dict[str, bytes]


def sheet(*cells: bytes, rows: bytes = b"") -> bytes:
    return b"<worksheet " + MAIN + b'><sheetData><row r="1">' + b"".join(cells) + b"</row>" + rows + b"</sheetData></worksheet>"


def corners(row: int, column: bytes) -> bytes:
    return sheet(b'<c r="A1"><v>1</v></c>', rows=b'<row r="%d"><c r="%s%d"><v>1</v></c></row>' % (row, column, row))


def sound(folder: Path) -> Parts:
    QUAY.save(folder / "sound.xlsx")
    with zipfile.ZipFile(folder / "sound.xlsx") as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def written(path: Path, parts: Mapping[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)


def of_one_long_text(parts: Parts) -> Parts:
    texts = b"<sst " + MAIN + b"><si><r><t>" + b"x" * 20_000 + b"</t></r><r><t>" + b"y" * 20_000 + b"</t></r></si></sst>"
    return parts | {"xl/sharedStrings.xml": texts, FIRST: sheet(*(b'<c t="s"><v>0</v></c>' for _ in range(10_000)))}


def of_a_sheet_without_its_suffix(parts: Parts) -> Parts:
    return parts | {"xl/worksheets/sheet1.dat": corners(60_000, b"ZZ"), RELATIONS: parts[RELATIONS].replace(b"sheet1.xml", b"sheet1.dat")}


def of_many_sheets(parts: Parts) -> Parts:
    listed = b"".join(b'<sheet name="s%d" sheetId="%d" r:id="rId1"/>' % (number, number) for number in range(1, 2000))
    head, _, rest = parts["xl/workbook.xml"].partition(b"<sheets>")
    return parts | {"xl/workbook.xml": head + b"<sheets>" + listed + b"</sheets>" + rest.partition(b"</sheets>")[2], FIRST: corners(2000, b"ZZ")}


def of_many_ways_to_a_sheet(parts: Parts) -> Parts:
    return parts | {RELATIONS: parts[RELATIONS].replace(b"worksheets/sheet2.xml", b"/xl/worksheets/Sheet1.xml")}


def of_wide_sheets(parts: Parts) -> Parts:
    return parts | {FIRST: corners(2000, b"ZZ"), SECOND: corners(2000, b"ZZ")}


def of_another_kind(parts: Parts) -> Parts:
    repeated = b'<table:table-row table:number-rows-repeated="60000"><table:table-cell table:number-columns-repeated="1000"/></table:table-row>'
    return {"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "content.xml": b'<table:table xmlns:table="t">' + repeated + b"</table:table>"}


def of_one_name_twice(parts: Parts) -> Parts:
    return parts | {FIRST.upper(): parts[FIRST]}


def of_first_cell(cell: bytes) -> Callable[[Parts], Parts]:
    return lambda parts: parts | {FIRST: sheet(cell)}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (of_one_long_text, "the texts in the cells of the workbook are together longer than 64 MB"),
        (of_a_sheet_without_its_suffix, "leads to a part that is no XML"),
        (of_many_sheets, "two sheets of the workbook are one part"),
        (of_many_ways_to_a_sheet, "or to one part twice"),
        (of_wide_sheets, "the sheets span more than 2000000 cells"),
        (of_another_kind, "not a workbook"),
        (of_one_name_twice, "two parts of the workbook have one name"),
        (of_first_cell(b'</row><row r="99999999"><c><v>1</v></c>'), "a sheet has no row '99999999'"),
        (of_first_cell(b'<c r="A99999999"><v>1</v></c>'), "a sheet has no cell 'A99999999'"),
        (of_first_cell(b'<c r="AAAA1"><v>1</v></c>'), "a sheet has no cell 'AAAA1'"),
        (of_first_cell(b'<c t="s"><v>first</v></c>'), "a cell shows a text that has no number"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_workbook_that_would_grow_is_refused_within_its_memory(change: Callable[[Parts], Parts], words: str, tmp_path: Path) -> None:
    written(tmp_path / "it.xlsx", change(sound(tmp_path)))
    run = subprocess.run([sys.executable, "-c", WITHIN_512_MB, str(tmp_path / "it.xlsx")], capture_output=True, text=True, timeout=60, check=True)
    assert words in run.stdout
    assert (tmp_path / "it.xlsx").stat().st_size < 200_000


def with_pictures(parts: Parts) -> Parts:
    return parts | {"xl/media/image1.png": b"\x89PNG", "docProps/custom.xml": b"no XML"}


def with_a_document_of_another_kind(parts: Parts) -> Parts:
    return of_another_kind(parts) | parts


def with_backslashes(parts: Parts) -> Parts:
    return {name.replace("/", "\\"): content for name, content in parts.items()}


def without_places(parts: Parts) -> Parts:
    cells = b'<c t="inlineStr"><is><t>name</t></is></c></row><row><c t="inlineStr"><is><t>Quay</t></is></c>'
    return parts | {FIRST: sheet(cells)}


@pytest.mark.parametrize("change", [with_pictures, with_a_document_of_another_kind, with_backslashes])
def test_what_is_beside_the_sheets_does_not_matter(change: Callable[[Parts], Parts], tmp_path: Path) -> None:
    written(tmp_path / "it.xlsx", change(sound(tmp_path)))
    assert Network.load(tmp_path / "it.xlsx") == QUAY


def test_cells_that_do_not_say_where_they_are_follow_one_another(tmp_path: Path) -> None:
    written(tmp_path / "it.xlsx", without_places(sound(tmp_path)))
    assert Network.load(tmp_path / "it.xlsx").name == "Quay"
