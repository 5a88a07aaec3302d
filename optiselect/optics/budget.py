"""The light budget: what a run loses at least and at most, and what a receiver gets."""

from __future__ import annotations

from functools import lru_cache

from optiselect.model.network import Fiber
from optiselect.model.policy import Policy
from optiselect.model.terms import Grade
from optiselect.optics.attenuation import Table, attenuation_db_km, figures_serving
from optiselect.optics.decibels import Whole, micro, milli, millimetres, product_db, rounded_db, sum_db

Window = tuple[float, float]
_PICO_IN_MICRO = 1_000_000


def run_loss_pico(fiber: Fiber, window_nm: Window, connections: int, policy: Policy) -> tuple[int, int] | None:
    """Least and greatest loss of one run of fiber, in 1e-12 dB, so that sums over runs stay exact.

    Greatest: attenuation x length + connections + splices, each at its allowance. Least: the least plausible attenuation x
    length, for a connection or a splice may be perfect. A loss measured end to end replaces both; an own attenuation
    replaces the greatest, and the least where it is smaller still. Own figures count only for windows that they serve.

    Args:
        fiber: the run.
        window_nm: the sender's window [low, high].
        connections: mated connector pairs along the run.
        policy: allowances and attenuation table.

    Returns:
        (least, greatest), or None where the attenuation at that wavelength is unknown.

    Source: IEEE 802.3 channel insertion loss, 38.11.2 and 52.14 (connections, fiber); TIA-568.3 (0.75 dB a connection, 0.3 dB a splice).
    """
    if fiber.measured_loss_db:
        measured = figures_serving(fiber.measured_loss_db, fiber.grade, window_nm)
        if measured:
            return micro(min(measured)) * _PICO_IN_MICRO, micro(max(measured)) * _PICO_IN_MICRO
    figures = micro_db_km(fiber.grade, window_nm, policy.attenuation)
    if fiber.attenuation_db_km:
        own = figures_serving(fiber.attenuation_db_km, fiber.grade, window_nm)
        if own:
            least = micro(min(own))
            figures = min(least, figures[0]) if figures else 0, micro(max(own))
    if figures is None:
        return None
    return counted_loss_pico(figures, millimetres(fiber.length_m), connections, fiber.splices, policy)


def counted_loss_pico(figures: tuple[int, int], length_mm: Whole, connections: Whole, splices: Whole, policy: Policy) -> tuple[Whole, Whole]:
    """The same from counts, of one run or, as arrays, of many; `figures`: least and greatest attenuation in 1e-6 dB/km."""
    greatest = figures[1] * length_mm + connections * (micro(policy.connection_loss_db) * _PICO_IN_MICRO)  # micro dB/km x mm = 1e-12 dB
    greatest = greatest + splices * (micro(policy.splice_loss_db) * _PICO_IN_MICRO)
    return figures[0] * length_mm, greatest


@lru_cache(maxsize=65_536)
def micro_db_km(grade: Grade, window_nm: Window, table: Table) -> tuple[int, int] | None:
    """Least and greatest attenuation as of `attenuation_db_km`, in 1e-6 dB/km."""
    figures = attenuation_db_km(grade, window_nm, table)
    return None if figures is None else (micro(figures[0]), micro(figures[1]))


def channel_loss_db(
    length_km: float,
    attenuation_db_km: float,
    *,
    connections: int = 0,
    connection_loss_db: float = 0.75,
    splices: int = 0,
    splice_loss_db: float = 0.3,
    further_db: tuple[float, ...] = (),
) -> float:
    """Loss in dB of a length of fiber with its connections, splices and whatever else is stated, to 0.001 dB.

    Raises:
        ValueError: when the length or a count is negative.

    Source: the sum that every maker's planning guide makes; allowances of TIA-568.3.
    """
    if length_km < 0 or connections < 0 or splices < 0:
        raise ValueError("a length or a count cannot be negative")
    parts = (product_db(length_km, attenuation_db_km), product_db(connections, connection_loss_db), product_db(splices, splice_loss_db))
    return rounded_db(sum_db(*parts, *further_db))


def available_db(tx_min_dbm: float, rx_sensitivity_dbm: float, penalty_db: float = 0.0) -> float:
    """What the channel may lose, in dB: least launch power less sensitivity less penalty, both on the average-power scale."""
    return rounded_db(sum_db(tx_min_dbm, -rx_sensitivity_dbm, -penalty_db))


def margin_db(available_db: float, loss_max_db: float) -> float:
    """What is left, in dB, to 0.001 dB on both sides; the channel holds when it is not negative.

    It never says that the receiver is not overloaded: that is the other extreme (`required_attenuation_db`).
    """
    return (milli(available_db) - milli(loss_max_db)) / 1000


def receive_window_dbm(tx_dbm: tuple[float, float], loss_db: tuple[float, float]) -> tuple[float, float]:
    """The least and the greatest level in dBm that arrives, from launch power [min, max] and loss [least, greatest]."""
    return rounded_db(sum_db(tx_dbm[0], -loss_db[1])), rounded_db(sum_db(tx_dbm[1], -loss_db[0]))


def required_attenuation_db(tx_max_dbm: float, rx_overload_dbm: float, loss_min_db: float = 0.0) -> float:
    """Attenuation in dB that is still missing so that the receiver is not overloaded; 0 where nothing is.

    Source: loss_min >= tx_max - rx_overload, makers' installation guides (facts cited in tests/published).
    """
    return max(0, milli(sum_db(tx_max_dbm, -rx_overload_dbm)) - milli(loss_min_db)) / 1000


def length_within_km(available_db: float, fixed_losses_db: float, attenuation_db_km: float) -> float:
    """The length in km whose fiber uses up what the fixed losses leave; 0 where they leave nothing.

    By light only: the published reach and dispersion may end sooner.

    Raises:
        ValueError: when the attenuation is not above zero.
    """
    if not attenuation_db_km > 0:
        raise ValueError("an attenuation is above zero")
    return max(0.0, sum_db(available_db, -fixed_losses_db)) / attenuation_db_km
