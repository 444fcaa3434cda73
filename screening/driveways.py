"""Where each driveway sheds its water: how much of it meets a wall on its lot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from screening.columns import DRIVEWAY_COLUMNS, declared
from screening.criteria import Criteria
from screening.grid import rasterize
from screening.models import F64, I32, Block, Bool, FlowField, Surface
from screening.spreading import context_area_of, fraction_reaching

if TYPE_CHECKING:
    import geopandas as gpd


def study_driveways(
    block: Block, surface: Surface, flow: FlowField, *, runoff_through_m3: F64, criteria: Criteria
) -> gpd.GeoDataFrame:
    """Study the driveways of the chosen lots.

    Water is followed from each driveway cell, spreading by the flow's dispersive method, until it touches a wall or
    leaves the lot; the share that meets a wall first is the mean over the driveway. A driveway is a few cells wide,
    so its own cells beyond the lot line (the apron) count as its lot.

    Parameters
    ----------
    block, surface, flow
        Of the same window.
    runoff_through_m3
        Storm runoff that drains through each cell, float64 (n_cells,) [m3].
    criteria
        `driveway_to_structure_flag_frac`.

    Returns
    -------
    `columns.DRIVEWAY_COLUMNS` and polygons, those on a chosen lot only.
    """
    from screening.kernels.accumulate import zone_upstream_total
    from screening.kernels.slope import horn_slope_pct
    from screening.kernels.zones import ragged_from_labels

    grid = flow.grid
    driveways = block.driveways[block.driveways["lot_id"] != ""].reset_index(drop=True)
    n_driveways = len(driveways)
    label = rasterize(grid, list(driveways.geometry), range(1, n_driveways + 1))
    # A roof over a driveway (a carport, a garage drawn over it) sheds as a roof.
    label[surface.structure_index > 0] = 0
    starts, cells = ragged_from_labels(label, n_driveways)
    share = _share_to_wall(block, surface, flow, label, driveways["lot_id"].tolist()).ravel()
    slope = horn_slope_pct(surface.elev_m, grid.cell_m).ravel()
    contributing = zone_upstream_total(flow.receiver, flow.contributing_area_m2.ravel(), starts, cells)
    beyond = context_area_of(flow, starts, cells)
    runoff = zone_upstream_total(flow.receiver, runoff_through_m3, starts, cells)
    rows = []
    for number in range(n_driveways):
        own = cells[starts[number] : starts[number + 1]]
        own = own[flow.receiver[own] >= 0]
        to_wall = float(share[own].mean()) if own.size else np.nan
        rows.append(
            {
                "driveway_id": driveways["driveway_id"].iloc[number],
                "lot_id": driveways["lot_id"].iloc[number],
                "area_m2": driveways.geometry.iloc[number].area,
                "to_structure_frac": to_wall,
                "slope_pct": float(np.nanmean(slope[own])) if own.size else np.nan,
                "contributing_area_m2": contributing[number] if own.size else np.nan,
                "context_area_m2": beyond[number] if own.size else np.nan,
                "run_on_area_m2": contributing[number] - own.size * grid.cell_area_m2 if own.size else np.nan,
                "runoff_m3": runoff[number] if own.size else np.nan,
                "is_flagged": to_wall > criteria.driveway_to_structure_flag_frac,
                "edge_contaminated": bool((flow.edge_sides.ravel()[own] != 0).any()),
            }
        )
    return declared(rows, DRIVEWAY_COLUMNS, geometry=driveways.geometry, crs=grid.crs)


def _share_to_wall(block: Block, surface: Surface, flow: FlowField, driveway: I32, lot_ids: list[str]) -> F64:
    """Share of the water of each cell that touches a wall before it leaves its lot."""
    lots = block.lots["lot_id"].tolist()
    lot = rasterize(flow.grid, list(block.lots.geometry), range(1, len(lots) + 1))
    lot_of_driveway = np.array([0, *(lots.index(lot_id) + 1 for lot_id in lot_ids)], np.int32)
    lot = np.where(driveway > 0, lot_of_driveway[driveway], lot).astype(np.int32)
    return fraction_reaching(flow, _beside_walls(surface), pen=lot)


def _beside_walls(surface: Surface) -> Bool:
    from scipy import ndimage

    walls = surface.structure_index > 0
    beside: Bool = ndimage.binary_dilation(walls, np.ones((3, 3), bool)) & ~walls
    return beside
