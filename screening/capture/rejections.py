"""Why ground is no candidate: soil, depths, slope, setbacks and cover, as bits of each cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from screening.grid import rasterize
from screening.models import F64, I32, U32, Block, Bool, Depressions, Surface
from screening.schema.codes.capture import Rejection
from screening.schema.codes.storage import SoilGroup
from screening.schema.covers import CODE_OF
from screening.schema.criteria import Criteria
from screening.schema.soil_groups import best_group
from screening.storage.ranges import exactly
from screening.storage.rates import urban_rate_mm_h

REASONS: dict[Rejection, int] = {reason: 1 << bit for bit, reason in enumerate(Rejection)}
"""Bits of why a cell is no candidate, in the order in which a first reason is named. `soil group unknown` alone
makes a zone whose soil is not assessed."""

_PAVED_COVERS = tuple(CODE_OF[name] for name in ("paved", "driveway", "roof"))
_SAME_M = 1e-9


@dataclass(frozen=True, kw_only=True, eq=False)
class ZoneWindow:
    """What the rules look at, cell by cell: lot and soil by row + 1, slope; and what each soil is known to be."""

    block: Block
    lot: I32
    soil: I32
    slope_pct: F64
    soils: pd.DataFrame


def first_reason(reasons: U32) -> U32:
    """Give the bit of the first reason of each cell; 0 for a candidate."""
    return reasons & (~reasons + np.uint32(1))


def judge_soils(block: Block, criteria: Criteria) -> pd.DataFrame:
    """Give each soil its rates, its room for storage and what turns it away.

    Parameters
    ----------
    block
        With its soils.
    criteria
        `infiltration_groups`, `separation_`, `storage_cover_m`, `storage_depth_m`, `storage_depth_min_m`.

    Returns
    -------
    A row for each soil after row 0, ground without a soil; of the reasons to turn ground away, those of soil.
    """
    nothing = {"hsg": SoilGroup.UNKNOWN, "ksat_mm_h": np.nan, "water_depth_m": np.nan, "restrictive_depth_m": np.nan}
    rows = [nothing, *block.soils[list(nothing)].to_dict("records")]
    for row in rows:
        ksat, water, restrictive = (row[name] for name in ("ksat_mm_h", "water_depth_m", "restrictive_depth_m"))
        group = SoilGroup(row["hsg"]).undrained
        by_ksat = best_group(ksat_mm_h=ksat, restrictive_depth_m=restrictive, water_depth_m=water)
        rate = exactly(ksat) if 0.0 < ksat < np.inf else urban_rate_mm_h(row["hsg"])
        above_water, above_rock = (
            water - criteria.storage.separation_water_m,
            restrictive - criteria.storage.separation_rock_m,
        )
        # Comparisons with NaN are False: what is not known turns nothing away.
        least = criteria.storage.storage_cover_m + criteria.storage.storage_depth_min_m - _SAME_M
        known = [depth for depth in (above_water, above_rock) if depth == depth]
        row |= {
            Rejection.SOIL_GROUP: group is not SoilGroup.UNKNOWN and group not in criteria.capture.infiltration_groups,
            Rejection.CONDUCTIVITY: ksat == ksat
            and SoilGroup(by_ksat).undrained not in criteria.capture.infiltration_groups,
            Rejection.SOIL_UNKNOWN: group is SoilGroup.UNKNOWN,
            Rejection.GROUNDWATER: above_water < least,
            Rejection.RESTRICTIVE_LAYER: above_rock < least,
            "rate_low_mm_h": rate.low if rate else np.nan,
            "rate_high_mm_h": rate.high if rate else np.nan,
            "storage_depth_m": min(
                [criteria.storage.storage_depth_m, *(depth - criteria.storage.storage_cover_m for depth in known)]
            ),
        }
    return pd.DataFrame(rows)


def reject_cells(window: ZoneWindow, surface: Surface, depressions: Depressions, *, criteria: Criteria) -> U32:
    """Set the reason bits of all cells but that of zones that are too small.

    Parameters
    ----------
    window, surface, depressions
        Of the same window.
    criteria
        As for `zones.find_infiltration_zones`.

    Returns
    -------
    Bits of `REASONS`, uint32 (n_rows, n_cols).
    """
    block, soils = window.block, window.soils
    grid = block.grid
    paved = [*block.driveways.geometry, *block.roads.geometry]
    inside = [shape.buffer(-criteria.capture.setback_lot_line_m) for shape in block.lots.geometry]
    is_paved = np.False_ if block.cover is None else np.isin(block.cover, _PAVED_COVERS)

    def near(shapes: Any, distance_m: float) -> Bool:
        buffered = [shape.buffer(distance_m) for shape in shapes]
        return rasterize(grid, buffered, [1] * len(buffered)) > 0

    def of_soil(reason: Rejection) -> Bool:
        judged: Bool = soils[reason].to_numpy(bool)
        return judged[window.soil]

    masks: dict[Rejection, Any] = {
        Rejection.OUTSIDE_LOTS: window.lot == 0,
        Rejection.NO_ELEVATION: np.isnan(surface.elev_m),
        Rejection.COVERED: (surface.structure_index > 0) | near(paved, 0.0) | is_paved,
        Rejection.TREES: near(block.trees.geometry, 0.0),
        **{reason: of_soil(reason) for reason in Rejection if reason in soils},
        Rejection.STEEP: window.slope_pct > criteria.capture.infiltration_slope_max_pct,
        Rejection.NEAR_STRUCTURE: near(block.structures.geometry, criteria.capture.setback_structure_m),
        Rejection.NEAR_LOT_LINE: rasterize(grid, inside, [1] * len(inside)) == 0,
        Rejection.NEAR_WELL: near(block.wells.geometry, criteria.capture.setback_well_m),
        Rejection.NEAR_SEPTIC: near(block.septic.geometry, criteria.capture.setback_septic_m),
        Rejection.NEAR_WETLAND: near(block.wetlands.geometry, criteria.capture.setback_wetland_m),
        Rejection.NEAR_UTILITY: near(block.utilities.geometry, criteria.capture.setback_utility_m),
        Rejection.NEAR_STEEP_GROUND: _near_steep_ground(window.slope_pct, grid.cell_m, criteria),
        Rejection.LOW_SPOT: depressions.label > 0,
    }
    reasons = np.zeros(grid.shape, np.uint32)
    for reason, mask in masks.items():
        np.bitwise_or(reasons, np.uint32(REASONS[reason]), out=reasons, where=mask)
    return reasons


def _near_steep_ground(slope_pct: Any, cell_m: float, criteria: Criteria) -> Bool:
    """Find cells nearer, centre to centre, than the clear distance to a piece of steep ground that is large enough."""
    from scipy import ndimage

    if criteria.capture.setback_steep_slope_m == 0.0:
        return np.zeros(slope_pct.shape, bool)
    part, n_parts = ndimage.label(slope_pct >= criteria.capture.steep_slope_pct, np.ones((3, 3)))
    n_cells = np.bincount(part.ravel(), minlength=n_parts + 1)
    is_large = n_cells * cell_m**2 >= criteria.capture.steep_slope_min_area_m2
    is_large[0] = False
    if not is_large.any():
        return np.zeros(slope_pct.shape, bool)
    near: Bool = ndimage.distance_transform_edt(~is_large[part]) * cell_m < criteria.capture.setback_steep_slope_m
    return near
