"""A network or catalog as tables, for workbooks and folders of CSV: a row an item, a column a key, nothing lost.

The rule: `fiber`, `copper` and `optic` of an item become columns such as ``fiber.grade``; ports have a table of their own with
a `device` column; any other list or mapping is JSON text in its cell; an empty cell is a key that is left out. Text that could
be taken for JSON or for a formula starts with ' in its cell, which is taken away on reading.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from optiselect.errors import Fault
from optiselect.model.document import PlainText

Cell = str | float | bool | None
Table = list[list[Cell]]
"""A header and the rows below it."""

_OPENED = ("fiber", "copper", "optic")
_MARKED = ("=", "+", "-", "@", "\t", "\r", "[", "{", "'")
TABLE_NAMES = {
    "network": ("sites", "devices", "ports", "panels", "runs", "links", "installed"),
    "catalog": ("modules", "converters", "cords", "attenuators"),
}


def tables_of(what: str, stated: Mapping[str, Any]) -> dict[str, Table]:
    """Lay what a document states out as tables by name; the first, named as the document, holds its single values."""
    rows: dict[str, list[dict[str, Any]]] = {what: [{key: value for key, value in stated.items() if key not in TABLE_NAMES[what]}]}
    for name in TABLE_NAMES[what]:
        if name in stated:
            value = stated[name]
            if value is None:
                continue
            rows[name] = [{"port": port, "part": part} for port, part in value.items()] if name == "installed" else [dict(row) for row in value]
    for device in rows.get("devices", ()):
        rows.setdefault("ports", []).extend({"device": device["id"], **port} for port in device.pop("ports", ()))
    return {name: _table(table) for name, table in rows.items()}


def _table(rows: Iterable[Mapping[str, Any]]) -> Table:
    flat: list[dict[str, Cell]] = []
    for row in rows:
        cells: dict[str, Cell] = {}
        for key, value in row.items():
            if key in _OPENED and value:
                cells.update({f"{key}.{inner}": _cell(item) for inner, item in value.items()})
            else:
                cells[key] = _cell(value)
        flat.append(cells)
    columns = list(dict.fromkeys(key for cells in flat for key in cells)) or ["id"]
    return [list(columns), *([cells.get(column) for column in columns] for cells in flat)]


def _cell(value: Any) -> Cell:
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, str):
        return "'" + value if not value or value.startswith(_MARKED) else value
    return json.dumps(value, ensure_ascii=False)


@dataclass
class Laid:
    """Data read from tables, with the place of each path and the faults of the tables themselves."""

    data: dict[str, Any] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)


def read_tables(what: str, tables: Mapping[str, list[list[str]]], place: Any) -> Laid:
    """Read tables of cell texts back; `place(table, row, column)` names a cell, counted from 0 with the header."""
    laid = Laid()
    read: dict[str, list[dict[str, Any]]] = {}
    at: dict[str, list[dict[str, str]]] = {}
    for name, table in tables.items():
        if name != what and name not in TABLE_NAMES[what]:
            laid.faults.append(Fault(name, f"there is no such table; a {what} has {', '.join((what, *TABLE_NAMES[what]))}", place(name, 0, 0)))
            continue
        read[name], at[name] = [], []
        header = table[0] if table else []
        for column, key in enumerate(header):
            if not key or key in header[:column]:
                laid.faults.append(Fault(name, f"column {key!r} is given twice" if key else "a column needs a name", place(name, 0, column)))
        for number, cells in enumerate(table[1:], start=1):
            if not any(cells):
                continue
            row: dict[str, Any] = {}
            spots = {"": place(name, number, 0)}
            for column, text in enumerate(cells):
                if text == "" or column >= len(header):
                    if text:
                        laid.faults.append(Fault(name, "this cell has no column name", place(name, number, column)))
                    continue
                outer, dot, inner = header[column].partition(".")
                target = row.setdefault(outer, {}) if dot and outer in _OPENED else row
                if not isinstance(target, dict):
                    laid.faults.append(Fault(name, f"{outer} is given both whole and by column", place(name, number, column)))
                    continue
                try:
                    target[inner if dot and outer in _OPENED else header[column]] = _value(text)
                except (ValueError, RecursionError):
                    laid.faults.append(Fault(name, f"column {header[column]}: a list or mapping is written as JSON", place(name, number, column)))
                spots[header[column]] = place(name, number, column)
            read[name].append(row)
            at[name].append(spots)
    _assemble(what, read, at, laid)
    return laid


def _value(text: str) -> Any:
    if text.startswith("'"):
        return text[1:]
    return json.loads(text) if text.startswith(("[", "{")) else PlainText(text)


def _assemble(what: str, read: dict[str, list[dict[str, Any]]], at: dict[str, list[dict[str, str]]], laid: Laid) -> None:
    def mark(path: str, spots: Mapping[str, str]) -> None:
        laid.places.update({f"{path}.{key}" if key else path: spot for key, spot in spots.items()})

    for row, spots in zip(read.pop(what, [])[:1], at.get(what, []), strict=False):
        laid.data.update(row)
        laid.places.update({key: spot for key, spot in spots.items() if key})
    ports = list(zip(read.pop("ports", []), at.get("ports", []), strict=True))
    for row, spots in zip(read.pop("installed", []), at.get("installed", []), strict=True):
        port = str(row.get("port", ""))
        laid.data.setdefault("installed", {})
        if set(row) != {"port", "part"} or port in laid.data["installed"]:
            laid.faults.append(Fault("installed", "a row gives port and part, each port once", spots[""]))
        laid.data["installed"][port] = row.get("part")
        laid.places[f"installed.{port}"] = spots[""]
    for name, rows in read.items():
        laid.data[name] = rows
        for index, spots in enumerate(at[name]):
            mark(f"{name}[{index}]", spots)
    place = {str(device.get("id")): index for index, device in enumerate(laid.data.get("devices", ()))}
    for row, spots in ports:
        device = row.pop("device", None)
        if str(device) not in place:
            laid.faults.append(Fault("ports", f"there is no device {str(device)[:80]!r}", spots.get("device", spots[""])))
            continue
        index = place[str(device)]
        held = laid.data["devices"][index].setdefault("ports", [])
        if not isinstance(held, list):
            continue
        mark(f"devices[{index}].ports[{len(held)}]", spots)
        held.append(row)
