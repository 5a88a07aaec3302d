"""Fiber grades: attenuation tables, modal bandwidth, dispersion and the allowances of acceptance tests."""

from __future__ import annotations

from functools import cache
from typing import Any, Literal, NamedTuple

from optiselect.errors import UnknownNameError
from optiselect.model.terms import Grade, Mode
from optiselect.standards.sources import data, plain_values

LEAST = "least plausible"
DEFAULT_TABLE = "ieee-802.3"
FIGURES_OUTSIDE_TABLE_LEAST_DB_KM = 0.0
"""The least attenuation where only an own figure is known: 0 is always safe for overload (no source prints a floor)."""
Edition = Literal["tia-568.3-d", "tia-568.3-e", "iso-14763-3"]


class Row(NamedTuple):
    """One row of an attenuation table: a window in nm and its figure in dB/km."""

    low_nm: float
    high_nm: float
    db_km: float


@cache
def table_names() -> tuple[str, ...]:
    """The named attenuation tables, the default first."""
    named = {name for row in data("fiber")["attenuation"] for name in row["most_db_km"]}
    return (DEFAULT_TABLE, *sorted(named - {DEFAULT_TABLE}))


@cache
def rows_of(grade: Grade, table: str) -> tuple[Row, ...]:
    """The rows of a grade in a named table (or `LEAST`), by wavelength.

    A table that says nothing of a grade keeps the default's figures for it: ITU-T G.652.D knows no multimode fiber.

    Raises:
        UnknownNameError: when there is no table of that name.
    """
    if table not in (LEAST, *table_names()):
        raise UnknownNameError(f"there is no attenuation table {table!r}; known: {', '.join(table_names())}")
    mine = [row for row in data("fiber")["attenuation"] if grade in row["grades"]]
    if table == LEAST:
        rows = [(row["window_nm"], row["least_db_km"]["is"]) for row in mine]
    else:
        stated = [row for row in mine if table in row["most_db_km"]]
        name = table if stated else DEFAULT_TABLE
        rows = [(row["window_nm"], row["most_db_km"][name]["is"]) for row in mine]
    return tuple(sorted(Row(float(low), float(high), float(db_km)) for (low, high), db_km in rows))


@cache
def bandwidth_mhz_km(grade: Grade, window_nm: tuple[float, float]) -> float | None:
    """The modal bandwidth in MHz km that a multimode grade assures at a window (nm); None for single-mode or outside 850 and 1300 nm.

    For laser-optimized grades at 850 nm it is the effective one, the greater: to be counted as OM3 a fiber must show it.
    """
    for column in data("fiber")["bandwidth_windows_nm"]:
        low, high = column["window_nm"]
        if low <= window_nm[0] and window_nm[1] <= high:
            row = data("fiber")["bandwidth_mhz_km"].get(grade)
            return float(row[column["at"]]["is"]) if row else None
    return None


@cache
def zero_dispersion() -> tuple[tuple[float, float], float]:
    """Wavelengths of zero dispersion [low, high] in nm, and the greatest slope there in ps/(nm2 km), of single-mode fiber."""
    entry: dict[str, Any] = plain_values(data("fiber")["dispersion"])
    low, high = entry["zero_nm"]
    return (float(low), float(high)), float(entry["slope_max_ps_nm2_km"])


@cache
def end_connection_db(edition: Edition, mode: Mode) -> float:
    """Allowance in dB of a link's end connection mated with a reference-grade cord, by edition.

    Raises:
        UnknownNameError: when the edition is not one of those known.
    """
    entry = data("fiber")["end_connection_db"].get(edition)
    if entry is None:
        raise UnknownNameError(f"there is no edition {edition!r}; known: {', '.join(data('fiber')['end_connection_db'])}")
    return float(entry[mode]["is"])


def test_wavelengths_nm(mode: Mode) -> tuple[float, ...]:
    """The wavelengths at which installed fiber of a mode is tested, in nm."""
    return tuple(float(nm) for nm in data("fiber")["test_wavelengths_nm"][mode]["is"])


test_wavelengths_nm.__test__ = False  # type: ignore[attr-defined]  # a name of the trade, not a test
