"""The faults of a noun in plain words: what would be right, at a path that the document has."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from optiselect.errors import Fault

_LIST = "a list is due here"
_KEYS = "keys and their values are due here"
_NUMBER = "a number is due here"
_WORDS = {
    "extra_forbidden": "unknown key",
    "missing": "this key is needed",
    "string_type": "text is due here",
    "string_too_short": "text is due here, and this is empty",
    "string_too_long": "at most {max_length} characters are due here",
    "string_unicode": "half of a surrogate pair is not a character",
    "greater_than_equal": "at least {ge} is due here, not {given}",
    "greater_than": "more than {gt} is due here, not {given}",
    "less_than_equal": "at most {le} is due here, not {given}",
    "less_than": "less than {lt} is due here, not {given}",
    "finite_number": "a finite number is due here",
    "float_type": _NUMBER,
    "float_parsing": _NUMBER,
    "int_type": "a whole number is due here",
    "int_parsing": "a whole number is due here",
    "int_from_float": "a whole number is due here",
    "too_short": "at least {min_length} of them is due here",
    "too_long": "{max_length} of them are due here, not {actual_length}",
    "tuple_type": _LIST,
    "list_type": _LIST,
    "dict_type": _KEYS,
    "mapping_type": _KEYS,
    "model_type": _KEYS,
    "model_attributes_type": _KEYS,
    "union_tag_not_found": "the key {discriminator} is needed",
    "union_tag_invalid": "write one of {expected_tags}, not '{tag:.40}'",
}
_PATTERNS = {
    "^[^/]+$": "an id is non-empty text without '/'",
    "^[^/]+(/[^/]+)?$": "write a device, or device/port",
    "^[^/]+/[^/]+$": "write device/port",
    "^[0-9]{3,4}-[0-9]{3,4}$": "write a window in nm, for example 1260-1360",
}
_KEY = re.compile(r"Value error, ([a-z_]+): ")
"""A noun's own check names the key that it is about."""
_FOLLOW_ON = ("too_short", "too_few")
"""Counts of items, which are wrong only because an item failed when there is a fault inside."""
_LONGEST_PARENT = 300
"""Characters: a key may be a megabyte of dots."""


def fault_path(loc: tuple[int | str, ...], data: Any) -> str:
    """Turn a pydantic location into a document path, leaving out the tags of unions, which the document does not have."""
    path = ""
    here = data
    for position, step in enumerate(loc):
        last = position == len(loc) - 1
        if isinstance(step, int) and isinstance(here, list | tuple):
            path += f"[{step}]"
            here = here[step] if step < len(here) else None
        elif isinstance(here, Mapping) and (step in here or (last and step != "[key]")):
            path += f".{step}" if path else str(step)
            here = here.get(step)
    return path


def faults_of(error: ValidationError, data: Any) -> list[Fault]:
    """List the faults of a failed validation, each with its path in the given raw data, without those that only follow from another."""
    found: dict[str, list[tuple[str, Any]]] = {}
    for item in error.errors(include_url=False):
        kind, loc = item["type"], item["loc"]
        path = fault_path(loc, data)
        if kind == "missing" and loc and isinstance(loc[-1], int):
            kind, path = "too_few", path.removesuffix(f"[{loc[-1]}]")
        elif kind == "union_tag_invalid":
            path += ".kind" if item["ctx"]["discriminator"] == "'kind'" else ""
        elif kind == "value_error" and (key := _KEY.match(item["msg"])):
            path = f"{path}.{key[1]}".removeprefix(".")
        found.setdefault(path, []).append((kind, item))
    counted = {path for path, items in found.items() if any(kind in _FOLLOW_ON for kind, _ in items)}
    holds_a_fault = {parent for path in found for parent in _parents(path) if parent in counted}
    return [
        Fault(path, message)
        for path, items in found.items()
        for message in dict.fromkeys(_messages([item for item in items if path not in holds_a_fault or item[0] not in _FOLLOW_ON]))
    ]


def _parents(path: str) -> Iterator[str]:
    """What a path lies in, the outermost first; of a path under a very long key not all."""
    for index, character in enumerate(path[:_LONGEST_PARENT]):
        if character in ".[":
            yield path[:index]


def _messages(items: list[tuple[str, Any]]) -> Iterator[str]:
    """Messages of one path; what the members of a union would each take is one message."""
    taken = [_members(item["ctx"]["expected"]) for kind, item in items if kind == "literal_error"]
    if taken:
        names = list(dict.fromkeys(name for names in taken for name in names))
        also = " or keys and their values" if any(_WORDS.get(kind) == _KEYS for kind, _ in items) else ""
        yield f"write {_either(names)}{also}, not {_given(next(item['input'] for kind, item in items if kind == 'literal_error'))}"
    for kind, item in items:
        if kind != "literal_error" and not (taken and _WORDS.get(kind) == _KEYS):
            yield _message(kind, item)


def _message(kind: str, item: Any) -> str:
    context = item.get("ctx", {})
    if kind == "string_pattern_mismatch":
        return _PATTERNS.get(context["pattern"], str(item["msg"]))
    if kind == "too_few":
        return "two values are due here"
    if kind in _WORDS:
        shown = {key: f"{value:g}" if isinstance(value, float) else value for key, value in context.items()}
        return _WORDS[kind].format(**shown, given=_given(item["input"]))
    return _KEY.sub("", str(item["msg"])).removeprefix("Value error, ")


def _members(expected: str) -> list[str]:
    return [name.strip() for name in expected.replace(" or ", ", ").split(", ")]


def _either(names: list[str]) -> str:
    return f"{', '.join(names[:-1])} or {names[-1]}" if len(names) > 1 else names[0]


def _given(value: Any) -> str:
    if isinstance(value, str):
        return repr(str(value[:40]))
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{value:g}"
    return "this"
