"""A hash of what a document states."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from operator import attrgetter
from typing import Any

from optiselect.model.document import Document, Figures, Noun

_ORDERED = ("ends", "connectors", "polish", "over", "objective")
"""Keys whose lists mean something by their order, beside pairs of figures."""
_NAMES = ("id", "part", "ids")
_KEPT = "hash_of"
"""What the hash is kept as, beside the fields, as a cached property is; a copy with other fields drops it (`Noun.model_copy`)."""
_AT_ONCE = 64
"""So few that the garbage collector hardly notices what is made of them and dropped again."""


def hash_of(document: Document, known: Mapping[int, str] | None = None) -> str:
    """A hash of what a document states, the same however and in whatever order it was written; a document is frozen, and keeps it.

    `known`: what `texts_of` said of another document; what the two have in common is not written out again.
    """
    kept: str | None = document.__dict__.get(_KEPT)
    if kept is None:
        digest = hashlib.sha256()
        for piece in _pieces(document, known or {}):
            digest.update(piece.encode())
        kept = document.__dict__[_KEPT] = digest.hexdigest()
    return kept


def hashes_of(documents: Iterable[Document], known: Mapping[int, str] | None = None) -> Figures[Any, str]:
    """The hashes of documents by what they are; `known`: as of `hash_of`."""
    return Figures({document.what: hash_of(document, known) for document in documents})


def _pieces(document: Document, known: Mapping[int, str]) -> Iterator[str]:
    """What a document states as JSON in one order, piece by piece, since the whole of a large network is long."""
    lists = _lists_of_named(document)
    stated = document.model_dump(mode="json", exclude_defaults=True, by_alias=True, exclude=set(lists))
    before = "{"
    for key in sorted((*stated, *lists)):
        yield f"{before}{_json(key)}: "
        if key in lists:
            yield from _listed(_texts(sorted(lists[key], key=_name_of(lists[key][0])), known))
        else:
            yield _json(_in_order(stated[key], key))
        before = ", "
    yield "}" if before == ", " else "{}"


def _listed(texts: Iterable[str]) -> Iterator[str]:
    before = "["
    for text in texts:
        yield f"{before}{text}"
        before = ", "
    yield "]"


def _name_of(noun: Any) -> attrgetter[str]:
    """Reads what nouns of this kind are called."""
    return attrgetter("id" if hasattr(noun, "id") else "part")


def texts_of(document: Document) -> dict[int, str]:
    """The text of every item of a document by its identity, good for as long as the document is kept."""
    return {id(noun): _text(noun) for nouns in _lists_of_named(document).values() for noun in nouns}


def _lists_of_named(document: Document) -> dict[str, Any]:
    """The lists of a document whose items have an id or a part number."""
    lists = {name: getattr(document, name) for name in type(document).model_fields}
    return {
        name: value
        for name, value in lists.items()
        if isinstance(value, tuple) and value and isinstance(value[0], Noun) and (hasattr(value[0], "id") or hasattr(value[0], "part"))
    }


def _texts(nouns: Sequence[Any], known: Mapping[int, str]) -> Iterator[str]:
    """The texts of nouns one after another, of many at once."""
    for start in range(0, len(nouns), _AT_ONCE):
        some = nouns[start : start + _AT_ONCE]
        yield ", ".join([known.get(id(noun)) or _text(noun) for noun in some]) if known else _json([_shown(noun) for noun in some])[1:-1]


def _text(noun: Any) -> str:
    return _json(_shown(noun))


def _shown(noun: Any) -> Any:
    return _in_order(noun.__pydantic_serializer__.to_python(noun, mode="json", exclude_defaults=True, by_alias=True))  # as `model_dump`, of many


def _in_order(value: Any, key: str = "") -> Any:
    """A JSON value, in place, with every list sorted whose order says nothing."""
    if type(value) is dict:
        for name, inner in value.items():
            if type(inner) is dict:
                _in_order(inner)
            elif type(inner) is list:
                value[name] = _list_in_order(inner, name)
        return value
    return _list_in_order(value, key) if type(value) is list else value


def _list_in_order(values: list[Any], key: str) -> list[Any]:
    if type(values[0] if values else None) in (dict, list):
        values = [_in_order(inner, key) for inner in values]
    means_something = len(values) < 2 or key in _ORDERED or all(isinstance(inner, int | float) for inner in values)
    return values if means_something else sorted(values, key=_place)


def _place(value: Any) -> str:
    if isinstance(value, dict):
        return next((str(value[name]) for name in _NAMES if name in value), "") or _json(value)
    return str(value)


_json = json.JSONEncoder(sort_keys=True, ensure_ascii=True).encode
