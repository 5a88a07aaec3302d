"""Decibels: sums that are exact to a thousandth, and the way between power and level.

A level is in dBm (10 log10 of milliwatts), a ratio in dB, and loss is positive. Sums are made in whole numbers, so that
1.5 + 0.4 x 3.5 against 2.9 leaves exactly nothing. Halves go away from zero.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Whole = TypeVar("Whole", int, "NDArray[np.int64]")
"""A whole number, or an array of such."""

_PICO_IN_MILLI = 1_000_000_000
_EXACT = 2**50
"""Below, a product that rounds to a whole number is nearer to it than to any half."""


def _whole(value: float, digits: int) -> int:
    return int(Decimal(repr(float(value))).scaleb(digits).to_integral_value(ROUND_HALF_UP))


@lru_cache(maxsize=65_536)
def micro(value: float) -> int:
    """Return a decimal figure in whole millionths of its unit, as it is written (2.1 is 2100000), halves away from zero.

    Raises:
        ValueError, OverflowError: when the value is not finite.
    """
    return _whole(value, 6)


@lru_cache(maxsize=65_536)
def milli(value: float) -> int:
    """Return a decimal figure in whole thousandths of its unit, halves away from zero (0.0005 dB is 1).

    Raises:
        ValueError, OverflowError: when the value is not finite.
    """
    return _whole(value, 3)


def millimetres(length_m: float) -> int:
    """Return a length in m in whole mm as `milli` does, quicker where it is a whole number of them, as nearly all are."""
    length_mm = length_m * 1000
    whole = int(length_mm)
    return whole if whole == length_mm and -_EXACT < whole < _EXACT else milli(length_m)


def to_millidecibel(pico: Whole) -> Whole:
    """Round a loss in 1e-12 dB, or an array of such, to whole 0.001 dB, halves away from zero."""
    size = (abs(pico) * 2 + _PICO_IN_MILLI) // (2 * _PICO_IN_MILLI)
    return size * (1 - 2 * (pico < 0))


def rounded_db(value: float) -> float:
    """Round a figure in dB or dBm to 0.001, halves away from zero; never minus zero."""
    return milli(value) / 1000


def sum_db(*values: float) -> float:
    """Add figures in dB as they are written, without binary rounding: `sum_db(0.1, 0.2)` is 0.3."""
    return float(sum((Decimal(repr(float(value))) for value in values), Decimal(0)))


def product_db(factor: float, value_db: float) -> float:
    """Multiply a count or a length by a figure in dB (or dB per that length) as they are written."""
    return float(Decimal(repr(float(factor))) * Decimal(repr(float(value_db))))


def dbm_of_mw(power_mw: float) -> float:
    """Level in dBm of a power in milliwatts.

    Raises:
        ValueError: when the power is not above zero; no light has no level.
    """
    if not power_mw > 0:
        raise ValueError("a level in dBm needs a power above zero")
    return 10 * math.log10(power_mw)


def mw_of_dbm(level_dbm: float) -> float:
    """Power in milliwatts of a level in dBm."""
    return float(10 ** (level_dbm / 10))


def ratio_db(sent_mw: float, received_mw: float) -> float:
    """Loss in dB between a sent and a received power of one unit; positive when less arrives.

    Raises:
        ValueError: when a power is not above zero.
    """
    if not (sent_mw > 0 and received_mw > 0):
        raise ValueError("a ratio in dB needs powers above zero")
    return 10 * math.log10(sent_mw / received_mw)


def oma_to_average(oma_dbm: float, extinction_ratio_db: float) -> float:
    """Average power in dBm of a signal, from its optical modulation amplitude in dBm and its extinction ratio in dB.

    P = OMA (ER + 1) / (2 (ER - 1)), in mW, ER as a ratio. The two scales are never mixed in a budget.
    Source: FC-PI, the inverse of OMA = 2 P (ER - 1) / (ER + 1).

    Raises:
        ValueError: when the extinction ratio is not above 0 dB.
    """
    return oma_dbm - _oma_over_average_db(extinction_ratio_db)


def average_to_oma(average_dbm: float, extinction_ratio_db: float) -> float:
    """Optical modulation amplitude in dBm, from average power in dBm and extinction ratio in dB: OMA = 2 P (ER - 1) / (ER + 1).

    Raises:
        ValueError: when the extinction ratio is not above 0 dB.
    """
    return average_dbm + _oma_over_average_db(extinction_ratio_db)


def _oma_over_average_db(extinction_ratio_db: float) -> float:
    if not extinction_ratio_db > 0:
        raise ValueError("an extinction ratio is above 0 dB")
    ratio = mw_of_dbm(extinction_ratio_db)
    return dbm_of_mw(2 * (ratio - 1) / (ratio + 1))
