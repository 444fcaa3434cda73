"""What grates and slots take in under standing water, clean and clogged.

How much of a fast sheet of water shoots over a narrow grate is not here: the splash-over velocities of HEC-22 were
measured on grates 2 to 4 ft long in the direction of flow, and no source was found for line drains.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from screening.hydraulics.ranges import check_range
from screening.hydraulics.sections import GRAVITY_M_S2
from screening.schema.codes.hydraulics import CloggingRule, InflowLaw
from screening.units import M_PER_FT, MM_PER_IN, MM_PER_M

WEIR_COEFFICIENT = 3.0 * math.sqrt(M_PER_FT)
"""Grate as a weir, 3.0 in feet (1.66 as rounded for metres): HEC-22 (2009) eq. 4-26, p. 4-57."""
ORIFICE_COEFFICIENT = 0.67
"""Grate as an orifice: HEC-22 (2009) eq. 4-27, p. 4-57."""
SLOT_WEIR_COEFFICIENT = 2.48 * math.sqrt(M_PER_FT)
"""Slot as a weir, 2.48 in feet: HEC-22 (2009) eq. 4-32, p. 4-63; the text warns that it varies with depth."""
SLOT_ORIFICE_COEFFICIENT = 0.8
"""Slot as an orifice: HEC-22 (2009) eq. 4-33, p. 4-63."""
SLOT_WEIR_DEPTH_M = 0.2 * M_PER_FT
SLOT_ORIFICE_DEPTH_M = 0.4 * M_PER_FT
"""Depths up to which a slot is a weir, and above which it is an orifice: HEC-22 (2009) p. 4-63."""
TESTED_SLOT_WIDTH_M = 1.75 * MM_PER_IN / MM_PER_M
"""Slot width of the tests behind those equations (1.75 in): HEC-22 (2009) eq. 4-34."""


@dataclass(frozen=True, kw_only=True)
class Grate:
    """A grate, and over which of its edges water comes.

    Parameters
    ----------
    width_m, length_m
        Across and along the drain [m].
    open_frac
        Share of its face that is open.
    n_long_edges
        Long edges that water comes over: 1 on a slope or at a curb or wall, 2 in a low place.
    n_ends
        Short edges that water comes over, 0 to 2.
    clogging_rule
        `perimeter`: clogging takes the same share of perimeter and open area (TxDOT Hydraulic Design Manual,
        chapter 10 section 6). `width`: debris narrows the grate from a long side, so long edges stay whole and only
        ends and open area shrink (HEC-22, 2009, p. 4-58): for a line drain it leaves the weir all but clean.

    Raises
    ------
    InputError
        A measure is impossible.
    """

    width_m: float
    length_m: float
    open_frac: float
    n_long_edges: int = 1
    n_ends: int = 0
    clogging_rule: CloggingRule = CloggingRule.PERIMETER

    def __post_init__(self) -> None:
        check_range("width_m", self.width_m, above=True)
        check_range("length_m", self.length_m, above=True)
        check_range("open_frac", self.open_frac, above=True, high=1.0)
        check_range("n_long_edges", self.n_long_edges, low=1.0, high=2.0)
        check_range("n_ends", self.n_ends, high=2.0)

    def weir_length_m(self, *, clogged_frac: float) -> float:
        """Length of edge that water comes over [m]."""
        check_range("clogged_frac", clogged_frac, high=1.0)
        left = 1.0 - clogged_frac
        long_edges, ends = self.n_long_edges * self.length_m, self.n_ends * self.width_m
        return long_edges + ends * left if self.clogging_rule == CloggingRule.WIDTH else (long_edges + ends) * left

    def open_area_m2(self, *, clogged_frac: float) -> float:
        """Area of openings that are clear [m2]."""
        check_range("clogged_frac", clogged_frac, high=1.0)
        return self.width_m * self.length_m * self.open_frac * (1.0 - clogged_frac)


def grate_capacity_m3_s(grate: Grate, *, depth_m: float, clogged_frac: float) -> float:
    """Compute the flow a grate takes under standing water: the less of weir and orifice.

    Parameters
    ----------
    grate
        The grate.
    depth_m
        Depth of water above it [m].
    clogged_frac
        Share that debris closes.

    Returns
    -------
    Flow [m3/s].

    References
    ----------
    HEC-22 (2009) eq. 4-26 and 4-27, p. 4-57.
    """
    depth = max(depth_m, 0.0)
    weir = WEIR_COEFFICIENT * grate.weir_length_m(clogged_frac=clogged_frac) * depth**1.5
    area = grate.open_area_m2(clogged_frac=clogged_frac)
    return float(min(weir, ORIFICE_COEFFICIENT * area * math.sqrt(2.0 * GRAVITY_M_S2 * depth)))


def ponding_depth_m(grate: Grate, *, flow_m3_s: float, clogged_frac: float) -> float:
    """Find the depth of water above a grate that takes a flow [m], the inverse of `grate_capacity_m3_s`.

    Infinite where a flow meets a grate that is wholly closed.
    """
    check_range("flow_m3_s", flow_m3_s)
    edge = grate.weir_length_m(clogged_frac=clogged_frac)
    area = grate.open_area_m2(clogged_frac=clogged_frac)
    if flow_m3_s == 0.0:
        return 0.0
    if edge == 0.0 or area == 0.0:
        return math.inf
    as_weir = (flow_m3_s / (WEIR_COEFFICIENT * edge)) ** (2.0 / 3.0)
    as_orifice = (flow_m3_s / (ORIFICE_COEFFICIENT * area)) ** 2 / (2.0 * GRAVITY_M_S2)
    return float(max(as_weir, as_orifice))


def crossover_depth_m(grate: Grate, *, clogged_frac: float) -> float:
    """Find the depth from which a grate is an orifice rather than a weir [m]."""
    edge = grate.weir_length_m(clogged_frac=clogged_frac)
    area = grate.open_area_m2(clogged_frac=clogged_frac)
    if edge == 0.0:
        return math.inf
    return ORIFICE_COEFFICIENT * area * math.sqrt(2.0 * GRAVITY_M_S2) / (WEIR_COEFFICIENT * edge)


@dataclass(frozen=True)
class Slot:
    """An open slot along a drain.

    Raises
    ------
    InputError
        A measure is impossible.
    """

    width_m: float
    length_m: float

    def __post_init__(self) -> None:
        check_range("width_m", self.width_m, above=True)
        check_range("length_m", self.length_m, above=True)


def slot_capacity_m3_s(slot: Slot, *, depth_m: float, clogged_frac: float) -> tuple[float, InflowLaw]:
    """Compute the flow a slot takes in a low place, and which law the source gives for that depth.

    Parameters
    ----------
    slot
        The slot; the equations were measured at `TESTED_SLOT_WIDTH_M` and wider.
    depth_m
        Depth of water above it [m].
    clogged_frac
        Share of its length that debris closes.

    Returns
    -------
    Flow [m3/s], the less of weir and orifice at every depth, so that it never falls as water rises; the law.

    References
    ----------
    HEC-22 (2009) eq. 4-32 to 4-34, p. 4-63.
    """
    check_range("clogged_frac", clogged_frac, high=1.0)
    depth, length = max(depth_m, 0.0), slot.length_m * (1.0 - clogged_frac)
    weir = SLOT_WEIR_COEFFICIENT * length * depth**1.5
    orifice = SLOT_ORIFICE_COEFFICIENT * length * slot.width_m * math.sqrt(2.0 * GRAVITY_M_S2 * depth)
    law = InflowLaw.TRANSITION
    if depth <= SLOT_WEIR_DEPTH_M:
        law = InflowLaw.WEIR
    elif depth > SLOT_ORIFICE_DEPTH_M:
        law = InflowLaw.ORIFICE
    return min(weir, orifice), law
