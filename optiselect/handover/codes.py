"""QR codes of labels, as paths; of many texts of one length at once, by the arithmetic that they share.

Where length, version and mask are settled, every module of a code is a constant plus some bits of the text, modulo 2: the parity of a
Reed-Solomon code is such a sum, and neither the places of bits nor the mask hang on the text (ISO/IEC 18004). So the code of a text is
the code of the text whose bits are all 0, turned at the modules that each of its bits turns. All of these are read off codes that segno
makes; made one by one, those of 10,000 ports take ten times as long (measured).
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from functools import lru_cache

from optiselect.errors import MissingExtraError

LONGEST_QR_BYTES = 400
"""Text longer than this is not put into a QR code: it would not be readable at the size of a label (common practice, no source)."""
QUIET = 4
"""Modules that stay light around a code (ISO/IEC 18004)."""
_MASK = 3
"""Every reader takes any of the eight masks; trying all of them for each label takes four times as long (measured)."""
_VALUES = {char: value for value, char in enumerate("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")}
"""The characters of which two take 11 bits and one takes 6, by their values (ISO/IEC 18004, alphanumeric mode)."""
_CHARS = "".join(_VALUES)
_TWO, _ONE = 11, 6
Drawn = tuple[str, int]
"""A code as a path, and how many modules it is wide."""


def drawn_codes(texts: Iterable[str]) -> dict[str, Drawn]:
    """The QR code of each text (error correction M), by the text; nothing of one that is too long.

    A path is to be stroked, one module wide: its lines run along the middle of the rows, the first of them at 0, from 0 on.

    Raises:
        MissingExtraError: when segno is not installed.
    """
    alike: dict[tuple[int, str], list[str]] = defaultdict(list)
    for text in dict.fromkeys(texts):
        if len(text.encode("utf-8", errors="backslashreplace")) <= LONGEST_QR_BYTES:
            alike[len(text), _mode(text)].append(text)
    drawn: dict[str, Drawn] = {}
    for (length, mode), members in alike.items():
        if mode and len(members) > 8 * length:  # more than there are bits in one of them
            drawn |= dict(_of_one_length(members, length, mode))
        else:
            drawn |= {text: _path(*_made(text)) for text in members}
    return drawn


def _mode(text: str) -> str:
    """How the text is written in its code; nothing where that is not told of its characters one by one."""
    if not text.isascii() or text.isdigit():
        return ""
    return "alphanumeric" if all(map(_VALUES.__contains__, text)) else "byte"


def _made(text: str, mode: str | None = None) -> tuple[int, int]:
    """A code as a number, a bit a module, row after row; and how many modules it is wide."""
    try:
        import segno
    except ImportError:
        raise MissingExtraError("report") from None
    matrix = segno.make(text, error="m", micro=False, boost_error=False, mask=_MASK, mode=mode).matrix
    return int("".join(["".join(map(str, row)) for row in matrix]), 2), len(matrix)


def _of_one_length(texts: Iterable[str], length: int, mode: str) -> Iterator[tuple[str, Drawn]]:
    base, size = _made(_text(0, length, mode), mode)
    turned: dict[int, int] = {}
    for text in texts:
        code, bits = base, _bits(text, mode)
        while bits:
            bit = bits & -bits
            if bit not in turned:
                turned[bit] = base ^ _made(_text(bit, length, mode), mode)[0]
            code ^= turned[bit]
            bits ^= bit
        yield text, _path(code, size)


def _bits(text: str, mode: str) -> int:
    """The bits of a text as they stand in its code."""
    if mode == "byte":
        return int.from_bytes(text.encode("ascii"), "big")
    bits = 0
    for start in range(0, len(text) - 1, 2):
        bits = bits << _TWO | _VALUES[text[start]] * len(_VALUES) + _VALUES[text[start + 1]]
    return bits << _ONE | _VALUES[text[-1]] if len(text) % 2 else bits


def _text(bits: int, length: int, mode: str) -> str:
    """The text of these bits."""
    if mode == "byte":
        return bits.to_bytes(length, "big").decode("ascii")
    last = ""
    if length % 2:
        bits, last = bits >> _ONE, _CHARS[bits & (1 << _ONE) - 1]
    pairs = [bits >> _TWO * place & (1 << _TWO) - 1 for place in reversed(range(length // 2))]
    return "".join([_CHARS[pair // len(_CHARS)] + _CHARS[pair % len(_CHARS)] for pair in pairs]) + last


def _path(code: int, size: int) -> Drawn:
    """Row by row, in two halves, since halves of rows come again."""
    right = size // 2
    left = size - right
    pieces = []
    for y in range(size):
        row = code >> size * (size - 1 - y)
        pieces.append(f"M0 {y}{_along(row >> right & (1 << left) - 1, left)}{_to_the_last(row & (1 << right) - 1, right)}")
    return "".join(pieces), size


@lru_cache(maxsize=65_536)
def _along(modules: int, count: int) -> str:
    """So many modules as a path that goes on where they end: along dark ones, over light ones."""
    return "".join([f"h{len(run)}" if run[0] == "1" else f"m{len(run)} 0" for run in re.findall("0+|1+", f"{modules:0{count}b}")])


@lru_cache(maxsize=65_536)
def _to_the_last(modules: int, count: int) -> str:
    """The same, but no further than to the last dark one."""
    if not modules:
        return ""
    light = (modules & -modules).bit_length() - 1
    return _along(modules >> light, count - light)
