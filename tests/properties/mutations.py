"""Good documents made bad: bytes cut and pasted at random, and values put where no such value belongs."""

from __future__ import annotations

import copy
from collections.abc import MutableMapping, MutableSequence
from random import Random
from typing import Any

SNIPPETS = (
    *(b"[", b"]", b"{", b"}", b"&a ", b"*a", b"!!x ", b"- ", b"? ", b"<<: ", b"|\n", b"#", b"%", b"\n", b"\t", b"\r", b"\r\n", b"\x00", b"\x07", b"\x85"),
    *(b"1e999", b"-0", b"NaN", b"null", b"true", b"0", b"-1", b"9" * 30, b"1e-400", b'"', b'""', b"'", b",", b";", b"=", b" to ", b": ", b"..."),
    *(b"\xff", b"\xef\xbb\xbf", b"\xe2\x80\xa8", b"\xed\xa0\x80", b"\\ud800", b"&#0;", b"<c>", b"</row>", b'r="ZZ9"', b't="e"', b"_x0007_"),
    *(b"__class__", b"a/b"),
)
WORDS = (
    *("x", "no", "010", "12:30", "1e999", "null", "=1+1", "a/b", "/", "a/", "..", "1-4", "1-99999999", "4-1", "a1-b9", "1,,2", "<script>", "core", "core/1"),
    *("1G", "OS2", "fiber", "SFP", "1000BASE-SX", "1000BASE-XX", "D", "LC", "single-mode", "L1"),
)
ODD: tuple[Any, ...] = (
    *(None, True, False, 0, -1, 1, 2.5, -0.0, 1e-300, 1e308, 10**16, 10**30, -(10**30), float("nan"), float("inf")),
    *(*WORDS, "", " ", "\x00", "\x1b[2J", "\ud7ff", "\u202e", "é" * 300, "x" * 30_000),
    *([], {}, [[]], [None], [1, 2], [2, 1], [1, 2, 3], ["a", "a"], ["core", "cam"], {"id": "x"}, {"": ""}, {"850": 1}, {"OS2": -1}, {"kind": "cage"}),
)
"""Values of every kind that a document can hold, some of them right somewhere."""


def changed_bytes(raw: bytes, draw: Random) -> bytes:
    """One to three cuts, each filled with something else."""
    for _ in range(draw.randint(1, 3)):
        at = draw.randrange(len(raw) + 1)
        put = draw.choice(SNIPPETS) if draw.random() < 0.8 else draw.randbytes(draw.randint(0, 6))
        raw = raw[:at] + put + raw[at + draw.randint(0, 12) :]
    return raw


def changed_value(value: Any, draw: Random, most: int = 3) -> Any:
    """A copy with one or more of its values changed, wherever they are."""
    value = copy.deepcopy(value)
    for _ in range(draw.randint(1, most)):
        holder, key = draw.choice(_places(value))
        draw.choice(_CHANGES)(holder, key, value, draw)
    return value


def _places(value: Any) -> list[tuple[Any, Any]]:
    """Every value inside a value, as what holds it and where."""
    found: list[tuple[Any, Any]] = []
    items = value.items() if isinstance(value, MutableMapping) else enumerate(value) if isinstance(value, MutableSequence) else ()
    for key, item in items:
        found += [(value, key), *_places(item)]
    return found or [({"": None}, "")]


def _replace(holder: Any, key: Any, _whole: Any, draw: Random) -> None:
    holder[key] = copy.deepcopy(draw.choice(ODD))


def _nudge(holder: Any, key: Any, whole: Any, draw: Random) -> None:
    old = holder[key]
    if isinstance(old, int | float) and not isinstance(old, bool):
        holder[key] = draw.choice([-old, old * 1000, old / 3, old + 1, str(old), [old]])
    elif isinstance(old, str):
        holder[key] = draw.choice([old + "x", old[:-1], old.upper(), f" {old}", old.replace("1", "2"), [old]])
    else:
        _replace(holder, key, whole, draw)


def _leave_out(holder: Any, key: Any, _whole: Any, _draw: Random) -> None:
    del holder[key]


def _borrow(holder: Any, key: Any, whole: Any, draw: Random) -> None:
    """Put another value of the same document here."""
    there, other = draw.choice(_places(whole))
    holder[key] = copy.deepcopy(there[other])


def _repeat(holder: Any, key: Any, whole: Any, draw: Random) -> None:
    if isinstance(holder, MutableSequence):
        holder.insert(draw.randrange(len(holder) + 1), copy.deepcopy(holder[key]))
    else:
        _rename(holder, key, whole, draw)


def _rename(holder: Any, key: Any, whole: Any, draw: Random) -> None:
    if isinstance(holder, MutableMapping):
        holder[draw.choice(["", "x", f"{key}s", "id", "ids", "kind", "850", "OM3", "format", "__class__", "rules", key])] = holder.pop(key)
    else:
        _replace(holder, key, whole, draw)


def _bury(holder: Any, key: Any, _whole: Any, draw: Random) -> None:
    for _ in range(draw.choice([1, 5, 31, 32, 40, 100])):
        holder[key] = [holder[key]]


_CHANGES = (_replace, _replace, _replace, _nudge, _nudge, _nudge, _leave_out, _borrow, _borrow, _repeat, _rename, _bury)
