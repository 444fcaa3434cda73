"""Flood hazard by depth, speed and their product."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from screening.models import U8
from screening.motion.settings import HAZARD_LIMITS


def hazard_classes(depth_m: ArrayLike, speed_m_s: ArrayLike, unit_flow_m2_s: ArrayLike, *, wet_depth_m: float) -> U8:
    """Class the largest depth, speed and depth x speed of places.

    A class rises with each of the three, so the class of the three maxima is the worst that the place was in at any
    time, though they need not come together.

    Parameters
    ----------
    depth_m, speed_m_s, unit_flow_m2_s
        Largest depth [m], speed [m/s] and depth x speed [m2/s]; NaN = not assessed.
    wet_depth_m
        Shallower water is no hazard [m].

    Returns
    -------
    1 to 6 as `models.motion.HazardClass`, 0 where it is dry or not assessed, uint8.

    References
    ----------
    Australian Institute for Disaster Resilience 2017, Guideline 7-3 Flood Hazard; the limits from memory.

    Examples
    --------
    >>> hazard_classes([0.005, 0.2, 0.2, 0.4, 3.0], [0, 1, 2.5, 0.1, 0.1], [0, 0.2, 0.2, 0.04, 0.3], wet_depth_m=0.01)
    array([0, 1, 5, 2, 5], dtype=uint8)
    """
    depth = np.nan_to_num(np.asarray(depth_m, np.float64))
    values = (np.nan_to_num(np.asarray(unit_flow_m2_s, np.float64)), depth, np.nan_to_num(np.asarray(speed_m_s, float)))
    found = np.zeros(depth.shape, np.uint8)
    for value, limits in zip(values, np.array(HAZARD_LIMITS).T, strict=True):
        found = np.maximum(found, (1 + np.searchsorted(limits, value, side="left")).astype(np.uint8))
    return np.where(depth >= wet_depth_m, found, 0).astype(np.uint8)
