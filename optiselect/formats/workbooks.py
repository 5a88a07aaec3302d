"""Tables in and out of one workbook (XLSX) or a folder of CSV files."""

from __future__ import annotations

import csv
import io
import zipfile
from pathlib import Path
from typing import Any

from optiselect.errors import OptiselectError
from optiselect.formats.strict_yaml import Refused
from optiselect.formats.tables import Table

MAX_BYTES = 64 * 1024 * 1024
_MAX_ENTRIES = 200
_MAX_RATIO = 100


def csv_texts(folder: Path) -> dict[str, list[list[str]]]:
    """Read the CSV files of a folder as cell texts by table.

    Raises:
        Refused: when a file cannot be read as CSV in UTF-8, or they are too large together.
    """
    tables = {}
    files = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".csv")
    if not files:
        raise Refused("the folder holds no .csv files")
    if sum(path.stat().st_size for path in files) > MAX_BYTES:
        raise Refused(f"larger than {MAX_BYTES // 1024 // 1024} MB")
    for path in files:
        try:
            tables[path.stem] = list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8-sig"), newline=""), strict=True))
        except (UnicodeDecodeError, csv.Error, OSError) as error:
            raise Refused(f"{path.name} is not CSV in UTF-8: {str(error)[:120]}") from None
    return tables


def csv_content(table: Table) -> bytes:
    """Write one table as CSV."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerows([["" if cell is None else _text(cell) for cell in row] for row in table])
    return out.getvalue().encode("utf-8")


def xlsx_texts(path: Path) -> dict[str, list[list[str]]]:
    """Read the sheets of a workbook as cell texts, after its archive was found harmless.

    Raises:
        Refused: when it is no workbook, or unpacks to too much.
        OptiselectError: when python-calamine is not installed.
    """
    try:
        import python_calamine
    except ImportError:
        raise OptiselectError("workbooks need the extra: pip install optiselect[workbook]") from None
    _check_archive(path)
    try:
        book = python_calamine.CalamineWorkbook.from_path(str(path))
        sheets = {name: book.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in book.sheet_names}
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        raise Refused(f"not a workbook: {str(error)[:120]}") from None
    return {name: [[_text(cell) for cell in row] for row in rows] for name, rows in sheets.items()}


def _check_archive(path: Path) -> None:
    total = 0
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
            if len(entries) > _MAX_ENTRIES or sum(entry.file_size for entry in entries) > MAX_BYTES:
                raise Refused(f"the workbook unpacks to more than {MAX_BYTES // 1024 // 1024} MB or {_MAX_ENTRIES} entries")
            for entry in entries:
                with archive.open(entry) as file:
                    head = file.read(4096)
                    if b"<!DOCTYPE" in head:
                        raise Refused("the workbook holds a DTD")
                    size = len(head)
                    while chunk := file.read(1 << 20):
                        size += len(chunk)
                        if total + size > MAX_BYTES:
                            raise Refused(f"the workbook unpacks to more than {MAX_BYTES // 1024 // 1024} MB")
                if size > 1 << 20 and size > _MAX_RATIO * max(entry.compress_size, 1):
                    raise Refused(f"a part of the workbook unpacks to more than {_MAX_RATIO} times its size")
                total += size
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, OSError, EOFError) as error:
        raise Refused(f"not a workbook: {str(error)[:120]}") from None


def xlsx_content(tables: dict[str, Table]) -> bytes:
    """Write tables as the sheets of one workbook, with typed cells and no formulas.

    Raises:
        OptiselectError: when XlsxWriter is not installed.
    """
    try:
        import xlsxwriter
    except ImportError:
        raise OptiselectError("workbooks need the extra: pip install optiselect[workbook]") from None
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False})
    for name, table in tables.items():
        sheet = book.add_worksheet(name)
        for row, cells in enumerate(table):
            for column, cell in enumerate(cells):
                _write(sheet, row, column, cell)
    book.close()
    return out.getvalue()


def _write(sheet: Any, row: int, column: int, cell: Any) -> None:
    if isinstance(cell, bool):
        sheet.write_boolean(row, column, cell)
    elif isinstance(cell, int | float):
        sheet.write_number(row, column, cell)
    elif cell is not None and sheet.write_string(row, column, cell) != 0:
        raise OptiselectError("a text is longer than a cell of a workbook holds; use .yaml or .json")


def _text(cell: Any) -> str:
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float) and abs(cell) < 10**15 and cell == int(cell):
        return str(int(cell))
    return cell if isinstance(cell, str) else str(cell)
