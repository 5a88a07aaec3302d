"""YAML read strictly from parser events: no aliases, no tags, no key twice, nothing guessed from a plain scalar."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import yaml

from optiselect.errors import Fault
from optiselect.formats.limits import MAX_DEPTH, Place, Refused, below, check_size
from optiselect.model.document import PlainText

_NULL = ("", "~", "null")
_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class StrictReader:
    """Builds plain data from one YAML text.

    Attributes:
        faults: keys that are given twice, each with (line, column); reading goes on after them.
        places: (line, column) by document path; filled only when `with_places`.
    """

    def __init__(self, text: str, *, with_places: bool = False) -> None:
        self.faults: list[tuple[Fault, Place]] = []
        self.places: dict[str, Place] = {}
        self._with_places = with_places
        self._text = text

    def read(self) -> Any:
        """Return the document's data: dict, list, None, `PlainText` (plain scalars) or str (quoted ones).

        Raises:
            Refused: with the fault that makes the text unreadable.
        """
        check_size(self._text, "\n,[{")
        try:
            events = yaml.parse(self._text, Loader=_Loader)
            next(events)
            first = next(events)
            if isinstance(first, yaml.StreamEndEvent):
                raise Refused("the file is empty")
            data = self._value(next(events), events, "", 1)
            next(events)
            last = next(events)
            if not isinstance(last, yaml.StreamEndEvent):
                raise Refused("one document a file is due here", _place(last))
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark
            raise Refused(f"not YAML: {error.problem or error.context}", (mark.line + 1, mark.column + 1) if mark else None) from None
        except yaml.YAMLError as error:
            raise Refused(f"not YAML: {str(error).splitlines()[0][:200]}") from None
        return data

    def _value(self, event: Any, events: Iterator[Any], path: str, depth: int) -> Any:
        kind = type(event)
        if kind is yaml.AliasEvent or event.anchor is not None:
            raise Refused("anchors and aliases (& and *) are not read; write the value out", _place(event), path)
        if event.tag is not None:
            raise Refused(f"tags are not read, not {event.tag[:80]!r}", _place(event), path)
        if kind is yaml.ScalarEvent:
            if event.style:
                return event.value
            return None if event.value in _NULL else PlainText(event.value)
        if depth > MAX_DEPTH:
            raise Refused(f"nested deeper than {MAX_DEPTH}", _place(event))
        return self._list(events, path, depth) if kind is yaml.SequenceStartEvent else self._dict(events, path, depth)

    def _list(self, events: Iterator[Any], path: str, depth: int) -> list[Any]:
        items: list[Any] = []
        while type(event := next(events)) is not yaml.SequenceEndEvent:
            here = below(path, f"[{len(items)}]")
            if self._with_places and here is not path:
                self.places[here] = _place(event)
            items.append(self._value(event, events, here, depth + 1))
        return items

    def _dict(self, events: Iterator[Any], path: str, depth: int) -> dict[str, Any]:
        entries: dict[str, Any] = {}
        lines: dict[str, int] = {}
        while type(event := next(events)) is not yaml.MappingEndEvent:
            if type(event) is not yaml.ScalarEvent:
                raise Refused("a key is plain text", _place(event), path)
            self._value(event, events, path, depth + 1)  # refuses an anchor or a tag on the key
            key = str(event.value)
            here = below(path, f".{key}") if path else key
            place = _place(event)
            if key in lines:
                self.faults.append((Fault(here, f"this key is given twice, in lines {lines[key]} and {place[0]}"), place))
            lines.setdefault(key, place[0])
            if self._with_places and here is not path:
                self.places[here] = place
            entries[key] = self._value(next(events), events, here, depth + 1)
        return entries


def _place(event: Any) -> Place:
    return event.start_mark.line + 1, event.start_mark.column + 1
