"""Uniform flow by Manning's equation, and critical depth."""

from __future__ import annotations

import math

from screening.hydraulics.ranges import check_range
from screening.hydraulics.sections import GRAVITY_M_S2, Section

ROUGHNESS: dict[str, tuple[float, float]] = {
    "concrete pipe": (0.010, 0.015),
    "smooth plastic pipe": (0.009, 0.015),
    "smooth PVC pipe": (0.009, 0.011),
    "corrugated plastic pipe": (0.018, 0.025),
    "concrete channel": (0.013, 0.013),
    "bare soil": (0.020, 0.020),
    "turf reinforcement": (0.030, 0.030),
}
"""Manning's n, lowest and highest, of what small drains are made of: HEC-22 (2009) Tables 3-4, 5-1 and 7-1."""

NEGLIGIBLE_FLOW_M3_S = 1e-9
"""A cubic millimetre a second: less has no depth."""

_TOLERANCE_M = 1e-12


def velocity_m_s(section: Section, *, depth_m: float, slope: float, roughness: float) -> float:
    """Compute the mean velocity of uniform flow at a depth.

    Parameters
    ----------
    section
        Cross section.
    depth_m
        Depth of the water [m].
    slope
        Fall over length.
    roughness
        Manning's n.

    Returns
    -------
    Velocity [m/s]; 0 where there is no water or no fall.

    References
    ----------
    HEC-22 (2009) eq. 5-5 and 7-1, whose factor 1.49 (1.486) in feet is 1 in metres.
    """
    check_range("slope", slope)
    check_range("roughness", roughness, above=True)
    if depth_m <= 0.0:
        return 0.0
    radius = section.area_m2(depth_m) / section.wetted_perimeter_m(depth_m)
    return float(radius ** (2.0 / 3.0) * math.sqrt(slope) / roughness)


def discharge_m3_s(section: Section, *, depth_m: float, slope: float, roughness: float) -> float:
    """Compute the uniform flow at a depth [m3/s]; parameters as of `velocity_m_s`."""
    velocity = velocity_m_s(section, depth_m=depth_m, slope=slope, roughness=roughness)
    return velocity * section.area_m2(depth_m) if velocity else 0.0


def depth_of_largest_flow_m(section: Section) -> float:
    """Find the depth at which uniform flow is largest [m]: the brim of a trench, short of the crown of a pipe.

    It depends on the shape alone, not on slope or roughness.
    """
    from scipy.optimize import minimize_scalar

    def flow(depth_m: float) -> float:
        return discharge_m3_s(section, depth_m=depth_m, slope=1.0, roughness=1.0)

    full = section.depth_m
    found = minimize_scalar(
        lambda depth: -flow(depth), bounds=(0.5 * full, full), method="bounded", options={"xatol": 1e-9 * full}
    )
    return full if flow(full) >= flow(found.x) else float(found.x)


def normal_depth_m(section: Section, *, flow_m3_s: float, slope: float, roughness: float) -> float | None:
    """Find the depth of uniform flow [m], the inverse of `discharge_m3_s`.

    Returns
    -------
    Depth [m]; of a pipe's two depths near full the lower. None where the section cannot carry the flow.
    """
    check_range("flow_m3_s", flow_m3_s)
    if flow_m3_s < NEGLIGIBLE_FLOW_M3_S:
        return 0.0
    from scipy.optimize import brentq

    def lacking(depth_m: float) -> float:
        return discharge_m3_s(section, depth_m=depth_m, slope=slope, roughness=roughness) - flow_m3_s

    highest = depth_of_largest_flow_m(section)
    if lacking(highest) < 0.0:
        # A flow that is the largest but for rounding is still carried.
        return highest if lacking(highest) > -1e-9 * flow_m3_s else None
    return float(brentq(lacking, 0.0, highest, xtol=_TOLERANCE_M))


def critical_depth_m(section: Section, flow_m3_s: float) -> float:
    """Find the depth at which the specific energy of a flow is least: where Q2 T = g A3 [m].

    A trench deeper than its brim is thought to go on; a pipe never flows critical when full.

    References
    ----------
    Chow 1959, Open-Channel Hydraulics, chapter 4, from memory.
    """
    check_range("flow_m3_s", flow_m3_s)
    if flow_m3_s < NEGLIGIBLE_FLOW_M3_S:
        return 0.0
    from scipy.optimize import brentq

    def surplus(depth_m: float) -> float:
        return flow_m3_s**2 * section.surface_width_m(depth_m) - GRAVITY_M_S2 * section.area_m2(depth_m) ** 3

    deep = section.depth_m
    while surplus(deep) > 0.0:
        deep *= 2.0
    shallow = deep / 2.0
    while surplus(shallow) <= 0.0:
        deep, shallow = shallow, shallow / 2.0
    return float(brentq(surplus, shallow, deep, xtol=_TOLERANCE_M))


def full_flow_m3_s(section: Section, *, slope: float, roughness: float) -> float:
    """Compute the uniform flow of a full section [m3/s], by which pipes are sized."""
    return discharge_m3_s(section, depth_m=section.depth_m, slope=slope, roughness=roughness)


def slope_for_velocity(section: Section, *, velocity_m_s: float, roughness: float) -> float:
    """Find the slope at which a full section flows at a velocity.

    References
    ----------
    HEC-22 (2009) eq. 7-34 and Table 7-7.
    """
    check_range("velocity_m_s", velocity_m_s)
    check_range("roughness", roughness, above=True)
    radius = section.area_m2(section.depth_m) / section.wetted_perimeter_m(section.depth_m)
    return float((roughness * velocity_m_s / radius ** (2.0 / 3.0)) ** 2)


def slope_for_flow(section: Section, *, flow_m3_s: float, roughness: float) -> float:
    """Find the slope at which a section carries a flow when full."""
    return slope_for_velocity(section, velocity_m_s=flow_m3_s / section.area_m2(section.depth_m), roughness=roughness)
