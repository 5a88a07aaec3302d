"""JSON read strictly: no key twice, no NaN, nothing too deep; a string is never a number. Places are looked for only after a fault."""

from __future__ import annotations

import json
import math
import re
import sys
from bisect import bisect_right
from collections import Counter
from collections.abc import Callable
from typing import Any, NoReturn

from optiselect.errors import Fault
from optiselect.formats.limits import MAX_DEPTH, Place, Refused, below, check_size

_DECODER = json.JSONDecoder(strict=False)
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")
_GAP = re.compile(r"[ \t\n\r]*")
_SCALAR = re.compile(r"[^ \t\n\r,\]}]+")
_TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|[\[{\]}]|-?(?:NaN|Infinity)|-?[0-9][0-9.eE+-]*')


def read_json(text: str) -> tuple[Any, list[tuple[Fault, Place | None]]]:
    """Return the data of one JSON text, and a fault for every key that is given twice.

    Raises:
        Refused: with the fault that makes the text unreadable, and its place.
    """
    if not text.strip():
        raise Refused("the file is empty")
    check_size(text, ",[{")
    twice: list[str] = []

    def entries(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            twice.extend(key for key, count in Counter(key for key, _ in pairs).items() if count > 1)
        return found

    def no_constant(name: str) -> NoReturn:
        raise Refused(f"{name} is not a number of a document", _place_of(text, lambda token, _: token == name))

    def finite(number: str) -> float:
        value = float(number)
        if not math.isfinite(value):
            raise Refused(f"{number[:40]} is beyond any physical range", _place_of(text, lambda token, _: token == number))
        return value

    try:
        data = json.loads(text, object_pairs_hook=entries, parse_constant=no_constant, parse_float=finite)
    except json.JSONDecodeError as error:
        raise Refused(f"not JSON: {error.msg}", (error.lineno, error.colno)) from None
    except RecursionError:
        raise _too_deep(text) from None
    except ValueError:  # the interpreter's limit of digits
        raise Refused("a number is too long", _place_of(text, _is_too_long)) from None
    if not _is_shallow(data) or (twice and _place_of(text, _is_too_deep)):  # what a second key hides may be deep too
        raise _too_deep(text)
    if _SURROGATE.search(text) and not _is_writable(data):
        raise Refused("half of a surrogate pair is not a character", _place_of(text, _is_half_a_pair))
    if not twice:
        return data, []
    return data, list(Positions(text).faults)


def _place_of(text: str, sought: Callable[[str, int], bool]) -> Place | None:
    """The line and column of the first string, bracket or number that is sought by its text and how deep it is."""
    depth = 0
    for found in _TOKEN.finditer(text):
        token, at = found.group(), found.start()
        depth += (token in "[{") - (token in "]}")
        if sought(token, depth):
            return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)
    return None


def _too_deep(text: str) -> Refused:
    return Refused(f"nested deeper than {MAX_DEPTH}", _place_of(text, _is_too_deep))


def _is_too_deep(token: str, depth: int) -> bool:
    return depth > MAX_DEPTH


def _is_too_long(token: str, depth: int) -> bool:
    digits = token.removeprefix("-")
    return digits.isdecimal() and len(digits) > sys.get_int_max_str_digits()


def _is_half_a_pair(token: str, depth: int) -> bool:
    return token[0] == '"' and not _is_writable(json.loads(token))


def _is_shallow(data: Any) -> bool:
    level = [data] if isinstance(data, dict | list) else []
    for _ in range(MAX_DEPTH):
        level = [item for held in level for item in (held.values() if type(held) is dict else held) if type(item) is dict or type(item) is list]
    return not level


def _is_writable(data: Any) -> bool:
    try:
        json.dumps(data, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


class Positions:
    """Where everything stands in a text that `read_json` has read.

    Attributes:
        places: (line, column) by document path; of a key's value, where the key stands.
        faults: the keys that are given twice, with their second place.
    """

    def __init__(self, text: str) -> None:
        self.places: dict[str, Place] = {}
        self.faults: list[tuple[Fault, Place]] = []
        self._text = text
        self._lines = [0, *(found.end() for found in re.finditer("\n", text))]
        self._value(self._gap(0), "")

    def _place(self, at: int) -> Place:
        line = bisect_right(self._lines, at)
        return line, at - self._lines[line - 1] + 1

    def _gap(self, at: int) -> int:
        found = _GAP.match(self._text, at)
        return found.end() if found else at

    def _value(self, at: int, path: str) -> int:
        first = self._text[at]
        if first == "{":
            return self._object(at + 1, path)
        if first == "[":
            return self._array(at + 1, path)
        if first == '"':
            return self._string(at)[1]
        scalar = _SCALAR.match(self._text, at)
        return scalar.end() if scalar else at + 1

    def _string(self, at: int) -> tuple[str, int]:
        value, end = _DECODER.raw_decode(self._text, at)
        return str(value), end

    def _object(self, at: int, path: str) -> int:
        lines: dict[str, int] = {}
        at = self._gap(at)
        while self._text[at] != "}":
            key, after = self._string(at)
            here, place = below(path, f".{key}") if path else key, self._place(at)
            if key in lines:
                self.faults.append((Fault(here, f"this key is given twice, in lines {lines[key]} and {place[0]}"), place))
            lines.setdefault(key, place[0])
            if here is not path:
                self.places[here] = place
            at = self._gap(self._value(self._gap(self._gap(after) + 1), here))
            at = self._gap(at + 1) if self._text[at] == "," else at
        return at + 1

    def _array(self, at: int, path: str) -> int:
        index = 0
        at = self._gap(at)
        while self._text[at] != "]":
            here = below(path, f"[{index}]")
            if here is not path:
                self.places[here] = self._place(at)
            at = self._gap(self._value(at, here))
            at = self._gap(at + 1) if self._text[at] == "," else at
            index += 1
        return at + 1
