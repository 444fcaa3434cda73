"""What a channel carries below its grate, and what it holds with its outlet blocked."""

from __future__ import annotations

import math
from collections.abc import Callable

from screening.hydraulics.channel import Channel, find_profile
from screening.hydraulics.sections import GRAVITY_M_S2


def largest_inflow_m3_s(
    channel: Channel,
    *,
    freeboard_min_m: float = 0.0,
    outlet_depth_m: Callable[[float], float | None] = lambda flow: 0.0,
    at_most_m3_s: float = math.inf,
) -> float:
    """Find the largest even inflow that stays a given height below the grate.

    Parameters
    ----------
    channel
        The channel.
    freeboard_min_m
        Room that must be left below the grate [m].
    outlet_depth_m
        Depth at which the outlet holds a flow [m], None where it cannot take it; left out, the outlet is a free fall.
    at_most_m3_s
        What the outlet takes at most [m3/s].

    Returns
    -------
    Inflow [m3/s], found to 1e-4 of critical flow at the brim; 0 where the channel has not that much room when empty.
    """

    def room(inflow_m3_s: float) -> float:
        held = outlet_depth_m(inflow_m3_s)
        if held is None:
            return -math.inf
        profile = find_profile(channel, inflow_m3_s=inflow_m3_s, outlet_depth_m=held)
        return profile.freeboard_min_m - freeboard_min_m

    section = channel.section
    # Critical flow at the brim: a free fall already fills the outlet, so that no channel is found to carry more.
    area = section.area_m2(section.depth_m)
    brimful = math.sqrt(GRAVITY_M_S2 * area**3 / section.surface_width_m(section.depth_m))
    low, high, tolerance = 0.0, min(brimful, at_most_m3_s), 1e-4 * brimful
    room_low, room_high = room(low), room(high)
    if room_low < 0.0:
        return 0.0
    if room_high >= 0.0:
        return high
    while high - low > tolerance:
        # Where the chord meets zero, but a tenth of the bracket from its ends: the room falls smoothly.
        share = 0.5 if math.isinf(room_high) else min(max(room_low / (room_low - room_high), 0.1), 0.9)
        middle = low + share * (high - low)
        found = room(middle)
        if found >= 0.0:
            low, room_low = middle, found
        else:
            high, room_high = middle, found
    return low


def storage_m3(channel: Channel) -> float:
    """Measure what a channel holds when its outlet is blocked: level water at the lowest point of its grate [m3]."""
    low_grate = min(channel.section.depth_m, channel.section.depth_m + channel.grate_fall * channel.length_m)
    slope, section = channel.invert_slope, channel.section
    wet_length = min(channel.length_m, low_grate / slope) if slope > 0.0 else channel.length_m
    # The area is a polynomial of the second degree along the channel, which Simpson's rule adds up exactly.
    areas = [section.area_m2(low_grate - slope * share * wet_length) for share in (0.0, 0.5, 1.0)]
    return wet_length * (areas[0] + 4.0 * areas[1] + areas[2]) / 6.0
