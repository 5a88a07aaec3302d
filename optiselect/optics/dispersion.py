"""Chromatic dispersion of single-mode fiber: pulses spread with length, the more the farther from 1310 nm."""

from __future__ import annotations

from functools import lru_cache

from optiselect.standards.fiber import zero_dispersion

Window = tuple[float, float]


def dispersion_ps_nm_km(nm: float, zero_nm: float, slope: float) -> float:
    """Dispersion D(L) = (S0/4) (L - L0^4 / L^3), in ps/(nm km); negative below the zero.

    Args:
        nm: wavelength L.
        zero_nm: wavelength of zero dispersion, L0.
        slope: slope at the zero, S0, in ps/(nm2 km).

    Valid for dispersion-unshifted fiber, 1260-1625 nm; above about 1600 nm the standard uses straight-line bounds (from
    memory), and outside the range the formula is an extrapolation.

    Raises:
        ValueError: when a wavelength is not above zero.

    Source: ITU-T G.650.1 and G.652.
    """
    if not (nm > 0 and zero_nm > 0):
        raise ValueError("a wavelength is above zero")
    return slope / 4 * (nm - zero_nm**4 / nm**3)


@lru_cache(maxsize=4096)
def worst_dispersion_ps_nm_km(window_nm: Window) -> float:
    """The greatest |D| in ps/(nm km), over a sender's window [low, high] in nm and over every zero that G.652 allows.

    D grows with the wavelength and falls with the zero, so the extremes lie at two corners. Valid 1260-1625 nm; outside
    it is an extrapolation, of no consequence because the attenuation there is unknown.

    Source: ITU-T G.652 Table 2: zero at 1300-1324 nm, slope at most 0.092 ps/(nm2 km).
    """
    (low_zero_nm, high_zero_nm), slope = zero_dispersion()
    least = dispersion_ps_nm_km(window_nm[0], high_zero_nm, slope)
    most = dispersion_ps_nm_km(window_nm[1], low_zero_nm, slope)
    return max(abs(least), abs(most))
