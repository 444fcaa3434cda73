"""Level-pool routing of an inflow through storage that soaks away: exact between the knots of its stage curve."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from screening.errors import InputError
from screening.storage.gallery import Gallery
from screening.storage.hyetographs import F64
from screening.storage.inflow import Inflow
from screening.units import MM_PER_M


@dataclass(frozen=True, kw_only=True, eq=False)
class Routing:
    """What became of the water.

    Parameters
    ----------
    time_h
        Ends of the steps, with the start before them [h]; one more than there are steps.
    stored_m3, level_m
        At those times.
    infiltrated_m3, overflow_m3
        In each step [m3].
    emptying_h
        From the end of the inflow until the storage is empty; infinite where nothing soaks away.
    """

    inflow: Inflow
    time_h: F64
    stored_m3: F64
    level_m: F64
    infiltrated_m3: F64
    overflow_m3: F64
    emptying_h: float

    def __post_init__(self) -> None:
        for values in (self.time_h, self.stored_m3, self.level_m, self.infiltrated_m3, self.overflow_m3):
            values.flags.writeable = False

    @property
    def stored_max_m3(self) -> float:
        """Most water held at one time; within a step it only rises or only falls."""
        return float(self.stored_m3.max())

    @property
    def overflow_total_m3(self) -> float:
        """Water that the storage could not take."""
        return float(self.overflow_m3.sum())

    @property
    def residual_m3(self) -> float:
        """Inflow less what soaked away, overflowed and is left: rounding alone."""
        left = float(self.stored_m3[-1])
        return self.inflow.total_m3 - float(self.infiltrated_m3.sum()) - self.overflow_total_m3 - left


@dataclass(frozen=True)
class _Curve:
    """Knots of the stage curve: volumes [m3] and the rate of soaking away at each [m3/h], even between them."""

    volume: tuple[float, ...]
    rate: tuple[float, ...]

    def line(self, below: int) -> tuple[float, float]:
        """Rate in one piece as a + b x volume."""
        slope = (self.rate[below + 1] - self.rate[below]) / (self.volume[below + 1] - self.volume[below])
        return self.rate[below] - slope * self.volume[below], slope


def route_storage(inflow: Inflow, gallery: Gallery, *, design_rate_mm_h: float, with_sides: bool = False) -> Routing:
    """Route an inflow through storage that starts empty.

    In each step the inflow is even and the rate of soaking away follows the level, so the water held obeys a linear
    equation between two knots of the stage curve; it is solved exactly from knot to knot. Infiltrated water is the
    integral of its own rate, not what is left over, so that the balance is a check.

    Parameters
    ----------
    inflow
        Water in even steps.
    gallery
        The storage; what comes when it is full overflows.
    design_rate_mm_h
        Infiltration rate with its safety factor taken off [mm/h]; 0 for storage that is sealed.
    with_sides
        Count the wetted sides as well as the base.

    Returns
    -------
    Levels, volumes and the time of emptying.

    Raises
    ------
    InputError
        The rate is negative or not a number.
    """
    levels, _ = _stages(gallery)
    curve = _curve(gallery, _checked_rate(design_rate_mm_h), with_sides=with_sides)
    n_steps = inflow.volume_m3.size
    stored, soaked, over = np.zeros(n_steps + 1), np.zeros(n_steps), np.zeros(n_steps)
    held = 0.0
    for step, volume in enumerate(inflow.volume_m3.tolist()):
        held, soaked[step], over[step] = _advance(curve, held, volume / inflow.step_h, inflow.step_h)
        stored[step + 1] = held
    return Routing(
        inflow=inflow,
        time_h=np.arange(n_steps + 1, dtype=np.float64) * inflow.step_h,
        stored_m3=stored,
        level_m=np.interp(stored, curve.volume, levels).astype(np.float64),
        infiltrated_m3=soaked,
        overflow_m3=over,
        emptying_h=_emptying_h(curve, held),
    )


def drawdown_h(gallery: Gallery, *, design_rate_mm_h: float, with_sides: bool = False) -> float:
    """Compute how long full storage takes to empty [h]; infinite where nothing soaks away.

    Through the base alone this is depth x voids / rate.

    Examples
    --------
    >>> from screening.storage.gallery import stone_bed
    >>> bed = stone_bed(length_m=6.0, width_m=2.0, depth_m=0.9144, void_frac=0.4)
    >>> round(drawdown_h(bed, design_rate_mm_h=12.7), 1)
    28.8
    """
    curve = _curve(gallery, _checked_rate(design_rate_mm_h), with_sides=with_sides)
    return _emptying_h(curve, curve.volume[-1])


def _checked_rate(rate_mm_h: float) -> float:
    if not 0.0 <= rate_mm_h < math.inf:
        raise InputError("The infiltration rate cannot be used", got=f"{rate_mm_h:g} mm/h", expected="0 or more")
    return rate_mm_h


@lru_cache(maxsize=16)
def _stages(gallery: Gallery) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Levels of the knots and the volumes below them; kept, because routing and drawdown ask for the same."""
    levels = gallery.breaks_m()
    return levels, tuple(gallery.volume_m3(level) for level in levels)


