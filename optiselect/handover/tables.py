"""Rows as CSV that is safe to open in a spreadsheet, and as text whose columns line up."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

Cell = str | int | float | None

_STARTS = frozenset("=+-@\t\r\n＝＋－＠")
"""What a spreadsheet takes for the start of a formula (CWE-1236; the full-width forms from memory)."""


def csv_text(columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return rows as CSV: numbers bare, all text quoted, and text that a spreadsheet would run as a formula behind an apostrophe.

    A cell that is None is empty.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, quoting=csv.QUOTE_NONNUMERIC, lineterminator="\r\n")
    writer.writerow(columns)
    writer.writerows([_safe(cell) if cell is None or (isinstance(cell, str) and cell[:1] in _STARTS) else cell for cell in row] for row in rows)
    return out.getvalue()


def aligned_text(columns: Sequence[str], rows: Iterable[Sequence[Cell]], *, decimals: int = 2) -> str:
    """Return rows as plain text, numbers to the right and text to the left; one line a row, whatever the text holds.

    Args:
        columns: the headings.
        rows: the cells; a float is shown with `decimals` decimals, None as a dash.
        decimals: how many.
    """
    body = list(rows)
    shown = [list(columns), *([_shown(cell, decimals) for cell in row] for row in body)]
    widths = [max(len(line[index]) for line in shown) for index in range(len(columns))]
    right = [bool(body) and all(isinstance(row[index], int | float | None) for row in body) for index in range(len(columns))]
    lines = (
        "  ".join(cell.rjust(width) if to_right else cell.ljust(width) for cell, width, to_right in zip(line, widths, right, strict=True)).rstrip()
        for line in shown
    )
    return "\n".join(lines)


def _safe(cell: str | None) -> str:
    return "" if cell is None else f"'{cell}"


def _shown(cell: Cell, decimals: int) -> str:
    if cell is None:
        return "-"
    if isinstance(cell, float):
        return f"{cell:,.{decimals}f}"
    return " ".join(str(cell).split())
