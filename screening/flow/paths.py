"""Paths where water gathers, as reaches between confluences, and the storm runoff on its way through each cell."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.flow.dispersive import context_area_at
from screening.grid import draw_path
from screening.models import Block, FlowField, Storm
from screening.schema.columns import FLOW_PATH_COLUMNS, declared
from screening.schema.criteria import Criteria

if TYPE_CHECKING:
    import geopandas as gpd


def trace_flow_paths(flow: FlowField, storm: Storm, block: Block, *, criteria: Criteria) -> gpd.GeoDataFrame:
    """Draw the paths where water gathers, as reaches between confluences.

    Parameters
    ----------
    flow, storm, block
        Of the same window.
    criteria
        `flow_path_min_area_m2`: where a path begins; `window_margin_m`: how far from the lots paths are drawn, and
        from there all the way down.

    Returns
    -------
    `columns.FLOW_PATH_COLUMNS` and lines from upstream to downstream, straight where a pipe leads; area and runoff are
    those of the lower end.
    """
    import shapely

    grid = flow.grid
    runoff_m3 = runoff_through(flow, storm)
    reaches = _reaches(
        flow.receiver, flow.order, flow.contributing_area_m2.ravel() >= criteria.flow.flow_path_min_area_m2
    )
    lines, lower = [], []
    for cells in reaches:
        # The last cell belongs to the next reach (or is the outlet): the reach's own lower end is the one before.
        lower.append(cells[-2] if len(cells) > 1 else cells[-1])
        lines.append(draw_path(grid, np.asarray(cells, np.int64)))
    at = np.asarray(lower, np.int64)
    table = {
        "flow_path_id": [f"FP-{number}" for number in range(1, len(lines) + 1)],
        "contributing_area_m2": flow.contributing_area_m2.ravel()[at] if len(at) else [],
        "context_area_m2": context_area_at(flow, at),
        "runoff_m3": runoff_m3[at] if len(at) else [],
        "edge_contaminated": flow.edge_sides.ravel()[at] != 0 if len(at) else [],
    }
    frame = declared(table, FLOW_PATH_COLUMNS, geometry=lines, crs=grid.crs)
    near = shapely.box(*block.lots.total_bounds).buffer(criteria.site.window_margin_m, join_style="mitre")
    return frame[_with_all_below(frame.intersects(near).to_numpy(bool), reaches)].reset_index(drop=True)


def _with_all_below(is_kept: NDArray[np.bool_], reaches: list[list[int]]) -> NDArray[np.bool_]:
    """Keep the reaches below those that are kept: a path that ends in the open leaves a reader asking."""
    starting_at = {cells[0]: number for number, cells in enumerate(reaches)}
    kept = is_kept.copy()
    for number in np.flatnonzero(is_kept).tolist():
        below = starting_at.get(reaches[number][-1])
        while below is not None and not kept[below]:
            kept[below] = True
            below = starting_at.get(reaches[below][-1])
    return kept


def runoff_through(flow: FlowField, storm: Storm) -> NDArray[np.float64]:
    """Add up the storm runoff that drains through each cell, inflow from beyond with it, nothing held back.

    Returns
    -------
    float64 (n_cells,) [m3].
    """
    from screening.kernels.accumulate import accumulate

    volume = storm.runoff_m3.copy()
    volume.ravel()[flow.inflow.cell] += flow.inflow.runoff_m3
    through: NDArray[np.float64] = accumulate(flow.receiver, flow.order, volume.ravel())
    return through


def _reaches(receiver: NDArray[Any], order: NDArray[Any], is_path: NDArray[np.bool_]) -> list[list[int]]:
    """Cut the paths at confluences; each reach ends with the first cell of the next one, or at its outlet."""
    path_cells = order[is_path[order]]
    to = receiver[path_cells]
    flows_on = to != path_cells
    n_in = np.bincount(to[flows_on], minlength=receiver.size)
    starts = path_cells[n_in[path_cells] != 1]
    reaches = []
    for start in starts.tolist():
        cells = [start]
        here = start
        while True:
            there = int(receiver[here])
            if there == here:
                break
            cells.append(there)
            if n_in[there] != 1:
                break
            here = there
        if len(cells) > 1:
            reaches.append(cells)
    return reaches
