"""The tables of a plan as tidy pandas frames: one row a thing, one column a figure, the unit in the column's name.

A figure that is not known is missing (NaN or NA), never 0. Frames of an empty plan have the same columns and types.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from optiselect.errors import UnknownNameError
from optiselect.handover.sheet import Column, Sheet
from optiselect.model.plan import Plan

if TYPE_CHECKING:
    import pandas

Row = tuple[Any, ...]
_TEXT, _COUNT, _FIGURE = "string", "int64", "float64"
_UNITS = {"db": "dB", "dbm": "dBm", "nm": "nm"}


def _links(plan: Plan) -> Iterator[Row]:
    for link in plan.links:
        a, b = (f"{end.device}/{end.port}" for end in link.ends)
        margins = [direction.margin_db for direction in link.directions]
        least = min((margin for margin in margins if margin is not None), default=None) if None not in margins else None
        yield link.id, link.rate, a, b, ", ".join(link.over), sum(link.strands.values()), least, "; ".join(link.notes)


def _ends(plan: Plan) -> Iterator[Row]:
    for link in plan.links:
        for side, end in zip("ab", link.ends, strict=True):
            yield link.id, side, end.device, end.port, end.fitting, end.converter, end.module, end.cord, end.attenuator


def _directions(plan: Plan) -> Iterator[Row]:
    for link in plan.links:
        for way in link.directions:
            window = way.wavelength_nm or (None, None)
            received = way.rx_dbm or (None, None)
            yield (
                *(link.id, way.from_, way.to, *window),
                *(way.loss_min_db, way.loss_max_db, way.available_db, way.margin_db),
                *(*received, way.limited_by),
            )


def _parts(plan: Plan) -> Iterator[Row]:
    for line in plan.parts:
        yield line.part, line.kind, line.used, line.spares, line.order, line.unit_price, line.total, plan.currency


def _unserved(plan: Plan) -> Iterator[Row]:
    for refusal in plan.unserved:
        ends = refusal.request.get("ends") or ()
        tally = ", ".join(f"{entry.rule} {entry.count}" for entry in refusal.tally)
        yield refusal.id, refusal.kind, " to ".join(map(str, ends)), refusal.request.get("rate"), refusal.candidates, tally, refusal.text


_TABLES: dict[str, tuple[Callable[[Plan], Iterator[Row]], dict[str, str]]] = {
    "links": (
        _links,
        {
            **dict.fromkeys(("link", "rate", "end_a", "end_b", "over"), _TEXT),
            "strands": _COUNT,
            "least_margin_db": _FIGURE,
            "notes": _TEXT,
        },
    ),
    "ends": (_ends, dict.fromkeys(("link", "end", "device", "port", "fitting", "converter", "module", "cord", "attenuator"), _TEXT)),
    "directions": (
        _directions,
        {
            **dict.fromkeys(("link", "from", "to"), _TEXT),
            **dict.fromkeys(("wavelength_low_nm", "wavelength_high_nm"), _FIGURE),
            **dict.fromkeys(("loss_min_db", "loss_max_db", "available_db", "margin_db", "rx_low_dbm", "rx_high_dbm"), _FIGURE),
            "limited_by": _TEXT,
        },
    ),
    "parts": (
        _parts,
        {
            **dict.fromkeys(("part", "kind"), _TEXT),
            **dict.fromkeys(("used", "spares", "order"), _COUNT),
            **dict.fromkeys(("unit_price", "total"), _FIGURE),
            "currency": _TEXT,
        },
    ),
    "unserved": (
        _unserved,
        {**dict.fromkeys(("link", "kind", "ends", "rate"), _TEXT), "candidates": _COUNT, **dict.fromkeys(("tally", "text"), _TEXT)},
    ),
}


def columns(table: str) -> tuple[str, ...]:
    """The column names of a table.

    Raises:
        UnknownNameError: when there is no table of that name.
    """
    return tuple(_table(table)[1])


def rows(plan: Plan, table: str) -> list[Row]:
    """The rows of a table, a tuple each in the order of `columns`, without pandas.

    Raises:
        UnknownNameError: when there is no table of that name.
    """
    return list(_table(table)[0](plan))


def frame(plan: Plan, table: str) -> pandas.DataFrame:
    """One table of a plan as a pandas frame: ``links``, ``ends``, ``directions``, ``parts`` or ``unserved``.

    Lengths of columns are equal to the plan's own lists; decibels in ``_db``, powers in ``_dbm``, wavelengths in ``_nm``, money in ``currency``.

    Raises:
        UnknownNameError: when there is no table of that name.
    """
    types = _table(table)[1]
    import pandas

    return pandas.DataFrame(rows(plan, table), columns=list(types)).astype(types)


def plan_sheets(plan: Plan) -> tuple[Sheet, ...]:
    """The tables of a plan as papers, in the order of `_TABLES`."""
    return tuple(
        Sheet(name, f"Plan: {name}", (), tuple(_column(column, kind) for column, kind in types.items()), tuple(make(plan)))
        for name, (make, types) in _TABLES.items()
    )


def _column(name: str, kind: str) -> Column:
    words, _, unit = name.rpartition("_")
    heading = f"{words.replace('_', ' ')}, {_UNITS[unit]}" if unit in _UNITS and words else name.replace("_", " ")
    return Column(name, heading, "figure" if kind == _FIGURE else "count" if kind == _COUNT else "text")


def _table(table: str) -> tuple[Callable[[Plan], Iterator[Row]], dict[str, str]]:
    if table not in _TABLES:
        raise UnknownNameError(f"a plan has no table {table!r}; there are {', '.join(_TABLES)}")
    return _TABLES[table]
