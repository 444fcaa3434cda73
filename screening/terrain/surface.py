"""The ground as water meets it: gaps filled and flagged, structures as walls, drains and downspouts."""

from __future__ import annotations

import dataclasses
import itertools
from typing import Any

import numpy as np

from screening.grid import rasterize
from screening.models import (
    EAST_SIDE,
    F32,
    I32,
    I64,
    NORTH_SIDE,
    SOUTH_SIDE,
    U8,
    WEST_SIDE,
    Block,
    Bool,
    Note,
    Surface,
    note,
)
from screening.schema.codes.notes import DownspoutProblem, NoteCode, NoteKind, NoteSubject
from screening.schema.columns import SURFACE_CHANGE_COLUMNS, declared
from screening.schema.criteria import Criteria
from screening.terrain.drains import open_drains
from screening.terrain.earthworks import breach, raise_barriers
from screening.terrain.intakes import lay_intakes

_SIDES = (NORTH_SIDE, EAST_SIDE, SOUTH_SIDE, WEST_SIDE)


def build_surface(block: Block, *, criteria: Criteria) -> Surface:
    """Make the surface that water is routed over, beside the ground as it is.

    Barriers are raised and swales cut so that they act at cell size; culverts lead water under the ground, which
    stays. Structures stand as flat-topped walls `wall_height_m` above the highest ground they touch, one level for
    structures that touch each other, so that water goes round them and a roof drains to the ground beside its
    nearest wall, or to its downspouts where they are given. The ground itself is kept: filling or raising it would
    erase what a screening looks for.

    Parameters
    ----------
    block
        The window with its layers.
    criteria
        `void_fill_max_m2`, `wall_height_m`, `curb_height_m`, `drain_snap_m`, `downspout_reach_m`,
        `breach_length_max_m`, `breach_cost_max_m`.

    Returns
    -------
    The surface, with all that was changed and where.
    """
    grid = block.grid
    max_cells = int(criteria.terrain.void_fill_max_m2 / grid.cell_area_m2)
    elev_m, is_interpolated = fill_small_gaps(block.elev_m, max_cells=max_cells)
    cut_gap_cell, cut_gap_sides = find_cut_gaps(elev_m, max_cells=max_cells)
    structure_index = _index_structures(block)
    raised, barrier_changes, barrier_notes = raise_barriers(block, elev_m, criteria=criteria)
    opened, pipes, drain_changes, drain_notes = open_drains(block, raised, structure_index, criteria=criteria)
    walled = raise_walls(opened, structure_index, wall_height_m=criteria.terrain.wall_height_m)
    pipes, intake_notes = lay_intakes(block, opened, walled, structure_index, pipes)
    taken = np.concatenate((pipes.inlet, pipes.sink_cell))
    routed, breach_changes, breach_notes = breach(block, walled, inlets=taken, criteria=criteria)
    roof_cell, roof_target, roof_notes = lead_roofs(block, structure_index, reach_m=criteria.terrain.downspout_reach_m)
    changes = [*barrier_changes, *drain_changes, *breach_changes]
    rows = [change.as_row(grid, number) for number, change in enumerate(changes, start=1)]
    outlines = [row["geometry"] for row in rows]
    notes = (*_gap_notes(elev_m, is_interpolated, structure_index, block, criteria), *barrier_notes, *drain_notes)
    return Surface(
        grid=grid,
        elev_m=elev_m,
        routed_elev_m=routed,
        structure_index=structure_index,
        is_interpolated=is_interpolated,
        changes=declared(rows, SURFACE_CHANGE_COLUMNS, geometry=outlines, crs=grid.crs),
        conduits=dataclasses.replace(pipes, roof_cell=roof_cell, roof_target=roof_target),
        cut_gap_cell=cut_gap_cell,
        cut_gap_sides=cut_gap_sides,
        notes=(*notes, *intake_notes, *breach_notes, *roof_notes),
    )


def _gap_notes(
    elev_m: F32, is_interpolated: Bool, structure_index: I32, block: Block, criteria: Criteria
) -> list[Note]:
    cell_area = block.grid.cell_area_m2
    notes = []
    if is_interpolated.any():
        area = float(is_interpolated.sum()) * cell_area
        notes.append(note(NoteKind.REPAIRED, NoteSubject.ELEVATION, NoteCode.GAPS_INTERPOLATED, area_m2=area))
    remaining = np.isnan(elev_m) & (structure_index == 0)
    if remaining.any():
        code = NoteCode.GAPS_DRAIN if criteria.terrain.nodata_drains else NoteCode.GAPS_HOLD
        area = float(remaining.sum()) * cell_area
        notes.append(note(NoteKind.MISSING, NoteSubject.ELEVATION, code, area_m2=area))
    return notes


