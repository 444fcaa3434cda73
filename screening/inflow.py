"""Water from beyond the window: coarser ground routed by itself, and handed over where its flow comes in."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import numpy as np

from screening.criteria import Criteria
from screening.grid import Grid
from screening.models import (
    F64,
    I32,
    I64,
    Block,
    Bool,
    ContextElevation,
    Crossings,
    FlowField,
    Inflow,
    Note,
    NoteKind,
    Rain,
    Surface,
)

_OFFSET_CAUTION_M = 5.0
"""Coarse ground this far above or below the fine: no two vertical datums of one place that are in use for ground
elevations differ so much, so a unit or a file is wrong. From memory."""
_MOSTLY_FRAC = 0.5 - 1e-6
"""A coarse cell counts as within the window from this share of it on, so that cells that straddle even out."""
_SLIVER_FRAC = 1e-6


@dataclass(frozen=True, eq=False)
class _Edge:
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
    known = _with_gaps_inside(~np.isnan(surface.routed_elev_m))
    covered = _covered_area_m2(context.grid, surface.grid, known)
    return _cross(context, covered, nodata_drains=criteria.nodata_drains)


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
    is_path = crossings.area_m2 >= criteria.flow_path_min_area_m2
    edge = _edge_of(surface.grid, _with_gaps_inside(~np.isnan(surface.routed_elev_m)))
    if not is_path.any() or not edge.cell.size:
        return surface
    places = np.column_stack((edge.x_m, edge.y_m))
    to_path, _ = cKDTree(np.column_stack((crossings.x_m[is_path], crossings.y_m[is_path]))).query(places)
    to_exit = np.full(edge.cell.size, np.inf)
    if crossings.out_x_m.size:
        to_exit, _ = cKDTree(np.column_stack((crossings.out_x_m, crossings.out_y_m))).query(places)
    reach_m = _reach_m(block.context_elevation, surface.grid, criteria)
    closed = edge.cell[(to_path <= reach_m) & (to_path < to_exit) & (surface.structure_index.ravel()[edge.cell] == 0)]
    routed = surface.routed_elev_m.copy()
    # Higher than all else by as much as they differ: each keeps its place among its neighbours.
    routed.ravel()[closed] += np.float32(np.nanmax(routed) - np.nanmin(routed) + criteria.wall_height_m)
    return dataclasses.replace(surface, routed_elev_m=routed)


def find_inflow(
    block: Block,
    surface: Surface,
    flow: FlowField,
    crossings: Crossings | None,
    *,
    criteria: Criteria,
    rain: Rain | None = None,
) -> Inflow:
    """Hand the water that coarser ground sends into the window to cells of its edge.

    Each crossing goes to the cell in reach that has the largest contributing area of its own, or the lowest of those
    that have it, and leads its water further in. Water that leaves the window and comes back is not handed over again.

    Parameters
    ----------
    block, surface, flow, crossings
        Of the same window; the flow has no inflow yet.
    criteria
        `context_snap_cells`, `context_curve_number`, `initial_abstraction_ratio`.
    rain
        Of the storm, for the runoff of the ground beyond.

    Returns
    -------
    Empty where the block has no coarser elevation.
    """
    context = block.context_elevation
    if context is None or crossings is None:
        return Inflow()
    known = _with_gaps_inside(~np.isnan(flow.filled_elev_m))
    edge = _edge_of(flow.grid, known)
    taker, is_near_lost = _choose_cells(crossings, edge, surface, flow, _reach_m(context, flow.grid, criteria))
    inflow = _gather(crossings, taker, _runoff_m(rain, criteria), criteria.context_curve_number, context.grid.cell_m)
    is_supplied = _is_seen(context, edge) & ~is_near_lost & ~_beside_gap_inside(flow, known)[edge.cell]
    is_supplied &= ~np.isin(edge.cell, inflow.cell[inflow.is_cut])
    if not crossings.is_within.any():
        is_supplied[:] = False
    notes = _notes(context, inflow, float(crossings.area_m2[taker < 0].sum()), is_supplied, rain, criteria)
    notes = (*notes, *_note_offset(context, surface, crossings.is_within))
    return dataclasses.replace(inflow, supplied_cell=edge.cell[is_supplied], notes=notes)


def _reach_m(context: ContextElevation, fine: Grid, criteria: Criteria) -> float:
    return criteria.context_snap_cells * max(context.grid.cell_m, fine.cell_m)


def _with_gaps_inside(known: Bool) -> Bool:
    """Count gaps that the window encloses as its own: coarse ground stands in for what lies beyond only."""
    from scipy import ndimage

    filled: Bool = ndimage.binary_fill_holes(known, np.ones((3, 3), bool)) if not known.all() else known
    return filled


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
    is_cut = carry_downstream(stays, order, _beside_nothing(~np.isnan(context.elev_m)).ravel().astype(np.uint8)) > 0
    beyond[within], with_window[within], is_cut[within] = outside_m2[within], 0.0, False
    is_sent = has_elev & within[receiver] & (receiver != np.arange(receiver.size))
    cell = np.flatnonzero(is_sent & (~within | (outside_m2 > _SLIVER_FRAC * grid.cell_area_m2)))
    leaving = np.flatnonzero(has_elev & within & ~within[receiver])
    in_x, in_y = _midway(grid, cell, receiver[cell])
    out_x, out_y = _midway(grid, leaving, receiver[leaving])
    returned = np.maximum(with_window[cell] - beyond[cell], 0.0)
    return Crossings(in_x, in_y, beyond[cell], returned, is_cut[cell], out_x, out_y, is_within)


def _midway(grid: Grid, cell: I64, receiver: I32 | I64) -> tuple[F64, F64]:
    row, col = np.divmod(np.stack((cell, receiver.astype(np.int64))), grid.n_cols)
    return grid.x_of(0) + col.mean(axis=0) * grid.cell_m, grid.y_of(0) - row.mean(axis=0) * grid.cell_m


def _beside_nothing(known: Bool) -> Bool:
    """Mark cells that touch the grid's edge or a cell without elevation, and such cells."""
    from scipy import ndimage

    beside: Bool = ~ndimage.binary_erosion(known, np.ones((3, 3), bool), border_value=0)
    return beside


