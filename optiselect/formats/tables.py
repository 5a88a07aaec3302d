"""A network or catalog as tables, for workbooks and folders of CSV: a row an item, a column a key, nothing lost.

One table for each list of the document, ports in a table of their own with a `device` column, and one table of the document's own
name with its single values (name, format, currency). `formats.columns` says how a cell is written.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from optiselect.errors import Fault
from optiselect.formats.columns import TABLE_NAMES, BadCell, Cell, Column, cells_of, columns_of
from optiselect.formats.limits import Refused
from optiselect.model.document import PlainText

Table = list[list[Cell]]
"""A header and the rows below it."""
_FIRST = ("device", "id", "ids", "part", "port")
"""Columns that stand left of all others, so that a reader of the table sees what a row is about."""
Spot = tuple[str, int, int]
"""Table, row and column of a cell, counted from 0 with the header."""


def tables_of(what: str, stated: Mapping[str, Any]) -> dict[str, Table]:
    """Lay what a document states out as tables by name; the first, named as the document, holds its single values."""
    tables: dict[str, Table] = {}
    own = {key: value for key, value in stated.items() if key not in TABLE_NAMES[what] and value is not None}
    tables[what] = [list(own), list(own.values())]
    rows = {name: stated[name] for name in TABLE_NAMES[what] if stated.get(name) is not None}
    if "installed" in rows:
        rows["installed"] = [{"port": port, "part": part} for port, part in rows["installed"].items()]
    ports = [{"device": device["id"], **port} for device in rows.get("devices", ()) for port in device.get("ports", ())]
    if ports:
        rows["ports"] = ports
    for name in TABLE_NAMES[what]:
        if name in rows:
            tables[name] = _table(rows[name], columns_of(what, name))
    return tables


def _table(rows: Iterable[Mapping[str, Any]], columns: Mapping[str, Column]) -> Table:
    laid = [dict(cells_of({key: value for key, value in row.items() if key != "ports"}, columns)) for row in rows]
    used = {name for cells in laid for name, cell in cells.items() if cell is not None}
    header = sorted((name for name in columns if name in used), key=lambda name: name not in _FIRST) or [next(iter(columns))]
    return [list(header), *([cells.get(name) for name in header] for cells in laid)]


@dataclass
class Laid:
    """Data read from tables.

    Attributes:
        data: what a document is built from.
        spots: the cell of each path.
        converted: by path, what a cell said in another unit.
        headers: the column names of each table.
        faults: what is wrong with the tables themselves, with the cell.
    """

    data: dict[str, Any] = field(default_factory=dict)
    spots: dict[str, Spot] = field(default_factory=dict)
    converted: dict[str, str] = field(default_factory=dict)
    headers: dict[str, list[str]] = field(default_factory=dict)
    faults: list[tuple[Fault, Spot]] = field(default_factory=list)

    def fault(self, path: str, message: str, spot: Spot) -> None:
        """Note a fault of a cell."""
        self.faults.append((Fault(path, message), spot))


def read_tables(what: str, tables: Mapping[str, list[list[str]]]) -> Laid:
    """Read tables of cell texts back into data."""
    laid = Laid(headers={name: table[0] for name, table in tables.items() if table})
    names = (what, *TABLE_NAMES[what])
    for name in tables:
        if name not in names:
            laid.fault("", f"there is no such table; a {what} has {', '.join(names)}", (name, 0, 0))
    _single_values(what, tables.get(what, []), laid)
    device_at: dict[str, int] = {}
    for name in TABLE_NAMES[what]:
        if name not in tables:
            continue
        reader = _Rows(name, tables[name], columns_of(what, name), laid)
        if name == "ports":
            _read_ports(reader, device_at, laid)
        elif name == "installed":
            _read_installed(reader, laid)
        else:
            items: list[dict[str, Any]] = []
            laid.data[name] = items
            for number in reader.numbers:
                items.append(reader.item(number, f"{name}[{len(items)}]"))
        if name == "devices":
            device_at = {str(device.get("id")): index for index, device in enumerate(laid.data[name])}
    return laid


def _single_values(what: str, table: list[list[str]], laid: Laid) -> None:
    """Read the table of the document's own name: a header and one row; an unknown key is for the document to refuse."""
    rows = [number for number in range(1, len(table)) if any(table[number])]
    for number in rows[1:]:
        laid.fault("", f"one row of values is due in table {what}", (what, number, 0))
    for column, text in enumerate(table[rows[0]] if rows else ()):
        key = table[0][column] if column < len(table[0]) else ""
        if text and (not key or key in laid.data or key in TABLE_NAMES[what]):
            laid.fault(key, "this column needs a name of its own", (what, 0, column))
        elif text:
            laid.data[key] = _unmarked(text)
            laid.spots[key] = (what, rows[0], column)


