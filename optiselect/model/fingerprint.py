"""A hash of what a document states."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from optiselect.model.document import Document

_ORDERED = ("ends", "connectors", "polish", "over", "objective")
"""Keys whose lists mean something by their order, beside pairs of figures."""
_NAMES = ("id", "part", "ids")


def hash_of(document: Document) -> str:
    """A hash of what a document states, the same however and in whatever order it was written."""
    stated = _in_order(document.model_dump(mode="json", exclude_defaults=True, by_alias=True))
    return hashlib.sha256(_json(stated).encode()).hexdigest()


def _in_order(value: Any, key: str = "") -> Any:
    """The same JSON value with every list sorted whose order says nothing."""
    if isinstance(value, dict):
        return {name: _in_order(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        inners = [_in_order(inner, key) for inner in value]
        means_something = key in _ORDERED or all(isinstance(inner, int | float) for inner in inners)
        return inners if means_something else sorted(inners, key=_place)
    return value


def _place(value: Any) -> str:
    if isinstance(value, dict):
        return next((str(value[name]) for name in _NAMES if name in value), "") or _json(value)
    return str(value)


def _json(value: Any) -> str:
    return json.dumps(value, sort_keys=True, ensure_ascii=True)
