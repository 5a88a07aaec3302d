"""JSON read strictly: no key twice, no NaN, nothing too deep; a string is never a number. Places are looked for only after a fault."""

from __future__ import annotations

import json
import math
import re
from bisect import bisect_right
from collections import Counter
from typing import Any, NoReturn

from optiselect.errors import Fault
from optiselect.formats.limits import MAX_DEPTH, Place, Refused, check_size

_STRING = re.compile(r'"(?:[^"\\]|\\.)*"')
_SURROGATE = re.compile(r"\\u[dD][89a-fA-F]")
_GAP = re.compile(r"[ \t\n\r]*")
_SCALAR = re.compile(r"[^ \t\n\r,\]}]+")


def read_json(text: str) -> tuple[Any, list[tuple[Fault, Place | None]]]:
    """Return the data of one JSON text, and a fault for every key that is given twice.

    Raises:
        Refused: with the fault that makes the text unreadable.
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

    try:
        data = json.loads(text, object_pairs_hook=entries, parse_constant=_no_constant, parse_float=_finite)
    except json.JSONDecodeError as error:
        raise Refused(f"not JSON: {error.msg}", (error.lineno, error.colno)) from None
    except RecursionError:
        raise Refused(f"nested deeper than {MAX_DEPTH}") from None
    except ValueError:  # the interpreter's limit of digits
        raise Refused("a number is too long") from None
    _check_depth(data)
    if _SURROGATE.search(text):
        _check_characters(data)
    if not twice:
        return data, []
    return data, list(Positions(text).faults)


def _no_constant(name: str) -> NoReturn:
    raise Refused(f"{name} is not a number of a document")


def _finite(number: str) -> float:
    value = float(number)
    if not math.isfinite(value):
        raise Refused(f"{number[:40]} is beyond any physical range")
    return value


def _check_depth(data: Any) -> None:
    level = [data] if isinstance(data, dict | list) else []
    for _ in range(MAX_DEPTH):
        level = [item for held in level for item in (held.values() if type(held) is dict else held) if type(item) is dict or type(item) is list]
    if level:
        raise Refused(f"nested deeper than {MAX_DEPTH}")


def _check_characters(data: Any) -> None:
    try:
        json.dumps(data, ensure_ascii=False).encode("utf-8")
    except UnicodeEncodeError:
        raise Refused("half of a surrogate pair is not a character") from None


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
        found = _STRING.match(self._text, at)
        if found is None:
            raise Refused("not JSON")
        return str(json.loads(found.group())), found.end()

    def _object(self, at: int, path: str) -> int:
        lines: dict[str, int] = {}
        at = self._gap(at)
        while self._text[at] != "}":
            key, after = self._string(at)
            here, place = f"{path}.{key}" if path else key, self._place(at)
            if key in lines:
                self.faults.append((Fault(here, f"this key is given twice, in lines {lines[key]} and {place[0]}"), place))
            lines.setdefault(key, place[0])
            self.places[here] = place
            at = self._gap(self._value(self._gap(self._gap(after) + 1), here))
            at = self._gap(at + 1) if self._text[at] == "," else at
        return at + 1

    def _array(self, at: int, path: str) -> int:
        index = 0
        at = self._gap(at)
        while self._text[at] != "]":
            here = f"{path}[{index}]"
            self.places[here] = self._place(at)
            at = self._gap(self._value(at, here))
            at = self._gap(at + 1) if self._text[at] == "," else at
            index += 1
        return at + 1
