"""The rows of a workbook, put into one that has its sheets, looks and rules already.

XlsxWriter makes everything but the rows: of each sheet it writes the headings and, at the place of the last row, a blank cell in the
look of each column. Here both are read off and give way to all rows, sheet by sheet. Cell by cell through that library takes ten times
as long (measured). What is written is what it writes: shared strings, the escapes of ECMA-376 (22.9.2.19, ST_Xstring), 16 digits.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import NamedTuple
from xml.sax.saxutils import escape

from optiselect.handover.clean import clean
from optiselect.handover.sheet import Sheet
from optiselect.handover.tables import Cell

_LONGEST = 32_767
"""Characters that a cell holds (limit of the file format, ECMA-376); longer text is cut and says so. CSV and JSON carry it whole."""
_CUT = "\N{HORIZONTAL ELLIPSIS} (cut here)"
_SHEETS, _STRINGS = "xl/worksheets/sheet{}.xml", "xl/sharedStrings.xml"
_LOOK = re.compile(r'<c r="([A-Z]+)[0-9]+" s="([0-9]+)"')
_ROWS = re.compile(r"<sheetData>.*</sheetData>", re.DOTALL)
_LIKE_AN_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_AT_ONCE = 500
"""Rows that are written together, so that no sheet is held as a whole."""
_HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'


def with_rows(frame: bytes, sheets: Sequence[Sheet]) -> bytes:
    """The workbook with all rows.

    Args:
        frame: the workbook with headings, and the looks of the columns at the place of the last row.
        sheets: what each of its sheets holds, in order.
    """
    files = {_SHEETS.format(number): sheet for number, sheet in enumerate(sheets, start=1)}
    strings = _Strings()
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(frame)) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for entry in sorted(source.infolist(), key=lambda entry: entry.filename == _STRINGS):  # strings are known when the rows are
            if entry.filename in files:
                _pour(_filled(source.read(entry).decode("utf-8"), files[entry.filename], strings), target, entry)
            elif entry.filename == _STRINGS:
                _pour(strings.document(), target, entry)
            else:
                target.writestr(entry, source.read(entry))
    return out.getvalue()


def _pour(pieces: Iterator[str], target: zipfile.ZipFile, entry: zipfile.ZipInfo) -> None:
    told = zipfile.ZipInfo(entry.filename, entry.date_time)
    told.compress_type, told.external_attr = zipfile.ZIP_DEFLATED, entry.external_attr
    with target.open(told, "w") as file:
        while some := "".join(islice(pieces, _AT_ONCE)):
            file.write(some.encode("utf-8"))


class _Strings:
    """Each text once, by its number."""

    def __init__(self) -> None:
        self.numbers: defaultdict[str, int] = defaultdict()
        self.numbers.default_factory = self.numbers.__len__
        self.count = 0
        """In how many cells they stand."""

    def document(self) -> Iterator[str]:
        yield f'{_HEAD}<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" count="{self.count}" uniqueCount="{len(self.numbers)}">'
        for text in self.numbers:
            shown = _in_a_cell(text)
            kept = ' xml:space="preserve"' if shown != shown.strip() else ""
            yield f"<si><t{kept}>{escape(_LIKE_AN_ESCAPE.sub('_x005F_', shown))}</t></si>"
        yield "</sst>"


def _in_a_cell(text: str) -> str:
    shown = clean(text)
    return shown if len(shown) <= _LONGEST else shown[: _LONGEST - len(_CUT)] + _CUT


def _filled(frame: str, sheet: Sheet, strings: _Strings) -> Iterator[str]:
    """One sheet, a row at a time."""
    found = _ROWS.search(frame)
    assert found is not None  # every sheet has headings
    looks = _LOOK.findall(found[0])
    width = len(sheet.columns)
    yield frame[: found.start()] + "<sheetData>"
    headings = tuple(column.heading for column in sheet.columns)
    yield _row(1, headings, [_place(*look, blank=False) for look in looks[:width]], strings)
    places = [_place(*look, blank=column.kind == "entry") for look, column in zip(looks[width:], sheet.columns, strict=bool(sheet.rows))]
    for number, row in enumerate(sheet.rows, start=2):
        yield _row(number, row, places, strings)
    yield "</sheetData>" + frame[found.end() :]


class _Place(NamedTuple):
    """How a cell of one column is written: before its row, and after it as a text, as a number, and where it holds nothing."""

    opening: str
    text: str
    number: str
    blank: str


def _place(letters: str, look: str, *, blank: bool) -> _Place:
    """`blank`: whether a cell that holds nothing is there to be filled in, so that it is written too."""
    return _Place(f'<c r="{letters}', f'" s="{look}" t="s"><v>', f'" s="{look}"><v>', f'" s="{look}"/>' if blank else "")


def _row(number: int, cells: Sequence[Cell], places: Sequence[_Place], strings: _Strings) -> str:
    numbers = strings.numbers
    written = [f'<row r="{number}">']
    for cell, (opening, text, figure, blank) in zip(cells, places, strict=True):
        if isinstance(cell, str):
            written.append(f"{opening}{number}{text}{numbers[cell]}</v></c>")
        elif cell is not None:
            written.append(f"{opening}{number}{figure}{cell:.16G}</v></c>")
        elif blank:
            written.append(f"{opening}{number}{blank}")
    strings.count += sum([isinstance(cell, str) for cell in cells])
    written.append("</row>")
    return "".join(written)
