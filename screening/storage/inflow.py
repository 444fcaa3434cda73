"""Water that reaches the storage, step by step: runoff of areas by curve number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from screening.errors import InputError
from screening.storage.hyetographs import F64, Hyetograph
from screening.storage.ranges import check_sizes


@dataclass(frozen=True)
class DrainingArea:
    """Ground or roof that drains to the storage: area [m2] and curve number (98 for roofs and pavement)."""

    area_m2: float
    curve_number: float

    def __post_init__(self) -> None:
        check_sizes("A draining area", area_m2=self.area_m2, curve_number=self.curve_number)
        if self.curve_number > 100.0:
            raise InputError("The curve number cannot be used", got=f"{self.curve_number:g}", expected="up to 100")


@dataclass(frozen=True, eq=False)
class Inflow:
    """Water in even steps, taken as even within each.

    Parameters
    ----------
    step_h
        Length of a step [h].
    volume_m3
        Water of each step [m3], float64.
    """

    step_h: float
    volume_m3: F64

    def __post_init__(self) -> None:
        check_sizes("The inflow", step_h=self.step_h, n_steps=self.volume_m3.size)
        if not (np.isfinite(self.volume_m3).all() and (self.volume_m3 >= 0.0).all()):
            raise InputError("The inflow of a step cannot be used", expected="0 m3 or more in each step")
        self.volume_m3.flags.writeable = False

    @property
    def total_m3(self) -> float:
        """All of the water."""
        return float(self.volume_m3.sum())


def runoff_inflow(hyetograph: Hyetograph, areas: Sequence[DrainingArea], *, ratio: float = 0.2) -> Inflow:
    """Compute the runoff of areas, each by its own curve number, as it falls.

    Weighting the runoff, not the curve number, keeps what pavement sheds in small storms. Travel time is left out:
    on one lot it is minutes, and leaving it out errs to more storage.

    Parameters
    ----------
    hyetograph
        Rain.
    areas
        What drains to the storage.
    ratio
        Initial abstraction as a share of the potential retention.

    Returns
    -------
    Runoff in the steps of the rain: differences of the runoff of the rain so far.

    References
    ----------
    TR-55 (1986), equations 2-1 to 2-4; NEH 630 chapter 10.
    """
    from screening.kernels.runoff import curve_number_runoff

    fallen_mm = np.cumsum(hyetograph.rain_mm)
    volume = np.zeros(fallen_mm.size)
    for area in areas:
        runoff_mm = curve_number_runoff(fallen_mm, np.asarray(area.curve_number, np.float64), ratio)
        volume += np.maximum(np.diff(runoff_mm, prepend=0.0), 0.0) * area.area_m2 / 1000.0
    return Inflow(hyetograph.step_h, volume)
