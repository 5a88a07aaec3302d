"""Attenuation of fiber: the most that a standard allows (for the budget) and the least that is plausible (for overload)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache

from optiselect.model.document import Figures
from optiselect.model.terms import Grade
from optiselect.standards.fiber import FIGURES_OUTSIDE_TABLE_LEAST_DB_KM, LEAST, Row, rows_of

Window = tuple[float, float]
Table = str | Figures[Grade, Figures[str, float]]
"""A named table, or own greatest figures in dB/km by grade and window ("low-high" in nm)."""


@lru_cache(maxsize=65_536)
def attenuation_db_km(grade: Grade, window_nm: Window, table: Table) -> tuple[float, float] | None:
    """Least plausible and greatest attenuation of a fiber grade, over all the wavelengths that a sender may have.

    A window that straddles two rows takes the lesser least and the greater greatest; a shared edge is no overlap.
    Own figures replace the greatest where they apply, the named default fills the rest, and the least is never above them.

    Args:
        grade: a fiber grade.
        window_nm: [low, high]; a single wavelength is a window of no width.
        table: ``ieee-802.3``, ``iso-11801-1``, ``tia-568.3``, ``itu-g.652.d``, or own figures.

    Returns:
        (least, greatest) in dB/km, or None where any part of the window is outside every row: never a guess.

    Raises:
        UnknownNameError: when there is no table of that name.

    Source: standards/fiber.yaml, each figure with its own.
    """
    rows = _own_rows(table, grade) if isinstance(table, Figures) else ()
    named = "ieee-802.3" if isinstance(table, Figures) else table
    rows = (*rows, *rows_of(grade, named))
    greatest = [_first(rows, piece) for piece in _pieces(rows, window_nm)]
    if any(row is None for row in greatest):
        return None
    most = max(row.db_km for row in greatest if row is not None)
    floor_rows = rows_of(grade, LEAST)
    floors = [_first(floor_rows, piece) for piece in _pieces(floor_rows, window_nm)]
    least = min(row.db_km if row is not None else FIGURES_OUTSIDE_TABLE_LEAST_DB_KM for row in floors)
    return min(least, most), most


@lru_cache(maxsize=4096)
def table_row(grade: Grade, nm: float) -> Window | None:
    """The window (nm) of the row of the table that a wavelength is in, None outside all; on a shared edge the lower row."""
    for row in rows_of(grade, LEAST):
        if row.low_nm <= nm <= row.high_nm:
            return row.low_nm, row.high_nm
    return None


@lru_cache(maxsize=65_536)
def figure_serves(grade: Grade, figure_nm: float, window_nm: Window) -> bool:
    """Whether a figure measured or given at one wavelength holds for a sender's window.

    It does when the window contains the wavelength, or lies in the same row of the table: loss at 1310 nm says nothing about 1550.
    """
    low, high = window_nm
    if low <= figure_nm <= high:
        return True
    return any(row.low_nm <= figure_nm <= row.high_nm and row.low_nm <= low and high <= row.high_nm for row in rows_of(grade, LEAST))


def figures_serving(figures: Figures[float, float], grade: Grade, window_nm: Window) -> list[float]:
    """The figures, out of those by wavelength (nm), that hold for a sender's window; none is an empty list."""
    return [value for nm, value in figures.items() if figure_serves(grade, nm, window_nm)]


def multimode_curve_db_km(nm: float) -> float:
    """Attenuation of 50 um multimode fiber in dB/km at a wavelength in nm: 1.05 + (1 / (0.00094 L))^4.

    A check on the table, not its source; it reproduces the published channel losses of the multimode PMDs.
    Valid about 770-1380 nm.

    Raises:
        ValueError: outside that range.

    Source: IEEE 802.3 10 Gb/s link model (a spreadsheet of the task force), as restated in a public program file.
    """
    if not 770 <= nm <= 1380:
        raise ValueError(f"the multimode curve holds between 770 and 1380 nm, not at {nm:g}")
    return 1.05 + (1 / (0.00094 * nm)) ** 4


def _own_rows(table: Figures[Grade, Figures[str, float]], grade: Grade) -> tuple[Row, ...]:
    rows = []
    for window, db_km in (table.get(grade) or {}).items():
        low, high = sorted(float(edge) for edge in window.split("-"))
        rows.append(Row(low, high, db_km))
    return tuple(sorted(rows))


def _pieces(rows: Iterable[Row], window_nm: Window) -> Iterator[Window]:
    """Cut a window at the edges of the rows; a window of no width that lies on an edge yields a hair to each side of it."""
    low, high = window_nm
    edges = sorted({edge for row in rows for edge in (row.low_nm, row.high_nm) if low < edge < high})
    if low < high:
        yield from zip([low, *edges], [*edges, high], strict=True)
        return
    touching = [row for row in rows if row.low_nm <= low <= row.high_nm]
    before = any(row.low_nm < low for row in touching)
    after = any(row.high_nm > low for row in touching)
    if before or not after:
        yield low - _HAIR_NM, low
    if after:
        yield low, low + _HAIR_NM


_HAIR_NM = 1e-6


def _first(rows: Iterable[Row], piece: Window) -> Row | None:
    middle = (piece[0] + piece[1]) / 2
    return next((row for row in rows if row.low_nm <= middle <= row.high_nm), None)