def _edge_of(grid: Grid, known: Bool) -> _Edge:
    cell = np.flatnonzero(known & _beside_nothing(known))
    row, col = np.divmod(cell, grid.n_cols)
    return _Edge(cell, grid.x_of(0) + col * grid.cell_m, grid.y_of(0) - row * grid.cell_m)


def _choose_cells(
    crossings: Crossings, edge: _Edge, surface: Surface, flow: FlowField, reach_m: float
) -> tuple[I64, Bool]:
    """Choose the edge cell that takes each crossing.

    Returns
    -------
    Flat indices, -1 where no edge cell in reach leads water in; mask of the edge cells in reach of such a crossing.
    """
    from scipy.spatial import cKDTree

    taker = np.full(crossings.area_m2.size, -1, np.int64)
    is_near_lost = np.zeros(edge.cell.size, bool)
    if not taker.size or not edge.cell.size:
        return taker, is_near_lost
    near = cKDTree(np.column_stack((edge.x_m, edge.y_m))).query_ball_point(
        np.column_stack((crossings.x_m, crossings.y_m)), reach_m
    )
    area, level = flow.contributing_area_m2.ravel()[edge.cell], flow.filled_elev_m.ravel()[edge.cell]
    is_ground = (flow.receiver[edge.cell] >= 0) & (surface.structure_index.ravel()[edge.cell] == 0)
    leads_in: dict[int, bool] = {}
    for number, places in enumerate(near):
        own = np.sort(np.asarray(places, np.int64))
        own = own[is_ground[own]]
        for place in own[np.lexsort((level[own], -area[own]))].tolist():
            if place not in leads_in:
                leads_in[place] = _leads_in(flow, int(edge.cell[place]), reach_m)
            if leads_in[place]:
                taker[number] = edge.cell[place]
                break
        else:
            is_near_lost[places] = True
    return taker, is_near_lost


def _leads_in(flow: FlowField, cell: int, reach_m: float) -> bool:
    """Whether water runs farther from a cell than its place is uncertain, before it leaves the window."""
    from screening.kernels.accumulate import downstream_path

    row, col = np.divmod(downstream_path(flow.receiver, cell), flow.grid.n_cols)
    return bool(np.hypot(row - row[0], col - col[0]).max() * flow.grid.cell_m > reach_m)


def _runoff_m(rain: Rain | None, criteria: Criteria) -> float:
    from screening.kernels.runoff import curve_number_runoff

    if rain is None:
        return float("nan")
    depth_mm, number = np.array([rain.depth_mm]), np.array([criteria.context_curve_number])
    return float(curve_number_runoff(depth_mm, number, criteria.initial_abstraction_ratio)[0]) / 1000.0


def _gather(crossings: Crossings, taker: I64, runoff_m: float, curve_number: float, cell_m: float) -> Inflow:
    """Add up what each edge cell takes."""
    is_taken = taker >= 0
    cell, which = np.unique(taker[is_taken], return_inverse=True)

    def total(values: F64 | Bool) -> F64:
        return np.bincount(which, weights=values[is_taken], minlength=cell.size).astype(np.float64)

    area = total(crossings.area_m2)
    returned, is_cut = total(crossings.returned_m2), total(crossings.is_cut) > 0
    return Inflow(cell, area, area * runoff_m, returned, is_cut, curve_number=curve_number, cell_m=cell_m)


