"""Modal bandwidth: which row of the published tables a multimode run meets.

Multimode reach is a bandwidth limit: it is looked up by row, never scaled with the figure.
"""

from __future__ import annotations

from functools import lru_cache

from optiselect.model.network import Fiber
from optiselect.model.terms import LADDERS, Grade
from optiselect.optics.attenuation import figures_serving
from optiselect.standards.fiber import bandwidth_mhz_km

Window = tuple[float, float]


def effective_grade(fiber: Fiber, window_nm: Window) -> Grade | None:
    """The grade whose published figures a run takes at a window.

    With nothing measured at that window it is the stated grade. A measured or printed modal bandwidth takes the best row of
    the same core that it meets; of rows that ask the same there, the stated grade or else the lowest.

    Args:
        fiber: the run.
        window_nm: the sender's window [low, high].

    Returns:
        The grade, or None where the measured bandwidth is below every row of its core.

    Source: the rows of IEEE 802.3 Tables 38-2, 38-6 and 52-6 are by core and modal bandwidth; grades by TIA-568.3-D.
    """
    if not fiber.modal_bandwidth_mhz_km:
        return fiber.grade
    measured = figures_serving(fiber.modal_bandwidth_mhz_km, fiber.grade, window_nm)
    if not measured:
        return fiber.grade
    return _row_met(fiber.grade, min(measured), window_nm)


@lru_cache(maxsize=4096)
def _row_met(stated: Grade, measured_mhz_km: float, window_nm: Window) -> Grade | None:
    ladder = next(ladder for ladder in LADDERS if stated in ladder)
    asked = {grade: bandwidth_mhz_km(grade, window_nm) for grade in ladder}
    met = {grade: need for grade, need in asked.items() if need is not None and need <= measured_mhz_km}
    if not met:
        return stated if asked[stated] is None else None
    best = max(met.values())
    alike = [grade for grade in ladder if met.get(grade) == best]
    return stated if stated in alike else alike[-1]
