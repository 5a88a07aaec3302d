"""Invented memories, byte by byte: a sound one of each kind, changed where a test says so, with its check codes made good."""

from __future__ import annotations

from collections.abc import Mapping

Bytes = Mapping[int, int | bytes]


def _changed(memory: bytearray, changes: Bytes, sums: tuple[tuple[int, int], ...]) -> bytes:
    for at, value in changes.items():
        raw = bytes([value]) if isinstance(value, int) else value
        memory[at : at + len(raw)] = raw
    for first, check_at in sums:
        memory[check_at] = sum(memory[first:check_at]) & 0xFF
    return bytes(memory)


def sfp(changes: Bytes | None = None) -> bytes:
    """A 10GBASE-SR module, A0h and A2h: byte 256 is the first of A2h."""
    memory = bytearray(512)
    memory[0:3], memory[3], memory[11], memory[12] = b"\x03\x04\x07", 0x10, 0x06, 103
    memory[16], memory[17], memory[19], memory[60:62] = 8, 3, 30, (850).to_bytes(2, "big")
    memory[20:36], memory[40:56] = b"GULLWING PHOTONS", b"GW-10SR         "
    memory[68:84], memory[84:92], memory[92], memory[94] = b"GWSERIAL0042    ", b"260107  ", 0x68, 0x08
    memory[256:264] = bytes.fromhex("4b00 fb00 4600 0000")
    memory[280:288] = bytes.fromhex("30d4 0275 2710 03e8")
    memory[288:296] = bytes.fromhex("2710 000a 1f07 0014")
    return _changed(memory, changes or {}, ((0, 63), (64, 95), (256, 351)))


def qsfp(changes: Bytes | None = None) -> bytes:
    """A 40GBASE-LR4 module, lower page and upper pages 00h to 03h: byte 512 is the first of upper page 03h."""
    memory = bytearray(640)
    memory[0] = memory[128] = 0x0D
    memory[129:132], memory[139], memory[140], memory[142] = b"\xc0\x07\x02", 0x05, 103, 10
    memory[147], memory[148:164], memory[168:184] = 0x40, b"GULLWING PHOTONS", b"GW-40LR4        "
    memory[186:188], memory[188:190], memory[190] = (1301 * 20).to_bytes(2, "big"), (1300).to_bytes(2, "big"), 70
    memory[196:212], memory[212:220] = b"GWSERIAL0043    ", b"260107  "
    memory[512:520] = bytes.fromhex("4b00 fb00 4600 0000")
    memory[560:568] = bytes.fromhex("2710 000a 1f07 0014")
    memory[576:584] = bytes.fromhex("30d4 0275 2710 03e8")
    return _changed(memory, changes or {}, ((128, 191), (192, 223)))
