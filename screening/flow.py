"""Where water goes: directions, contributing areas, flow paths, and what the window edge may hide."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from screening.columns import CATCHMENT_COLUMNS, FLOW_PATH_COLUMNS, declared
from screening.criteria import Criteria
from screening.grid import draw_path, polygonize_cells, rasterize
from screening.models import (
    EAST_SIDE,
    I32,
    I64,
    NORTH_SIDE,
    SOUTH_SIDE,
    U8,
    WEST_SIDE,
    Block,
    FlowField,
    Inflow,
    Storm,
    Surface,
    WindowView,
)
from screening.spreading import accumulate_spread, accumulate_weight, context_area_at, context_area_of, lead_weight

if TYPE_CHECKING:
    import geopandas as gpd

GAP_SIDE = 16
"""Bit for water that may arrive from ground without elevation inside the window."""
RETURN_SIDE = 32
"""Bit for water that left the window and came back, where it is missing from a contributing area."""


def route_flow(surface: Surface, *, criteria: Criteria) -> FlowField:
    """Route water over a surface.

    Parameters
    ----------
    surface
        With walls raised and drains opened.
    criteria
        `nodata_drains`, `dispersive_method`, `multiflow_exponent`.

    Returns
    -------
    Exact fill, steepest-descent directions with flats resolved, contributing areas by steepest descent (which
    partition the ground) and by the dispersive method (which spreads on planes).

    References
    ----------
    Barnes, Lehman & Mulla 2014, doi 10.1016/j.cageo.2013.04.024 (exact fill); for the dispersive methods see
    `criteria.Criteria`.
    """
    from screening.kernels.accumulate import accumulate, carry_downstream
    from screening.kernels.d8 import flow_directions, receivers
    from screening.kernels.fill import fill_depressions
    from screening.kernels.order import downstream_order

    grid = surface.grid
    filled = fill_depressions(surface.routed_elev_m, criteria.nodata_drains)
    directions = flow_directions(filled, criteria.nodata_drains)
    receiver = receivers(directions)
    roof_cell, roof_target = _without_returns(receiver, surface.roof_cell, surface.roof_target)
    receiver[roof_cell] = roof_target
    order = downstream_order(receiver)
    cell_area = np.where(np.isnan(filled), 0.0, grid.cell_area_m2)
    upstream = accumulate(receiver, order, cell_area.ravel()).reshape(grid.shape)
    method, exponent = criteria.dispersive_method, criteria.multiflow_exponent
    led_area = lead_weight(cell_area, roof_cell, roof_target)
    dispersive = accumulate_spread(filled, directions, led_area, method=method, exponent=exponent, cell_m=grid.cell_m)
    sides = carry_downstream(receiver, order, _unseen_sides(filled).ravel()).reshape(grid.shape)
    return FlowField(
        grid,
        filled,
        directions,
        receiver,
        order,
        upstream,
        dispersive,
        sides,
        dispersive_method=method,
        multiflow_exponent=exponent,
        nodata_drains=criteria.nodata_drains,
        roof_cell=roof_cell,
        roof_target=roof_target,
    )


def add_inflow(flow: FlowField, inflow: Inflow, *, criteria: Criteria) -> FlowField:
    """Add to a flow field what comes in from beyond the window.

    Parameters
    ----------
    flow
        From `route_flow`.
    inflow
        From `inflow.find_inflow`, on the same window.
    criteria
        `context_return_max_frac`.

    Returns
    -------
    The same flow with larger areas downstream of where water comes in; `edge_sides` keeps the bits of what is still
    unseen, and marks with `RETURN_SIDE` what misses too much water that left and came back.
    """
    from screening.kernels.accumulate import carry_downstream

    if not inflow.supplied_cell.size:
        return dataclasses.replace(flow, inflow=inflow)
    weight, returned = np.zeros(flow.receiver.size), np.zeros(flow.receiver.size)
    weight[inflow.cell], returned[inflow.cell] = inflow.area_m2, inflow.returned_m2
    context = accumulate_weight(flow, weight.reshape(flow.grid.shape), method="d8")
    spread = accumulate_weight(flow, weight.reshape(flow.grid.shape), method=flow.dispersive_method)
    missing = accumulate_weight(flow, returned.reshape(flow.grid.shape), method="d8")
    contributing = flow.contributing_area_m2 + context
    seeds = _unseen_sides(flow.filled_elev_m).ravel()
    seeds[inflow.supplied_cell] = 0
    sides = carry_downstream(flow.receiver, flow.order, seeds).reshape(flow.grid.shape)
    sides[missing > criteria.context_return_max_frac * contributing] |= RETURN_SIDE
    return dataclasses.replace(
        flow,
        contributing_area_m2=contributing,
        dispersive_area_m2=flow.dispersive_area_m2 + spread,
        edge_sides=sides,
        context_area_m2=context,
        inflow=inflow,
    )


def _without_returns(receiver: I32, roof_cell: I64, roof_target: I64) -> tuple[I64, I64]:
    """Leave out downspouts whose water would come back to such a roof: in a court that fills up to its eaves."""
    from screening.kernels.accumulate import downstream_path

    is_led = np.zeros(receiver.size, bool)
    is_led[roof_cell] = True
    targets = np.unique(roof_target)
    runs_off = np.array([not is_led[downstream_path(receiver, int(target))].any() for target in targets], bool)
    # A roof without elevation round it has no level and no receiver: it stays so.
    keeps = np.isin(roof_target, targets[runs_off]) & (receiver[roof_cell] >= 0) & (receiver[roof_target] >= 0)
    return roof_cell[keeps], roof_target[keeps]


def _unseen_sides(filled: NDArray[np.float32]) -> U8:
    """Bits of where unseen water may enter each cell: the window's sides, and gaps in the elevation."""
    from scipy import ndimage

    unknown = np.isnan(filled)
    near_gap = ndimage.binary_dilation(unknown, np.ones((3, 3), bool))
    bits = np.where(near_gap, GAP_SIDE, 0).astype(np.uint8)
    bits[0] |= NORTH_SIDE
    bits[-1] |= SOUTH_SIDE
    bits[:, 0] |= WEST_SIDE
    bits[:, -1] |= EAST_SIDE
    return bits


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
    `columns.FLOW_PATH_COLUMNS` and lines from upstream to downstream; area and runoff are those of the lower end.
    """
    import shapely

    grid = flow.grid
    runoff_m3 = runoff_through(flow, storm)
    reaches = _reaches(flow.receiver, flow.order, flow.contributing_area_m2.ravel() >= criteria.flow_path_min_area_m2)
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
    near = shapely.box(*block.lots.total_bounds).buffer(criteria.window_margin_m, join_style="mitre")
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

    volume = np.nan_to_num(storm.runoff_mm.astype(np.float64)) * (flow.grid.cell_area_m2 / 1000.0)
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


def trace_catchments(flow: FlowField, block: Block) -> gpd.GeoDataFrame:
    """Outline the ground that drains across each lot, with the lot itself; the area holds what lies beyond, too.

    Returns
    -------
    `columns.CATCHMENT_COLUMNS` and polygons, one row a lot in the order of `block.lots`.
    """
    from screening.kernels.accumulate import zone_upstream_cells
    from screening.kernels.zones import ragged_from_labels

    grid = flow.grid
    n_lots = len(block.lots)
    starts, cells = ragged_from_labels(rasterize(grid, list(block.lots.geometry), range(1, n_lots + 1)), n_lots)
    outlines, areas, cut = [], [], []
    beyond = context_area_of(flow, starts, cells)
    for lot in range(n_lots):
        own: I64 = cells[starts[lot] : starts[lot + 1]]
        upstream = zone_upstream_cells(flow.receiver, grid.n_rows, grid.n_cols, own, flow.roof_cell)
        upstream = upstream[flow.receiver[upstream] >= 0]
        outlines.append(polygonize_cells(grid, upstream))
        areas.append(float(upstream.size) * grid.cell_area_m2 + beyond[lot])
        cut.append(bool((flow.edge_sides.ravel()[own] != 0).any()))
    table = {
        "lot_id": list(block.lots["lot_id"]),
        "contributing_area_m2": areas,
        "context_area_m2": beyond,
        "edge_contaminated": cut,
    }
    return declared(table, CATCHMENT_COLUMNS, geometry=outlines, crs=grid.crs)


def view_window(flow: FlowField, low_spot: I32, block: Block) -> WindowView:
    """Look at the lots, with what belongs to them and the low spots that lie on them in part.

    A driveway's apron and a wall on the lot line reach beyond the lot; so does the ground beside that wall.
    `low_spot` numbers the cells of low spots, 0 elsewhere: int32, shape of the grid.

    Returns
    -------
    The sides whose bits are carried down to them, and the level and contributing area of their cells.
    """
    beside = 1.5 * flow.grid.cell_m  # a cell's diagonal, and no more than the next cell's centre
    owned = (layer[layer["lot_id"] != ""].geometry.buffer(beside) for layer in (block.structures, block.driveways))
    shapes = [*block.lots.geometry, *(shape for layer in owned for shape in layer)]
    own = rasterize(flow.grid, shapes, [1] * len(shapes)) > 0
    spots = np.unique(low_spot[own])
    seen = own | np.isin(low_spot, spots[spots > 0])
    bits = int(np.bitwise_or.reduce(flow.edge_sides[seen], initial=0))
    return WindowView(bits & ~GAP_SIDE, flow.filled_elev_m[seen], flow.contributing_area_m2[seen])
