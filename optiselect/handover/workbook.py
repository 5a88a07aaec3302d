"""All papers as one workbook (XLSX), and back: text is text and never a formula, figures are figures in full."""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from optiselect.errors import DocumentError, Fault, MissingExtraError
from optiselect.formats.limits import Refused
from optiselect.formats.workbooks import xlsx_texts
from optiselect.handover.cautions import SHORT
from optiselect.handover.clean import clean
from optiselect.handover.sheet import Column, Sheet
from optiselect.handover.tables import Cell
from optiselect.standards.acceptance import METHODS

_LONGEST = 32_767
"""Characters that a cell holds (limit of the file format, ECMA-376); longer text is cut and says so. CSV and JSON carry it whole."""
_CUT = "\N{HORIZONTAL ELLIPSIS} (cut here)"
_NARROWEST, _WIDEST = 7, 44
_LOOKED_AT = 400
_COLUMNS_SHEET, _ABOUT_SHEET = "columns", "about"
_LEGEND = (Column("sheet", "sheet"), Column("heading", "heading"), Column("name", "name in files"), Column("kind", "kind"))


def workbook(sheets: Iterable[Sheet], title: str) -> bytes:
    """Write papers as the sheets of one workbook: headings frozen and filtered, units in the headings, one page wide in print.

    Args:
        sheets: the papers.
        title: of the network, for the print header.

    Raises:
        MissingExtraError: when XlsxWriter is not installed.
    """
    try:
        import xlsxwriter
    except ImportError:
        raise MissingExtraError("workbook") from None
    papers = list(sheets)
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False})
    book.set_properties({"title": clean(title)[:200]})
    styles = _Styles(book)
    about = [(sheet.title, sentence) for sheet in papers for sentence in sheet.about]
    legend = [(sheet.name, column.heading, column.name, column.kind) for sheet in papers for column in sheet.columns]
    both = (Column("paper", "paper"), Column("to_know", "to know before it is used"))
    _write(book, styles, Sheet(_ABOUT_SHEET, "About", (), both, tuple(about)), title)
    for sheet in papers:
        _write(book, styles, sheet, title)
    _write(book, styles, Sheet(_COLUMNS_SHEET, "Columns", (), _LEGEND, tuple(legend)), title)
    book.close()
    return out.getvalue()


class _Styles:
    """The looks of cells."""

    def __init__(self, book: Any) -> None:
        edge = {"border": 1, "border_color": "#b5b5b5", "valign": "top"}
        self.heading = book.add_format({**edge, "bold": True, "bg_color": "#e4e4e4", "text_wrap": True})
        self.text = book.add_format({**edge, "text_wrap": True, "num_format": "@"})
        self.count = book.add_format({**edge, "num_format": "#,##0"})
        self.plain_count = book.add_format({**edge, "num_format": "0"})
        self.entry = book.add_format({**edge, "bg_color": "#fff6cc", "num_format": "@"})
        self.entry_figure = book.add_format({**edge, "bg_color": "#fff6cc", "num_format": "0.00"})
        self._figures = {decimals: book.add_format({**edge, "num_format": "#,##0" + (f".{'0' * decimals}" if decimals else "")}) for decimals in range(7)}

    def of(self, column: Column) -> Any:
        if column.kind == "figure":
            return self._figures[column.decimals]
        if column.kind == "entry":
            return self.entry_figure if column.name.endswith("_db") else self.entry
        if column.kind == "count":
            return self.plain_count if column.name.endswith("_nm") else self.count
        return self.text


def _write(book: Any, styles: _Styles, sheet: Sheet, title: str) -> None:
    page = book.add_worksheet(sheet.name)
    last = len(sheet.rows)
    for index, column in enumerate(sheet.columns):
        page.write_string(0, index, column.heading, styles.heading)
        page.set_column(index, index, _width(column, [row[index] for row in sheet.rows[:_LOOKED_AT]]))
    looks = [styles.of(column) for column in sheet.columns]
    for number, row in enumerate(sheet.rows, start=1):
        for index, cell in enumerate(row):
            if cell is not None or sheet.columns[index].kind == "entry":
                _write_cell(page, number, index, cell, looks[index])
    page.freeze_panes(1, 2 if len(sheet.columns) > 4 else 0)
    page.autofilter(0, 0, last, len(sheet.columns) - 1)
    for index, column in enumerate(sheet.columns):
        if column.kind == "entry" and last:
            _guard(page, index, column, last)
    page.set_landscape()
    page.set_paper(9)
    page.fit_to_pages(1, 0)
    page.repeat_rows(0)
    page.set_header(_print_safe(f"&L&B{{}}&R{sheet.title}", title))
    page.set_footer(f"&L{SHORT}&R&P / &N")


