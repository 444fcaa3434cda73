"""A channel that takes in water along its whole length, and the depth along it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from screening.hydraulics.manning import NEGLIGIBLE_FLOW_M3_S
from screening.hydraulics.ranges import check_range
from screening.hydraulics.sections import GRAVITY_M_S2, TrenchSection

F64 = NDArray[np.float64]
N_STEPS = 100
"""Steps along a channel; eight times as many change the greatest depth by less than 0.05 %."""

_DEPTH_TOLERANCE_M = 1e-10
_MOST_STEPS = 60
"""Next to critical depth a step only halves what is left."""
_NEWTON_STEPS = 12
"""Toward a critical depth: they double its digits, and half are enough from where they begin."""


@dataclass(frozen=True, kw_only=True)
class Channel:
    """A straight channel closed at its far end, whose water leaves at the other.

    A channel that drains from its middle, or from both ends, is two of these.

    Parameters
    ----------
    section
        Cross section at the outlet, where `depth_m` is measured.
    length_m
        From the closed end to the outlet [m].
    invert_slope
        Fall of the invert toward the outlet over length; 0 is level.
    grate_slope
        Fall of the grate toward the outlet over length. None: as the invert, so that the depth is the same all along.
        Where it falls less, the channel is shallower at its far end, its base and side slopes alike.
    roughness
        Manning's n.

    Raises
    ------
    InputError
        A measure is impossible, or the invert meets the grate before the closed end.
    """

    section: TrenchSection
    length_m: float
    invert_slope: float = 0.0
    grate_slope: float | None = None
    roughness: float = 0.013

    def __post_init__(self) -> None:
        check_range("length_m", self.length_m, above=True)
        check_range("invert_slope", self.invert_slope)
        check_range("roughness", self.roughness, above=True)
        check_range("grate_slope", self.grate_fall, low=-math.inf)
        check_range("depth_m at the closed end of the channel", self.brim_depth_m(0.0), above=True)

    @property
    def grate_fall(self) -> float:
        """Fall of the grate toward the outlet over length."""
        return self.invert_slope if self.grate_slope is None else self.grate_slope

    def brim_depth_m(self, x_m: float) -> float:
        """Depth from invert to grate at a distance from the closed end [m]."""
        return self.section.depth_m - (self.invert_slope - self.grate_fall) * (self.length_m - x_m)


@dataclass(frozen=True, kw_only=True, eq=False)
class ChannelProfile:
    """Water along a channel, from its closed end to its outlet.

    Parameters
    ----------
    x_m
        Distance from the closed end, float64 [m].
    flow_m3_s
        Flow there, float64 [m3/s].
    depth_m
        Depth of water, float64 [m].
    freeboard_m
        Room left below the grate, float64 [m]; negative where the channel overflows.
    """

    x_m: F64
    flow_m3_s: F64
    depth_m: F64
    freeboard_m: F64

    def __post_init__(self) -> None:
        for array in (self.x_m, self.flow_m3_s, self.depth_m, self.freeboard_m):
            array.setflags(write=False)

    @property
    def freeboard_min_m(self) -> float:
        """Least room below the grate [m]."""
        return float(self.freeboard_m.min())

    @property
    def overflow_x_m(self) -> tuple[float, float] | None:
        """First and last distance from the closed end at which water stands above the grate [m]; None if nowhere."""
        over = self.x_m[self.freeboard_m < 0.0]
        return (float(over[0]), float(over[-1])) if over.size else None


def find_profile(
    channel: Channel,
    *,
    inflow_m3_s: float,
    start_flow_m3_s: float = 0.0,
    outlet_depth_m: float = 0.0,
    n_steps: int = N_STEPS,
) -> ChannelProfile:
    """Find the depth along a channel that takes in water evenly along its length.

    The specific force is carried upstream from the outlet, where water is critical (a free fall) or as deep as what
    holds it up. Inflow brings no momentum along the channel; friction is Manning's. Where the force would fall below
    that of critical flow, the flow has its control there and the search goes on from critical depth. Below such a
    control water runs faster and shallower than shown: depths on steep channels are upper bounds.

    Parameters
    ----------
    channel
        The channel.
    inflow_m3_s
        Water that enters evenly along the whole length [m3/s].
    start_flow_m3_s
        Water that enters at the closed end, such as a downspout's [m3/s].
    outlet_depth_m
        Depth at which the outlet holds the water [m]; less than critical has no effect.
    n_steps
        Steps along the channel.

    Returns
    -------
    Depth and freeboard at `n_steps` + 1 places.

    References
    ----------
    Chow 1959, Open-Channel Hydraulics, chapter 12 (spatially varied flow with increasing discharge), from memory.
    """
    check_range("inflow_m3_s", inflow_m3_s)
    check_range("start_flow_m3_s", start_flow_m3_s)
    check_range("outlet_depth_m", outlet_depth_m)
    x = np.linspace(0.0, channel.length_m, n_steps + 1)
    flow = start_flow_m3_s + inflow_m3_s * x / channel.length_m
    critical_m = critical_depths_m(channel.section, flow)
    step, depth = channel.length_m / n_steps, np.zeros(n_steps + 1)
    depth[-1] = max(critical_m[-1], outlet_depth_m)
    # Plain numbers: the way upstream is walked step by step, and an array's are slow to take one at a time.
    flows, critical = flow.tolist(), critical_m.tolist()
    least = [_force_m3(channel.section, *pair) for pair in zip(critical, flows, strict=True)]
    now = float(depth[-1])
    force = _force_m3(channel.section, now, flows[-1])
    for at in range(n_steps, 0, -1):
        above = flows[at - 1]
        gain = _force_gain_m2(channel, now, flows[at])
        control = (least[at - 1], critical[at - 1])
        _, guess = _force_and_depth(channel.section, force + step * gain, above, control)
        gain = 0.5 * (gain + _force_gain_m2(channel, guess, above))
        force, now = _force_and_depth(channel.section, force + step * gain, above, control)
        depth[at - 1] = now
    brim = np.array([channel.brim_depth_m(float(place)) for place in x])
    return ChannelProfile(x_m=x, flow_m3_s=flow, depth_m=depth, freeboard_m=brim - depth)


def critical_depths_m(section: TrenchSection, flow_m3_s: F64) -> F64:
    """Compute the critical depths of several flows in a trench [m], as `manning.critical_depth_m` does of one.

    Newton's steps from above: the rectangle over the base, and the triangle of the sides alone, are each no wider
    than the trench, so the flow runs no deeper in it than in either.
    """
    is_flow = flow_m3_s >= NEGLIGIBLE_FLOW_M3_S
    required = flow_m3_s[is_flow] ** 2 / GRAVITY_M_S2
    base, side = section.base_width_m, section.side_slope
    with np.errstate(divide="ignore"):
        depth = np.minimum(
            np.cbrt(np.divide(required, np.float64(base) ** 2)),
            np.divide(2.0 * required, np.float64(side) ** 2) ** 0.2,
        )
    for _ in range(_NEWTON_STEPS):
        area, width = (base + side * depth) * depth, base + 2.0 * side * depth
        depth = depth - (area**3 / width - required) / (area**2 * (3.0 - 2.0 * side * area / width**2))
    found = np.zeros(flow_m3_s.size)
    found[is_flow] = depth
    return found


def _force_m3(section: TrenchSection, depth_m: float, flow_m3_s: float) -> float:
    """Specific force: momentum and pressure over the weight of a cubic metre."""
    pressure = section.area_moment_m3(depth_m)
    if flow_m3_s < NEGLIGIBLE_FLOW_M3_S:
        return pressure
    return pressure + flow_m3_s**2 / (GRAVITY_M_S2 * section.area_m2(depth_m))


def _force_gain_m2(channel: Channel, depth_m: float, flow_m3_s: float) -> float:
    """Gain of specific force per metre upstream: friction less the weight along the slope."""
    area = channel.section.area_m2(depth_m)
    if flow_m3_s < NEGLIGIBLE_FLOW_M3_S:
        return -area * channel.invert_slope
    radius = area / channel.section.wetted_perimeter_m(depth_m)
    friction = (channel.roughness * flow_m3_s / (area * radius ** (2.0 / 3.0))) ** 2
    return float(area * (friction - channel.invert_slope))


def _force_and_depth(
    section: TrenchSection, force_m3: float, flow_m3_s: float, control: tuple[float, float]
) -> tuple[float, float]:
    """Find the depth of slow flow that has a specific force; the control's, force and depth, where it has less."""
    least, critical = control
    if force_m3 <= least:
        return control

    base, side = section.base_width_m, section.side_slope
    moved = flow_m3_s**2 / GRAVITY_M_S2 if flow_m3_s >= NEGLIGIBLE_FLOW_M3_S else 0.0
    # Neither the rectangle over the base nor the triangle of the sides alone can press so hard any deeper.
    deep = min(
        math.sqrt(2.0 * force_m3 / base) if base > 0.0 else math.inf,
        math.cbrt(3.0 * force_m3 / side) if side > 0.0 else math.inf,
    )
    # Above critical depth the force is convex, so that Newton's steps come down to the depth and not past it.
    for _ in range(_MOST_STEPS):
        area = (base + side * deep) * deep
        surplus = deep * deep * (base / 2.0 + side * deep / 3.0) + moved / area - force_m3
        step = surplus / (area - moved * (base + 2.0 * side * deep) / (area * area))
        deep = max(deep - step, critical)
        if step < _DEPTH_TOLERANCE_M:
            break
    return force_m3, deep
