"""A catalog module from what a module's memory says: only what can be relied on, the rest left out and so unknown.

Taken: the standards that its codes claim, rates, nominal wavelength, connector, lengths, the power of its level or class.
Left out, since no memory of SFF-8472 or SFF-8636 states them: launch power, sensitivity and overload, the receive window, the
temperature grade, the laser class. They come from the standard where the module claims one. The thresholds of its monitor stand in the
description for a reader; they are no limits of the module, and no rule reads them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeGuard, get_args

from optiselect.model.catalog import Module, Optics
from optiselect.model.document import Figures
from optiselect.model.memory import LengthOf, ModuleMemory
from optiselect.model.terms import RATES, Connector, Form, Grade, Medium, Mode, Rate, lower_or_same, mode_of
from optiselect.standards.pmd import pmd, pmd_names

_CONNECTORS: dict[str, Connector] = {"SC": "SC", "LC": "LC", "MT-RJ": "MT-RJ", "MU": "MU", "MPO 1x12": "MPO", "RJ45": "RJ45"}
"""Those of the code table that a plan knows; the other names of the table join no cord."""
_GRADES = frozenset(get_args(Grade))
_ONE_STRAND = "BASE-BX10"
_UPSTREAM = ("1000BASE-BX10-U",)
"""Ends whose code is as well set for another pair, 1310 with 1550 nm, and whose window tells 1490 from 1550 nm."""
_TWISTED_PAIR: dict[Rate, str] = {"1G": "1000BASE-T", "2.5G": "2.5GBASE-T", "5G": "5GBASE-T", "10G": "10GBASE-T"}
_CLAIMS_WITHOUT_FIGURES: dict[str, tuple[Rate, Medium, Mode | None]] = {
    "1000BASE-CX": ("1G", "coax", None),
    "40GBASE-CR4": ("40G", "coax", None),
    "100GBASE-CR4": ("100G", "coax", None),
    "25GBASE-CR": ("25G", "coax", None),
    "100GBASE-ER4": ("100G", "fiber", "single-mode"),
    "25GBASE-ER": ("25G", "fiber", "single-mode"),
    "100GBASE-SR10": ("100G", "fiber", "multimode"),
}
"""Interfaces of IEEE 802.3 of which this library holds no figures: rate, medium (twinaxial cable counts as coax), mode. From memory."""
_LANE_MBD: dict[Rate, float] = {"100M": 125, "1G": 1250, "2.5G": 3125, "5G": 5156.25, "10G": 10312.5, "25G": 25781.25, "40G": 10312.5, "100G": 25781.25}
"""Signaling rate of one lane on fiber: IEEE 802.3 Clauses 24, 36, 49, 82, 107 and, for 2.5G and 5G, common host interfaces; from memory."""
_LANE_MBIT_S: dict[Rate, float] = {"100M": 100, "1G": 1000, "2.5G": 2500, "5G": 5000, "10G": 10_000, "25G": 25_000, "40G": 10_000, "100G": 25_000}
_LANE_RATES: dict[bool, tuple[Rate, ...]] = {True: ("100M", "1G", "2.5G", "5G", "10G", "25G"), False: ("40G", "100G")}
"""What one lane (an SFP: True) and four lanes (a QSFP: False) run; lanes of a QSFP that go apart are no link of a plan."""
_FASTER = 1.5
"""A nominal rate beyond so many times the standard's lane is that of another, faster trade: common practice, no source."""
_STEP_MBD = 100
"""The unit of the nominal rate: SFF-8472 byte 12, SFF-8636 byte 140."""
_GRAY_NM = (1300.0, 1320.0)
"""A two-strand sender of the 1310 nm window says so; others are of a coarse grid or of a single-strand pair: common practice, no source."""
_FORM_UP_TO_MBD: tuple[tuple[float, Form], ...] = ((5200, "SFP"), (11_400, "SFP+"), (28_900, "SFP28"))
"""SFP: INF-8074; SFP+: SFF-8431, up to 11.1 GBd; SFP28: SFF-8402, up to 28.05 GBd. From memory, each with a rounding step more."""


