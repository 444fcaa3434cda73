"""How the rain of a storm is spread over its hours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from screening.errors import InputError
from screening.schema.codes.storage import RainDistribution
from screening.storage.ranges import check_sizes

F64 = NDArray[np.float64]

_HOURS = (0, 2, 4, 6, 7, 8, 8.5, 9, 9.5, 9.75, 10, 10.5, 11, 11.5, 11.75, 12, 12.5, 13, 13.5, 14, 16, 20, 24)
_FALLEN_FRAC: dict[RainDistribution, tuple[float, ...]] = {
    RainDistribution.NRCS_I: (
        0.0,
        0.035,
        0.076,
        0.125,
        0.156,
        0.194,
        0.219,
        0.254,
        0.303,
        0.362,
        0.515,
        0.583,
        0.624,
        0.654,
        0.669,
        0.682,
        0.706,
        0.727,
        0.748,
        0.767,
        0.830,
        0.926,
        1.0,
    ),
    RainDistribution.NRCS_IA: (
        0.0,
        0.050,
        0.116,
        0.206,
        0.268,
        0.425,
        0.480,
        0.520,
        0.550,
        0.564,
        0.577,
        0.601,
        0.624,
        0.645,
        0.655,
        0.664,
        0.683,
        0.701,
        0.719,
        0.736,
        0.800,
        0.906,
        1.0,
    ),
    RainDistribution.NRCS_II: (
        0.0,
        0.022,
        0.048,
        0.080,
        0.098,
        0.120,
        0.133,
        0.147,
        0.163,
        0.172,
        0.181,
        0.204,
        0.235,
        0.283,
        0.357,
        0.663,
        0.735,
        0.772,
        0.799,
        0.820,
        0.880,
        0.952,
        1.0,
    ),
    RainDistribution.NRCS_III: (
        0.0,
        0.020,
        0.043,
        0.072,
        0.089,
        0.115,
        0.130,
        0.148,
        0.167,
        0.178,
        0.189,
        0.216,
        0.250,
        0.298,
        0.339,
        0.500,
        0.702,
        0.751,
        0.785,
        0.811,
        0.886,
        0.957,
        1.0,
    ),
}
"""NRCS 24-hour distributions: share of the rain fallen by each hour. Ordinates as Chow, Maidment & Mays 1988, Applied
Hydrology, section 14.4, has them from SCS publications (the place from memory), read in a transcription."""
_NRCS = {
    "I": RainDistribution.NRCS_I,
    "IA": RainDistribution.NRCS_IA,
    "II": RainDistribution.NRCS_II,
    "III": RainDistribution.NRCS_III,
}


@dataclass(frozen=True, eq=False)
class Hyetograph:
    """Rain in even steps.

    Parameters
    ----------
    step_h
        Length of a step [h].
    rain_mm
        Rain of each step [mm], float64.
    distribution
        How it was spread.
    """

    step_h: float
    rain_mm: F64
    distribution: RainDistribution

    def __post_init__(self) -> None:
        check_sizes("The hyetograph", step_h=self.step_h, n_steps=self.rain_mm.size)
        if not (np.isfinite(self.rain_mm).all() and (self.rain_mm >= 0.0).all()):
            raise InputError("The rain of a step cannot be used", expected="0 mm or more in each step")
        self.rain_mm.flags.writeable = False

    @property
    def depth_mm(self) -> float:
        """All of the rain."""
        return float(self.rain_mm.sum())

    @property
    def duration_h(self) -> float:
        """All of its steps [h]."""
        return self.step_h * self.rain_mm.size


def uniform_hyetograph(depth_mm: float, *, duration_h: float, step_h: float = 5.0 / 60.0) -> Hyetograph:
    """Spread a depth evenly over its duration.

    Parameters
    ----------
    depth_mm, duration_h
        The storm.
    step_h
        At most this; shortened so that whole steps fill the duration.
    """
    step, n_steps = _whole_steps(duration_h, step_h)
    check_sizes("The rain", depth_mm=depth_mm)
    return Hyetograph(step, np.full(n_steps, depth_mm / n_steps), RainDistribution.UNIFORM)


def nested_hyetograph(
    depth_of_mm: Callable[[float], float], *, duration_h: float, step_h: float = 5.0 / 60.0
) -> Hyetograph:
    """Nest the depths of all shorter durations round the middle of a storm: alternating blocks.

    Parameters
    ----------
    depth_of_mm
        Depth [mm] of a duration [h] at one return period, as a rainfall table gives it.
    duration_h, step_h
        As for `uniform_hyetograph`.

    Returns
    -------
    Rain whose heaviest spell of any number of steps has the depth of that duration; more where the table's
    intensity does not fall evenly.

    Raises
    ------
    InputError
        The depths fall with duration.

    References
    ----------
    Alternating block method: Chow, Maidment & Mays 1988, Applied Hydrology, section 14.4 (from memory).
    """
    step, n_steps = _whole_steps(duration_h, step_h)
    depths = np.array([0.0, *(depth_of_mm(step * (number + 1)) for number in range(n_steps))])
    blocks = np.diff(depths)
    if not (np.isfinite(depths).all() and (blocks >= 0.0).all() and depths[-1] > 0.0):
        raise InputError("The rain falls with duration", expected="depths that rise with duration")
    blocks = np.sort(blocks)[::-1]
    # The heaviest in the middle, the next after it, the next before it, and so on.
    middle = (n_steps - 1) // 2
    places = middle + np.array([(number + 1) // 2 * (1 if number % 2 else -1) for number in range(n_steps)])
    rain = np.empty(n_steps)
    rain[places] = blocks
    return Hyetograph(step, rain, RainDistribution.NESTED)


def nrcs_hyetograph(depth_mm: float, distribution: str = "II", *, step_h: float = 5.0 / 60.0) -> Hyetograph:
    """Spread a 24-hour depth by an NRCS distribution, even between its ordinates.

    Parameters
    ----------
    depth_mm
        Of the storm.
    distribution
        I, IA, II or III.
    step_h
        As for `uniform_hyetograph`.

    Raises
    ------
    InputError
        There is no such distribution.

    References
    ----------
    SCS TP-149 (1973) and TR-55 (1986), appendix B; ordinates read in a transcription.
    """
    check_sizes("The rain", depth_mm=depth_mm)
    if distribution not in _NRCS:
        raise InputError("The distribution is unknown", got=distribution, expected=", ".join(_NRCS))
    kind = _NRCS[distribution]
    step, n_steps = _whole_steps(24.0, step_h)
    fallen = np.interp(np.arange(n_steps + 1) * step, _HOURS, _FALLEN_FRAC[kind])
    return Hyetograph(step, np.diff(fallen) * depth_mm, kind)


def _whole_steps(duration_h: float, step_h: float) -> tuple[float, int]:
    check_sizes("The storm", duration_h=duration_h, step_h=step_h)
    # A step a hair over a whole number of times is that number.
    n_steps = int(np.ceil(duration_h / step_h - 1e-9))
    return duration_h / n_steps, n_steps