def _read_installed(reader: _Rows, laid: Laid) -> None:
    held: dict[str, Any] = {}
    laid.data["installed"] = held
    for number in reader.numbers:
        row = reader.item(number, "")
        port = str(row.get("port", ""))
        if set(row) != {"port", "part"} or port in held:
            laid.fault("installed", "a row gives port and part, each port once", reader.spot(number))
        held[port] = row.get("part")
        laid.spots[f"installed.{port}"] = reader.spot(number)


def _read_ports(reader: _Rows, device_at: Mapping[str, int], laid: Laid) -> None:
    for number in reader.numbers:
        device = str(reader.text(number, "device"))
        if device not in device_at:
            laid.fault("", f"there is no device {device[:80]!r}", reader.spot(number, "device"))
            continue
        held = laid.data["devices"][device_at[device]].setdefault("ports", [])
        port = reader.item(number, f"devices[{device_at[device]}].ports[{len(held)}]")
        port.pop("device", None)
        held.append(port)


class _Rows:
    """The rows of one table, as items."""

    def __init__(self, name: str, table: list[list[str]], columns: Mapping[str, Column], laid: Laid) -> None:
        self._name, self._table, self._laid = name, table, laid
        self._header = table[0] if table else []
        self._place: dict[str, int] = {}
        for place, text in enumerate(self._header):
            self._place.setdefault(text, place)
        self._column: dict[int, tuple[str, Column]] = {}
        for place, text in enumerate(self._header):
            if text in columns and self._place[text] == place:
                self._column[place] = text, columns[text]
            elif text:
                near = get_close_matches(text, columns, 1)
                words = "this column is given twice" if text in columns else "unknown column" + (f"; did you mean {near[0]}?" if near else "")
                laid.fault("", f"{words} ({text[:80]!r})", (name, 0, place))
        self.numbers = [number for number in range(1, len(table)) if any(table[number])]

    def spot(self, number: int, column: str = "") -> Spot:
        """The cell of a row under a column's name; its first cell when there is no such column."""
        return self._name, number, self._place.get(column, 0)

    def text(self, number: int, column: str) -> str:
        """The text of a row under a column's name, "" when there is none."""
        cells = self._table[number]
        place = self._place.get(column, len(cells))
        return str(_unmarked(cells[place])) if place < len(cells) else ""

    def item(self, number: int, path: str) -> dict[str, Any]:
        """Read one row as an item that has the given path in the document."""
        item: dict[str, Any] = {}
        halves: dict[tuple[str, ...], int] = {}
        self._laid.spots[path] = (self._name, number, 0)
        for place, text in enumerate(self._table[number]):
            if text == "":
                continue
            if place not in self._column:
                if place >= len(self._header) or not self._header[place]:
                    self._laid.fault(path, "this cell has no column name", (self._name, number, place))
                continue
            name, column = self._column[place]
            self._put(item, column, text, name, path, (self._name, number, place), halves)
        for keys, place in halves.items():
            if None in _inside(item, keys)[keys[-1]]:
                del _inside(item, keys)[keys[-1]]
                self._laid.fault(".".join((path, *keys)), "the other column of this pair is empty", (self._name, number, place))
        return item

    def _put(self, item: dict[str, Any], column: Column, text: str, name: str, path: str, spot: Spot, halves: dict[tuple[str, ...], int]) -> None:
        here = ".".join((path, *column.keys))
        for depth in range(1, len(column.keys)):
            if ".".join((path, *column.keys[:depth])) in self._laid.spots:
                self._laid.fault(here, f"{column.keys[depth - 1]} is given whole by another column", spot)
                return
        target, key = _inside(item, column.keys), column.keys[-1]
        try:
            value = column.value(text[1:] if text[0] == "'" else text)
        except (BadCell, Refused) as error:
            self._laid.fault(here, str(error), spot)
            return
        if column.side is not None and (key not in target or column.keys in halves):
            pair = target.setdefault(key, [None, None])
            halves.setdefault(column.keys, spot[2])
            taken, pair[column.side] = pair[column.side] is not None, value
            self._laid.spots.setdefault(here, spot)
            here = f"{here}[{column.side}]"
        else:
            taken = key in target
            target.setdefault(key, value)
        if taken:
            self._laid.fault(here, f"column {name} gives again what another column gives", spot)
        self._laid.spots[here] = spot
        if column.unit:
            self._laid.converted[here] = f"{name} {text[:40]}"


def _inside(item: dict[str, Any], keys: tuple[str, ...]) -> dict[str, Any]:
    for key in keys[:-1]:
        item = item.setdefault(key, {})
    return item


def _unmarked(text: str) -> PlainText:
    return PlainText(text[1:] if text.startswith("'") else text)
