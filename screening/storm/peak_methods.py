"""Peak flow and travel time formulas: rational, graphical, sheet, shallow concentrated and channel flow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from screening.errors import InputError
from screening.schema.criteria import RAINFALL_DISTRIBUTIONS
from screening.units import M_PER_FT, MM_PER_IN

UNPAVED_SPEED_M_S = 16.1345 * M_PER_FT
PAVED_SPEED_M_S = 20.3282 * M_PER_FT
"""Speed of shallow concentrated flow at a slope of 1: TR-55 (1986) appendix F, from memory; HEC-22 (3rd ed.) gives
16.1 and 20.3 ft/s."""

_NUMBER_LEAST = 40.0
"""Curve number below which the graphical method is not meant to be used: TR-55 (1986) page 4-3, from memory."""

FREQUENCY_FACTORS = ((25.0, 1.10), (50.0, 1.20), (100.0, 1.25))
"""From a return period [yr] on, the factor on runoff coefficients: HEC-22 page 3-8."""

POND_FACTORS = ((0.0, 1.00), (0.2, 0.97), (1.0, 0.87), (3.0, 0.75), (5.0, 0.72))
"""Share of ponds and swamps away from the flow path [%], and the factor on the graphical peak: TR-55 (1986) Table
4-2."""

# TR-55 (1986) Table F-1 by distribution: Ia/P, C0, C1, C2. Two printed cells are mended after the comparison of three
# prints: type I at .35 has C2 = +.01983 (HEC-22 prints the sign wrong), type III at .50 has -.09525 (one transcription
# repeats the row above).
_UNIT_PEAKS: dict[str, tuple[tuple[float, float, float, float], ...]] = {
    "I": (
        (0.10, 2.30550, -0.51429, -0.11750),
        (0.20, 2.23537, -0.50387, -0.08929),
        (0.25, 2.18219, -0.48488, -0.06589),
        (0.30, 2.10624, -0.45695, -0.02835),
        (0.35, 2.00303, -0.40769, 0.01983),
        (0.40, 1.87733, -0.32274, 0.05754),
        (0.45, 1.76312, -0.15644, 0.00453),
        (0.50, 1.67889, -0.06930, 0.0),
    ),
    "IA": (
        (0.10, 2.03250, -0.31583, -0.13748),
        (0.20, 1.91978, -0.28215, -0.07020),
        (0.25, 1.83842, -0.25543, -0.02597),
        (0.30, 1.72657, -0.19826, 0.02633),
        (0.50, 1.63417, -0.09100, 0.0),
    ),
    "II": (
        (0.10, 2.55323, -0.61512, -0.16403),
        (0.30, 2.46532, -0.62257, -0.11657),
        (0.35, 2.41896, -0.61594, -0.08820),
        (0.40, 2.36409, -0.59857, -0.05621),
        (0.45, 2.29238, -0.57005, -0.02281),
        (0.50, 2.20282, -0.51599, -0.01259),
    ),
    "III": (
        (0.10, 2.47317, -0.51848, -0.17083),
        (0.30, 2.39628, -0.51202, -0.13245),
        (0.35, 2.35477, -0.49735, -0.11985),
        (0.40, 2.30726, -0.46541, -0.11094),
        (0.45, 2.24876, -0.41314, -0.11508),
        (0.50, 2.17772, -0.36803, -0.09525),
    ),
}
TC_RANGE_H = (0.1, 10.0)
IA_P_RANGE = (0.10, 0.50)
"""Within these the graphical method was made; what lies outside takes the nearer end: HEC-22 page 3-19."""
# 1 ft3/s per square mile and inch of runoff, in m3/s per m2 and mm.
_UNIT_PEAK_SI = M_PER_FT**3 / ((5280.0 * M_PER_FT) ** 2 * MM_PER_IN)


def rational_peak_m3_s(coefficient: ArrayLike, intensity_mm_h: ArrayLike, area_m2: ArrayLike) -> NDArray[np.float64]:
    """Compute the peak by the rational method, Q = C i A, exact in SI.

    Read in acres and inches per hour this is 1.00833 C i A cubic feet per second, where handbooks round to 1.

    Parameters
    ----------
    coefficient
        Runoff coefficient with its frequency factor, at most 1.
    intensity_mm_h
        Over the time of concentration [mm/h].
    area_m2
        [m2].

    Returns
    -------
    [m3/s], float64.

    References
    ----------
    HEC-22 (3rd ed., 2009), equation 3-1.

    Examples
    --------
    >>> round(float(rational_peak_m3_s(0.235, 48.0, 17.55e4)), 2)
    0.55
    """
    peak: NDArray[np.float64] = np.multiply(coefficient, intensity_mm_h) * np.asarray(area_m2) / 3.6e6
    return peak


def frequency_factor(return_period_yr: float) -> float:
    """Factor on runoff coefficients of rare storms; the product with the coefficient is at most 1.

    References
    ----------
    HEC-22 (3rd ed., 2009), page 3-8; the cap is from memory.
    """
    return max([1.0, *(factor for years, factor in FREQUENCY_FACTORS if return_period_yr >= years)])


def sheet_factor_h(two_year_rain_mm: float) -> float:
    """Hours of sheet flow per (n L / sqrt(s)) ** 0.8 with L in metres: Tt = 0.007 (n L) ** 0.8 / (P2 ** 0.5 s ** 0.4).

    References
    ----------
    TR-55 (1986), equation 3-3, in feet and inches.
    """
    return float(0.007 / (two_year_rain_mm / MM_PER_IN) ** 0.5 / M_PER_FT**0.8)


def sheet_flow_time_h(n: float, length_m: float, slope: float, *, two_year_rain_mm: float) -> float:
    """Travel time of sheet flow over even ground [h]: TR-55 (1986) equation 3-3."""
    return float(sheet_factor_h(two_year_rain_mm) * (n * length_m / slope**0.5) ** 0.8)


def channel_speed_m_s(n: float, hydraulic_radius_m: float) -> float:
    """Speed of channel flow at a slope of 1 by Manning's equation [m/s]: TR-55 (1986) equation 3-4 in SI."""
    return float(hydraulic_radius_m ** (2.0 / 3.0) / n)


