"""Spares: how many on the shelf until a failed unit is replaced, by the exact Poisson distribution.

m = units x FIT x 1e-9 x hours is the number of failures expected; k spares cover k failures: P(failures <= k). The normal
approximation is never used, being wrong where m is small, which is where a network is.
"""

from __future__ import annotations

import math
from functools import lru_cache

_NOTHING_BELOW = 40
"""So many standard deviations below the mean, P(failures <= k) is under exp(-40^2 / 2), which is 0 in a double."""


def expected_failures(units: int, fit: float, hours: float) -> float:
    """Failures expected among units in service, at a rate in failures per 1e9 h, within an exposure in hours.

    Raises:
        ValueError: when one of them is negative or not finite.
    """
    if not (units >= 0 and 0 <= fit < math.inf and 0 <= hours < math.inf):
        raise ValueError("units, fit and hours are finite and not negative")
    return units * fit * 1e-9 * hours


def probability_covered(spares: int, failures_expected: float) -> float:
    """P(failures <= spares), Poisson with the given mean; 0 for fewer than no spares.

    Raises:
        ValueError: when the mean is negative or not finite.

    Source: MIL-HDBK-338 and RAC START vol. 9 no. 1: the sum over r = 0..k of m^r e^-m / r!.
    """
    mean = failures_expected
    if not 0 <= mean < math.inf:
        raise ValueError("expected failures are finite and not negative")
    if spares < 0:
        return 0.0
    if mean == 0:
        return 1.0
    terms = (math.exp(r * math.log(mean) - mean - math.lgamma(r + 1)) for r in range(spares + 1))
    return min(1.0, math.fsum(terms))


@lru_cache(maxsize=65_536)
def spares_needed(units: int, fit: float, hours: float, level: float) -> int:
    """The least number of spares that covers all failures of the exposure with at least the probability `level`.

    Args:
        units: units in service, pooled over the whole network.
        fit: failures per 1e9 h.
        hours: exposure: restock or repair time.
        level: service level, between 0 and 1.

    Raises:
        ValueError: when a figure is out of its range.

    Source: as `probability_covered`.
    """
    if not 0 < level < 1:
        raise ValueError("a service level lies between 0 and 1")
    mean = expected_failures(units, fit, hours)
    if mean == 0:
        return 0
    covered, lost, spares = 0.0, 0.0, max(0, int(mean - _NOTHING_BELOW * math.sqrt(mean)))
    log_mean = math.log(mean)
    while True:
        term = math.exp(spares * log_mean - mean - math.lgamma(spares + 1))
        corrected = term - lost  # Kahan's sum: a thousand small terms must not lose the last digits of the level
        total = covered + corrected
        lost = (total - covered) - corrected
        covered = total
        if covered >= level or (spares > mean and term < 1e-30):
            return spares
        spares += 1
