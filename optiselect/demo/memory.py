"""Invented module memory: what a module of the demo catalog would say of itself, so that an audit by dumps can be tried.

It is written from the layout of SFF-8472 (A0h and A2h) and SFF-8636 (lower page, upper page 00h), from memory, without the tables
that the reader uses, so that the two can be held against each other. Serial numbers are made up.
"""

from __future__ import annotations

from optiselect.errors import OptiselectError
from optiselect.model.catalog import Module

_SFP_CODES: dict[str, tuple[int, int]] = {
    "10GBASE-SR": (3, 0x10),
    "10GBASE-LR": (3, 0x20),
    "10GBASE-LRM": (3, 0x40),
    "10GBASE-ER": (3, 0x80),
    "1000BASE-SX": (6, 0x01),
    "1000BASE-LX": (6, 0x02),
    "1000BASE-LX10": (6, 0x02),
    "1000BASE-T": (6, 0x08),
    "100BASE-LX10": (6, 0x10),
    "100BASE-FX": (6, 0x20),
    "100BASE-BX10-D": (6, 0x40),
    "100BASE-BX10-U": (6, 0x40),
    "1000BASE-BX10-D": (6, 0x40),
    "1000BASE-BX10-U": (6, 0x40),
    "25GBASE-SR": (36, 0x02),
    "25GBASE-LR": (36, 0x03),
    "10GBASE-T": (36, 0x16),
}
"""Byte and value of the compliance code; 1000BASE-LX10 has none of its own and says 1000BASE-LX, as is common."""
_QSFP_CODES: dict[str, tuple[int, int]] = {"40GBASE-SR4": (131, 0x04), "40GBASE-LR4": (131, 0x02), "100GBASE-SR4": (192, 0x02), "100GBASE-LR4": (192, 0x03)}
_NOMINAL_NM = {
    "SR": 850,
    "SX": 850,
    "SR4": 850,
    "LR": 1310,
    "LX": 1310,
    "LX10": 1310,
    "FX": 1310,
    "LRM": 1310,
    "LR4": 1301,
    "ER": 1550,
    "BX10-U": 1310,
    "BX10-D": 1490,
    "BR10-U": 1270,
    "BR10-D": 1330,
}
_MBD_100 = {"100M": 1, "1G": 13, "2.5G": 31, "10G": 103, "25G": 255, "40G": 103, "100G": 255}
_CONNECTORS = {"SC": 0x01, "LC": 0x07, "MPO": 0x0C, "RJ45": 0x22}
_MAKER = b"INVENTED OPTICS "


def demo_memory(module: Module, serial: str = "INVENTED-0001") -> bytes:
    """The memory of a module: 512 bytes (A0h, A2h) of an SFP, 256 bytes (lower page, upper page 00h) of a QSFP.

    Args:
        module: one of the demo catalog, or like it: of an interface that has a compliance code, or of one strand, two or twisted pair.
        serial: at most 16 characters.

    Raises:
        OptiselectError: when no memory of these layouts describes it, or its part number has more than 16 characters.
    """
    standard, part = module.standard or "", module.part.encode("ascii", "replace")
    if len(part) > 16 or module.medium in ("single-pair", "coax") or not module.rates:
        raise OptiselectError(
            f"{module.part}: no memory is written for this module; give one with rates, of fiber or twisted pair, with a part number up to 16"
        )
    if module.form in ("QSFP+", "QSFP28"):
        return _qsfp(module, standard, part, serial)
    return _sfp(module, standard, part, serial)


def dump_text(memory: bytes) -> str:
    """A memory as lines of sixteen bytes behind their offset."""
    return "".join(f"0x{at:04x}: {memory[at : at + 16].hex(' ')}\n" for at in range(0, len(memory), 16))


