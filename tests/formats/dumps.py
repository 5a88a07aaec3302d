"""One memory printed in every layout that the reader takes, as plain as can be."""

from __future__ import annotations

from collections.abc import Callable, Iterator


def _lines(memory: bytes) -> Iterator[tuple[int, bytes]]:
    return ((at, memory[at : at + 16]) for at in range(0, len(memory), 16))


def _characters(line: bytes) -> str:
    return "".join(chr(byte) if 0x20 <= byte < 0x7F else "." for byte in line)


def pairs(memory: bytes) -> str:
    return "\n".join(line.hex(" ") for _, line in _lines(memory))


def unbroken(memory: bytes) -> str:
    return memory.hex()


def in_source(memory: bytes) -> str:
    return ", ".join(f"0x{byte:02X}" for byte in memory)


def by_colons(memory: bytes) -> str:
    return memory.hex(":")


def behind_0x(memory: bytes) -> str:
    return "Offset          Values\n------          ------\n" + "".join(f"0x{at:04x}:         {line.hex(' ')} \n" for at, line in _lines(memory))


def behind_short(memory: bytes) -> str:
    head = "     0  1  2  3  4  5  6  7  8  9  a  b  c  d  e  f    0123456789abcdef\n"
    return head + "".join(f"{at:02x}: {line.hex(' ')}    {_characters(line).replace('.', '?')}\n" for at, line in _lines(memory))


def between_bars(memory: bytes) -> str:
    return "".join(f"{at:08x}  {line[:8].hex(' '):23}  {line[8:].hex(' '):23}  |{_characters(line)}|\n" for at, line in _lines(memory)) + f"{len(memory):08x}\n"


def between_bars_squeezed(memory: bytes) -> str:
    kept: list[str] = []
    before = None
    for line, text in zip(_lines(memory), between_bars(memory).splitlines(), strict=False):
        if line[1] != before:
            kept.append(text)
        elif kept[-1] != "*":
            kept.append("*")
        before = line[1] if len(line[1]) == 16 else None
    return "\n".join([*kept, f"{len(memory):08x}", ""])


def in_words(memory: bytes) -> str:
    return "".join(f"{at:08x}: {line.hex(' ', -2):39}  {_characters(line)}\n" for at, line in _lines(memory))


def behind_hex(memory: bytes) -> str:
    return "".join(f"{at:06x} {line.hex(' ')}\n" for at, line in _lines(memory)) + f"{len(memory):06x}\n"


def behind_octal(memory: bytes) -> str:
    return "".join(f"{at:07o} {line.hex(' ')}\n" for at, line in _lines(memory)) + f"{len(memory):07o}\n"


def of_other_lines(memory: bytes) -> str:
    return behind_0x(memory).replace("\n", "\r\n").upper().replace("0X", "0x")


LAYOUTS: tuple[Callable[[bytes], str], ...] = (
    pairs,
    unbroken,
    in_source,
    by_colons,
    behind_0x,
    behind_short,
    between_bars,
    between_bars_squeezed,
    in_words,
    behind_hex,
    behind_octal,
)
