"""The pipe that takes water from the end of a channel: what it carries, and how deep water stands before it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from screening.hydraulics.manning import (
    NEGLIGIBLE_FLOW_M3_S,
    critical_depth_m,
    full_flow_m3_s,
    normal_depth_m,
    velocity_m_s,
)
from screening.hydraulics.ranges import check_range
from screening.hydraulics.sections import GRAVITY_M_S2, PipeSection, Section

ORIFICE_COEFFICIENT = 0.6
"""Sharp-edged round opening: HEC-22 (2009) section 8.4."""
ENTRANCE_LOSS = 0.5
"""Share of the velocity head lost at a square-edged entrance: HEC-22 and HDS-5, from memory."""


@dataclass(frozen=True, kw_only=True)
class OutletPipe:
    """A straight pipe from the channel to where it may let its water go.

    Parameters
    ----------
    diameter_m
        Inner diameter [m].
    length_m
        Length [m].
    fall_m
        Height of its inlet invert above its outlet invert [m]; not positive where the ground does not give it.
    roughness
        Manning's n: see `manning.ROUGHNESS`.
    invert_drop_m
        Height of the channel's invert above the pipe's at the outlet, as in a catch basin [m].

    Raises
    ------
    InputError
        A measure is impossible.
    """

    diameter_m: float
    length_m: float
    fall_m: float
    roughness: float = 0.013
    invert_drop_m: float = 0.0

    def __post_init__(self) -> None:
        check_range("diameter_m", self.diameter_m, above=True)
        check_range("length_m", self.length_m, above=True)
        check_range("fall_m", self.fall_m, low=-math.inf)
        check_range("roughness", self.roughness, above=True)
        check_range("invert_drop_m", self.invert_drop_m)

    @property
    def section(self) -> PipeSection:
        """Its cross section."""
        return PipeSection(self.diameter_m)

    @property
    def slope(self) -> float:
        """Fall over length; negative where it climbs."""
        return self.fall_m / self.length_m

    @property
    def full_flow_m3_s(self) -> float:
        """Uniform flow when full [m3/s]; none without fall."""
        return full_flow_m3_s(self.section, slope=max(self.slope, 0.0), roughness=self.roughness)

    @property
    def full_velocity_m_s(self) -> float:
        """Velocity when full [m/s]."""
        full = self.diameter_m
        return velocity_m_s(self.section, depth_m=full, slope=max(self.slope, 0.0), roughness=self.roughness)


def orifice_flow_m3_s(diameter_m: float, *, depth_m: float) -> float:
    """Compute the flow through a round opening under water.

    Parameters
    ----------
    diameter_m
        Diameter of the opening [m].
    depth_m
        Depth of water above its lowest point [m].

    Returns
    -------
    Flow [m3/s]; 0 where the water stands below its centre.

    References
    ----------
    HEC-22 (2009) section 8.4, examples 8-4 and 8-5, p. 8-21.
    """
    head = max(depth_m - diameter_m / 2.0, 0.0)
    return ORIFICE_COEFFICIENT * math.pi / 4.0 * diameter_m**2 * math.sqrt(2.0 * GRAVITY_M_S2 * head)


def headwater_m(pipe: OutletPipe, flow_m3_s: float) -> float | None:
    """Find how deep water stands above a pipe's inlet invert when it carries a flow.

    The deepest of three: critical flow at the entrance, an orifice that water drowns, and uniform flow in the pipe,
    each with its velocity head and entrance loss. The velocity in the channel before it is taken as none, and the
    far end as free.

    Parameters
    ----------
    pipe
        The pipe.
    flow_m3_s
        Flow [m3/s].

    Returns
    -------
    Depth [m]; None where the flow exceeds what the pipe carries when full.

    References
    ----------
    Inlet and outlet control of HDS-5 (FHWA), from memory; the orifice of HEC-22 (2009) section 8.4.
    """
    check_range("flow_m3_s", flow_m3_s)
    if flow_m3_s < NEGLIGIBLE_FLOW_M3_S:
        return 0.0
    if flow_m3_s > pipe.full_flow_m3_s:
        return None
    section = pipe.section
    area = section.area_m2(pipe.diameter_m)
    velocity_head = (flow_m3_s / (ORIFICE_COEFFICIENT * area)) ** 2 / (2.0 * GRAVITY_M_S2)
    drowned = pipe.diameter_m / 2.0 + velocity_head
    critical = critical_depth_m(section, flow_m3_s)
    uniform = normal_depth_m(section, flow_m3_s=flow_m3_s, slope=pipe.slope, roughness=pipe.roughness)
    heads = [_entrance_head_m(section, critical, flow_m3_s)]
    # On a steep pipe uniform flow is fast and does not reach back to the entrance.
    if uniform is not None and uniform > critical:
        heads.append(_entrance_head_m(section, uniform, flow_m3_s))
    if drowned >= pipe.diameter_m:
        heads.append(drowned)
    return max(heads)


def _entrance_head_m(section: Section, depth_m: float, flow_m3_s: float) -> float:
    velocity = flow_m3_s / section.area_m2(depth_m)
    return depth_m + (1.0 + ENTRANCE_LOSS) * velocity**2 / (2.0 * GRAVITY_M_S2)


def pipe_capacity_m3_s(pipe: OutletPipe, *, depth_m: float) -> float:
    """Find the largest flow a pipe takes with water no deeper than this above its inlet invert.

    Returns
    -------
    Flow [m3/s], at most that of the pipe when full.
    """
    from scipy.optimize import brentq

    full = pipe.full_flow_m3_s

    def excess(flow_m3_s: float) -> float:
        head = headwater_m(pipe, flow_m3_s)
        return (math.inf if head is None else head) - depth_m

    if depth_m <= 0.0 or full == 0.0:
        return 0.0
    return full if excess(full) <= 0.0 else float(brentq(excess, 0.0, full, xtol=1e-12))