def _sfp(module: Module, standard: str, part: bytes, serial: str) -> bytes:
    a0 = bytearray(256)
    copper = module.medium == "copper" or standard.endswith("-T")
    a0[0:3] = bytes([0x03, 0x04, _CONNECTORS.get(module.connector or "", 0x22 if copper else 0x07)])
    for name in (standard, *((at.standard or "") for at in (module.at_rate or {}).values())):
        at, code = _SFP_CODES.get(name, (6, 0x40) if module.strands == 1 and name == standard else (6, 0))
        a0[at] |= code
    a0[12] = _MBD_100[max(module.rates or ("1G",), key=lambda rate: _MBD_100.get(rate, 0))]
    reach_m = dict(module.reach_m or {})
    if copper:
        a0[18] = min(int(max(reach_m.values(), default=100)), 254)
    else:
        single_mode_m = int(reach_m.get("single-mode", 10_000 if _kind(standard) in ("LX10", "BX10-D", "BX10-U") else 0))
        a0[14], a0[15] = min(single_mode_m // 1000, 255), min(single_mode_m // 100, 255)
        a0[16], a0[17], a0[19] = (min(int(reach_m.get(grade, 0)) // 10, 255) for grade in ("OM2", "OM1", "OM3"))
        a0[60:62] = _nominal_nm(module, standard).to_bytes(2, "big")
    a0[20:36], a0[40:56], a0[56:60] = _MAKER, part.ljust(16), b"1   "
    a0[63] = sum(a0[:63]) & 0xFF
    power_w = module.power_w or 1.0
    a0[64] = 0x00 if power_w <= 1 else 0x02 if power_w <= 1.5 else 0x20 if power_w <= 2 else 0x40
    a0[66] = 103 if a0[12] == 255 else 0
    a0[68:84], a0[84:92] = serial.encode("ascii", "replace")[:16].ljust(16), b"260101  "
    a0[92], a0[94] = 0x68, 0x08
    a0[95] = sum(a0[64:95]) & 0xFF
    a2 = bytearray(256)
    low_c, high_c = module.temperature_c or (0.0, 70.0)
    for place, (least, most) in enumerate(((low_c - 5, high_c + 5), (low_c, high_c))):
        a2[4 * place : 4 * place + 4] = b"".join(int(value * 256).to_bytes(2, "big", signed=True) for value in (most, least))
    for start, (high_uw, low_uw) in ((24, (1000, 50)), (32, (1000, 5))):
        for place, factor in enumerate((1.25, 1.0)):
            tenths = (int(high_uw * factor * 10), int(low_uw / factor * 10))
            a2[start + 4 * place : start + 4 * place + 4] = b"".join(value.to_bytes(2, "big") for value in tenths)
    a2[66] = round(power_w * 10)
    a2[95] = sum(a2[:95]) & 0xFF
    return bytes(a0 + a2)


def _qsfp(module: Module, standard: str, part: bytes, serial: str) -> bytes:
    memory = bytearray(256)
    memory[0] = memory[128] = 0x0D if module.form == "QSFP+" else 0x11
    power_w = module.power_w or 1.5
    memory[129] = 0x00 if power_w <= 1.5 else 0x40 if power_w <= 2 else 0x80 if power_w <= 2.5 else 0xC0 if power_w <= 3.5 else 0xC1 if power_w <= 4 else 0xC2
    memory[130] = _CONNECTORS.get(module.connector or "LC", 0x0C)
    at, code = _QSFP_CODES.get(standard, (131, 0))
    memory[at] |= code
    memory[131] |= 0x80 if at == 192 else 0
    memory[140], memory[222] = _MBD_100[(module.rates or ("40G",))[-1]], 103 if module.form == "QSFP28" else 0
    memory[147] = 0x00 if _nominal_nm(module, standard) == 850 else 0x40
    memory[148:164], memory[168:184] = _MAKER, part.ljust(16)
    memory[186:188], memory[188:190] = (_nominal_nm(module, standard) * 20).to_bytes(2, "big"), (10 * 200).to_bytes(2, "big")
    memory[190] = int((module.temperature_c or (0.0, 70.0))[1])
    memory[191] = sum(memory[128:191]) & 0xFF
    memory[196:212], memory[212:220] = serial.encode("ascii", "replace")[:16].ljust(16), b"260101  "
    memory[223] = sum(memory[192:223]) & 0xFF
    return bytes(memory)


def _kind(standard: str) -> str:
    return standard.partition("-")[2]


def _nominal_nm(module: Module, standard: str) -> int:
    """Of the interface; else the middle of the window that it sends in, to the 10 nm."""
    if _kind(standard) in _NOMINAL_NM:
        return _NOMINAL_NM[_kind(standard)]
    low_nm, high_nm = module.tx_nm or (1310.0, 1310.0)
    return round((low_nm + high_nm) / 20) * 10