def lead_roofs(block: Block, structure_index: I32, *, reach_m: float) -> tuple[I64, I64, list[Note]]:
    """Lead the roofs of structures that have downspouts to the ground at their nearest downspout.

    Parameters
    ----------
    block
        `downspouts`, each with the id of its structure, or empty: then the nearest one within reach.
    structure_index
        Row of the structures + 1, 0 elsewhere.
    reach_m
        Farthest that a downspout may stand from its structure [m].

    Returns
    -------
    Flat indices of roof cells, and of the ground cell that each drains to; notes.
    """
    from scipy.spatial import cKDTree

    grid, notes = block.grid, []
    by_structure: dict[int, list[int]] = {}
    for spout in block.downspouts.itertuples():
        beside = _cell_beside(spout.geometry, block, structure_index, reach_m)
        number = _structure_of(spout, block, reach_m)
        if number == 0 or beside < 0:
            notes.append(
                note(
                    NoteKind.CAUTION,
                    NoteSubject.DOWNSPOUTS,
                    NoteCode.DOWNSPOUT_LEFT_OUT,
                    downspout_id=spout.downspout_id,
                    problem=DownspoutProblem.NO_STRUCTURE if number == 0 else DownspoutProblem.NO_GROUND,
                    reach_m=reach_m,
                )
            )
            continue
        by_structure.setdefault(number, []).append(beside)
    cells, targets = [np.empty(0, np.int64)], [np.empty(0, np.int64)]
    for number, grounds in by_structure.items():
        own = np.flatnonzero(structure_index.ravel() == number)
        spots = np.asarray(sorted(set(grounds)), np.int64)
        at = np.column_stack(np.divmod(spots, grid.n_cols))
        _, nearest = cKDTree(at).query(np.column_stack(np.divmod(own, grid.n_cols)))
        cells.append(own.astype(np.int64))
        targets.append(spots[nearest])
    return np.concatenate(cells), np.concatenate(targets), notes


def _structure_of(spout: Any, block: Block, reach_m: float) -> int:
    """Row + 1 of the structure a downspout belongs to, 0 if there is none."""
    if spout.structure_id:
        rows = np.flatnonzero((block.structures["structure_id"] == spout.structure_id).to_numpy(bool))
        return int(rows[0]) + 1 if rows.size else 0
    if block.structures.empty:
        return 0
    distance = block.structures.geometry.distance(spout.geometry).to_numpy(float)
    return int(distance.argmin()) + 1 if distance.min() <= reach_m else 0


