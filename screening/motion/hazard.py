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
    values = [np.asarray(each) for each in (unit_flow_m2_s, depth_m, speed_m_s)]
    found = np.ones(values[1].shape, np.uint8)
    for each, limits in zip(values, np.array(HAZARD_LIMITS).T.tolist(), strict=True):
        # Limits are passed one by one: no grid of 8-byte numbers is made.
        own = np.ones(found.shape, np.uint8)
        for limit in limits:
            own += each > limit
        np.maximum(found, own, out=found)
    return np.where(values[1] >= wet_depth_m, found, np.uint8(0))