@dataclass(frozen=True)
class _Claim:
    """One interface that a memory claims. `standard`: its PMD, where the figures are known and nothing speaks against it."""

    rate: Rate
    medium: Medium
    mode: Mode | None
    strands: int | None = None
    standard: str | None = None


def module_of(memory: ModuleMemory, coding: Iterable[str] = (), *, other_pairs: bool = False) -> Module:
    """The module that a memory describes.

    Several standards make a module of several rates. A standard is not believed where the nominal wavelength lies outside
    its window, where the nominal signaling rate is below what it runs, or where another one of the same rate is claimed too.

    Args:
        memory: what `optiselect.formats.eeprom.read_memory` gives.
        coding: the codings that it has, in the words of the network's `accepts`, which no memory says; omitted = unknown.
        other_pairs: whether single-strand pairs beside the standard's are about (`is_of_another_pair`); then a module that sends
            at 1310 nm may be of one of those, whose far end sends at another wavelength, and is no upstream end of the standard.
    """
    claims = [claim for claim in _fitting(memory, list(_claims(memory))) if not (other_pairs and claim.standard in _UPSTREAM)]
    rates = _rates(memory, claims)
    named = [claim for claim in claims if claim.standard is not None]
    medium = _medium(memory, claims, rates)
    mode = _mode(memory, claims) if medium in ("fiber", None) else None
    if not named and medium == "copper" and len(rates) == 1 and rates[0] in _TWISTED_PAIR:
        named = [_Claim(rates[0], "copper", None, None, _TWISTED_PAIR[rates[0]])]
    standard = named[-1].standard if named else None
    one_strand = _ONE_STRAND in memory.codes
    stated: dict[str, Any] = {
        "standard": standard,
        "form": _form(memory, rates),
        "rates": rates or None,
        "medium": medium,
        "mode": mode,
        "strands": 1 if one_strand else None,
        "connector": _connector(memory, medium),
        "tx_nm": _sent_nm(memory, standard) if medium == "fiber" else None,
        "reach_m": _reach_m(memory, medium, [claim.standard for claim in named if claim.standard], rates),
        "at_rate": {claim.rate: {"standard": claim.standard} for claim in named[:-1]} or None,
        "power_w": memory.power_w,
        "description": _description(memory),
    }
    part = memory.part.replace("/", "-") or f"no part number ({' '.join([memory.form, standard or '']).strip()})"
    return Module(part=part, coding=tuple(coding), **{key: value for key, value in stated.items() if value is not None})


def is_of_another_pair(memory: ModuleMemory) -> bool:
    """Whether a module has the code of the standard's 10 km pair and sends where neither end of it does, for example at 1550 nm."""
    return _ONE_STRAND in memory.codes and memory.wavelength_nm is not None and not any(_ends_of_pair(memory))


# -- what is claimed ----------------------------------------------------------------------------------------------------


def _claims(memory: ModuleMemory) -> Iterator[_Claim]:
    """Every interface that the codes claim, by rate; a code of another trade claims none."""
    names = {name for code in (*memory.codes, memory.extended) for name in _interfaces(code, memory)}
    found = [_claim(name) for name in sorted(names)]
    runs = _LANE_RATES[memory.form == "SFP"]
    yield from sorted((claim for claim in found if claim is not None and claim.rate in runs), key=lambda claim: RATES.index(claim.rate))


def _interfaces(code: str, memory: ModuleMemory) -> Iterator[str]:
    if code == _ONE_STRAND:
        yield from _ends_of_pair(memory)
        return
    for name in code.partition(",")[0].split(" / "):
        interface = name.split(" ")[0]
        if " / " not in code or interface.startswith("100G") == (memory.form != "SFP"):
            yield interface