def _is_seen(context: ContextElevation, edge: _Edge) -> Bool:
    """Whether an edge cell lies on coarse ground that is known all round."""
    grid = context.grid
    row = np.floor((grid.north_m - edge.y_m) / grid.cell_m).astype(np.int64)
    col = np.floor((edge.x_m - grid.west_m) / grid.cell_m).astype(np.int64)
    is_on = (row >= 0) & (row < grid.n_rows) & (col >= 0) & (col < grid.n_cols)
    seen = np.zeros(edge.cell.size, bool)
    seen[is_on] = ~_beside_nothing(~np.isnan(context.elev_m))[row[is_on], col[is_on]]
    return seen


def _beside_gap_inside(flow: FlowField, known: Bool) -> Bool:
    from scipy import ndimage

    gap = known & np.isnan(flow.filled_elev_m)
    beside: Bool = ndimage.binary_dilation(gap, np.ones((3, 3), bool)).ravel()
    return beside


def _notes(
    context: ContextElevation, inflow: Inflow, lost_m2: float, is_supplied: Bool, rain: Rain | None, criteria: Criteria
) -> tuple[Note, ...]:
    def note(kind: NoteKind, text: str) -> Note:
        return Note(kind, "inflow from beyond", text)

    cells = f"{context.name} (cells of {context.grid.cell_m:.3g} m)"
    if not is_supplied.any():
        text = f"{cells} supplies nothing: it covers no more than the window, or its cells are too large for it"
        return (note("caution", text),)
    text = (
        f"{_hectares(inflow.area_m2.sum())} of ground beyond the window drain into it at {inflow.cell.size} places, by "
        f"{cells}, routed without structures, drains and barriers; the window's edge stands as a wall where a flow path "
        "comes in, and outlines show the part inside the window"
    )
    notes = [note("assumed", text)]
    if rain is not None and inflow.cell.size:
        notes.append(note("assumed", f"runoff beyond the window by curve number {criteria.context_curve_number:g}"))
    if not is_supplied.all():
        text = f"{1.0 - is_supplied.mean():.0%} of the window's edge is not supplied: what it reaches is a lower bound"
        notes.append(note("caution", text))
    if inflow.is_cut.any():
        text = f"at {inflow.is_cut.sum()} places the ground beyond is cut by the coarser elevation's own edge or gaps"
        notes.append(note("caution", text))
    if lost_m2 > 0:
        text = f"{_hectares(lost_m2)} come in by the coarser elevation where no edge cell leads in: not counted"
        notes.append(note("caution", text))
    if inflow.returned_m2.any():
        text = (
            f"water that leaves the window and comes back is not counted again; where it is more than "
            f"{criteria.context_return_max_frac:.0%} of an area, that area is called a lower bound"
        )
        notes.append(note("caution", text))
    return tuple(notes)


def _hectares(area_m2: float) -> str:
    return f"{area_m2 / 1e4:,.2f} ha"


def _note_offset(context: ContextElevation, surface: Surface, is_within: Bool) -> tuple[Note, ...]:
    """Compare the two grounds where both are known: areas bear an offset, a wrong unit should not pass unseen."""
    mean = _mean_elev_m(context.grid, surface)
    step = (context.elev_m - mean)[is_within]
    step = step[np.isfinite(step)]
    if not step.size or abs(offset := float(np.median(step))) <= _OFFSET_CAUTION_M:
        return ()
    text = (
        f"{context.name} lies {abs(offset):.1f} m {'above' if offset > 0 else 'below'} the fine elevation: its unit or "
        "datum may be wrong; areas do not depend on it"
    )
    return (Note("caution", "inflow from beyond", text),)


def _mean_elev_m(coarse: Grid, surface: Surface) -> F64:
    """Mean of the fine ground in each coarse cell [m], NaN where there is none."""
    fine, known = surface.grid, ~np.isnan(surface.elev_m)
    row = np.floor((coarse.north_m - fine.y_of(0) + np.arange(fine.n_rows) * fine.cell_m) / coarse.cell_m)
    col = np.floor((fine.x_of(0) - coarse.west_m + np.arange(fine.n_cols) * fine.cell_m) / coarse.cell_m)
    is_on = known & ((row >= 0) & (row < coarse.n_rows))[:, np.newaxis] & ((col >= 0) & (col < coarse.n_cols))
    at = (row[:, np.newaxis] * coarse.n_cols + col)[is_on].astype(np.int64)
    n_cells = coarse.n_rows * coarse.n_cols
    total = np.bincount(at, weights=surface.elev_m[is_on].astype(np.float64), minlength=n_cells)
    with np.errstate(invalid="ignore"):
        mean: F64 = (total / np.bincount(at, minlength=n_cells)).reshape(coarse.shape)
    return mean