def _print_safe(pattern: str, title: str) -> str:
    """A print header, in which & is a command and a header holds 255 characters."""
    return pattern.format(clean(title)[:60].replace("&", "&&").replace("\n", " "))


def _write_cell(page: Any, row: int, column: int, cell: Cell, look: Any) -> None:
    if cell is None:
        page.write_blank(row, column, None, look)
    elif isinstance(cell, int | float):
        page.write_number(row, column, cell, look)
    else:
        page.write_string(row, column, _cell_text(cell), look)


def _cell_text(text: str) -> str:
    """Text as a cell holds it; what XlsxWriter would take for markup of its own ends with a space."""
    shown = clean(text)
    if shown.startswith("<r>") and shown.endswith("</r>"):
        shown += " "
    return shown if len(shown) <= _LONGEST else shown[: _LONGEST - len(_CUT)] + _CUT


def _width(column: Column, cells: list[Cell]) -> float:
    longest = max((len(str(cell)) for cell in cells if cell is not None), default=0)
    words = max(len(word) for word in column.heading.split())
    return min(_WIDEST, max(_NARROWEST, words + 2, longest + 1))


def _guard(page: Any, index: int, column: Column, last: int) -> None:
    """What may be filled in."""
    if column.name == "method":
        page.data_validation(1, index, last, index, {"validate": "list", "source": list(METHODS)})
    elif column.name.endswith("_db"):
        told = {"error_title": "Loss in dB", "error_message": "A loss is a number of dB from 0 to 200."}
        page.data_validation(1, index, last, index, {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 200, **told})


def read_workbook(path: str | Path) -> dict[str, list[dict[str, Cell]]]:
    """Read a workbook of papers: by sheet, its rows by column name; figures as they were written, blank cells None.

    Columns are found by their headings, wherever they stand; rows and columns of the reader's own are left out.

    Raises:
        DocumentError: when it is no workbook, no workbook of papers, or a cell that held a number holds none.
        OptiselectError: when python-calamine is not installed.
    """
    path = Path(path)
    try:
        texts = xlsx_texts(path)
    except Refused as refusal:
        raise DocumentError([Fault("", refusal.message, path.name)], "workbook") from None
    if _COLUMNS_SHEET not in texts:
        raise DocumentError([Fault("", f"no workbook of papers: it has no sheet {_COLUMNS_SHEET!r}", path.name)], "workbook")
    legend: dict[str, dict[str, tuple[str, str]]] = {}
    for sheet, heading, name, kind in (row[:4] for row in texts[_COLUMNS_SHEET][1:] if len(row) >= len(_LEGEND)):
        legend.setdefault(sheet, {})[heading] = name, kind
    faults: list[Fault] = []
    read = {sheet: _rows(texts.get(sheet, []), columns, f"{path.name} {sheet}", faults) for sheet, columns in legend.items()}
    if faults:
        raise DocumentError(faults, "workbook")
    return read


def _rows(texts: list[list[str]], columns: dict[str, tuple[str, str]], place: str, faults: list[Fault]) -> list[dict[str, Cell]]:
    if not texts:
        return []
    places = [(index, *columns[heading]) for index, heading in enumerate(texts[0]) if heading in columns]
    rows = []
    for number, row in enumerate(texts[1:], start=2):
        cells: dict[str, Cell] = {}
        for index, name, kind in places:
            text = row[index] if index < len(row) else ""
            try:
                cells[name] = _read_cell(text, kind)
            except ValueError:
                faults.append(Fault(name, f"a number is due here, not {text[:40]!r}", f"{place} row {number}"))
        rows.append(cells)
    return rows


def _read_cell(text: str, kind: str) -> Cell:
    if text == "":
        return None
    if kind == "count":
        number = float(text)  # a reader of workbooks knows no whole numbers; none of ours is beyond what a float holds
        if not number.is_integer():
            raise ValueError("not a whole number")
        return int(number)
    return float(text) if kind == "figure" else text