def _cell_beside(point: Any, block: Block, structure_index: I32, reach_m: float) -> int:
    """Flat index of the ground cell nearest to a point, -1 if none lies within reach."""
    grid = block.grid
    col, row = (point.x - grid.west_m) / grid.cell_m - 0.5, (grid.north_m - point.y) / grid.cell_m - 0.5
    reach = int(np.ceil(reach_m / grid.cell_m)) + 1
    rows = np.arange(max(round(row) - reach, 0), min(round(row) + reach + 1, grid.n_rows))
    cols = np.arange(max(round(col) - reach, 0), min(round(col) + reach + 1, grid.n_cols))
    if rows.size == 0 or cols.size == 0:
        return -1
    near = np.ix_(rows, cols)
    distance = np.hypot(rows[:, np.newaxis] - row, cols - col) * grid.cell_m
    distance[(structure_index[near] > 0) | np.isnan(block.elev_m[near]) | (distance > reach_m + grid.cell_m)] = np.inf
    best = int(distance.argmin())
    if np.isinf(distance.ravel()[best]):
        return -1
    return int(rows[best // cols.size] * grid.n_cols + cols[best % cols.size])


def fill_small_gaps(elev_m: F32, *, max_cells: int) -> tuple[F32, Bool]:
    """Interpolate gaps that are small and wholly inside the window.

    Parameters
    ----------
    elev_m
        float32 [m], NaN = no data.
    max_cells
        Largest gap, in cells, that is interpolated. A gap cut by the window edge has no known size and stays.

    Returns
    -------
    Elevation float32 [m], and the mask of interpolated cells.
    """
    from rasterio.fill import fillnodata
    from scipy import ndimage

    gaps = np.isnan(elev_m)
    if not gaps.any() or gaps.all() or max_cells < 1:
        return elev_m.copy(), np.zeros(elev_m.shape, bool)
    label, n_gaps = ndimage.label(gaps, structure=np.ones((3, 3), int))
    size = np.bincount(label.ravel(), minlength=n_gaps + 1)
    edge = np.unique(np.concatenate((label[0], label[-1], label[:, 0], label[:, -1])))
    is_small = size <= max_cells
    is_small[edge] = False
    is_small[0] = False
    chosen = is_small[label]
    if not chosen.any():
        return elev_m.copy(), chosen
    # Far enough to see across the largest gap that may be filled.
    reach = float(np.ceil(np.sqrt(max_cells)) * 2 + 2)
    filled = fillnodata(np.where(gaps, np.float32(0), elev_m), mask=~gaps, max_search_distance=reach)
    return np.where(chosen, filled, elev_m).astype(np.float32), chosen


def find_cut_gaps(elev_m: F32, *, max_cells: int) -> tuple[I64, U8]:
    """Find the cells beside gaps that the window's edge cuts and that a wider window may show as small.

    There such a gap is interpolated, and ground that drains from it is no longer beside unknown ground.

    Parameters
    ----------
    elev_m
        float32 [m], NaN = no data.
    max_cells
        As for `fill_small_gaps`: a gap with more cells within the window stays unknown in any.

    Returns
    -------
    Flat indices, int64, and the bits of the sides on which their gaps go on, uint8.
    """
    from scipy import ndimage

    gaps = np.isnan(elev_m)
    edges = (gaps[0], gaps[:, -1], gaps[-1], gaps[:, 0])
    if not any(edge.any() for edge in edges):
        return np.empty(0, np.int64), np.empty(0, np.uint8)
    label, n_gaps = ndimage.label(gaps, structure=np.ones((3, 3), int))
    sides = np.zeros(n_gaps + 1, np.uint8)
    for side, at_edge in zip(_SIDES, (label[0], label[:, -1], label[-1], label[:, 0]), strict=True):
        sides[np.unique(at_edge)] |= side
    sides[np.bincount(label.ravel(), minlength=n_gaps + 1) > max_cells] = 0
    sides[0] = 0
    beside = np.zeros(elev_m.shape, np.uint8)
    for bit in (bit for bit in _SIDES if (sides & bit).any()):
        beside[ndimage.binary_dilation((sides[label] & bit) > 0, np.ones((3, 3), bool))] |= bit
    beside[label > 0] = 0
    cell = np.flatnonzero(beside)
    return cell, beside.ravel()[cell]


def raise_walls(elev_m: F32, structure_index: I32, *, wall_height_m: float) -> F32:
    """Raise structures to one flat level for each group of touching footprints.

    Parameters
    ----------
    elev_m
        float32 [m].
    structure_index
        int32, > 0 where a structure stands.
    wall_height_m
        Height above the highest ground under or beside the group [m].

    Returns
    -------
    Raised elevation, float32 [m]; a group with no ground known around it stays without data.
    """
    from scipy import ndimage

    group, n_groups = ndimage.label(structure_index > 0, structure=np.ones((3, 3), int))
    raised = elev_m.astype(np.float32)
    # Only structures and what is beside them are looked at: they are few in a large window.
    row, col = np.nonzero(group)
    of_cell = group[row, col]
    top = np.full(n_groups + 1, -np.inf, np.float32)
    for step in itertools.product((-1, 0, 1), repeat=2):
        beside = elev_m[np.clip(row + step[0], 0, group.shape[0] - 1), np.clip(col + step[1], 0, group.shape[1] - 1)]
        np.fmax.at(top, of_cell, beside)
    raised[row, col] = np.where(np.isinf(top), np.float32(np.nan), top + np.float32(wall_height_m))[of_cell]
    return raised


def _index_structures(block: Block) -> I32:
    rows = range(1, len(block.structures) + 1)
    shapes = list(block.structures.geometry)
    index = rasterize(block.grid, shapes, rows)
    # A footprint that holds no cell centre still stands in the way: take the cells it touches.
    missed = np.setdiff1d(np.arange(1, len(shapes) + 1), np.unique(index))
    if missed.size:
        touched = rasterize(block.grid, [shapes[row - 1] for row in missed], missed.tolist(), all_touched=True)
        index = np.where(index > 0, index, touched)
    return index