def pond_factor(pond_pct: float) -> float:
    """Factor on the graphical peak for ponds and swamps spread over the ground; between the rows a straight line.

    References
    ----------
    TR-55 (1986), Table 4-2; beyond 5 % it stays at the last value.
    """
    share, factor = zip(*POND_FACTORS, strict=True)
    return float(np.interp(pond_pct, share, factor))


def unit_peak(time_of_concentration_h: ArrayLike, ia_p: ArrayLike, *, distribution: str) -> NDArray[np.float64]:
    """Unit peak discharge of the graphical method [ft3/s per square mile and inch].

    Parameters
    ----------
    time_of_concentration_h
        Outside 0.1 to 10 h the nearer end is taken.
    ia_p
        Initial abstraction over rain; outside 0.10 to 0.50 the nearer end is taken; between rows a straight line.
    distribution
        I, IA, II or III.

    Raises
    ------
    InputError
        No such distribution.

    References
    ----------
    TR-55 (1986), Table F-1, and HEC-22 (3rd ed., 2009), Table 3-7, with their errata.
    """
    if distribution not in RAINFALL_DISTRIBUTIONS:
        known = ", ".join(RAINFALL_DISTRIBUTIONS)
        raise InputError("No such rainfall distribution", got=repr(distribution), expected=known)
    log_tc = np.log10(np.clip(np.asarray(time_of_concentration_h, np.float64), *TC_RANGE_H))
    rows = np.array(_UNIT_PEAKS[distribution])
    log_tc, ratio = np.broadcast_arrays(log_tc, np.clip(np.asarray(ia_p, np.float64), *IA_P_RANGE))
    flat_tc = log_tc.ravel()
    by_row = 10.0 ** (rows[:, 1, None] + rows[:, 2, None] * flat_tc + rows[:, 3, None] * flat_tc**2)
    flat = [np.interp(at, rows[:, 0], by_row[:, place]) for place, at in enumerate(ratio.ravel())]
    return np.array(flat, np.float64).reshape(log_tc.shape)


def graphical_peak_m3_s(
    runoff_mm: ArrayLike,
    area_m2: ArrayLike,
    time_of_concentration_h: ArrayLike,
    ia_p: ArrayLike,
    *,
    distribution: str,
    pond_pct: float = 0.0,
) -> NDArray[np.float64]:
    """Compute the peak of a 24-hour storm by the graphical method, q = qu A Q Fp.

    Parameters
    ----------
    runoff_mm, area_m2
        Runoff depth of the 24-hour rain, and ground.
    time_of_concentration_h, ia_p, distribution
        As for `unit_peak`.
    pond_pct
        As for `pond_factor`.

    Returns
    -------
    [m3/s], float64.

    References
    ----------
    TR-55 (1986), equation 4-1.
    """
    unit = unit_peak(time_of_concentration_h, ia_p, distribution=distribution) * _UNIT_PEAK_SI
    peak: NDArray[np.float64] = unit * np.asarray(area_m2) * np.asarray(runoff_mm) * pond_factor(pond_pct)
    return peak


@dataclass(frozen=True)
class OutOfRange:
    """How many places lie outside the range of the graphical method, by what is out of it."""

    n_time: int
    n_ratio: int
    n_number: int

    @property
    def is_any(self) -> bool:
        """True where the method is out of its range anywhere."""
        return bool(self.n_time or self.n_ratio or self.n_number)


def graphical_limits(time_of_concentration_h: ArrayLike, ia_p: ArrayLike, curve_number: ArrayLike) -> OutOfRange:
    """Count the places outside the range of the graphical method, whose nearer end is taken there."""
    with np.errstate(invalid="ignore"):
        return OutOfRange(
            n_time=_n_outside(np.asarray(time_of_concentration_h, np.float64), TC_RANGE_H),
            n_ratio=_n_outside(np.asarray(ia_p, np.float64), IA_P_RANGE),
            n_number=int((np.asarray(curve_number) < _NUMBER_LEAST).sum()),
        )


def _n_outside(values: NDArray[np.float64], limits: tuple[float, float]) -> int:
    return int(((values < limits[0]) | (values > limits[1])).sum())
