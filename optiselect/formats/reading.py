"""Read a document from a file: strictly, with the place of every fault."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any, TypeVar

from optiselect.errors import DocumentError, Fault
from optiselect.formats.limits import MAX_BYTES, WHOLE_YAML, Place, Refused
from optiselect.formats.strict_json import Positions, read_json
from optiselect.formats.strict_yaml import StrictReader
from optiselect.formats.tables import Laid, Spot, read_tables
from optiselect.formats.workbooks import csv_texts, xlsx_texts
from optiselect.model.document import Document, PlainText
from optiselect.model.plan import Plan

_NUMBER = re.compile(r"-?(0|[1-9][0-9]{0,14})(\.[0-9]{1,20})?([eE][+-]?[0-9]{1,3})?")
_TABLED = ("network", "catalog")
D = TypeVar("D", bound=Document)
P = TypeVar("P")


def load(cls: type[D], path: Path) -> D:
    """Read a document by the suffix of its file (.yaml, .yml, .json; a network or catalog also .xlsx), or from a folder of CSV.

    Raises:
        DocumentError: with every fault, its path in the document and its place in the file.
        OptiselectError: when a workbook is to be read without the extra that reads workbooks.
    """
    try:
        return _loaded(cls, path)
    except Refused as refusal:
        raise DocumentError([Fault(refusal.path, refusal.message, _at(path, refusal.place))], cls.what) from None


def _loaded(cls: type[D], path: Path) -> D:
    suffix = path.suffix.lower()
    try:
        folder = path.is_dir()
        if not path.exists():
            raise Refused("cannot be read: No such file or directory")
    except (OSError, ValueError) as error:  # a name that no file can have
        raise Refused(f"cannot be read: {error}") from None
    if folder or suffix == ".xlsx":
        return _from_tables(cls, path, folder)
    if suffix not in (".yaml", ".yml", ".json"):
        raise Refused(f"a {cls.what} is read from .yaml, .yml or .json{_or_tables(cls)}, not {suffix!r}")
    text = _text(path)
    data, faults = read_json(text) if suffix == ".json" else _read_yaml(text)
    if not isinstance(data, dict):
        raise Refused("the file holds no keys and values at its top" if data is not None else "the file is empty")
    if issubclass(cls, Plan):
        data = _typed(data)
        faults += _cut_short(data)
    for key in [key for key, field in cls.model_fields.items() if field.exclude and key in data]:
        del data[key]
        faults.append((Fault(key, "unknown key: this is given in Python, never in a file"), None))
    try:
        document = cls(**data)
    except DocumentError as error:
        raise type(error)(_placed(path, text, faults, error.faults), cls.what) from None
    if faults:
        raise DocumentError(_placed(path, text, faults, ()), cls.what)
    return document


def _or_tables(cls: type[Document]) -> str:
    return ", from .xlsx or a folder of CSV" if cls.what in _TABLED else ""


def _text(path: Path) -> str:
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        raise Refused(f"cannot be read: {error.strerror or error}") from None
    if len(raw) > MAX_BYTES:
        raise Refused(f"larger than {MAX_BYTES // 1024 // 1024} MB")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise Refused(f"not UTF-8 text (byte {error.start})") from None


def _read_yaml(text: str) -> tuple[Any, list[tuple[Fault, Place | None]]]:
    if text.startswith(WHOLE_YAML) and not text.rstrip().endswith("\n..."):
        raise Refused('the last line, "...", is missing: the file was cut off')
    reader = StrictReader(text)
    return reader.read(), list(reader.faults)


def _typed(value: Any) -> Any:
    """Read the plain scalars of a plan, some of whose fields hold a number or a text: by the JSON grammar."""
    if isinstance(value, dict):
        return {key: _typed(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_typed(item) for item in value]
    if not isinstance(value, PlainText):
        return value
    if value in ("true", "false"):
        return value == "true"
    number = _NUMBER.fullmatch(value)
    if number is None or not math.isfinite(float(value)):
        return str(value)
    return int(value) if number.group(2) is None and number.group(3) is None else float(value)


def _cut_short(plan: dict[str, Any]) -> list[tuple[Fault, Place | None]]:
    """A plan ends with the hashes of the documents that it was made from: a file without them was cut off, which YAML alone does not show."""
    held = plan.get("hashes")
    if isinstance(held, dict) and held.keys() >= {"network", "catalog", "policy"}:
        return []
    return [(Fault("hashes", "the hashes of network, catalog and policy, with which a plan ends, are not there: the file was cut off; plan again"), None)]


def _placed(path: Path, text: str, found: Iterable[tuple[Fault, Place | None]], faults: Iterable[Fault]) -> list[Fault]:
    """All faults in the order of the file, each with its place; places are looked for only here, so that good files do not pay."""
    places = Positions(text).places if path.suffix.lower() == ".json" else _yaml_places(text)
    first = next(iter(places.values()), None)
    rows = [(fault, place or _nearest(places, fault.path) or first) for fault, place in [*found, *((fault, None) for fault in faults)]]
    rows.sort(key=lambda row: row[1] or (0, 0))
    return [Fault(fault.path, fault.message, _at(path, place)) for fault, place in rows]


def _yaml_places(text: str) -> dict[str, Place]:
    reader = StrictReader(text, with_places=True)
    reader.read()
    return reader.places


def _nearest(places: dict[str, P], path: str) -> P | None:
    while path and path not in places:
        path = path[: max(path.rfind("."), path.rfind("["), 0)]
    return places.get(path)


def _at(path: Path, place: Place | None) -> str:
    return f"{path.name}:{place[0]}:{place[1]}" if place else path.name


def _from_tables(cls: type[D], path: Path, folder: bool) -> D:
    if cls.what not in _TABLED:
        raise Refused(f"a {cls.what} is read from .yaml, .yml or .json")
    laid = read_tables(cls.what, csv_texts(cls.what, path) if folder else xlsx_texts(path))
    try:
        document = cls(**laid.data)
    except DocumentError as error:
        raise type(error)(_in_cells(path, folder, laid, error.faults), cls.what) from None
    if laid.faults:
        raise DocumentError(_in_cells(path, folder, laid, ()), cls.what)
    return document


def _in_cells(path: Path, folder: bool, laid: Laid, faults: Iterable[Fault]) -> list[Fault]:
    """All faults in the order of tables, rows and columns, each with its cell."""
    order = {name: index for index, name in enumerate(dict.fromkeys(spot[0] for spot in laid.spots.values()))}
    rows: list[tuple[Fault, Spot | None]] = [*laid.faults]
    for fault in faults:
        converted = _nearest(laid.converted, fault.path)
        message = f"{fault.message} (converted from column {converted})" if converted else fault.message
        rows.append((Fault(fault.path, message), _nearest(laid.spots, fault.path)))
    rows.sort(key=lambda row: (order.get(row[1][0], -1), *row[1][1:]) if row[1] else (-2, 0, 0))
    return [Fault(fault.path, fault.message, _cell_name(path, folder, laid, spot) if spot else path.name) for fault, spot in rows]


def _cell_name(path: Path, folder: bool, laid: Laid, spot: Spot) -> str:
    table, row, column = spot
    if not folder:
        return f"{path.name} {table}!{_letters(column)}{row + 1}"
    header = laid.headers.get(table, [])
    name = header[column] if column < len(header) and header[column] else str(column + 1)
    return f"{table}.csv row {row + 1} column {name}"


def _letters(column: int) -> str:
    letters = ""
    while column >= 0:
        column, letter = column // 26 - 1, chr(ord("A") + column % 26)
        letters = letter + letters
    return letters
