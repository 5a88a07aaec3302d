"""Text in pictures: escaped, on one line, cut where the room ends."""

from __future__ import annotations

from functools import lru_cache
from html import escape
from unicodedata import east_asian_width

INK = "#1a1a1a"
_BROAD = "MWmw@%"


def text(x: float, y: float, words: str, *, anchor: str = "start", size: int | None = None, weight: str = "") -> str:
    """A line of text at a place, as SVG."""
    more = (f' text-anchor="{anchor}"' if anchor != "start" else "") + (f' font-size="{size}"' if size else "") + (f' font-weight="{weight}"' if weight else "")
    return f'<text x="{x:.1f}" y="{y:g}"{more}>{clean_line(words)}</text>'


def clean_line(words: str) -> str:
    """Text that XML takes and that cannot turn the direction of what follows: other characters become one that says so."""
    if words.isprintable():
        return escape(words)
    return escape("".join(char if char.isprintable() else "\N{REPLACEMENT CHARACTER}" for char in words))


@lru_cache(maxsize=65_536)  # a bar is drawn in the chart of all and on the page of its place
def cut(words: str, room: int) -> str:
    """As much of a text as there is room for; wide characters take two places."""
    widths = [2 if char in _BROAD or east_asian_width(char) in "WF" else 1 for char in words[: room + 1]]
    if len(words) <= room and sum(widths) <= room:
        return words
    kept = next((index for index in range(len(widths)) if sum(widths[: index + 1]) > room - 1), len(widths))
    return words[:kept] + "\N{HORIZONTAL ELLIPSIS}"
