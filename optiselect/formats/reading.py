"""Read a document from a file: strictly, with the place of every fault."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any, NoReturn, TypeVar

from optiselect.errors import DocumentError, Fault
from optiselect.formats.strict_yaml import MAX_DEPTH, Refused, StrictReader
from optiselect.formats.tables import read_tables
from optiselect.formats.workbooks import csv_texts, xlsx_texts
from optiselect.model.document import Document, PlainText
from optiselect.model.plan import Plan

MAX_BYTES = 64 * 1024 * 1024
_NUMBER = re.compile(r"-?(0|[1-9][0-9]{0,14})(\.[0-9]{1,20})?([eE][+-]?[0-9]{1,3})?")
D = TypeVar("D", bound=Document)
P = TypeVar("P")


def load(cls: type[D], path: Path) -> D:
    """Read a document by the suffix of its file (.yaml, .yml, .json; a network or catalog also .xlsx), or from a folder of CSV.

    Raises:
        DocumentError: with every fault, its path in the document and its place in the file.
    """
    suffix = path.suffix.lower()
    if path.is_dir() or suffix == ".xlsx":
        return _from_tables(cls, path)
    if suffix not in (".yaml", ".yml", ".json"):
        _refuse(cls, path, f"a file ends in .yaml, .yml, .json or .xlsx, not {suffix!r}")
    text = _text(cls, path)
    try:
        data, faults = _from_json(text) if suffix == ".json" else _from_yaml(text)
    except Refused as refusal:
        fault = refusal.fault
        raise DocumentError([Fault(fault.path, fault.message, _at(path, refusal.place))], cls.what) from None
    if not isinstance(data, dict):
        _refuse(cls, path, "the file holds no keys and values at its top" if data is not None else "the file is empty")
    if issubclass(cls, Plan):
        data = _typed(data)
    try:
        document = cls(**data)
    except DocumentError as error:
        raise type(error)(_placed(text, path, faults, error.faults), cls.what) from None
    if faults:
        raise DocumentError(_placed(text, path, faults, ()), cls.what)
    return document


def _refuse(cls: type[Document], path: Path, message: str) -> NoReturn:
    raise DocumentError([Fault("", message, path.name)], cls.what)


def _from_tables(cls: type[D], path: Path) -> D:
    if cls.what not in ("network", "catalog"):
        _refuse(cls, path, f"a {cls.what} is read from .yaml or .json")
    if not path.exists():
        _refuse(cls, path, "cannot be read: No such file or directory")
    folder = path.is_dir()

    def place(table: str, row: int, column: int) -> str:
        return f"{table}.csv row {row + 1} column {column + 1}" if folder else f"{path.name} {table}!{_letters(column)}{row + 1}"

    try:
        laid = read_tables(cls.what, csv_texts(path) if folder else xlsx_texts(path), place)
    except Refused as refusal:
        _refuse(cls, path, refusal.fault.message)
    try:
        document = cls(**laid.data)
    except DocumentError as error:
        placed = [Fault(fault.path, fault.message, _nearest(laid.places, fault.path) or path.name) for fault in error.faults]
        raise type(error)([*laid.faults, *placed], cls.what) from None
    if laid.faults:
        raise DocumentError(laid.faults, cls.what)
    return document


def _letters(column: int) -> str:
    letters = ""
    while column >= 0:
        column, letter = column // 26 - 1, chr(ord("A") + column % 26)
        letters = letter + letters
    return letters


def _text(cls: type[Document], path: Path) -> str:
    try:
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except OSError as error:
        _refuse(cls, path, f"cannot be read: {error.strerror or error}")
    if len(raw) > MAX_BYTES:
        _refuse(cls, path, f"larger than {MAX_BYTES // 1024 // 1024} MB")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        _refuse(cls, path, f"not UTF-8 text (byte {error.start})")


def _from_yaml(text: str) -> tuple[Any, list[tuple[Fault, tuple[int, int] | None]]]:
    reader = StrictReader(text)
    return reader.read(), list(reader.faults)


def _from_json(text: str) -> tuple[Any, list[tuple[Fault, tuple[int, int] | None]]]:
    if not text.strip():
        raise Refused("the file is empty")
    twice: list[str] = []

    def entries(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            keys = [key for key, _ in pairs]
            twice.extend(key for key in found if keys.count(key) > 1)
        return found

    try:
        data = json.loads(text, object_pairs_hook=entries, parse_constant=_no_constant, parse_float=_finite)
    except json.JSONDecodeError as error:
        raise Refused(f"not JSON: {error.msg}", (error.lineno, error.colno)) from None
    except RecursionError:
        raise Refused(f"nested deeper than {MAX_DEPTH}") from None
    except ValueError as error:  # the interpreter's limit of digits
        raise Refused(f"a number is too long: {str(error)[:80]}") from None
    _check_depth(data, 1)
    if not twice:
        return data, []
    reader = StrictReader(text)
    try:
        reader.read()
    except Refused:
        reader.faults = []
    return data, list(reader.faults) or [(Fault(key, "this key is given twice"), None) for key in twice]


def _no_constant(name: str) -> NoReturn:
    raise Refused(f"{name} is not a number of a document")


def _finite(number: str) -> float:
    value = float(number)
    if not math.isfinite(value):
        raise Refused(f"{number[:40]} is beyond any physical range")
    return value


def _check_depth(value: Any, depth: int) -> None:
    if not isinstance(value, dict | list):
        return
    if depth > MAX_DEPTH:
        raise Refused(f"nested deeper than {MAX_DEPTH}")
    for item in value.values() if isinstance(value, dict) else value:
        _check_depth(item, depth + 1)


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


def _placed(text: str, path: Path, found: list[tuple[Fault, tuple[int, int] | None]], faults: tuple[Fault, ...]) -> list[Fault]:
    """All faults in the order of the file, each with its place; positions are read again here, so that good files do not pay."""
    reader = StrictReader(text, with_places=True)
    try:
        reader.read()
    except Refused:
        reader.places = {}  # JSON that YAML does not read alike: paths without places
    rows = [*found, *((fault, _nearest(reader.places, fault.path)) for fault in faults)]
    rows.sort(key=lambda row: row[1] or (0, 0))
    return [Fault(fault.path, fault.message, _at(path, place)) for fault, place in rows]


def _nearest(places: dict[str, P], path: str) -> P | None:
    while path and path not in places:
        path = path[: max(path.rfind("."), path.rfind("["), 0)]
    return places.get(path) or (next(iter(places.values())) if places else None)


def _at(path: Path, place: tuple[int, int] | None) -> str:
    return f"{path.name}:{place[0]}:{place[1]}" if place else path.name