def _curve(gallery: Gallery, rate_mm_h: float, *, with_sides: bool) -> _Curve:
    levels, volumes = _stages(gallery)
    side = gallery.perimeter_m if with_sides else 0.0
    return _Curve(volumes, tuple(rate_mm_h / MM_PER_M * (gallery.footprint_m2 + side * level) for level in levels))


def _advance(curve: _Curve, held: float, inflow: float, hours: float) -> tuple[float, float, float]:
    """Take the storage through one step of even inflow [m3/h]: held at its end, soaked away, overflowed."""
    soaked, full = 0.0, curve.volume[-1]
    while hours > 0.0:
        if held >= full and inflow >= curve.rate[-1]:
            return full, soaked + curve.rate[-1] * hours, (inflow - curve.rate[-1]) * hours
        if held <= 0.0 and inflow <= curve.rate[0]:
            return 0.0, soaked + inflow * hours, 0.0
        below, target = _piece(curve, held, inflow)
        start, slope = curve.line(below)
        net = inflow - start - slope * held
        reach = _time_to(target - held, net, slope)
        span = min(reach, hours)
        # Held water changes by net x grown; its own integral gives what soaks away meanwhile.
        grown = -math.expm1(-slope * span) / slope if slope else span
        soaked += (start + slope * held) * span + net * (span - grown)
        held = target if reach <= hours else held + net * grown
        hours -= span
    return held, soaked, 0.0


def _piece(curve: _Curve, held: float, inflow: float) -> tuple[int, float]:
    """Find the piece of the curve that the water moves into, and the volume at its far end."""
    knots = curve.volume
    below = min(bisect_right(knots, held) - 1, len(knots) - 2)
    start, slope = curve.line(below)
    # At the top there is no way up, whatever the last digit of the rate says.
    if held < knots[below + 1] and inflow >= start + slope * held:
        return below, knots[below + 1]
    if held == knots[below]:
        below -= 1
    return below, knots[below]


def _time_to(change: float, net: float, slope: float) -> float:
    """Time until the held water has changed so much at a net inflow that falls as it rises; infinite if never."""
    if net == 0.0 or change / net < 0.0:
        return math.inf
    share = slope * change / net
    if share >= 1.0:
        return math.inf
    return -math.log1p(-share) / slope if slope else change / net


def _emptying_h(curve: _Curve, held: float) -> float:
    """Time for the held water to soak away with no more coming."""
    if held > 0.0 and curve.rate[0] == 0.0:
        return math.inf
    hours = 0.0
    while held > 0.0:
        below, target = _piece(curve, held, 0.0)
        start, slope = curve.line(below)
        hours += _time_to(target - held, -(start + slope * held), slope)
        held = target
    return hours
