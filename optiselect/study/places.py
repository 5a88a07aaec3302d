"""Where in the three documents an edit is meant, written with dots: ``runs.F1.fiber.length_m``, ``policy.design_margin_db``.

The first word is ``policy``, ``installed`` or a list of the documents (``parts`` stands for modules, converters, cords and
attenuators together); then comes an id and then keys, as in the document. ``*`` stands for any run of characters in an
id, and for every key. An id that has dots in it is found as it stands: the longest id that fits is meant.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Any

from optiselect.errors import DocumentError, Fault
from optiselect.study.draft import KINDS, PART_KINDS, Draft

Step = str | int
_SINGULAR = {kind: kind[:-1] for kind in KINDS} | {"routes": "route"}


@dataclass(frozen=True)
class Spot:
    """One item of the documents, and the way to a value inside it (no steps: the item as a whole).

    Attributes:
        kind: a list of the documents, ``policy`` or ``installed``.
        name: the item's id; "" for the policy.
        steps: keys and positions.
    """

    kind: str
    name: str
    steps: tuple[Step, ...] = ()

    def __str__(self) -> str:
        return ".".join(str(word) for word in (self.kind, self.name, *self.steps) if word != "")


def spots(place: str, draft: Draft) -> list[Spot]:
    """Everything that a place stands for, in the order of the documents.

    Raises:
        DocumentError: when it stands for nothing.
    """
    kind, _, rest = place.partition(".")
    if kind == "policy":
        if not rest:
            raise _refused(place, "name a key of the policy, for example policy.design_margin_db")
        return _some(place, [Spot("policy", "", steps) for steps in _ways(stated_and_default(draft.policy), rest, new="*" not in rest)])
    if kind == "installed":
        ports = _named(rest, draft.installed) if "*" in rest else [(rest, "")] if "/" in rest else []
        if not ports:
            raise _refused(place, "name a port as device/port")
        return [Spot("installed", port) for port, _ in ports]
    kinds = tuple(PART_KINDS) if kind == "parts" else (kind,) if kind in KINDS else ()
    if not kinds or not rest:
        words = ", ".join(["policy", "installed", "parts", *KINDS])
        raise _refused(place, f"begin with one of {words}, then an id" if not kinds else "an id is due after the list")
    names = [(each, name, inner) for each in kinds for name, inner in _named(rest, draft.items(each))]
    if not names:
        known = [name for each in kinds for name in draft.items(each)]
        raise _refused(place, f"there is no {'part' if kind == 'parts' else _SINGULAR[kind]} {rest.partition('.')[0]!r}{nearest(rest, known)}")
    new = "*" not in place
    return _some(
        place, [Spot(each, name, steps) for each, name, inner in names for steps in _ways(stated_and_default(draft.items(each)[name]), inner, new=new)]
    )


def routes(place: str, draft: Draft) -> list[str]:
    """The routes that ``routes.NAME`` stands for.

    Raises:
        DocumentError: when there is none.
    """
    _, _, rest = place.partition(".")
    known = draft.routes()
    found = [name for name, _ in _named(rest, known)]
    if not found:
        raise _refused(place, f"no run lies in a route {rest!r}{nearest(rest, known)}")
    return found


def nearest(given: str, known: Iterable[str]) -> str:
    """The known name that looks most like the given one, as the end of a sentence; "" when none does."""
    close = get_close_matches(given.partition(".")[0], list(known), n=1)
    return f"; is {close[0]!r} meant?" if close else ""


def stated_and_default(noun: Any) -> dict[str, Any]:
    """A noun as plain JSON values, with the defaults of what it does not state."""
    shown: dict[str, Any] = noun.model_dump(mode="json", by_alias=True)
    return shown


def value_at(shown: Any, steps: tuple[Step, ...]) -> Any:
    """The value at the end of the steps; None where nothing is stated."""
    for step in steps:
        if isinstance(shown, dict):
            shown = shown.get(str(step))
        elif isinstance(shown, list) and isinstance(step, int) and step < len(shown):
            shown = shown[step]
        else:
            return None
    return shown


def _named(text: str, known: Iterable[str]) -> list[tuple[str, str]]:
    """The ids at the start of a text, each with what follows it."""
    exact = sorted((name for name in known if text == name or text.startswith(f"{name}.")), key=len)
    if exact:
        return [(exact[-1], text[len(exact[-1]) + 1 :])]
    head, _, rest = text.partition(".")
    if "*" not in head:
        return []
    pattern = re.compile(".*".join(map(re.escape, head.split("*"))))
    return [(name, rest) for name in known if pattern.fullmatch(name)]


def _ways(shown: Any, text: str, *, new: bool) -> Iterator[tuple[Step, ...]]:
    """Every way that keys with dots lead into a value; where `new`, a key that is not there yet is one too."""
    if not text:
        yield ()
        return
    if isinstance(shown, list):
        names = {str(position): position for position in range(len(shown))}
        for position, item in enumerate(shown):
            if isinstance(item, dict) and (item.get("id") or item.get("ids")):
                names[str(item.get("id") or item.get("ids"))] = position  # an id goes before a position of the same look
        yield from ((names[name], *way) for name, rest in _named(text, names) for way in _ways(shown[names[name]], rest, new=new))
        return
    found = _named(text, shown) if isinstance(shown, dict) else []
    if isinstance(shown, dict):
        yield from ((name, *way) for name, rest in found for way in _ways(shown[name], rest, new=new))
    if new and not found and (shown is None or isinstance(shown, dict)):
        head, _, rest = text.partition(".")
        yield (head, *([rest] if rest else []))


def _some(place: str, found: list[Spot]) -> list[Spot]:
    if not found:
        raise _refused(place, "nothing there has this key")
    return found


def _refused(place: str, message: str) -> DocumentError:
    return DocumentError([Fault(place, message)], "edit")
