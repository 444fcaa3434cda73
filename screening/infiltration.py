"""Where the ground could take water: slope, soil group, setbacks and room, with the reason for every no."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from screening.columns import ZONE_COLUMNS, declared
from screening.criteria import Criteria
from screening.grid import polygonize, rasterize
from screening.models import I32, U16, Block, Bool, Depressions, InfiltrationZones, Surface

if TYPE_CHECKING:
    import geopandas as gpd

REASONS: dict[str, int] = {
    "outside the lots": 1,
    "no elevation": 2,
    "under a structure or pavement": 4,
    "soil group not a candidate": 8,
    "soil group unknown": 16,
    "too steep": 32,
    "too near a structure": 64,
    "too near a lot line": 128,
    "too near a well": 256,
    "too near a septic field": 512,
    "in a low spot": 1024,
    "too small or narrow": 2048,
}
"""Bits of why a cell is no candidate, in the order in which a first reason is named. `soil group unknown` alone
makes a zone whose soil is not assessed."""

_UNKNOWN = np.uint16(REASONS["soil group unknown"])
_TOO_SMALL = np.uint16(REASONS["too small or narrow"])
TESTS_OWED = "infiltration test at base depth; seasonal high water; depth to rock"


def find_infiltration_zones(
    block: Block, surface: Surface, depressions: Depressions, *, criteria: Criteria
) -> InfiltrationZones:
    """Flag the ground of the chosen lots that passes slope, soil group, setbacks and room.

    Undrained dual groups count as D; unknown stays `not assessed`. Setbacks are measured from the polygons, to
    the cell centre. Wells and septic fields beyond the window or not given cannot be seen: a note says which were
    given.

    Parameters
    ----------
    block, surface, depressions
        Of the same window.
    criteria
        The `infiltration_` and `setback_` thresholds.

    Returns
    -------
    Reasons for each cell, candidate zones, and a line for each lot.
    """
    lot = rasterize(block.grid, list(block.lots.geometry), range(1, len(block.lots) + 1))
    slope = _slope_pct(surface)
    hsg = rasterize(block.grid, list(block.soils.geometry), range(1, len(block.soils) + 1))
    reasons = _reject(block, surface, depressions, lot=lot, hsg=hsg, slope_pct=slope, criteria=criteria)
    rows: list[dict[str, Any]] = []
    for status, wanted in (("candidate", np.uint16(0)), ("soil not assessed", _UNKNOWN)):
        _keep_zones(
            rows, reasons, reasons == wanted, status, block=block, lot=lot, hsg=hsg, slope_pct=slope, criteria=criteria
        )
    table = _as_frame(rows, block)
    by_lot = _by_lot(block, table, reasons, lot)
    return InfiltrationZones(block.grid, reasons, table, by_lot)


def _slope_pct(surface: Surface) -> Any:
    from screening.kernels.slope import horn_slope_pct

    return horn_slope_pct(surface.elev_m, surface.grid.cell_m)


def _reject(
    block: Block,
    surface: Surface,
    depressions: Depressions,
    *,
    lot: I32,
    hsg: I32,
    slope_pct: Any,
    criteria: Criteria,
) -> U16:
    """Set the reason bits that need no look at neighbouring cells."""
    grid = block.grid
    groups = ["unknown", *block.soils["hsg"]]
    is_unknown = np.array([group == "unknown" for group in groups])
    is_accepted = np.array([group in criteria.infiltration_groups for group in groups])
    paved = [*block.driveways.geometry, *block.roads.geometry]
    inside = [shape.buffer(-criteria.setback_lot_line_m) for shape in block.lots.geometry]
    in_low_spot = depressions.label > 0

    def near(shapes: Any, distance_m: float) -> Bool:
        buffered = [shape.buffer(distance_m) for shape in shapes]
        return rasterize(grid, buffered, [1] * len(buffered)) > 0

    masks: dict[str, Any] = {
        "outside the lots": lot == 0,
        "no elevation": np.isnan(surface.elev_m),
        "under a structure or pavement": (surface.structure_index > 0) | near(paved, 0.0),
        "soil group not a candidate": ~is_accepted[hsg] & ~is_unknown[hsg],
        "soil group unknown": is_unknown[hsg],
        "too steep": slope_pct > criteria.infiltration_slope_max_pct,
        "too near a structure": near(block.structures.geometry, criteria.setback_structure_m),
        "too near a lot line": rasterize(grid, inside, [1] * len(inside)) == 0,
        "too near a well": near(block.wells.geometry, criteria.setback_well_m),
        "too near a septic field": near(block.septic.geometry, criteria.setback_septic_m),
        "in a low spot": in_low_spot,
    }
    reasons = np.zeros(grid.shape, np.uint16)
    for reason, mask in masks.items():
        reasons[mask] |= np.uint16(REASONS[reason])
    return reasons


def _keep_zones(
    rows: list[dict[str, Any]],
    reasons: U16,
    is_zone: Bool,
    status: str,
    *,
    block: Block,
    lot: I32,
    hsg: I32,
    slope_pct: Any,
    criteria: Criteria,
) -> None:
    """Cut the passing cells into zones by lot, and turn away those without room."""
    from scipy import ndimage

    grid = block.grid
    for number, window in enumerate(ndimage.find_objects(lot), start=1):
        if window is None:
            continue
        part, n_parts = ndimage.label(is_zone[window] & (lot[window] == number))
        # One ring of False round the part, so that its own border counts as the end of the zone.
        room = ndimage.distance_transform_edt(np.pad(part > 0, 1))[1:-1, 1:-1]
        for zone in range(1, n_parts + 1):
            mask = part == zone
            area = float(mask.sum()) * grid.cell_area_m2
            # From the middle cell's centre to the first centre outside, less half a cell, both ways.
            width = (2.0 * float(room[mask].max()) - 1.0) * grid.cell_m
            if area < criteria.infiltration_min_area_m2 or width < criteria.infiltration_min_width_m:
                reasons[window][mask] |= _TOO_SMALL
                continue
            groups = pd.Series(["unknown", *block.soils["hsg"]]).iloc[np.unique(hsg[window][mask])]
            rows.append(
                {
                    "zone_id": "",
                    "lot_id": block.lots["lot_id"].iloc[number - 1],
                    "status": status,
                    "area_m2": area,
                    "width_m": width,
                    "slope_pct": float(np.mean(slope_pct[window][mask])),
                    "hsg": ", ".join(sorted(set(groups))),
                    "tests_owed": TESTS_OWED,
                    "geometry": polygonize(grid, mask, first_row=window[0].start, first_col=window[1].start),
                }
            )


def _as_frame(rows: list[dict[str, Any]], block: Block) -> gpd.GeoDataFrame:
    # Candidates before zones of unknown soil; the roomiest first.
    rows.sort(key=lambda row: (row["status"] != "candidate", -row["area_m2"]))
    for number, row in enumerate(rows, start=1):
        row["zone_id"] = f"IZ-{number}"
    return declared(rows, ZONE_COLUMNS, geometry=[row["geometry"] for row in rows], crs=block.grid.crs)


def _by_lot(block: Block, table: gpd.GeoDataFrame, reasons: U16, lot: I32) -> pd.DataFrame:
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


def _why(reasons: U16) -> str:
    """Name the reasons that turn away most of a lot's ground, with their shares."""
    if reasons.size == 0:
        return "no elevation"
    shares = {reason: float(((reasons & np.uint16(bit)) != 0).mean()) for reason, bit in REASONS.items()}
    worst = sorted((reason for reason in shares if shares[reason] >= 0.005), key=lambda reason: -shares[reason])[:3]
    return ", ".join(f"{reason} {shares[reason]:.0%}" for reason in worst)
