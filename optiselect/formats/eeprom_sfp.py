"""SFF-8472: the memory of SFP, SFP+ and SFP28 modules, A0h (what it is) and A2h (its monitor).

Byte numbers are those of SFF-8472 rev. 12, Tables 4-1, 5-1 and 9-5, from memory, and compared with the public dumps of
tests/published/eeprom.yaml. Multi-byte figures have the high byte first.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from optiselect.errors import Fault
from optiselect.formats.eeprom_codes import CONNECTORS, ENCODINGS_SFP, EXTENDED, SFP_BITS, codes_in, named
from optiselect.model.document import Figures
from optiselect.model.memory import LengthOf, ModuleMemory, Span, Thresholds

BASE_BYTES = 64
EXTENDED_BYTES = 96
A2_AT = 256
A2_BYTES = 96
_TWISTED_PAIR = {"1000BASE-T", "1000BASE-CX", "IB 1X copper active", "IB 1X copper passive", "passive cable", "FC media TP", "FC media TW"}
_COPPER_CONNECTORS = {0x20, 0x21, 0x22}
_COPPER_EXTENDED = {0x0B, 0x0C, 0x0D, 0x16, 0x1C, 0x1D, 0x1E}
_LEVELS_3_AND_4_SINCE = 0x08
"""Byte 94, revision: SFF-8472 rev. 12.3. Bits 5 and 6 of byte 64 were reserved before, and some makers set them (from memory)."""
_FULL = 0xFF
LIGHT_NM = (600.0, 1700.0)
"""Beyond these no pluggable module sends: common practice, no source."""


def text_of(raw: bytes) -> str:
    """A text field: ASCII, filled up with spaces (SFF-8472, 4.1); zeros at its end are left out too, other characters become ``?``."""
    text = raw.rstrip(b"\x00 ").lstrip(b" ")
    return "".join(chr(byte) if 0x20 <= byte < 0x7F else "?" for byte in text)


def sum_fault(memory: bytes, first: int, check_at: int, name: str) -> Iterator[Fault]:
    """A fault where a check code is not the low byte of the sum of all bytes from the first one up to it."""
    due, found = sum(memory[first:check_at]) & 0xFF, memory[check_at]
    if due != found:
        message = f"bytes {first} to {check_at - 1} add up to 0x{due:02x}, and the memory has 0x{found:02x}: it was read wrongly, or changed; read it again"
        yield Fault(f"byte {check_at} ({name})", message)


def is_blank(serial: bytes) -> bool:
    """Whether a serial number was taken out, or never was there: one and the same character throughout."""
    return len(set(serial)) == 1


def is_light(nm: float) -> bool:
    """Whether a figure can be the wavelength of a module."""
    return LIGHT_NM[0] <= nm <= LIGHT_NM[1]


def no_light(nm: float, at: int) -> Iterator[str]:
    """What is told of a wavelength that is stated and can be none."""
    if nm and not is_light(nm):
        yield f"bytes {at} and {at + 1} state {nm:g} nm, which no module sends: the wavelength is not known"


def faults_of_sfp(memory: bytes) -> Iterator[Fault]:
    """Every check code that does not agree; CC_EXT only where the serial number, which it covers, is still there."""
    yield from sum_fault(memory, 0, 63, "CC_BASE")
    if len(memory) >= EXTENDED_BYTES and not is_blank(memory[68:84]):
        yield from sum_fault(memory, 64, 95, "CC_EXT")
    if _has_monitor(memory):
        for fault in sum_fault(memory[A2_AT : A2_AT + A2_BYTES], 0, 95, "CC_DMI"):
            yield Fault(f"A2h {fault.path}", fault.message)


def sfp_memory(memory: bytes) -> ModuleMemory:
    """What an SFP memory of at least 64 bytes states; its check codes are looked at before."""
    codes = codes_in(memory, SFP_BITS)
    copper = memory[2] in _COPPER_CONNECTORS or memory[36] in _COPPER_EXTENDED or bool(_TWISTED_PAIR & set(codes))
    cable = bool({"passive cable", "active cable"} & set(codes))
    wavelength_nm = int.from_bytes(memory[60:62], "big")
    return ModuleMemory(
        form="SFP",
        part=text_of(memory[40:56]),
        connector=named(memory[2], CONNECTORS),
        codes=codes,
        extended=named(memory[36], EXTENDED) if memory[36] else "",
        encoding=named(memory[11], ENCODINGS_SFP),
        bit_rate_mbd=_bit_rate_mbd(memory),
        lengths_m=Figures(_lengths_m(memory, copper or cable)),
        length_step_m=Figures[LengthOf, float](dict.fromkeys(("OM1", "OM2", "OM3", "OM4"), 10.0)),
        wavelength_nm=float(wavelength_nm) if is_light(wavelength_nm) and not (copper or cable) else None,
        power_w=_power_w(memory),
        thresholds=_thresholds(memory[A2_AT:]) if _has_monitor(memory) and not memory[92] & 0x10 else None,
        unread=(*_unread(memory), *no_light(0 if copper or cable else wavelength_nm, 60)),
    )


def _bit_rate_mbd(memory: bytes) -> int | None:
    """Bytes 12 and 66: units of 100 MBd, or of 250 MBd where byte 12 is full; 0 is not stated."""
    if memory[12] == _FULL:
        return memory[66] * 250 or None if len(memory) >= EXTENDED_BYTES else None
    return memory[12] * 100 or None


def _lengths_m(memory: bytes, copper: bool) -> dict[LengthOf, float]:
    """Bytes 14 to 19. 0 is not stated; 255 is more than the byte holds, so 254 units are sure.

    The 100 m figure of a single-mode length is taken unless it is full, or longer than the one in km rounded up.
    """
    km, hundreds = memory[14], memory[15]
    finer_m, coarse_m = min(hundreds, 254) * 100.0, min(km, 254) * 1000.0
    single_mode_m = finer_m if hundreds not in (0, _FULL) and (not km or finer_m < coarse_m + 1000) else coarse_m or finer_m
    found: dict[LengthOf, float] = {"single-mode": single_mode_m}
    found |= {"OM2": min(memory[16], 254) * 10.0, "OM1": min(memory[17], 254) * 10.0, "OM3": min(memory[19], 254) * 10.0}
    found["cable" if copper else "OM4"] = min(memory[18], 254) * (1.0 if copper else 10.0)
    return {grade: length_m for grade, length_m in found.items() if length_m}


def _power_w(memory: bytes) -> float | None:
    """Byte 64, power level: I 1.0 W, II 1.5 W, III 2.0 W (SFF-8431, SFF-8419); above that A2h byte 66, units of 0.1 W, from memory."""
    if len(memory) < EXTENDED_BYTES:
        return None
    level = memory[64]
    if level & 0x60 and memory[94] < _LEVELS_3_AND_4_SINCE:
        return None
    if level & 0x40:
        return memory[A2_AT + 66] / 10 or None if _has_monitor(memory) else None
    return 2.0 if level & 0x20 else 1.5 if level & 0x02 else 1.0


def _has_monitor(memory: bytes) -> bool:
    """Whether byte 92 promises a monitor and the page with its thresholds is there."""
    page = memory[A2_AT : A2_AT + A2_BYTES]
    return len(page) == A2_BYTES and bool(memory[92] & 0x40) and len(set(page)) > 1


def _thresholds(page: bytes) -> Thresholds:
    """A2h bytes 0 to 39: temperature in 1/256 C, launch and received power in 0.1 uW (SFF-8472 Table 9-5).

    Those of a monitor that is calibrated from outside (byte 92, bit 4) are not read: its figures are raw counts (from memory).
    """
    return thresholds_of(page, temperature_at=0, tx_at=24, rx_at=32)


def thresholds_of(page: bytes, *, temperature_at: int, tx_at: int, rx_at: int) -> Thresholds:
    """Four figures at each place: high alarm, low alarm, high warning, low warning."""
    temperature, tx, rx = _Four(page, temperature_at), _Four(page, tx_at), _Four(page, rx_at)
    return Thresholds(
        tx_alarm_dbm=tx.dbm(0),
        tx_warning_dbm=tx.dbm(4),
        rx_alarm_dbm=rx.dbm(0),
        rx_warning_dbm=rx.dbm(4),
        temperature_alarm_c=temperature.celsius(0),
        temperature_warning_c=temperature.celsius(4),
    )


class _Four:
    """High alarm, low alarm, high warning and low warning of one thing, two bytes each."""

    def __init__(self, page: bytes, at: int) -> None:
        self._raw = page[at : at + 8]

    def dbm(self, at: int) -> Span | None:
        """[low, high] of powers in 0.1 uW; None where one of them is 0, which is no power at all, or they are the wrong way round."""
        high, low = (int.from_bytes(self._raw[at + step : at + step + 2], "big") for step in (0, 2))
        return (_dbm(low), _dbm(high)) if 0 < low <= high else None

    def celsius(self, at: int) -> Span | None:
        """[low, high] of temperatures in 1/256 C; None where they are the wrong way round or equal."""
        high, low = (int.from_bytes(self._raw[at + step : at + step + 2], "big", signed=True) / 256 for step in (0, 2))
        return (low, high) if low < high else None


def _dbm(tenths_uw: int) -> float:
    return round(10 * math.log10(tenths_uw / 10_000), 2)


def _unread(memory: bytes) -> Iterator[str]:
    if len(memory) < EXTENDED_BYTES:
        yield "the dump ends before byte 96: the power level is not known"
    elif is_blank(memory[68:84]) and sum(memory[64:95]) & 0xFF != memory[95]:
        yield "the serial number was taken out, so CC_EXT (byte 95) cannot be checked"