def _ends_of_pair(memory: ModuleMemory) -> Iterator[str]:
    """The end of a 10 km pair whose window holds the nominal wavelength, at the rate that the module runs.

    A longer length is that of another pair, whose far end may send at another wavelength: the code is set for those too.
    """
    for rate, family in (("100M", "100BASE-BX10"), ("1G", "1000BASE-BX10")):
        for name in (f"{family}-D", f"{family}-U"):
            figures = pmd(name).figures
            farther = figures.reach_m is not None and memory.lengths_m.get("single-mode", 0.0) > figures.reach_m["single-mode"]
            if rate in _rates_by_signaling(memory) and _in_window(memory.wavelength_nm, figures) and not farther:
                yield name


def _claim(name: str) -> _Claim | None:
    if name in pmd_names():
        figures = pmd(name).figures
        assert figures.rates and figures.medium  # every interface of the tables has both
        return _Claim(figures.rates[0], figures.medium, figures.mode, figures.strands, name)
    known = _CLAIMS_WITHOUT_FIGURES.get(name)
    return _Claim(*known) if known else None


def _fitting(memory: ModuleMemory, claims: list[_Claim]) -> list[_Claim]:
    """Claims that the signaling rate bears; a standard that something speaks against loses its name and stays a rate."""
    borne = [claim for claim in claims if _is_borne(memory, claim) and claim.medium in _media_of_plug(memory, claim)]
    of_one_kind = len({claim.medium for claim in borne}) <= 1 and len({claim.mode for claim in borne}) <= 1
    checked = []
    for claim in borne:
        rivals = [other for other in borne if other.rate == claim.rate and other != claim]
        sound = _is_of_its_color(memory, claim) and not rivals and of_one_kind
        checked.append(claim if sound else _Claim(claim.rate, claim.medium, claim.mode if of_one_kind else None))
    return checked


def _media_of_plug(memory: ModuleMemory, claim: _Claim) -> tuple[Medium | None, ...]:
    """What the plug can carry: copper modules that give themselves out for optical ones, so that a device takes them, are common."""
    if memory.connector == "RJ45":
        return ("copper",)
    return ("coax",) if _is_twinax(memory) else (claim.medium,)


def _is_twinax(memory: ModuleMemory) -> bool:
    return "copper" in (memory.technology or "") or memory.connector == "copper pigtail"


def _is_borne(memory: ModuleMemory, claim: _Claim) -> bool:
    """Whether the nominal rate, rounded to its unit, is at least the data rate of a lane; one that is not stated bears all."""
    if memory.bit_rate_mbd is None or claim.rate not in _LANE_MBIT_S or claim.medium != "fiber":
        return True
    return memory.bit_rate_mbd + _STEP_MBD >= _LANE_MBIT_S[claim.rate]


def _is_of_its_color(memory: ModuleMemory, claim: _Claim) -> bool:
    if claim.standard is None or memory.wavelength_nm is None or claim.medium != "fiber":
        return True
    figures = pmd(claim.standard).figures
    gray = figures.mode == "single-mode" and figures.strands == 2 and _in_window(1310, figures)
    return _in_window(memory.wavelength_nm, figures) and (not gray or _GRAY_NM[0] <= memory.wavelength_nm <= _GRAY_NM[1])


def _in_window(wavelength_nm: float | None, figures: Optics) -> bool:
    return wavelength_nm is not None and figures.tx_nm is not None and figures.tx_nm[0] <= wavelength_nm <= figures.tx_nm[1]


def _rates_by_signaling(memory: ModuleMemory) -> tuple[Rate, ...]:
    """The rate whose lane is signaled so, within the rounding of the figure; of four lanes in a QSFP."""
    if memory.bit_rate_mbd is None:
        return ()
    return tuple(rate for rate in _LANE_RATES[memory.form == "SFP"] if abs(memory.bit_rate_mbd - _LANE_MBD[rate]) < _STEP_MBD)


