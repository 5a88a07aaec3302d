"""A transceiver at one rate: an optic's own figures, and its standard's where it states none.

What a standard fills in: a part that names it is built to it, so wavelengths, powers, reach and conditioning are its figures
unless stated. Its penalty and its channel loss go only with its own powers: a part that states a power is computed.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, get_args

from optiselect.model.catalog import FiguresAtRate, Optics
from optiselect.model.document import Figures
from optiselect.model.terms import Category, Connector, Core, Form, Grade, LaserClass, Medium, Mode, Rate, lower_or_same, mode_of
from optiselect.standards.pmd import family_of, pmd

Range = tuple[float, float]
CORES: tuple[Core, ...] = get_args(Core)
_GRADES = frozenset(get_args(Grade))


@dataclass(frozen=True, eq=False)
class Transceiver:
    """An optic's figures at one rate, the standard's filled in; None is unknown. Each is itself only, so that it is quick to look up.

    Attributes:
        part: part number. standard, family: the PMD that it follows at this rate, with and without -D or -U.
        rates: all that it runs; `rate`: the one these figures are for.
        tx_nm, rx_nm: windows [low, high] in nm.
        tx_dbm_by_core: launch power [min, max] in dBm by fiber core. rx_dbm: [sensitivity, overload].
        own_powers: it states a launch power or a receive window itself; own_sensitivity: its `rx_dbm` is its own.
        penalty_db: its own; standard_penalty_db: its standard's, which goes with the standard's sensitivity.
        reach_m: published reach by grade, mode or category (None: not stated).
        channel_loss_db: published channel insertion loss, None where it states powers itself.
        conditioning: grades on which mode-conditioning cords are needed.
        dispersion_ps_nm: tolerance as a sender. temperature_c: case [low, high]. power_w: greatest.
        throughput_mbit_s: what passes up to each length in m. rx_damage_dbm: level that damages the receiver.
    """

    part: str | None
    standard: str | None
    family: str | None
    form: Form | None
    rates: tuple[Rate, ...]
    rate: Rate
    medium: Medium | None
    mode: Mode | None
    strands: int | None
    connector: Connector | None
    tx_nm: Range | None
    rx_nm: Range | None
    tx_dbm_by_core: Figures[Core, Range] | None
    rx_dbm: Range | None
    own_powers: bool
    own_sensitivity: bool
    penalty_db: float | Figures[Any, float] | None
    standard_penalty_db: float | Figures[Any, float] | None
    reach_m: Figures[Any, float] | None
    channel_loss_db: Figures[Any, float] | None
    conditioning: tuple[Grade, ...]
    dispersion_ps_nm: float | None
    temperature_c: Range | None
    power_w: float | None
    coding: tuple[str, ...]
    laser_class: LaserClass | None
    role: str | None
    pairs_with: str | None
    throughput_mbit_s: Figures[int, float] | None
    rx_damage_dbm: float | None

    def tx_dbm(self, core: Core) -> Range | None:
        """Launch power [min, max] in dBm into a core; None where it is not stated."""
        return self.tx_dbm_by_core.get(core) if self.tx_dbm_by_core is not None else None

    def reach_for(self, grade_or_category: Grade | Category) -> float | None:
        """Published reach in m on a fiber grade or cable category; None where that one is not supported, or `reach_m` is not stated.

        A grade that is not named takes the figure of the next lower one of the same core, then that of its mode.
        """
        return _for_grade(self.reach_m, grade_or_category)

    def channel_loss_for(self, grade: Grade) -> float | None:
        """Published channel insertion loss in dB on a grade; None where there is none, or where it states powers itself."""
        return _for_grade(self.channel_loss_db, grade)

    def penalty_for(self, grade: Grade, own: bool) -> float | None:
        """Link penalty in dB on a grade: its own, or its standard's; None where none is stated."""
        stated = self.penalty_db if own else self.standard_penalty_db
        return _for_grade(stated, grade) if isinstance(stated, Figures) else stated


def _for_grade(figures: Figures[Any, float] | None, grade: str) -> float | None:
    if figures is None:
        return None
    if grade not in _GRADES:
        return figures.get(grade)
    for row in lower_or_same(grade):  # type: ignore[arg-type]  # just checked to be a grade
        if row in figures:
            return figures[row]
    return figures.get(mode_of(grade))  # type: ignore[arg-type]


