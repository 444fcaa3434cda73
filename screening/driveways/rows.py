"""The one row of each driveway: its shape, where its water goes, and what limits those numbers."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from screening.driveways.pouring import Shed, group_shares, shed_shares
from screening.driveways.shape import DrivewayShape
from screening.driveways.tables import StormRow, deep_ponds
from screening.driveways.terrain import DrivewayTerrain
from screening.models import ShedShare
from screening.schema.codes.driveways import DrivewayForm, ShapeLimit
from screening.schema.criteria import Criteria

Limits = tuple[tuple[ShapeLimit, float], ...]
_LEFT_OUT_FRAC = 0.01
"""Share of a driveway that may be left out without a word."""


@dataclass(frozen=True, kw_only=True)
class ShedRow:
    """What the study of its edges says of a driveway: see `columns.SHED_COLUMNS`; NaN = not assessed.

    Parameters
    ----------
    share_columns
        Shares by the names of their columns; empty = not assessed.
    """

    shape_limits: Limits
    shed_shares: tuple[ShedShare, ...] = ()
    shape: str = DrivewayForm.NOT_ASSESSED.value
    length_m: float = math.nan
    width_m: float = math.nan
    long_slope_pct: float = math.nan
    long_falls_to: str = ""
    cross_slope_pct: float = math.nan
    cross_falls_to: str = ""
    crown_m: float = math.nan
    line_offset_m: float = math.nan
    line_offset_to: str = ""
    fit_residual_m: float = math.nan
    n_low_points: int = 0
    own_m3: float = math.nan
    run_on_m3: float = math.nan
    stays_m3: float = math.nan
    wall_m3: float = math.nan
    wall_peak_l_s: float = math.nan
    wall_peak_gpm: float = math.nan
    is_small: bool = True
    share_columns: dict[str, float] = field(default_factory=dict)


def unknown_row(why: ShapeLimit) -> ShedRow:
    """The row of a driveway of which nothing is assessed."""
    return ShedRow(shape_limits=((why, math.nan),))


def shed_row(
    shape: DrivewayShape,
    terrain: DrivewayTerrain,
    poured: Shed,
    storm: StormRow,
    *,
    whole_area_m2: float,
    criteria: Criteria,
) -> ShedRow:
    """The row of a driveway.

    Parameters
    ----------
    shape, terrain
        Of it, without what structures cover.
    poured, storm
        In the screened storm.
    whole_area_m2
        Of the driveway with what structures cover [m2].
    criteria
        `driveway_small_cells`, `driveway_low_point_min_m`.
    """
    is_small = terrain.area_m2 < criteria.driveways.driveway_small_cells * terrain.grid.cell_area_m2 or shape.is_narrow
    return ShedRow(
        shape_limits=_limits(shape, terrain, whole_area_m2, criteria),
        shed_shares=shed_shares(poured),
        shape=shape.kind.value,
        length_m=shape.length_m,
        width_m=shape.width_m,
        long_slope_pct=shape.long_slope_pct,
        long_falls_to=shape.long_falls_to,
        cross_slope_pct=shape.cross_slope_pct,
        cross_falls_to=shape.cross_falls_to,
        crown_m=shape.crown_m,
        line_offset_m=shape.line_offset_m,
        line_offset_to=shape.line_offset_to,
        fit_residual_m=shape.residual_m,
        n_low_points=len(deep_ponds(terrain, criteria=criteria)),
        own_m3=storm.own_m3,
        run_on_m3=storm.run_on_m3,
        stays_m3=storm.stays_m3,
        wall_m3=storm.wall_m3,
        wall_peak_l_s=storm.wall_peak_l_s,
        wall_peak_gpm=storm.wall_peak_gpm,
        is_small=bool(is_small),
        share_columns=group_shares(poured),
    )


def _limits(shape: DrivewayShape, terrain: DrivewayTerrain, whole_area_m2: float, criteria: Criteria) -> Limits:
    limits: list[tuple[ShapeLimit, float]] = []
    n_cells = terrain.area_m2 / terrain.grid.cell_area_m2
    if n_cells < criteria.driveways.driveway_small_cells:
        limits.append((ShapeLimit.FEW_CELLS, n_cells))
    if shape.is_narrow:
        limits.append((ShapeLimit.NARROW, shape.width_m / terrain.grid.cell_m))
    if shape.is_bent:
        limits.append((ShapeLimit.BENT, math.nan))
    missing = whole_area_m2 - terrain.area_m2
    if missing > _LEFT_OUT_FRAC * whole_area_m2:
        limits.append((ShapeLimit.PART_LEFT_OUT, missing / whole_area_m2))
    return tuple(limits)
