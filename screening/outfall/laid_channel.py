"""How a channel lies under a line: what an outlet must be reached from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from screening.grid import Grid
from screening.models import F32
from screening.outfall.pipe_routes import profile_along
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    from shapely import Point
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True, kw_only=True, eq=False)
class LaidChannel:
    """How a channel lies under a line.

    Parameters
    ----------
    outlet
        Point at the lower end of the line, where its water leaves it.
    length_m, slope
        Of the channel; fall over length toward the outlet.
    ground_m, invert_m
        At the outlet end.
    cut_depth_m
        Deepest cut along it, bedding included.
    """

    outlet: Point
    length_m: float
    slope: float
    ground_m: float
    invert_m: float
    cut_depth_m: float

    @property
    def depth_m(self) -> float:
        """From the ground at the outlet end to the invert."""
        return self.ground_m - self.invert_m


def lay_channel(line: BaseGeometry, grid: Grid, elev_m: F32, *, criteria: Criteria) -> LaidChannel:
    """Lay a channel under a line: straight, toward its lower end, nowhere less deep than its own depth.

    Its invert falls as the ground does between the ends, but no less than it must.

    Parameters
    ----------
    line
        Straight [m].
    grid, elev_m
        Ground [m].
    criteria
        `trench_drain_depth_m`, `trench_drain_slope_min_pct`, `trench_drain_bedding_m`.

    Returns
    -------
    How it lies; heights are NaN where the ground under it is not known.
    """
    import shapely

    along, ground_m = profile_along(line, grid, elev_m)
    ends = shapely.get_coordinates(line)
    if ground_m[0] < ground_m[-1]:
        ground_m, ends = ground_m[::-1], ends[::-1]
    length = float(along[-1])
    slope = max(criteria.hydraulics.trench_drain_slope_min_pct / 100.0, float(ground_m[0] - ground_m[-1]) / length)
    start = float((ground_m - criteria.hydraulics.trench_drain_depth_m + slope * along).min())
    invert = start - slope * along
    cut = float((ground_m - invert).max()) + criteria.hydraulics.trench_drain_bedding_m
    return LaidChannel(
        outlet=shapely.Point(ends[-1]),
        length_m=length,
        slope=slope,
        ground_m=float(ground_m[-1]),
        invert_m=float(invert[-1]),
        cut_depth_m=cut,
    )