def _rates(memory: ModuleMemory, claims: list[_Claim]) -> tuple[Rate, ...]:
    claimed = {claim.rate for claim in claims}
    return tuple(rate for rate in RATES if rate in claimed) or _rates_by_signaling(memory)


# -- what it is ---------------------------------------------------------------------------------------------------------


def _medium(memory: ModuleMemory, claims: list[_Claim], rates: tuple[Rate, ...]) -> Medium | None:
    """The medium that the claims agree on, else what connector, cable and Fibre Channel media say; a cable assembly of copper is coax."""
    claimed = {claim.medium for claim in claims}
    if len(claimed) == 1:
        return claimed.pop()
    if _is_twinax(memory) or ("passive cable" in memory.codes and memory.connector == "no separable connector"):
        return "coax"
    if memory.connector == "RJ45" or ("FC media TP" in memory.codes and memory.wavelength_nm is None):
        return "copper"
    light = memory.wavelength_nm is not None or any(grade != "cable" for grade in memory.lengths_m) or _ONE_STRAND in memory.codes
    return "fiber" if light and not claimed else None


def _mode(memory: ModuleMemory, claims: list[_Claim]) -> Mode | None:
    """Of the claims; else of the lengths, of which a single-mode one counts first, at 1260 nm and above."""
    claimed = {claim.mode for claim in claims if claim.mode is not None}
    if claimed:
        return claimed.pop() if len(claimed) == 1 else None
    if _ONE_STRAND in memory.codes:
        return "single-mode"
    lengths = set(memory.lengths_m) - {"cable"}
    if "single-mode" in lengths and (memory.wavelength_nm is None or memory.wavelength_nm >= 1260):
        return "single-mode"
    return "multimode" if lengths and "single-mode" not in lengths else None


def _form(memory: ModuleMemory, rates: tuple[Rate, ...]) -> Form | None:
    if memory.form != "SFP":
        return memory.form
    signaled_mbd = max([_LANE_MBD.get(rate, 0.0) for rate in rates] or [float(memory.bit_rate_mbd or 0)])
    return next((form for limit_mbd, form in _FORM_UP_TO_MBD if 0 < signaled_mbd <= limit_mbd), None)


def _connector(memory: ModuleMemory, medium: Medium | None) -> Connector | None:
    """As stated; a light's connector on a copper module, which some memories have, says nothing."""
    connector = _CONNECTORS.get(memory.connector or "")
    return connector if (connector == "RJ45") == (medium == "copper") and medium != "coax" else None


def _sent_nm(memory: ModuleMemory, standard: str | None) -> tuple[float, float] | None:
    """The standard's window where one is claimed; else the nominal wavelength, with its tolerance where that is stated.

    SFF-8472 states none, so both ends of the window are then the nominal wavelength.
    """
    if standard is not None or memory.wavelength_nm is None:
        return None
    off_nm = memory.wavelength_tolerance_nm or 0.0
    return memory.wavelength_nm - off_nm, memory.wavelength_nm + off_nm


# -- how far it reaches -------------------------------------------------------------------------------------------------


def _reach_m(memory: ModuleMemory, medium: Medium | None, standards: list[str], rates: tuple[Rate, ...]) -> Mapping[str, float] | None:
    if medium == "coax":
        return {"coax": memory.lengths_m["cable"]} if "cable" in memory.lengths_m else None
    if medium == "copper":
        return _copper_reach_m(memory, standards)
    stated: dict[LengthOf, float] = {grade: length_m for grade, length_m in memory.lengths_m.items() if grade != "cable"}
    if medium != "fiber" or not stated or len(rates) > 1:
        return None  # one set of lengths for several rates: nothing says for which
    published = pmd(standards[0]).figures.reach_m if len(standards) == 1 else None
    if not published:
        return {str(grade): length_m for grade, length_m in stated.items()}
    believed = _with_published(memory, stated, published, rates[0])
    return believed if believed != published else None


