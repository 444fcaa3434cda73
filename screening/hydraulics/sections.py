"""Cross sections that carry water: trenches with level base and even sides, and round pipes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from screening.hydraulics.ranges import check_range

GRAVITY_M_S2 = 9.80665
"""Standard gravity, exact by definition (SI brochure, BIPM). HEC-22 takes 32.16 ft/s2, 0.04 % less."""


class Section(Protocol):
    """A cross section: what its water measures at a depth above its lowest point."""

    @property
    def depth_m(self) -> float:
        """Depth at which it is full [m]."""

    def area_m2(self, depth_m: float) -> float:
        """Area of the water [m2]."""

    def wetted_perimeter_m(self, depth_m: float) -> float:
        """Length of wall and base that the water touches [m]."""

    def surface_width_m(self, depth_m: float) -> float:
        """Width of the water surface [m]."""


@dataclass(frozen=True)
class TrenchSection:
    """A level base with straight sides alike: a rectangle, a trapezoid, or a triangle on its tip.

    Parameters
    ----------
    base_width_m, top_width_m
        Inner widths at the invert and at the underside of the grate (of a ditch: at its brim) [m].
    depth_m
        From the invert to the underside of the grate [m].

    Raises
    ------
    InputError
        A width or depth is impossible, or the section narrows upward.

    Notes
    -----
    Above its depth the sides are thought to go on, so that an overfull channel still has a depth.
    """

    base_width_m: float
    top_width_m: float
    depth_m: float

    def __post_init__(self) -> None:
        check_range("base_width_m", self.base_width_m)
        check_range("top_width_m", self.top_width_m, above=True)
        check_range("top_width_m, which may not be less than the base width,", self.top_width_m, low=self.base_width_m)
        check_range("depth_m", self.depth_m, above=True)

    @classmethod
    def with_side_slope(cls, base_width_m: float, *, side_slope: float, depth_m: float) -> TrenchSection:
        """Make a section from its base and the horizontal run of each side per rise of one."""
        return cls(base_width_m, base_width_m + 2.0 * side_slope * depth_m, depth_m)

    @cached_property
    def side_slope(self) -> float:
        """Horizontal run of each side per rise of one."""
        return (self.top_width_m - self.base_width_m) / (2.0 * self.depth_m)

    def area_m2(self, depth_m: float) -> float:
        """Area of the water [m2]."""
        return (self.base_width_m + self.side_slope * depth_m) * depth_m

    def wetted_perimeter_m(self, depth_m: float) -> float:
        """Length of wall and base that the water touches [m]."""
        return self.base_width_m + 2.0 * depth_m * math.hypot(1.0, self.side_slope)

    def surface_width_m(self, depth_m: float) -> float:
        """Width of the water surface [m]."""
        return self.base_width_m + 2.0 * self.side_slope * depth_m

    def area_moment_m3(self, depth_m: float) -> float:
        """Moment of the water's area about its surface [m3]: hydrostatic force over the weight of a cubic metre."""
        return depth_m**2 * (self.base_width_m / 2.0 + self.side_slope * depth_m / 3.0)


@dataclass(frozen=True)
class PipeSection:
    """A round pipe of an inner diameter [m].

    Raises
    ------
    InputError
        The diameter is impossible.
    """

    diameter_m: float

    def __post_init__(self) -> None:
        check_range("diameter_m", self.diameter_m, above=True)

    @property
    def depth_m(self) -> float:
        """Depth at which it is full: its diameter [m]."""
        return self.diameter_m

    def _angle(self, depth_m: float) -> float:
        """Angle at the centre that the water fills, 0 to a full turn."""
        return 2.0 * math.acos(min(max(1.0 - 2.0 * depth_m / self.diameter_m, -1.0), 1.0))

    def area_m2(self, depth_m: float) -> float:
        """Area of the water [m2]."""
        angle = self._angle(depth_m)
        return self.diameter_m**2 / 8.0 * (angle - math.sin(angle))

    def wetted_perimeter_m(self, depth_m: float) -> float:
        """Length of wall that the water touches [m]."""
        return self.diameter_m * self._angle(depth_m) / 2.0

    def surface_width_m(self, depth_m: float) -> float:
        """Width of the water surface [m]; none when full."""
        full = not 0.0 < depth_m < self.diameter_m
        return 0.0 if full else 2.0 * math.sqrt(depth_m * (self.diameter_m - depth_m))
