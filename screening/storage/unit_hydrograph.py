"""Runoff delayed by its travel time: the dimensionless unit hydrograph of NRCS."""

from __future__ import annotations

import numpy as np

from screening.storage.hyetographs import F64
from screening.storage.inflow import Inflow
from screening.storage.ranges import check_sizes

_TIME_RATIO = (
    *(number / 10 for number in range(21)),
    2.2,
    2.4,
    2.6,
    2.8,
    3.0,
    3.2,
    3.4,
    3.6,
    3.8,
    4.0,
    4.5,
    5.0,
)
_FLOW_RATIO = (
    0.0,
    0.03,
    0.10,
    0.19,
    0.31,
    0.47,
    0.66,
    0.82,
    0.93,
    0.99,
    1.0,
    0.99,
    0.93,
    0.86,
    0.78,
    0.68,
    0.56,
    0.46,
    0.39,
    0.33,
    0.28,
    0.207,
    0.147,
    0.107,
    0.077,
    0.055,
    0.040,
    0.029,
    0.021,
    0.015,
    0.011,
    0.005,
    0.0,
)
"""Flow over peak flow at each time over time to peak: NEH 630 chapter 16, Table 16-1."""


def delay_inflow(inflow: Inflow, *, time_of_concentration_h: float) -> Inflow:
    """Spread the runoff of each step over time by the dimensionless unit hydrograph.

    Time to peak is half a step and 0.6 of the time of concentration. Volumes are differences of the mass curve, drawn
    straight between its ordinates' flows, so none is lost.

    Parameters
    ----------
    inflow
        Runoff as it falls; steps of about 0.133 of the time of concentration, or shorter, follow the shape.
    time_of_concentration_h
        Travel time from the farthest ground [h].

    Returns
    -------
    The same water in as many steps as it takes to arrive.

    References
    ----------
    NEH 630 chapter 16: Tp = D/2 + 0.6 Tc (from memory), Table 16-1.
    """
    check_sizes("The travel time", time_of_concentration_h=time_of_concentration_h)
    to_peak_h = inflow.step_h / 2.0 + 0.6 * time_of_concentration_h
    n_steps = int(np.ceil(_TIME_RATIO[-1] * to_peak_h / inflow.step_h - 1e-9))
    arrived = _arrived_frac(np.arange(n_steps + 1, dtype=np.float64) * inflow.step_h / to_peak_h)
    volume = np.convolve(inflow.volume_m3, np.diff(arrived))
    return Inflow(inflow.step_h, volume)


def _arrived_frac(time_ratio: F64) -> F64:
    """Share of the water that has come by a time over time to peak: the integral of the flow, which is straight
    between its ordinates.
    """
    times, flows = np.array(_TIME_RATIO), np.array(_FLOW_RATIO)
    mass = np.concatenate([[0.0], np.cumsum(np.diff(times) * (flows[1:] + flows[:-1]) / 2.0)])
    time = np.minimum(time_ratio, times[-1])
    below = np.minimum(np.searchsorted(times, time, side="right") - 1, times.size - 2)
    into = time - times[below]
    slope = (flows[below + 1] - flows[below]) / (times[below + 1] - times[below])
    return np.asarray((mass[below] + into * (flows[below] + slope * into / 2.0)) / mass[-1], np.float64)
