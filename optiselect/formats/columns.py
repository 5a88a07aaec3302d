"""Which columns a table of items has, and how a cell is written: read off the nouns, so that no list is kept twice.

The rule, for a key of an item:

- a single value is its own cell;
- a pair of numbers is two columns, ``ambient_c_low`` and ``ambient_c_high``; a pair of names ``ends_a`` and ``ends_b``;
- a list is joined by semicolons: ``100M; 1G``;
- figures by name are ``OM1=550; single-mode=10000``, a pair of them ``62.5=-20 to -14``;
- the keys of `fiber`, `copper` and `optic` are columns with a dot: ``fiber.grade``;
- what none of these can say (and, on reading, anything) is JSON text, which starts with ``[`` or ``{``;
- an empty cell is a key that is left out.

A pair may also be one column of two values (``ambient_c``: ``15; 30``), and a number may be in another unit (`formats.units`).
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

from optiselect.formats.strict_json import read_json
from optiselect.formats.units import Unit, also_written
from optiselect.model.catalog import Attenuator, Converter, Cord, Module
from optiselect.model.document import Figures, Noun, PlainText
from optiselect.model.network import Cage, CopperPort, Device, FixedOptic, Link, Panel, Run, SharedPort, Site

Cell = str | float | bool | None

_ITEMS: dict[str, dict[str, tuple[type[Noun], ...]]] = {
    "network": {
        "sites": (Site,),
        "devices": (Device,),
        "ports": (Cage, FixedOptic, SharedPort, CopperPort),
        "panels": (Panel,),
        "runs": (Run,),
        "links": (Link,),
        "installed": (),
    },
    "catalog": {"modules": (Module,), "converters": (Converter,), "cords": (Cord,), "attenuators": (Attenuator,)},
}
TABLE_NAMES: dict[str, tuple[str, ...]] = {what: tuple(tables) for what, tables in _ITEMS.items()}
"""The tables of a document beside the one of its own name, which holds its single values."""


class BadCell(Exception):
    """A cell whose text cannot be taken apart; the message says what would be right."""


@dataclass(frozen=True)
class Column:
    """What a column holds.

    Attributes:
        keys: the keys of the item, outer first.
        shapes: how its cell may be written: "plain", "yes-no", "list", "pair", "figures", "items" (JSON text only).
        side: 0 or 1 for one half of a pair.
        unit: the unit that is converted at the door.
    """

    keys: tuple[str, ...]
    shapes: frozenset[str]
    side: int | None = None
    unit: Unit | None = None

    def value(self, text: str) -> Any:
        """Read the text of a cell.

        Raises:
            BadCell: when it is not written as this column is.
        """
        if self.side is not None:
            return self._figure(text)
        if self.shapes - {"plain", "yes-no"} and text[:1] in ("[", "{"):
            return self._json(text)
        if "figures" in self.shapes and ("=" in text or not self.shapes & {"plain", "pair"}):
            return self._figures(text)
        if "list" in self.shapes or ("pair" in self.shapes and ";" in text):
            return [self._figure(piece.strip()) for piece in text.split(";")]
        if "yes-no" in self.shapes and text.lower() in ("true", "false"):
            return PlainText(text.lower())
        return self._figure(text)

    def _figures(self, text: str) -> dict[str, Any]:
        figures: dict[str, Any] = {}
        for piece in text.split(";"):
            name, equals, figure = (part.strip() for part in piece.partition("="))
            if not equals or not name:
                raise BadCell(f"write name=figure; name=figure here, not {piece.strip()[:40]!r}")
            if name in figures:
                raise BadCell(f"{name[:40]!r} is given twice")
            low, to, high = figure.partition(" to ")
            figures[name] = [self._figure(low.strip()), self._figure(high.strip())] if to else self._figure(figure)
        return figures

    def _json(self, text: str) -> Any:
        if self.unit:
            raise BadCell(f"JSON text is in the document's own unit; name the column {self.keys[-1]}")
        data, faults = read_json(text)
        if faults:
            raise BadCell(f"{faults[0][0].path}: a key that is given twice")
        return data

    def _figure(self, text: str) -> PlainText:
        converted = self.unit.converted(text) if self.unit else None
        return PlainText(text) if converted is None else converted


@cache
def columns_of(what: str, table: str) -> Mapping[str, Column]:
    """All columns that a table may have, by name."""
    if table == "installed":
        return {key: Column((key,), frozenset({"plain"})) for key in ("port", "part")}
    columns: dict[str, Column] = {}
    for noun in _ITEMS[what][table]:
        columns.update(_columns(noun, ()))
    if table == "ports":
        columns = {"device": Column(("device",), frozenset({"plain"})), **columns}
    if table == "devices":
        columns.pop("ports")
    return columns


def _columns(noun: type[Noun], outer: tuple[str, ...]) -> Iterator[tuple[str, Column]]:
    for key, field in noun.model_fields.items():
        keys = (*outer, key)
        shapes: set[str] = set()
        names_in_pair = False
        for part in _parts(field.annotation):
            if isinstance(part, type) and issubclass(part, Noun):
                yield from _columns(part, keys)
            shape = _shape(part)
            shapes.add(shape)
            names_in_pair |= shape == "pair" and not _numeric(get_args(part)[0])
        dotted = ".".join(keys)
        for name, unit in ((dotted, None), *also_written(dotted)):
            yield name, Column(keys, frozenset(shapes), None, unit)
            for side, end in enumerate(_ends(names_in_pair) if "pair" in shapes else ()):
                yield f"{name}_{end}", Column(keys, frozenset({"plain"}), side, unit)


def _ends(names: bool) -> tuple[str, str]:
    return ("a", "b") if names else ("low", "high")


def _parts(annotation: Any) -> Iterator[Any]:
    origin = get_origin(annotation)
    if origin is Annotated:
        yield from _parts(get_args(annotation)[0])
    elif origin in (Union, UnionType):
        for part in get_args(annotation):
            yield from _parts(part)
    elif annotation is not type(None):
        yield annotation


def _numeric(annotation: Any) -> bool:
    return any(part in (int, float) for part in _parts(annotation))


def _shape(annotation: Any) -> str:
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is tuple:
        return "list" if inner[-1] is Ellipsis else "pair"
    if origin is Figures:
        nested = [part for part in _parts(inner[1]) if isinstance(part, type) and issubclass(part, Noun)]
        return "items" if nested else "figures"
    if isinstance(annotation, type) and issubclass(annotation, Noun):
        return "items"
    return "yes-no" if annotation is bool else "plain"


def cells_of(item: Mapping[str, Any], columns: Mapping[str, Column], outer: str = "") -> Iterator[tuple[str, Cell]]:
    """Lay an item's stated keys out as cells by column name."""
    for key, value in item.items():
        name = outer + key
        column = columns[name]
        if value and f"{name}.{next(iter(value)) if isinstance(value, dict) else ''}" in columns:
            yield from cells_of(value, columns, f"{name}.")
        elif "pair" in column.shapes and isinstance(value, list):
            ends = _ends(f"{name}_a" in columns)
            yield from ((f"{name}_{end}", half) for end, half in zip(ends, value, strict=True))
        else:
            yield name, _cell(value)


def _cell(value: Any) -> Cell:
    if isinstance(value, list) and value and all(isinstance(item, str) and _joins(item) for item in value):
        return "; ".join(value)
    if isinstance(value, dict) and value:
        figures = {name: _written(figure) for name, figure in value.items()}
        if all(figures.values()):
            return "; ".join(f"{name}={figure}" for name, figure in figures.items())
    return json.dumps(value, ensure_ascii=False) if isinstance(value, list | dict) else value


def _joins(text: str) -> bool:
    return bool(text) and text == text.strip() and ";" not in text and text[0] not in "[{"


def _written(figure: Any) -> str:
    """A figure or a pair of them as text; "" when it is neither."""
    if isinstance(figure, int | float):
        return _number(figure)
    if isinstance(figure, Sequence) and len(figure) == 2 and all(isinstance(half, int | float) for half in figure):
        return f"{_number(figure[0])} to {_number(figure[1])}"
    return ""


def _number(figure: float) -> str:
    return str(int(figure)) if abs(figure) < 10**15 and figure == int(figure) else json.dumps(figure)