@lru_cache(maxsize=65_536)
def transceiver(optics: Optics, rate: Rate) -> Transceiver:
    """The figures of an optic at one rate.

    `at_rate` comes first, then a standard that it names, then the optic's own figures, then its standard where that is of
    this rate; a standard of another rate gives the medium, mode and strands of the part, and no figures.

    Args:
        optics: a module, or a fixed optic.
        rate: the rate; that the optic runs it is the rules' question.

    Raises:
        UnknownNameError: when it names a standard that is not known.
    """
    own_standard = pmd(optics.standard).figures if optics.standard else None
    at_rate = optics.at_rate.get(rate) if optics.at_rate else None
    rate_standard = pmd(at_rate.standard).figures if at_rate and at_rate.standard else None
    if rate_standard is None and own_standard is not None and rate in (own_standard.rates or ()):
        figures = _Layers((at_rate, optics), own_standard)
    else:
        figures = _Layers((at_rate,) if rate_standard else (at_rate, optics), rate_standard, (optics,) if rate_standard else ())
    nature = own_standard or rate_standard
    tx_dbm, own_tx = figures.get("tx_dbm")
    rx_dbm, own_rx = figures.get("rx_dbm")
    own_powers = own_tx or own_rx
    standard = figures.standard
    return Transceiver(
        part=optics.part,
        standard=standard.standard if standard else None,
        family=family_of(standard.standard) if standard and standard.standard else None,
        form=optics.form,
        rates=_rates(optics, own_standard),
        rate=rate,
        medium=_medium(optics, nature),
        mode=optics.mode or (nature.mode if nature else None),
        strands=optics.strands or (nature.strands if nature else None),
        connector=optics.connector or (nature.connector if nature else None),
        tx_nm=figures.get("tx_nm")[0],
        rx_nm=figures.get("rx_nm")[0],
        tx_dbm_by_core=_by_core(tx_dbm),
        rx_dbm=rx_dbm,
        own_powers=own_powers,
        own_sensitivity=own_rx,
        penalty_db=figures.own("penalty_db"),
        standard_penalty_db=standard.penalty_db if standard else None,
        reach_m=figures.get("reach_m")[0],
        channel_loss_db=None if own_powers else figures.get("channel_loss_db")[0],
        conditioning=figures.get("conditioning")[0] or (),
        dispersion_ps_nm=figures.get("dispersion_ps_nm")[0],
        temperature_c=optics.temperature_c,
        power_w=optics.power_w,
        coding=optics.coding,
        laser_class=optics.laser_class or (nature.laser_class if nature else None),
        role=optics.role or (nature.role if nature else None),
        pairs_with=optics.pairs_with or (nature.pairs_with if nature else None),
        throughput_mbit_s=optics.throughput_mbit_s,
        rx_damage_dbm=optics.rx_damage_dbm if optics.rx_damage_dbm is not None else (standard.rx_damage_dbm if standard else None),
    )


@dataclass(frozen=True)
class _Layers:
    """Where a figure is looked for, in order: what is stated for the rate, the standard of the rate, what is stated otherwise."""

    first: tuple[FiguresAtRate | None, ...]
    standard: Optics | None
    last: tuple[FiguresAtRate, ...] = ()

    def get(self, key: str) -> tuple[Any, bool]:
        """The figure, and whether the optic states it itself."""
        for layer in self.first:
            if layer is not None and getattr(layer, key) is not None:
                return getattr(layer, key), True
        if self.standard is not None and getattr(self.standard, key) is not None:
            return getattr(self.standard, key), False
        for layer in self.last:
            if getattr(layer, key) is not None:
                return getattr(layer, key), True
        return None, False

    def own(self, key: str) -> Any:
        """The figure that the optic states itself at this rate, or, where the rate's standard has no powers, at its others."""
        layers = self.first if self.standard is not None and self.standard.rx_dbm is not None else (*self.first, *self.last)
        return next((getattr(layer, key) for layer in layers if layer is not None and getattr(layer, key) is not None), None)


def _rates(optics: Optics, standard: Optics | None) -> tuple[Rate, ...]:
    stated = optics.rates or (standard.rates if standard else None) or ()
    return stated + tuple(rate for rate in optics.at_rate or () if rate not in stated)


def _medium(optics: Optics, standard: Optics | None) -> Medium | None:
    if optics.medium is not None:
        return optics.medium
    if standard is not None:
        return standard.medium
    return "fiber" if optics.tx_nm or optics.mode or optics.strands else None


def _by_core(powers: Any) -> Figures[Core, Range] | None:
    if powers is None or isinstance(powers, Figures):
        return powers
    return Figures(dict.fromkeys(CORES, powers))
