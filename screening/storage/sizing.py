"""How much storage a storm needs: the footprint or the depth that takes it without overflow."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from screening.errors import InputError
from screening.schema.criteria import Criteria
from screening.storage.gallery import Gallery, chamber_gallery, stone_bed
from screening.storage.inflow import Inflow
from screening.storage.ranges import Range, check_sizes
from screening.storage.routing import Routing, drawdown_h, route_storage
from screening.storage.sections import Section
from screening.units import MM_PER_M

_CLOSE = 1e-6
"""Sizes are found to this share of themselves, on the side that overflows nothing."""
_SAME = 1e-9
_MOST_CHAMBERS = 100_000


@dataclass(frozen=True, kw_only=True, eq=False)
class Sizing:
    """Storage with what a storm does in it.

    Parameters
    ----------
    gallery, routing
        The storage, and the storm through it.
    measured_rate_mm_h, design_rate_mm_h
        Infiltration rate as given, and with its safety factor taken off.
    drawdown_h
        Time in which it empties when full.
    """

    gallery: Gallery
    routing: Routing
    measured_rate_mm_h: float
    design_rate_mm_h: float
    drawdown_h: float

    @property
    def volume_needed_m3(self) -> float:
        """Most water that waits at one time: runoff in, less what soaks away meanwhile."""
        return self.routing.stored_max_m3


@dataclass(frozen=True)
class Soil:
    """What the storage soaks into: the rate as measured or assumed [mm/h], its safety factor, and whether the wetted
    sides count.
    """

    measured_rate_mm_h: float
    safety_factor: float = 2.0
    with_sides: bool = False

    def __post_init__(self) -> None:
        check_sizes(
            "The ground",
            may_be_zero=("measured_rate_mm_h",),
            measured_rate_mm_h=self.measured_rate_mm_h,
            safety_factor=self.safety_factor,
        )
        if self.safety_factor < 1.0:
            raise InputError("A safety factor below 1 is none", got=f"{self.safety_factor:g}", expected="1 or more")

    @property
    def design_rate_mm_h(self) -> float:
        """The rate that sizes storage."""
        return self.measured_rate_mm_h / self.safety_factor


def try_gallery(inflow: Inflow, gallery: Gallery, soil: Soil) -> Sizing:
    """Route a storm through storage of a given size.

    Parameters
    ----------
    inflow
        Runoff of the storm.
    gallery
        The storage.
    soil
        What it soaks into.

    Returns
    -------
    The storage, the storm in it, and its drawdown; it may overflow.
    """
    rate, sides = soil.design_rate_mm_h, soil.with_sides
    routing = route_storage(inflow, gallery, design_rate_mm_h=rate, with_sides=sides)
    empties = drawdown_h(gallery, design_rate_mm_h=rate, with_sides=sides)
    return Sizing(
        gallery=gallery,
        routing=routing,
        measured_rate_mm_h=soil.measured_rate_mm_h,
        design_rate_mm_h=rate,
        drawdown_h=empties,
    )


def size_bed_footprint(
    inflow: Inflow, soil: Soil, *, depth_m: float, void_frac: float, length_to_width: float = 2.0
) -> Sizing:
    """Find the smallest bed of stone of a given depth that takes a storm without overflow.

    Parameters
    ----------
    inflow, soil
        The storm's runoff, and what the bed soaks into.
    depth_m, void_frac
        Of the stone.
    length_to_width
        Shape of the footprint.
    """
    check_sizes("The bed", depth_m=depth_m, void_frac=void_frac, length_to_width=length_to_width)

    def make(footprint_m2: float) -> Gallery:
        width = (footprint_m2 / length_to_width) ** 0.5
        return stone_bed(length_m=width * length_to_width, width_m=width, depth_m=depth_m, void_frac=void_frac)

    return _smallest(inflow, soil, make, enough=_check_water(inflow) / (depth_m * void_frac))


def size_bed_depth(inflow: Inflow, soil: Soil, *, length_m: float, width_m: float, void_frac: float) -> Sizing:
    """Find the shallowest bed of stone of a given footprint that takes a storm without overflow.

    Parameters
    ----------
    inflow, soil
        The storm's runoff, and what the bed soaks into.
    length_m, width_m, void_frac
        Of the stone.
    """
    check_sizes("The bed", length_m=length_m, width_m=width_m, void_frac=void_frac)

    def make(depth_m: float) -> Gallery:
        return stone_bed(length_m=length_m, width_m=width_m, depth_m=depth_m, void_frac=void_frac)

    return _smallest(inflow, soil, make, enough=_check_water(inflow) / (length_m * width_m * void_frac))


def size_chamber_rows(
    inflow: Inflow,
    soil: Soil,
    *,
    section: Section,
    chamber_length_m: float,
    n_rows: int,
    void_frac: float,
    **stone_m: float,
) -> Sizing:
    """Find the fewest chambers to a row that take a storm without overflow.

    Parameters
    ----------
    inflow, soil
        The storm's runoff, and what the storage soaks into.
    section, chamber_length_m, n_rows, void_frac, stone_m
        As `chamber_gallery` takes them.
    """
    _check_water(inflow)

    def make(n_in_row: int) -> Gallery:
        return chamber_gallery(
            section, chamber_length_m=chamber_length_m, n_in_row=n_in_row, n_rows=n_rows, void_frac=void_frac, **stone_m
        )

    return try_gallery(inflow, make(fewest_in_row(inflow, soil, make)), soil)


def fewest_in_row(inflow: Inflow, soil: Soil, make: Callable[[int], Gallery]) -> int:
    """Find the fewest chambers to a row with which storage takes a storm without overflow.

    Parameters
    ----------
    inflow, soil
        The storm's runoff, and what the storage soaks into.
    make
        Gives the storage for a number of chambers to a row.

    Raises
    ------
    InputError
        No number takes it.
    """
    too_few, enough = 0, 1
    while runs_over(inflow, make(enough), soil):
        too_few, enough = enough, enough * 2
        if enough > _MOST_CHAMBERS:
            raise InputError("No number of chambers takes this storm", got=f"{inflow.total_m3:g} m3")
    while enough - too_few > 1:
        middle = (too_few + enough) // 2
        too_few, enough = (middle, enough) if runs_over(inflow, make(middle), soil) else (too_few, middle)
    return enough


def _check_water(inflow: Inflow) -> float:
    if inflow.total_m3 <= 0.0:
        raise InputError("The storm sheds no water to store", got="0 m3", mend="take a larger storm or more area")
    return inflow.total_m3


def _smallest(inflow: Inflow, soil: Soil, make: Callable[[float], Gallery], *, enough: float) -> Sizing:
    """Halve between too small and enough, where enough holds all of the water at once."""
    enough, too_small = enough * (1.0 + _CLOSE), 0.0
    while enough - too_small > _CLOSE * enough:
        middle = (too_small + enough) / 2.0
        if runs_over(inflow, make(middle), soil):
            too_small = middle
        else:
            enough = middle
    return try_gallery(inflow, make(enough), soil)


def runs_over(inflow: Inflow, gallery: Gallery, soil: Soil) -> bool:
    """Say whether a storm makes storage overflow.

    Through the base alone this needs no routing, because the rate is then the same at every level.

    Parameters
    ----------
    inflow, gallery, soil
        As for `try_gallery`.
    """
    if soil.with_sides:
        return try_gallery(inflow, gallery, soil).routing.overflow_total_m3 > 0.0
    soaked_m3 = soil.design_rate_mm_h / MM_PER_M * gallery.footprint_m2 * inflow.step_h
    # Water held is what came since it was last empty, less what soaked away since.
    net_m3 = np.concatenate([[0.0], np.cumsum(inflow.volume_m3 - soaked_m3)])
    held_m3 = net_m3 - np.minimum.accumulate(net_m3)
    return bool(held_m3.max() > gallery.capacity_m3 * (1.0 - _SAME))


def size_over_rates(size: Callable[[Soil], Sizing], soil: Soil, rate_mm_h: Range) -> tuple[Sizing, Sizing]:
    """Size storage at both ends of a range of measured rates.

    Parameters
    ----------
    size
        Sizes storage for some ground: a call of `size_bed_footprint` or its like.
    soil
        Safety factor, and whether sides count.
    rate_mm_h
        Slowest and fastest rate that may be found on site.

    Returns
    -------
    For the slowest rate, which needs the most, and for the fastest.
    """
    slow, fast = (Soil(rate, soil.safety_factor, soil.with_sides) for rate in (rate_mm_h.low, rate_mm_h.high))
    return size(slow), size(fast)


def soil_of(criteria: Criteria, measured_rate_mm_h: float, *, with_sides: bool = False) -> Soil:
    """Take a measured rate with the safety factor of the criteria."""
    return Soil(measured_rate_mm_h, criteria.storage.rate_safety_factor, with_sides)
