"""The code tables of module memory. Each table names the specification, the table and the byte that it is of.

How they are known. The table numbers are from memory. The codes of connectors, line codes and extended compliance were compared
with the constants of the Linux kernel (include/linux/sfp.h), which restate SFF-8024; all bits that a public dump of
tests/published/eeprom.yaml sets were compared with the fields worked by hand there. What neither holds is from memory.
Codes that are not listed are shown by their number, and nothing is concluded from them.
"""

from __future__ import annotations

from collections.abc import Mapping

IDENTIFIERS: dict[int, str] = {
    0x02: "a soldered module",
    0x03: "SFP, SFP+ or SFP28",
    0x06: "XFP",
    0x0B: "DWDM-SFP",
    0x0C: "QSFP",
    0x0D: "QSFP+",
    0x11: "QSFP28",
    0x18: "QSFP-DD",
    0x19: "OSFP",
    0x1E: "QSFP+ with the common management interface",
}
"""SFF-8024 Table 4-1; byte 0 of SFF-8472, byte 128 of SFF-8636. Those that are not read are from memory."""

CONNECTORS: dict[int, str] = {
    0x00: "unspecified",
    0x01: "SC",
    0x06: "fiber jack",
    0x07: "LC",
    0x08: "MT-RJ",
    0x09: "MU",
    0x0A: "SG",
    0x0B: "optical pigtail",
    0x0C: "MPO 1x12",
    0x0D: "MPO 2x16",
    0x20: "HSSDC II",
    0x21: "copper pigtail",
    0x22: "RJ45",
    0x23: "no separable connector",
    0x24: "MXC 2x16",
}
"""SFF-8024 Table 4-3; byte 2 of SFF-8472, byte 130 of SFF-8636."""

ENCODINGS_SFP: dict[int, str] = {
    0x00: "unspecified",
    0x01: "8B/10B",
    0x02: "4B/5B",
    0x03: "NRZ",
    0x04: "Manchester",
    0x05: "SONET scrambled",
    0x06: "64B/66B",
    0x07: "256B/257B",
    0x08: "PAM4",
}
"""SFF-8024 Table 4-2, column of SFF-8472; byte 11."""
ENCODINGS_QSFP: dict[int, str] = ENCODINGS_SFP | {0x04: "SONET scrambled", 0x05: "64B/66B", 0x06: "Manchester"}
"""SFF-8024 Table 4-2, column of SFF-8436 and SFF-8636; byte 139."""

EXTENDED: dict[int, str] = {
    0x01: "100G or 25G active optical cable",
    0x02: "100GBASE-SR4 / 25GBASE-SR",
    0x03: "100GBASE-LR4 / 25GBASE-LR",
    0x04: "100GBASE-ER4 / 25GBASE-ER",
    0x05: "100GBASE-SR10",
    0x0B: "100GBASE-CR4 / 25GBASE-CR CA-25G-L",
    0x0C: "25GBASE-CR CA-25G-S",
    0x0D: "25GBASE-CR CA-25G-N",
    0x16: "10GBASE-T",
    0x1C: "10GBASE-T, 30 m",
    0x1D: "5GBASE-T",
    0x1E: "2.5GBASE-T",
}
"""SFF-8024 Table 4-4; byte 36 of SFF-8472, byte 192 of SFF-8636. 16h is 10GBASE-T with an SFI host side, 1Ch its short reach."""

TECHNOLOGIES: dict[int, str] = {
    0x0: "850 nm VCSEL",
    0x1: "1310 nm VCSEL",
    0x2: "1550 nm VCSEL",
    0x3: "1310 nm FP",
    0x4: "1310 nm DFB",
    0x5: "1550 nm DFB",
    0x6: "1310 nm EML",
    0x7: "1550 nm EML",
    0x8: "other",
    0x9: "1490 nm DFB",
    0xA: "copper, unequalized",
    0xB: "copper, passive equalized",
    0xC: "copper, active equalized at both ends",
    0xD: "copper, active equalized at the far end",
    0xE: "copper, active equalized at the near end",
    0xF: "copper, linear active equalized",
}
"""SFF-8636 Table 6-19, device technology; high half of byte 147. From memory but for 0, 4 and A, which public dumps hold."""

Bits = Mapping[int, str]
SONET_BITS: dict[int, Bits] = {
    4: {7: "ESCON multimode", 6: "ESCON single-mode", 5: "OC-192 SR", 2: "OC-48 LR", 1: "OC-48 IR", 0: "OC-48 SR"},
    5: {6: "OC-12 LR", 5: "OC-12 IR", 4: "OC-12 SR", 2: "OC-3 LR", 1: "OC-3 IR", 0: "OC-3 SR"},
}
FIBRE_CHANNEL_BITS: dict[int, Bits] = {
    7: {
        7: "FC length V",
        6: "FC length S",
        5: "FC length I",
        4: "FC length L",
        3: "FC length M",
        2: "FC tech SA",
        1: "FC tech LC",
        0: "FC tech EL",
    },
    8: {7: "FC tech EL", 6: "FC tech SN", 5: "FC tech SL", 4: "FC tech LL", 3: "active cable", 2: "passive cable"},
    9: {
        7: "FC media TW",
        6: "FC media TP",
        5: "FC media MI",
        4: "FC media TV",
        3: "FC media M6",
        2: "FC media M5",
        0: "FC media SM",
    },
    10: {7: "FC 1200 MB/s", 6: "FC 800 MB/s", 5: "FC 1600 MB/s", 4: "FC 400 MB/s", 3: "FC 3200 MB/s", 2: "FC 200 MB/s", 0: "FC 100 MB/s"},
}
SFP_BITS: dict[int, Bits] = {
    3: {
        7: "10GBASE-ER",
        6: "10GBASE-LRM",
        5: "10GBASE-LR",
        4: "10GBASE-SR",
        3: "IB 1X SX",
        2: "IB 1X LX",
        1: "IB 1X copper active",
        0: "IB 1X copper passive",
    },
    **SONET_BITS,
    6: {
        7: "BASE-PX",
        6: "BASE-BX10",
        5: "100BASE-FX",
        4: "100BASE-LX10",
        3: "1000BASE-T",
        2: "1000BASE-CX",
        1: "1000BASE-LX",
        0: "1000BASE-SX",
    },
    **FIBRE_CHANNEL_BITS,
}
"""SFF-8472 Table 5-3, transceiver compliance codes; bytes 3 to 10, bit 7 first."""
QSFP_BITS: dict[int, Bits] = {
    131: {
        7: "extended (see byte 192)",
        6: "10GBASE-LRM",
        5: "10GBASE-LR",
        4: "10GBASE-SR",
        3: "40GBASE-CR4",
        2: "40GBASE-SR4",
        1: "40GBASE-LR4",
        0: "40G active cable",
    },
    134: {3: "1000BASE-T", 2: "1000BASE-CX", 1: "1000BASE-LX", 0: "1000BASE-SX"},
}
"""SFF-8636 Table 6-17, specification compliance; bytes 131 to 138. The bytes of SONET, SAS and Fibre Channel choose no Ethernet module."""


def codes_in(memory: bytes, bits: Mapping[int, Bits]) -> tuple[str, ...]:
    """The names of all bits that are set, in the order of the memory."""
    return tuple(name for at, names in bits.items() for bit, name in names.items() if memory[at] >> bit & 1)


def named(code: int, names: Mapping[int, str]) -> str:
    """A code by its name, or by its number where it is not listed."""
    return names.get(code, f"code 0x{code:02x}")
