"""Where the flow of coarser ground crosses the window's outline, and the window's edge there."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.grid import Grid
from screening.models import F64, I32, I64, Block, Bool, ContextElevation, Crossings, Surface
from screening.schema.criteria import Criteria

_MOSTLY_FRAC = 0.5 - 1e-6
"""A coarse cell counts as within the window from this share of it on, so that cells that straddle even out."""
_SLIVER_FRAC = 1e-6


@dataclass(frozen=True, eq=False)
class WindowEdge:
    """Cells of the window beyond which there is no fine elevation, as flat indices, with their centres."""

    cell: I64
    x_m: F64
    y_m: F64


def find_crossings(block: Block, surface: Surface, *, criteria: Criteria) -> Crossings | None:
    """Route the coarser ground by itself, and find where its flow crosses the window's outline.

    It is filled and routed by steepest descent; no elevation of one grid is compared with one of the other. Only coarse
    ground outside the window counts, to the part of a cell, and each part once, where its water first comes in.

    Parameters
    ----------
    block, surface
        Of the same window, which ends where the elevation does.
    criteria
        `nodata_drains`.

    Returns
    -------
    None where the block has no coarser elevation.
    """
    context = block.context_elevation
    if context is None:
        return None
    known = with_gaps_inside(~np.isnan(surface.routed_elev_m))
    covered = _covered_area_m2(context.grid, surface.grid, known)
    return _cross(context, covered, nodata_drains=criteria.terrain.nodata_drains)


def close_edge(block: Block, surface: Surface, crossings: Crossings | None, *, criteria: Criteria) -> Surface:
    """Raise the window's edge where a flow path of the coarser ground comes in.

    Water would leave there, on the way to ground of which the coarser elevation says that it drains into the window:
    a pond that the edge cuts would drain through the cut, and what comes in would leave at once.

    Parameters
    ----------
    block, surface, crossings
        Of the same window.
    criteria
        `context_snap_cells`, `flow_path_min_area_m2`: from where on coarse flow counts as a path.

    Returns
    -------
    The surface; cells nearer to where coarse flow leaves, and structures, stay as they are.
    """
    from scipy.spatial import cKDTree

    if block.context_elevation is None or crossings is None:
        return surface
    is_path = crossings.area_m2 >= criteria.flow.flow_path_min_area_m2
    edge = edge_of(surface.grid, with_gaps_inside(~np.isnan(surface.routed_elev_m)))
    if not is_path.any() or not edge.cell.size:
        return surface
    places = np.column_stack((edge.x_m, edge.y_m))
    to_path, _ = cKDTree(np.column_stack((crossings.x_m[is_path], crossings.y_m[is_path]))).query(places)
    to_exit = np.full(edge.cell.size, np.inf)
    if crossings.out_x_m.size:
        to_exit, _ = cKDTree(np.column_stack((crossings.out_x_m, crossings.out_y_m))).query(places)
    reach_m = snap_reach_m(block.context_elevation, surface.grid, criteria)
    closed = edge.cell[(to_path <= reach_m) & (to_path < to_exit) & (surface.structure_index.ravel()[edge.cell] == 0)]
    routed = surface.routed_elev_m.copy()
    # Higher than all else by as much as they differ: each keeps its place among its neighbours.
    routed.ravel()[closed] += np.float32(np.nanmax(routed) - np.nanmin(routed) + criteria.terrain.wall_height_m)
    return dataclasses.replace(surface, routed_elev_m=routed)


def edge_of(grid: Grid, known: Bool) -> WindowEdge:
    """Find the edge of the known part of a window."""
    cell = np.flatnonzero(known & beside_nothing(known))
    row, col = np.divmod(cell, grid.n_cols)
    return WindowEdge(cell, grid.x_of(0) + col * grid.cell_m, grid.y_of(0) - row * grid.cell_m)


def snap_reach_m(context: ContextElevation, fine: Grid, criteria: Criteria) -> float:
    """How far a crossing may lie from the edge cell that takes it [m]."""
    return criteria.flow.context_snap_cells * max(context.grid.cell_m, fine.cell_m)


def with_gaps_inside(known: Bool) -> Bool:
    """Count gaps that the window encloses as its own: coarse ground stands in for what lies beyond only."""
    from scipy import ndimage

    filled: Bool = ndimage.binary_fill_holes(known, np.ones((3, 3), bool)) if not known.all() else known
    return filled


def beside_nothing(known: Bool) -> Bool:
    """Mark cells that touch the grid's edge or a cell without elevation, and such cells."""
    from scipy import ndimage

    beside: Bool = ~ndimage.binary_erosion(known, np.ones((3, 3), bool), border_value=0)
    return beside