def _copper_reach_m(memory: ModuleMemory, standards: list[str]) -> Mapping[str, float] | None:
    """The standard's reach, cut to the length that is stated; with none, what a plug of this kind commonly reaches, where that is less."""
    if len(standards) != 1:
        return None
    interface = pmd(standards[0])
    limits = [memory.lengths_m["cable"]] if "cable" in memory.lengths_m else []
    limits += [30.0] if memory.extended.endswith(", 30 m") else []
    if not limits:
        return (interface.pluggable or {}).get("reach_m")
    return {category: min(reach_m, *limits) for category, reach_m in (interface.figures.reach_m or {}).items()}


def _with_published(memory: ModuleMemory, stated: Mapping[LengthOf, float], published: Figures[Any, float], rate: Rate) -> dict[str, float]:
    """Stated lengths beside the published reach of the one standard that is claimed.

    A length below the published reach is believed, unless it was stated for a faster line; one above it is the maker's word,
    believed on single-mode fiber and on multimode below 10 Gb/s, where modules beyond the standard are sold; at 10 Gb/s and above modal
    bandwidth leaves nothing beyond. Grades that are not stated keep the published reach, unless one of their mode falls short,
    and never reach farther than a better one. All this is a judgment: common practice, no source.
    """
    believed: dict[str, float] = {}
    short: set[Mode] = set()
    for grade, length_m in stated.items():
        reach_m, mode = _published_for(grade, published), _mode_of(grade)
        if reach_m is None:
            believed[grade] = length_m
        elif length_m >= reach_m:
            believed[grade] = length_m if mode == "single-mode" or RATES.index(rate) < RATES.index("10G") else reach_m
        elif (memory.bit_rate_mbd or 0) <= _FASTER * _LANE_MBD[rate]:
            believed[grade] = length_m
            if length_m + memory.length_step_m.get(grade, 1000.0) <= _least_of_core(grade, published):
                short.add(mode)
    better = dict(believed)
    for grade, reach_m in published.items():
        if _mode_of(grade) not in short:
            above = [length_m for known, length_m in better.items() if _is_grade(known) and grade in lower_or_same(known)]
            believed.setdefault(grade, min([reach_m, *above]))
    return believed


def _is_grade(row: str) -> TypeGuard[Grade]:
    return row in _GRADES


def _mode_of(row: str) -> Mode:
    return mode_of(row) if _is_grade(row) else "multimode" if row == "multimode" else "single-mode"


def _least_of_core(grade: LengthOf, published: Figures[Any, float]) -> float:
    """The least published reach of a core, of OM1 and OM2: older revisions name their bytes by core alone (from memory); else of the grade."""
    rows = lower_or_same(grade) if grade in ("OM1", "OM2") else ()
    return min([published[row] for row in rows if row in published] or [_published_for(grade, published) or 0.0])


def _published_for(grade: LengthOf, published: Figures[Any, float]) -> float | None:
    rows = lower_or_same(grade) if _is_grade(grade) else (grade,)
    return next((published[row] for row in rows if row in published), None)


# -- for a reader -------------------------------------------------------------------------------------------------------


def _description(memory: ModuleMemory) -> str:
    facts = ["Read from the module's memory"]
    if memory.wavelength_nm is not None:
        facts.append(f"nominal {memory.wavelength_nm:g} nm")
    if memory.bit_rate_mbd is not None:
        facts.append(f"{memory.bit_rate_mbd} MBd a lane" if memory.form != "SFP" else f"{memory.bit_rate_mbd} MBd")
    if memory.max_case_c is not None:
        facts.append(f"case up to {memory.max_case_c:g} C")
    levels = memory.thresholds
    if levels is not None:
        spans = ((levels.tx_warning_dbm, "dBm sent"), (levels.rx_warning_dbm, "dBm received"), (levels.temperature_warning_c, "C"))
        told = [f"{span[0]:g} to {span[1]:g} {unit}" for span, unit in spans if span is not None]
        if told:
            facts.append(f"its monitor warns outside {', '.join(told)}, which are no limits of the module")
    return "; ".join(facts)
