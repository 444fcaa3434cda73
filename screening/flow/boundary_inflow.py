"""Water from beyond the window: handed over where the flow of coarser ground comes in."""

from __future__ import annotations

import dataclasses
from functools import partial

import numpy as np

from screening.flow.boundary_crossings import WindowEdge, beside_nothing, edge_of, snap_reach_m, with_gaps_inside
from screening.grid import Grid
from screening.models import (
    F64,
    I64,
    Block,
    Bool,
    ContextElevation,
    Crossings,
    FlowField,
    Inflow,
    Note,
    Rain,
    Surface,
    note,
)
from screening.schema.codes.notes import NoteCode, NoteKind, NoteSubject
from screening.schema.criteria import Criteria

_OFFSET_CAUTION_M = 5.0
"""Coarse ground this far above or below the fine: no two vertical datums of one place that are in use for ground
elevations differ so much, so a unit or a file is wrong. From memory."""


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
    known = with_gaps_inside(~np.isnan(flow.filled_elev_m))
    edge = edge_of(flow.grid, known)
    taker, is_near_lost = _choose_cells(crossings, edge, surface, flow, snap_reach_m(context, flow.grid, criteria))
    inflow = _gather(
        crossings, taker, _runoff_m(rain, criteria), criteria.flow.context_curve_number, context.grid.cell_m
    )
    is_supplied = _is_seen(context, edge) & ~is_near_lost & ~_beside_gap_inside(flow, known)[edge.cell]
    is_supplied &= ~np.isin(edge.cell, inflow.cell[inflow.is_cut])
    if not crossings.is_within.any():
        is_supplied[:] = False
    notes = _notes(context, inflow, float(crossings.area_m2[taker < 0].sum()), is_supplied, rain, criteria)
    notes = (*notes, *_note_offset(context, surface, crossings.is_within))
    return dataclasses.replace(inflow, supplied_cell=edge.cell[is_supplied], notes=notes)


def shed_inflow(inflow: Inflow, rain: Rain, *, criteria: Criteria) -> Inflow:
    """Give the same ground beyond the window the runoff of another rain.

    Parameters
    ----------
    inflow
        Of any rain.
    rain
        Of the storm.
    criteria
        `context_curve_number`, `initial_abstraction_ratio`.
    """
    return dataclasses.replace(inflow, runoff_m3=inflow.area_m2 * _runoff_m(rain, criteria))


def _choose_cells(
    crossings: Crossings, edge: WindowEdge, surface: Surface, flow: FlowField, reach_m: float
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
    from screening.kernels.flow_paths import downstream_path

    row, col = np.divmod(downstream_path(flow.receiver, cell), flow.grid.n_cols)
    return bool(np.hypot(row - row[0], col - col[0]).max() * flow.grid.cell_m > reach_m)


def _runoff_m(rain: Rain | None, criteria: Criteria) -> float:
    from screening.kernels.runoff import curve_number_runoff

    if rain is None:
        return float("nan")
    depth_mm, number = np.array([rain.depth_mm]), np.array([criteria.flow.context_curve_number])
    return float(curve_number_runoff(depth_mm, number, criteria.storm.initial_abstraction_ratio)[0]) / 1000.0


def _gather(crossings: Crossings, taker: I64, runoff_m: float, curve_number: float, cell_m: float) -> Inflow:
    """Add up what each edge cell takes."""
    is_taken = taker >= 0
    cell, which = np.unique(taker[is_taken], return_inverse=True)

    def total(values: F64 | Bool) -> F64:
        return np.bincount(which, weights=values[is_taken], minlength=cell.size).astype(np.float64)

    area = total(crossings.area_m2)
    returned, is_cut = total(crossings.returned_m2), total(crossings.is_cut) > 0
    return Inflow(cell, area, area * runoff_m, returned, is_cut, curve_number=curve_number, cell_m=cell_m)


def _is_seen(context: ContextElevation, edge: WindowEdge) -> Bool:
    """Whether an edge cell lies on coarse ground that is known all round."""
    grid = context.grid
    row = np.floor((grid.north_m - edge.y_m) / grid.cell_m).astype(np.int64)
    col = np.floor((edge.x_m - grid.west_m) / grid.cell_m).astype(np.int64)
    is_on = (row >= 0) & (row < grid.n_rows) & (col >= 0) & (col < grid.n_cols)
    seen = np.zeros(edge.cell.size, bool)
    seen[is_on] = ~beside_nothing(~np.isnan(context.elev_m))[row[is_on], col[is_on]]
    return seen


def _beside_gap_inside(flow: FlowField, known: Bool) -> Bool:
    from scipy import ndimage

    gap = known & np.isnan(flow.filled_elev_m)
    beside: Bool = ndimage.binary_dilation(gap, np.ones((3, 3), bool)).ravel()
    return beside


def _notes(
    context: ContextElevation, inflow: Inflow, lost_m2: float, is_supplied: Bool, rain: Rain | None, criteria: Criteria
) -> tuple[Note, ...]:
    assumed = partial(note, NoteKind.ASSUMED, NoteSubject.INFLOW)
    caution = partial(note, NoteKind.CAUTION, NoteSubject.INFLOW)
    name, cell_m = context.name, context.grid.cell_m
    if not is_supplied.any():
        return (caution(NoteCode.CONTEXT_SUPPLIES_NOTHING, name=name, cell_m=cell_m),)
    area_m2, n_places = inflow.area_m2.sum(), inflow.cell.size
    notes = [assumed(NoteCode.CONTEXT_DRAINS_IN, area_m2=area_m2, n_places=n_places, name=name, cell_m=cell_m)]
    if rain is not None and n_places:
        notes.append(assumed(NoteCode.CONTEXT_RUNOFF, curve_number=criteria.flow.context_curve_number))
    if not is_supplied.all():
        notes.append(caution(NoteCode.CONTEXT_EDGE_OPEN, share_frac=1.0 - is_supplied.mean()))
    if inflow.is_cut.any():
        notes.append(caution(NoteCode.CONTEXT_CUT, n_places=inflow.is_cut.sum()))
    if lost_m2 > 0:
        notes.append(caution(NoteCode.CONTEXT_LOST, area_m2=lost_m2))
    if inflow.returned_m2.any():
        notes.append(caution(NoteCode.CONTEXT_RETURNS, most_frac=criteria.flow.context_return_max_frac))
    return tuple(notes)


def _note_offset(context: ContextElevation, surface: Surface, is_within: Bool) -> tuple[Note, ...]:
    """Compare the two grounds where both are known: areas bear an offset, a wrong unit should not pass unseen."""
    mean = _mean_elev_m(context.grid, surface)
    step = (context.elev_m - mean)[is_within]
    step = step[np.isfinite(step)]
    if not step.size or abs(offset := float(np.median(step))) <= _OFFSET_CAUTION_M:
        return ()
    code = NoteCode.CONTEXT_ABOVE if offset > 0 else NoteCode.CONTEXT_BELOW
    return (note(NoteKind.CAUTION, NoteSubject.INFLOW, code, name=context.name, offset_m=abs(offset)),)


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