def _covered_area_m2(coarse: Grid, fine: Grid, known: Bool) -> F64:
    """Area [m2] of each coarse cell that lies under fine cells with elevation, exact for cells that straddle."""
    rows = _overlap_m(coarse.north_m, coarse.cell_m, coarse.n_rows, fine.north_m, fine.cell_m, fine.n_rows, sign=-1.0)
    cols = _overlap_m(coarse.west_m, coarse.cell_m, coarse.n_cols, fine.west_m, fine.cell_m, fine.n_cols, sign=1.0)
    covered: F64 = (cols @ (rows @ known.astype(np.float64)).T).T
    return np.ascontiguousarray(covered)


def _overlap_m(
    coarse_0: float, coarse_m: float, n_coarse: int, fine_0: float, fine_m: float, n_fine: int, *, sign: float
) -> Any:
    """Length [m] that each coarse interval of a line shares with each fine one: a sparse matrix, fine along columns.

    `sign` is -1 where positions fall along the line, as northings do from the first row.
    """
    from scipy import sparse

    start = (fine_0 - coarse_0) * sign + np.arange(n_fine) * fine_m
    end = start + fine_m
    first = np.floor(start / coarse_m).astype(np.int64)
    most = int(np.ceil(fine_m / coarse_m)) + 1
    interval = first[:, np.newaxis] + np.arange(most)
    length = np.minimum(end[:, np.newaxis], (interval + 1) * coarse_m) - np.maximum(
        start[:, np.newaxis], interval * coarse_m
    )
    is_shared = (length > 0) & (interval >= 0) & (interval < n_coarse)
    column = np.broadcast_to(np.arange(n_fine)[:, np.newaxis], interval.shape)
    return sparse.csr_matrix((length[is_shared], (interval[is_shared], column[is_shared])), (n_coarse, n_fine))


def _cross(context: ContextElevation, covered: F64, *, nodata_drains: bool) -> Crossings:
    """Route the coarse ground, and cut its flow where it comes into the window."""
    from screening.kernels.accumulate import accumulate, carry_downstream
    from screening.kernels.d8 import flow_directions, receivers
    from screening.kernels.fill import fill_depressions
    from screening.kernels.order import downstream_order

    grid = context.grid
    filled = fill_depressions(context.elev_m, nodata_drains)
    receiver = receivers(flow_directions(filled, nodata_drains))
    order = downstream_order(receiver)
    is_within = covered >= _MOSTLY_FRAC * grid.cell_area_m2
    has_elev, within = receiver >= 0, is_within.ravel()
    stays = np.where(within & has_elev, np.arange(receiver.size, dtype=receiver.dtype), receiver)
    outside_m2 = np.where(has_elev, np.maximum(grid.cell_area_m2 - covered.ravel(), 0.0), 0.0)
    beyond = accumulate(stays, order, np.where(within, 0.0, outside_m2))
    with_window = accumulate(receiver, order, np.where(within & has_elev, grid.cell_area_m2, outside_m2))
    is_cut = carry_downstream(stays, order, beside_nothing(~np.isnan(context.elev_m)).ravel().astype(np.uint8)) > 0
    beyond[within], with_window[within], is_cut[within] = outside_m2[within], 0.0, False
    is_sent = has_elev & within[receiver] & (receiver != np.arange(receiver.size))
    cell = np.flatnonzero(is_sent & (~within | (outside_m2 > _SLIVER_FRAC * grid.cell_area_m2)))
    leaving = np.flatnonzero(has_elev & within & ~within[receiver])
    in_x, in_y = _midway(grid, cell, receiver[cell])
    out_x, out_y = _midway(grid, leaving, receiver[leaving])
    returned = np.maximum(with_window[cell] - beyond[cell], 0.0)
    return Crossings(
        x_m=in_x,
        y_m=in_y,
        area_m2=beyond[cell],
        returned_m2=returned,
        is_cut=is_cut[cell],
        out_x_m=out_x,
        out_y_m=out_y,
        is_within=is_within,
    )


def _midway(grid: Grid, cell: I64, receiver: I32 | I64) -> tuple[F64, F64]:
    row, col = np.divmod(np.stack((cell, receiver.astype(np.int64))), grid.n_cols)
    return grid.x_of(0) + col.mean(axis=0) * grid.cell_m, grid.y_of(0) - row.mean(axis=0) * grid.cell_m
