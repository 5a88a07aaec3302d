"""Dumps of a module's memory as text: plain hex, or lines of sixteen bytes behind their offset, as operating systems print them.

What is read: ``03 04 07 ...`` (spaces, commas, colons, ``0x``, or nothing between the bytes); ``0x0000: 03 04 ...``;
``00: 03 04 ...    ????``; ``00000000  03 04 ...  |....|`` with ``*`` for lines that repeat; ``00000000: 0304 0710 ...  ....``;
offsets without colon, octal ones too. A dump that starts over at offset 0 holds two memories (addresses A0h and A2h).
Words of two bytes behind an offset without colon are refused: their bytes stand in an order that depends on the machine.
No byte of a dump is repeated in a fault, since a dump holds the serial number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from itertools import pairwise

from optiselect.formats.limits import Refused

MAX_MEMORY = 640
"""Bytes: the longest memory that is read has two lower pages or four upper ones."""
_COLON = re.compile(r"(?:0[xX])?([0-9a-fA-F]{2,8}):(?:\s+(.*))?")
_BARE = re.compile(r"(?:0[xX])?([0-9a-fA-F]{4,8})\s+(\S.*)")
_END = re.compile(r"[0-9a-fA-F]{6,8}")
_HEX = re.compile(r"(?:0[xX])?((?:[0-9a-fA-F]{2})+)")
_HEADING = re.compile(r"Offset\s+Values|-+\s+-+|(?:[0-9a-fA-F]\s+){16}0123456789abcdef")
_TEXT = bytes([*b"\t\n\r\x0c", *range(0x20, 0x7F)])
_OCTAL = re.compile(r"[0-7]{7}")
_A_LINE = 16
_REPEATED = "*"


@dataclass(frozen=True)
class Dump:
    """What a dump holds. `start`: the offset of the first byte where the dump tells it; `second`: the memory after it, if any."""

    data: bytes
    start: int | None = None
    second: bytes = b""


@dataclass(frozen=True)
class _Line:
    number: int
    offset: str
    data: bytes


@dataclass
class _Block:
    start: int
    data: bytearray = field(default_factory=bytearray)

    @property
    def end(self) -> int:
        return self.start + len(self.data)


def dump_of(raw: bytes) -> Dump:
    """The bytes of a memory from the content of a file: binary as it is, text by its layout.

    Raises:
        Refused: with the place of the first line that is not what it should be.
    """
    text = _text_of(raw)
    if text is None:
        if len(raw) > MAX_MEMORY:
            raise Refused(f"the memory is {len(raw)} bytes long; {MAX_MEMORY} are the most that its standard lays out")
        return Dump(bytes(raw))
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip() and not _HEADING.fullmatch(line.strip())]
    if not lines:
        raise Refused("the file is empty")
    plain = [line for line in lines if not _behind_offset(line[1])]
    if len(plain) == len(lines):
        return Dump(_plain(lines))
    if plain and not (plain == lines[-1:] and _END.fullmatch(plain[0][1].strip())):
        raise Refused("this line has no offset, and others have", (plain[0][0], 1))
    read = [_line(number, line) for number, line in lines]
    blocks = _blocks(read, _base(read))
    if len(blocks) > 2:
        raise Refused("the dump starts over at offset 0 more than once; one file holds one module")
    return Dump(bytes(blocks[0].data), blocks[0].start, bytes(blocks[1].data) if len(blocks) > 1 else b"")


def _text_of(raw: bytes) -> str | None:
    """The content as text; None where it is binary."""
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            raw = raw.decode("utf-16").encode("utf-8")
        except UnicodeError:
            return None
    raw = raw.removeprefix(b"\xef\xbb\xbf")
    return None if raw.translate(None, _TEXT) else raw.decode("ascii")


def _behind_offset(line: str) -> bool:
    line = line.partition("|")[0].strip()
    if line == _REPEATED or _COLON.fullmatch(line):
        return True
    bare = _BARE.fullmatch(line)
    if bare is None:
        return False
    first = bare.group(2).split()[0]
    return _HEX.fullmatch(first) is not None and len(first.removeprefix("0x")) < len(bare.group(1))


def _line(number: int, text: str) -> _Line:
    text = text.partition("|")[0].strip()
    if text == _REPEATED:
        return _Line(number, _REPEATED, b"")
    colon = _COLON.fullmatch(text)
    if colon is not None:
        return _Line(number, colon.group(1), _up_to_sixteen(number, colon.group(2) or "", words=True))
    bare = _BARE.fullmatch(text)
    return _Line(number, bare.group(1), _up_to_sixteen(number, bare.group(2), words=False)) if bare else _Line(number, text, b"")


def _up_to_sixteen(number: int, text: str, words: bool) -> bytes:
    """The bytes of a line, without the column of characters that may stand behind them."""
    data = bytearray()
    gap = 0
    for piece in re.findall(r"\s+|\S+", text.rstrip()):
        if piece.isspace():
            gap = len(piece)
            continue
        if gap > 2 or (gap == 2 and len(data) == _A_LINE):
            break
        found = _HEX.fullmatch(piece.rstrip(","))
        if found is None:
            raise Refused("this line holds something that is no byte in hex", (number, 1))
        if len(found.group(1)) > 2 and not words:
            raise Refused("this line holds words of several bytes, and their order is not known; dump single bytes", (number, 1))
        data += bytes.fromhex(found.group(1))
        if len(data) > _A_LINE:
            raise Refused("this line holds more than 16 bytes behind its offset", (number, 1))
    return bytes(data)


def _base(lines: list[_Line]) -> int:
    """16, or 8 where only that makes a line follow the one before it."""
    if not all(line.offset == _REPEATED or _OCTAL.fullmatch(line.offset) for line in lines):
        return 16
    neighbors = [(a, b) for a, b in pairwise(lines) if _REPEATED not in (a.offset, b.offset)]
    return 8 if any(int(b.offset, 8) - int(a.offset, 8) == len(a.data) != int(b.offset, 16) - int(a.offset, 16) for a, b in neighbors) else 16


def _blocks(lines: list[_Line], base: int) -> list[_Block]:
    """The bytes put together, each line where its offset says; lines that repeat are filled in."""
    blocks: list[_Block] = []
    repeated = False
    for line in lines:
        if line.offset == _REPEATED:
            if not blocks or len(blocks[-1].data) < _A_LINE:
                raise Refused("a line that repeats stands first", (line.number, 1))
            repeated = True
            continue
        offset = int(line.offset, base)
        if not blocks or (offset == 0 and line.data and not repeated):
            blocks.append(_Block(offset))
        block = blocks[-1]
        if offset > MAX_MEMORY:
            raise Refused(f"offset 0x{offset:04x} is beyond the {MAX_MEMORY} bytes that the standard lays out", (line.number, 1))
        if repeated and offset > block.end and (offset - block.end) % _A_LINE == 0:
            block.data += bytes(block.data[-_A_LINE:]) * ((offset - block.end) // _A_LINE)
        if offset != block.end:
            raise Refused(f"offset 0x{block.end:04x} is due here, and the line has 0x{offset:04x}; a line is missing or out of order", (line.number, 1))
        block.data += line.data
        repeated = False
    if repeated:
        raise Refused("the dump ends with a line that repeats, and nothing says how often", (lines[-1].number, 1))
    return blocks


def _plain(lines: list[tuple[int, str]]) -> bytes:
    data = bytearray()
    for number, line in lines:
        for piece in re.split(r"[\s,:;-]+", line.strip(" \t,:;-")):
            found = _HEX.fullmatch(piece)
            if found is None:
                raise Refused("this line holds something that is no byte in hex; the bytes themselves are due, no listing of what they mean", (number, 1))
            data += bytes.fromhex(found.group(1))
        if len(data) > MAX_MEMORY:
            raise Refused(f"the memory is longer than the {MAX_MEMORY} bytes that its standard lays out", (number, 1))
    return bytes(data)
