"""What the memory of a pluggable module says of it: facts as they stand there, before anything is concluded from them.

No maker's name, serial number or date is among them: none of these chooses or refuses a module.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from optiselect.model.document import Figures

MemoryForm = Literal["SFP", "QSFP+", "QSFP28"]
"""What the identifier tells. SFP stands for SFP, SFP+ and SFP28, which share one code."""
LengthOf = Literal["single-mode", "OM1", "OM2", "OM3", "OM4", "cable"]
Span = tuple[float, float]


@dataclass(frozen=True)
class Thresholds:
    """Where the module's own monitor raises a flag, [low, high]; None where the memory does not hold one.

    These are settings of a monitor that may be 3 dB or 3 K off (SFF-8472, diagnostics, from memory), with room that the maker
    chose. They are no launch power, no sensitivity and no temperature grade, and no rule reads them.

    Attributes:
        tx_alarm_dbm, tx_warning_dbm: average launch power. rx_alarm_dbm, rx_warning_dbm: received power.
        temperature_alarm_c, temperature_warning_c: of the module.
    """

    tx_alarm_dbm: Span | None = None
    tx_warning_dbm: Span | None = None
    rx_alarm_dbm: Span | None = None
    rx_warning_dbm: Span | None = None
    temperature_alarm_c: Span | None = None
    temperature_warning_c: Span | None = None


@dataclass(frozen=True)
class ModuleMemory:
    """What a module's memory states; None, or an empty tuple, is not stated.

    Attributes:
        form: by the identifier.
        part: part number, "" where the memory has none.
        connector: in the words of the code table, for example ``LC``, ``MPO 1x12``, ``copper pigtail``.
        codes: the compliance codes that are set, in the order of the memory.
        extended: the one extended compliance code, ``""`` where none is given.
        encoding: line code. bit_rate_mbd: nominal signaling rate, of one lane.
        lengths_m: supported length by fiber grade, or ``cable``: the length of a cable assembly, or of twisted pair.
        length_step_m: the unit that multimode lengths are given in, by grade.
        wavelength_nm: nominal, at room temperature; wavelength_tolerance_nm: how far the sender may be off.
        technology: of the sender. max_case_c: highest case temperature.
        power_w: the most that the module's power level or class lets it draw.
        thresholds: of its monitor, None where it has none that can be read.
        unread: what could not be checked or read, in words.
    """

    form: MemoryForm
    part: str
    connector: str | None
    codes: tuple[str, ...]
    extended: str
    encoding: str | None
    bit_rate_mbd: int | None
    lengths_m: Figures[LengthOf, float]
    length_step_m: Figures[LengthOf, float]
    wavelength_nm: float | None = None
    wavelength_tolerance_nm: float | None = None
    technology: str | None = None
    max_case_c: float | None = None
    power_w: float | None = None
    thresholds: Thresholds | None = None
    unread: tuple[str, ...] = ()
