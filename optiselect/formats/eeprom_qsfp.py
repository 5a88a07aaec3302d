"""SFF-8636: the memory of QSFP+ and QSFP28 modules, upper page 00h (what it is) and 03h (thresholds of its monitor).

Byte numbers are those of SFF-8636 rev. 2.10, Tables 6-15 to 6-30, from memory, and compared with the public dumps of
tests/published/eeprom.yaml. Multi-byte figures have the high byte first. Pages follow one another: lower page, upper pages 00h to 03h.
"""

from __future__ import annotations

from collections.abc import Iterator

from optiselect.errors import Fault
from optiselect.formats.eeprom_codes import CONNECTORS, ENCODINGS_QSFP, EXTENDED, QSFP_BITS, TECHNOLOGIES, codes_in, named
from optiselect.formats.eeprom_sfp import is_blank, is_light, no_light, sum_fault, text_of, thresholds_of
from optiselect.model.document import Figures
from optiselect.model.memory import LengthOf, MemoryForm, ModuleMemory, Thresholds

PAGE_BYTES = 128
BASE_BYTES = 192
EXTENDED_BYTES = 224
FORMS: dict[int, MemoryForm] = {0x0D: "QSFP+", 0x11: "QSFP28"}
_PAGE_03_AT = 512
_USUAL_MAX_CASE_C = 70.0
"""Byte 190: 0 stands for it (from memory)."""
_POWER_CLASSES_W = (1.5, 2.0, 2.5, 3.5)
_HIGH_POWER_CLASSES_W = {1: 4.0, 2: 4.5, 3: 5.0}
_FULL = 0xFF
_WIDEST_NM = 100.0
"""A tolerance beyond this is none: common practice, no source."""


def faults_of_qsfp(memory: bytes) -> Iterator[Fault]:
    """Every check code that does not agree; CC_EXT only where the serial number, which it covers, is still there."""
    yield from sum_fault(memory, 128, 191, "CC_BASE")
    if len(memory) >= EXTENDED_BYTES and not is_blank(memory[196:212]):
        yield from sum_fault(memory, 192, 223, "CC_EXT")


def qsfp_memory(memory: bytes, lower_page: bool) -> ModuleMemory:
    """What a QSFP memory states; upper page 00h stands at byte 128. Its check codes are looked at before.

    Args:
        memory: at least 192 bytes.
        lower_page: whether the first 128 bytes are the module's own, and no filling.
    """
    copper = memory[147] >> 4 >= 0xA
    extended = len(memory) >= EXTENDED_BYTES
    wavelength_nm = int.from_bytes(memory[186:188], "big") / 20
    tolerance_nm = int.from_bytes(memory[188:190], "big") / 200
    light = is_light(wavelength_nm) and not copper
    return ModuleMemory(
        form=FORMS[memory[128]],
        part=text_of(memory[168:184]),
        connector=named(memory[130], CONNECTORS),
        codes=codes_in(memory, QSFP_BITS),
        extended=named(memory[192], EXTENDED) if len(memory) > 192 and memory[131] & 0x80 and memory[192] else "",
        encoding=named(memory[139], ENCODINGS_QSFP),
        bit_rate_mbd=_bit_rate_mbd(memory),
        lengths_m=Figures(_lengths_m(memory, copper or memory[130] == 0x23)),
        length_step_m=Figures[LengthOf, float]({"OM1": 1.0, "OM2": 1.0, "OM3": 2.0, "OM4": 2.0}),
        wavelength_nm=wavelength_nm if light else None,
        wavelength_tolerance_nm=tolerance_nm if light and 0 < tolerance_nm <= _WIDEST_NM else None,
        technology=TECHNOLOGIES[memory[147] >> 4],
        max_case_c=float(memory[190]) if memory[190] else _USUAL_MAX_CASE_C,
        power_w=_power_w(memory, lower_page),
        thresholds=_thresholds(memory),
        unread=(*_unread(memory, extended), *no_light(0 if copper else wavelength_nm, 186)),
    )


def _bit_rate_mbd(memory: bytes) -> int | None:
    """Bytes 140 and 222: units of 100 MBd, or of 250 MBd where byte 140 is full; of one lane; 0 is not stated."""
    if memory[140] == _FULL:
        return memory[222] * 250 or None if len(memory) >= EXTENDED_BYTES else None
    return memory[140] * 100 or None


def _lengths_m(memory: bytes, cable: bool) -> dict[LengthOf, float]:
    """Bytes 142 to 146: km, 2 m on OM3, 1 m on OM2 and OM1, 2 m on OM4 or 1 m of cable. 0 is not stated; 255 is more than 254 units."""
    units: dict[LengthOf, tuple[int, float]] = {"single-mode": (142, 1000.0), "OM3": (143, 2.0), "OM2": (144, 1.0), "OM1": (145, 1.0)}
    units["cable" if cable else "OM4"] = (146, 1.0 if cable else 2.0)
    return {grade: min(memory[at], 254) * unit_m for grade, (at, unit_m) in units.items() if memory[at]}


def _power_w(memory: bytes, lower_page: bool) -> float | None:
    """Byte 129, power class: 1 to 4 in bits 7 and 6, 5 to 7 in bits 1 and 0; class 8 (bit 5): byte 107, units of 0.1 W, from memory."""
    if memory[129] & 0x20:
        return memory[107] / 10 or None if lower_page else None
    return _HIGH_POWER_CLASSES_W.get(memory[129] & 0x03, _POWER_CLASSES_W[memory[129] >> 6])


def _thresholds(memory: bytes) -> Thresholds | None:
    """Upper page 03h, bytes 128 to 199, which no check code covers; None where the dump has no such page, or an empty one."""
    page = memory[_PAGE_03_AT : _PAGE_03_AT + PAGE_BYTES]
    if len(page) < PAGE_BYTES or len(set(page)) == 1:
        return None
    return thresholds_of(page, temperature_at=0, rx_at=48, tx_at=64)


def _unread(memory: bytes, extended: bool) -> Iterator[str]:
    if not extended:
        yield "the dump ends before byte 224: the extended fields are not known"
    elif is_blank(memory[196:212]) and sum(memory[192:223]) & 0xFF != memory[223]:
        yield "the serial number was taken out, so CC_EXT (byte 223) cannot be checked"
