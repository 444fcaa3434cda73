"""Where the ground could take water: slope, soil group, setbacks and room, with the reason for every no."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from screening.grid import polygonize, rasterize
from screening.models import I32, I64, U32, Block, Bool, Depressions, InfiltrationZones, Surface
from screening.schema.columns import REJECTION_COLUMNS, ZONE_COLUMNS, declared, declared_plain
from screening.schema.covers import CODE_OF
from screening.schema.criteria import Criteria
from screening.schema.soil_groups import best_group
from screening.storage.ranges import exactly
from screening.storage.rates import urban_rate_mm_h

if TYPE_CHECKING:
    import geopandas as gpd

REASONS: dict[str, int] = {
    reason: 1 << bit
    for bit, reason in enumerate(
        (
            "outside the lots",
            "no elevation",
            "under a structure or pavement",
            "under trees",
            "soil group not a candidate",
            "conductivity not a candidate",
            "soil group unknown",
            "groundwater too near",
            "restrictive layer too near",
            "too steep",
            "too near a structure",
            "too near a lot line",
            "too near a well",
            "too near a septic field",
            "too near a wetland",
            "too near a utility",
            "too near steep ground",
            "in a low spot",
            "too small or narrow",
        )
    )
}
"""Bits of why a cell is no candidate, in the order in which a first reason is named. `soil group unknown` alone
makes a zone whose soil is not assessed."""

_UNKNOWN = np.uint32(REASONS["soil group unknown"])
_TOO_SMALL = np.uint32(REASONS["too small or narrow"])
_PAVED_COVERS = tuple(CODE_OF[name] for name in ("paved", "driveway", "roof"))
_SAME_M = 1e-9
TESTS_OWED = "infiltration test at base depth; seasonal high water; depth to rock"


@dataclass(frozen=True, kw_only=True, eq=False)
class _Window:
    """What the rules look at, cell by cell: lot and soil by row + 1, slope; and what each soil is known to be."""

    block: Block
    lot: I32
    soil: I32
    slope_pct: Any
    soils: pd.DataFrame


def find_infiltration_zones(
    block: Block, surface: Surface, depressions: Depressions, *, criteria: Criteria
) -> InfiltrationZones:
    """Flag the ground of the chosen lots that passes soil, depths, slope, setbacks and room.

    Undrained dual groups count as D; unknown stays `not assessed`. A stated conductivity turns ground away where the
    best group that it allows by NEH 630 Table 7-1 is none of the candidates; depths to groundwater and to a
    restrictive layer do where no storage fits above them. Setbacks are measured from the polygons, to the cell
    centre. What lies beyond the window or is not given cannot be seen: a note says which layers were given.

    Parameters
    ----------
    block, surface, depressions
        Of the same window.
    criteria
        The `infiltration_`, `setback_`, `separation_`, `steep_slope_` and `storage_` thresholds.

    Returns
    -------
    Reasons for each cell, candidate zones, a line for each lot, and the ground turned away by lot and reason.
    """
    window = _Window(
        block=block,
        lot=block.lot_index,
        soil=rasterize(block.grid, list(block.soils.geometry), range(1, len(block.soils) + 1)),
        slope_pct=surface.slope_pct,
        soils=_judge_soils(block, criteria),
    )
    reasons = _reject(window, surface, depressions, criteria=criteria)
    rows: list[dict[str, Any]] = []
    for status, wanted in (("candidate", np.uint32(0)), ("soil not assessed", _UNKNOWN)):
        _keep_zones(rows, reasons, reasons == wanted, status, window=window, criteria=criteria)
    table = _as_frame(rows, block)
    by_lot = _by_lot(block, table, reasons, window.lot)
    return InfiltrationZones(
        grid=block.grid, reasons=reasons, table=table, by_lot=by_lot, rejections=_rejections(block, reasons, window.lot)
    )


def first_reason(reasons: U32) -> U32:
    """Give the bit of the first reason of each cell; 0 for a candidate."""
    return reasons & (~reasons + np.uint32(1))


def _judge_soils(block: Block, criteria: Criteria) -> pd.DataFrame:
    """Give each soil its rates, its room for storage and what turns it away; row 0 is ground without a soil."""
    nothing = {"hsg": "unknown", "ksat_mm_h": np.nan, "water_depth_m": np.nan, "restrictive_depth_m": np.nan}
    rows = [nothing, *block.soils[list(nothing)].to_dict("records")]
    for row in rows:
        ksat, water, restrictive = (row[name] for name in ("ksat_mm_h", "water_depth_m", "restrictive_depth_m"))
        group = _undrained(row["hsg"])
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
            "soil group not a candidate": group != "unknown" and group not in criteria.capture.infiltration_groups,
            "conductivity not a candidate": ksat == ksat
            and _undrained(by_ksat) not in criteria.capture.infiltration_groups,
            "soil group unknown": group == "unknown",
            "groundwater too near": above_water < least,
            "restrictive layer too near": above_rock < least,
            "rate_low_mm_h": rate.low if rate else np.nan,
            "rate_high_mm_h": rate.high if rate else np.nan,
            "storage_depth_m": min(
                [criteria.storage.storage_depth_m, *(depth - criteria.storage.storage_cover_m for depth in known)]
            ),
        }
    return pd.DataFrame(rows)


def _undrained(group: str) -> str:
    return "D" if "/" in group else group


def _reject(window: _Window, surface: Surface, depressions: Depressions, *, criteria: Criteria) -> U32:
    """Set the reason bits that need no look at neighbouring cells."""
    block, soils = window.block, window.soils
    grid = block.grid
    paved = [*block.driveways.geometry, *block.roads.geometry]
    inside = [shape.buffer(-criteria.capture.setback_lot_line_m) for shape in block.lots.geometry]
    is_paved = np.False_ if block.cover is None else np.isin(block.cover, _PAVED_COVERS)

    def near(shapes: Any, distance_m: float) -> Bool:
        buffered = [shape.buffer(distance_m) for shape in shapes]
        return rasterize(grid, buffered, [1] * len(buffered)) > 0

    def of_soil(reason: str) -> Bool:
        judged: Bool = soils[reason].to_numpy(bool)
        return judged[window.soil]

    masks: dict[str, Any] = {
        "outside the lots": window.lot == 0,
        "no elevation": np.isnan(surface.elev_m),
        "under a structure or pavement": (surface.structure_index > 0) | near(paved, 0.0) | is_paved,
        "under trees": near(block.trees.geometry, 0.0),
        **{reason: of_soil(reason) for reason in REASONS if reason in soils},
        "too steep": window.slope_pct > criteria.capture.infiltration_slope_max_pct,
        "too near a structure": near(block.structures.geometry, criteria.capture.setback_structure_m),
        "too near a lot line": rasterize(grid, inside, [1] * len(inside)) == 0,
        "too near a well": near(block.wells.geometry, criteria.capture.setback_well_m),
        "too near a septic field": near(block.septic.geometry, criteria.capture.setback_septic_m),
        "too near a wetland": near(block.wetlands.geometry, criteria.capture.setback_wetland_m),
        "too near a utility": near(block.utilities.geometry, criteria.capture.setback_utility_m),
        "too near steep ground": _near_steep_ground(window.slope_pct, grid.cell_m, criteria),
        "in a low spot": depressions.label > 0,
    }
    reasons = np.zeros(grid.shape, np.uint32)
    for reason, mask in masks.items():
        reasons[mask] |= np.uint32(REASONS[reason])
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


def _keep_zones(
    rows: list[dict[str, Any]],
    reasons: U32,
    is_zone: Bool,
    status: str,
    *,
    window: _Window,
    criteria: Criteria,
) -> None:
    """Cut the passing cells into zones by lot, and turn away those without room."""
    from scipy import ndimage

    block, lot = window.block, window.lot
    grid = block.grid
    soils = {str(name): values.to_numpy() for name, values in window.soils.items()}
    for number, extent in enumerate(ndimage.find_objects(lot), start=1):
        if extent is None:
            continue
        part, n_parts = ndimage.label(is_zone[extent] & (lot[extent] == number))
        # One ring of False round the part, so that its own border counts as the end of the zone.
        room = ndimage.distance_transform_edt(np.pad(part > 0, 1))[1:-1, 1:-1]
        for zone in range(1, n_parts + 1):
            mask = part == zone
            area = float(mask.sum()) * grid.cell_area_m2
            # From the middle cell's centre to the first centre outside, less half a cell, both ways.
            width = (2.0 * float(room[mask].max()) - 1.0) * grid.cell_m
            if area < criteria.capture.infiltration_min_area_m2 or width < criteria.capture.infiltration_min_width_m:
                reasons[extent][mask] |= _TOO_SMALL
                continue
            shape = polygonize(grid, mask, first_row=extent[0].start, first_col=extent[1].start)
            row = {
                "zone_id": "",
                "lot_id": block.lots["lot_id"].iloc[number - 1],
                "status": status,
                "zone_rank": 0,
                "why": "",
                "area_m2": area,
                "width_m": width,
                "slope_pct": float(np.mean(window.slope_pct[extent][mask])),
                "tests_owed": TESTS_OWED,
                "n_infiltration_tests": criteria.capture.tests_per_zone,
                "geometry": shape,
            }
            row |= _ground_of(soils, np.flatnonzero(np.bincount(window.soil[extent][mask])), criteria)
            rows.append(row | _distances(shape, block, number - 1, within_m=criteria.site.window_margin_m))


def _ground_of(soils: dict[str, Any], rows: I64, criteria: Criteria) -> dict[str, Any]:
    """Gather what is known of the soils of a zone, by their rows: of rates the widest range, of depths the least."""
    own = {name: values[rows] for name, values in soils.items()}
    is_known = not np.isnan([own["rate_low_mm_h"], own["rate_high_mm_h"]]).any()
    base_m = criteria.storage.storage_cover_m + float(own["storage_depth_m"].min())
    groups = ", ".join(sorted(set(own["hsg"])))
    water_m, restrictive_m = (_least(own[name]) for name in ("water_depth_m", "restrictive_depth_m"))
    if not is_known:
        basis = "not assessed: neither group nor conductivity is known"
    elif not np.isnan(own["ksat_mm_h"]).any():
        basis = "conductivity of the soils layer, not measured on site"
    else:
        basis = f"group {groups} of urban soil (Minnesota Stormwater Manual, after Rawls 1998), not measured on site"
    return {
        "hsg": groups,
        "rate_low_mm_h": float(own["rate_low_mm_h"].min()) if is_known else np.nan,
        "rate_high_mm_h": float(own["rate_high_mm_h"].max()) if is_known else np.nan,
        "rate_basis": basis,
        "water_depth_m": water_m,
        "restrictive_depth_m": restrictive_m,
        "storage_depth_m": float(own["storage_depth_m"].min()),
        "test_depth_m": base_m,
        "pit_depth_m": base_m + max(criteria.storage.separation_water_m, criteria.storage.separation_rock_m),
    }


def _least(depths_m: Any) -> float:
    """The least of the depths that are known; NaN where none is."""
    return float(np.fmin.reduce(depths_m))


def _distances(zone: Any, block: Block, lot: int, *, within_m: float) -> dict[str, float]:
    """Distance from a zone to the nearest of what it keeps clear of; NaN where none is so near."""

    def nearest(shapes: Any) -> float:
        distance = float(shapes.distance(zone).min()) if len(shapes) else np.nan
        # Every window shows that much around its lots; what lies beyond is seen from some and not from others.
        return distance if distance <= within_m else np.nan

    return {
        "structure_m": nearest(block.structures.geometry),
        "lot_line_m": float(block.lots.geometry.iloc[lot].boundary.distance(zone)) if "lots" in block.given else np.nan,
        "well_m": nearest(block.wells.geometry),
        "septic_m": nearest(block.septic.geometry),
    }


def _as_frame(rows: list[dict[str, Any]], block: Block) -> gpd.GeoDataFrame:
    # Candidates before zones of unknown soil; the roomiest first.
    rows.sort(key=lambda row: (row["status"] != "candidate", -row["area_m2"]))
    for number, row in enumerate(rows, start=1):
        row["zone_id"] = f"IZ-{number}"
    return declared(rows, ZONE_COLUMNS, geometry=[row["geometry"] for row in rows], crs=block.grid.crs)


def _by_lot(block: Block, table: gpd.GeoDataFrame, reasons: U32, lot: I32) -> pd.DataFrame:
    candidate = table[table["status"] == "candidate"].groupby("lot_id")["area_m2"].sum()
    unknown = table[table["status"] != "candidate"].groupby("lot_id")["area_m2"].sum()
    rows = []
    for number, lot_id in enumerate(block.lots["lot_id"], start=1):
        area = float(candidate.get(lot_id, 0.0))
        why = _why(reasons[lot == number])
        if area > 0:
            status = "candidate"
        elif lot_id in unknown.index or "soils" not in block.given or why.startswith("no elevation"):
            status = "not assessed"
        else:
            status = "none found"
        rows.append(
            {
                "lot_id": lot_id,
                "infiltration_area_m2": area,
                "infiltration_status": status,
                "infiltration_why": why,
            }
        )
    return pd.DataFrame(rows)


def _rejections(block: Block, reasons: U32, lot: I32) -> pd.DataFrame:
    """Measure the ground that each reason turns away, by lot: as the first one, and in all."""
    rows = []
    for number, lot_id in enumerate(block.lots["lot_id"], start=1):
        own = reasons[lot == number]
        first = first_reason(own)
        for reason, bit in REASONS.items():
            n_any = int(((own & np.uint32(bit)) != 0).sum())
            if n_any:
                n_first = int((first == bit).sum())
                area_m2 = block.grid.cell_area_m2
                rows.append(
                    {"lot_id": lot_id, "reason": reason, "first_m2": n_first * area_m2, "any_m2": n_any * area_m2}
                )
    return declared_plain(rows, REJECTION_COLUMNS)


def _why(reasons: U32) -> str:
    """Name the reasons that turn away most of a lot's ground, with their shares."""
    if reasons.size == 0:
        return "no elevation"
    shares = {reason: float(((reasons & np.uint32(bit)) != 0).mean()) for reason, bit in REASONS.items()}
    worst = sorted((reason for reason in shares if shares[reason] >= 0.005), key=lambda reason: -shares[reason])[:3]
    return ", ".join(f"{reason} {shares[reason]:.0%}" for reason in worst)
