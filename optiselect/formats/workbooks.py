"""Tables in and out of one workbook (XLSX) or a folder of CSV files.

A text that is empty or starts with ' is given a ' in front, which reading takes away. In CSV, so is one that a spreadsheet program
would run as a formula (CWE-1236: it starts with = + - @, a tab or a carriage return); numbers stay numbers. Workbooks have typed cells.

A CSV file that was cut at the end of a line looks like a whole one. Ours mark their last row in a column of its own, which may be sorted
and may have rows added like any other; and the table of single values names the others, so that a file that is lost is missed. A workbook is
an archive, which cannot be cut unnoticed.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from optiselect.errors import OptiselectError
from optiselect.formats.archive import checked_workbook
from optiselect.formats.columns import Cell
from optiselect.formats.limits import LAST_ROW, MAX_BYTES, MAX_VALUES, TABLES, Refused
from optiselect.formats.tables import Table

_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_NO_EXTRA = "workbooks need the extra: pip install optiselect[workbook]"
_LONGEST_CELL = 32_767
_MOST_ROWS = 1_048_576


Texts = list[list[str]]
"""A table as it is read: the texts of its cells."""


def csv_texts(what: str, folder: Path) -> dict[str, Texts]:
    """Read the CSV files of a folder as cell texts by table, of which the one named as the document holds its single values.

    Raises:
        Refused: when a file cannot be read as CSV in UTF-8, was cut off or is missing, or they are too large together.
    """
    tables: dict[str, Texts] = {}
    marked = False
    left, cells = MAX_BYTES, 0
    try:
        for path in sorted(path for path in folder.iterdir() if path.suffix.lower() == ".csv"):
            if path.stem in tables:
                raise Refused(f"{path.name}: there is another file of this name")
            with path.open("rb") as file:
                raw = file.read(left + 1)
            left -= len(raw)
            cells += raw.count(b",") + raw.count(b"\n")
            if left < 0:
                raise Refused(f"larger than {MAX_BYTES // 1024 // 1024} MB")
            if cells > MAX_VALUES:
                raise Refused(f"the files hold more than {MAX_VALUES} cells")
            try:
                text = raw.decode("utf-8-sig")
                table = list(csv.reader(io.StringIO(text, newline=""), strict=True))
                tables[path.stem] = _whole(path.name, text, table)
                marked |= bool(table) and LAST_ROW in table[0]
            except (UnicodeDecodeError, csv.Error) as error:
                raise Refused(f"{path.name} is not CSV in UTF-8: {str(error)[:120]}") from None
    except OSError as error:
        raise Refused(f"cannot be read: {error.strerror or error}") from None
    if not tables:
        raise Refused("the folder holds no .csv files")
    if what in tables:
        tables[what] = _complete(what, tables)
    elif marked:
        raise Refused(f"{what}.csv is missing, which belongs to every saved {what}; if the other files shall do, take column {LAST_ROW} out of them")
    return tables


def _complete(what: str, tables: Mapping[str, Texts]) -> Texts:
    """Take away from the single values the column that names the other tables, and refuse a folder in which one of them is missing."""
    table = tables[what]
    header = table[0] if table else []
    if TABLES not in header:
        return table
    place = header.index(TABLES)
    named = [name.strip() for row in table[1:] if len(row) > place for name in row[place].split(";")]
    missing = [f"{name[:80]}.csv" for name in named if name and name not in tables]
    if missing:
        are, them = ("is", "it") if len(missing) == 1 else ("are", "them")
        raise Refused(f"{', '.join(missing)} {are} missing: {what}.csv names {them} in column {TABLES}; put {them} back, or take {them} out of that column")
    return [row[:place] + row[place + 1 :] for row in table]


def _whole(file_name: str, text: str, table: Texts) -> Texts:
    """Take the mark of the last row away, and refuse a file whose mark is missing, or that ends in its header."""
    header, rows = (table[0], table[1:]) if table else ([], [])
    if not rows and not text.endswith(("\n", "\r")):
        raise Refused(f"{file_name} ends before its first row: the file was cut off; take out the file of a list that has no rows")
    if LAST_ROW not in header:
        return table
    place = header.index(LAST_ROW)
    if not any(row[place:] and row[place].strip().lower() == "yes" for row in rows):
        raise Refused(f"{file_name}: the row with 'yes' in column {LAST_ROW} is missing: the file was cut off; if you took that row out, do so with the column")
    return [row[:place] + row[place + 1 :] for row in table]


def csv_contents(what: str, tables: Mapping[str, Table]) -> dict[str, bytes]:
    """Write tables as CSV, by file name; the one of the single values, named as the document, names the others."""
    others = "; ".join(name for name in tables if name != what)
    header, *rows = tables[what]
    naming = [[*header, TABLES], *([*row, others] for row in rows)] if others else tables[what]
    return {f"{name}.csv": _csv_content(naming if name == what else table) for name, table in tables.items()}


def _csv_content(table: Table) -> bytes:
    """Write one table as CSV, its last row marked."""
    out = io.StringIO(newline="")
    cells = [["" if cell is None else _text(_marked(cell, _FORMULA)) for cell in row] for row in table]
    if len(cells) > 1:
        for row in cells:
            row.append("")
        cells[0][-1], cells[-1][-1] = LAST_ROW, "yes"
    csv.writer(out, lineterminator="\r\n").writerows(cells)
    return out.getvalue().encode("utf-8")


def xlsx_texts(path: Path) -> dict[str, Texts]:
    """Read the sheets of a workbook as cell texts, after its archive was found harmless.

    Raises:
        Refused: when it is no workbook, or unpacks to too much.
        OptiselectError: when python-calamine is not installed.
    """
    try:
        import python_calamine
    except ImportError:
        raise OptiselectError(_NO_EXTRA) from None
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise Refused(f"cannot be read: {error.strerror or error}") from None
    if len(raw) > MAX_BYTES:
        raise Refused(f"larger than {MAX_BYTES // 1024 // 1024} MB")
    clean = checked_workbook(raw)
    try:
        book = python_calamine.CalamineWorkbook.from_filelike(io.BytesIO(clean))
        sheets = {name: book.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in book.sheet_names}
    except (KeyboardInterrupt, SystemExit):
        raise
    except BaseException as error:  # its errors are of several kinds; a panic inside it is no Exception
        raise Refused(f"not a workbook: {str(error)[:120]}") from None
    return {name: [[_text(cell) for cell in row] for row in rows] for name, rows in sheets.items()}


def xlsx_content(tables: dict[str, Table]) -> bytes:
    """Write tables as the sheets of one workbook, with typed cells and no formulas.

    Raises:
        OptiselectError: when XlsxWriter is not installed, or a text or table is larger than a sheet holds.
    """
    try:
        import xlsxwriter
    except ImportError:
        raise OptiselectError(_NO_EXTRA) from None
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False})
    for name, table in tables.items():
        if len(table) > _MOST_ROWS:
            raise OptiselectError(f"{name}: a sheet holds {_MOST_ROWS} rows; use .yaml or .json")
        sheet = book.add_worksheet(name)
        sheet.freeze_panes(1, 0)
        for row, cells in enumerate(table):
            for column, cell in enumerate(cells):
                _write(sheet, row, column, _marked(cell, ()))
    book.close()
    return out.getvalue()


def _write(sheet: Any, row: int, column: int, cell: Cell) -> None:
    if isinstance(cell, bool):
        sheet.write_boolean(row, column, cell)
    elif isinstance(cell, int | float):
        sheet.write_number(row, column, cell)
    elif cell is not None:
        if len(cell) > _LONGEST_CELL:
            raise OptiselectError(f"{sheet.name}: a cell of a workbook holds {_LONGEST_CELL} characters; use .yaml or .json")
        sheet.write_string(row, column, cell)


def _marked(cell: Cell, also: tuple[str, ...]) -> Cell:
    return "'" + cell if isinstance(cell, str) and (not cell or cell.startswith(("'", *also))) else cell


def _text(cell: Any) -> str:
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float) and abs(cell) < 10**15 and cell == int(cell):
        return str(int(cell))
    return cell if isinstance(cell, str) else str(cell)
