"""The ground as water meets it: gaps filled and flagged, structures as walls, drains opened."""

from __future__ import annotations

import numpy as np

from screening.criteria import Criteria
from screening.grid import cells_along, rasterize
from screening.models import F32, I32, Block, Bool, Note, Surface

_CUTS_NAMED = 5


def build_surface(block: Block, *, criteria: Criteria) -> Surface:
    """Make the surface that water is routed over, beside the ground as it is.

    Structures stand as flat-topped walls `wall_height_m` above the highest ground they touch, one level for
    structures that touch each other, so that water goes round them and a roof drains to the ground beside its
    nearest wall. Drains are cut to a straight grade between their ends. The ground itself is kept: filling or
    raising it would erase what a screening looks for.

    Parameters
    ----------
    block
        The window with its layers.
    criteria
        `void_fill_max_m2`, `wall_height_m`, `breach_length_max_m`, `breach_cost_max_m`.

    Returns
    -------
    The surface.
    """
    grid = block.grid
    elev_m, is_interpolated = fill_small_gaps(
        block.elev_m, max_cells=int(criteria.void_fill_max_m2 / grid.cell_area_m2)
    )
    structure_index = _index_structures(block)
    opened, drain_notes = _open_drains(block, elev_m)
    walled = raise_walls(opened, structure_index, wall_height_m=criteria.wall_height_m)
    routed, breach_notes = _breach(block, walled, criteria)
    notes = (*drain_notes, *breach_notes)
    if is_interpolated.any():
        area = float(is_interpolated.sum()) * grid.cell_area_m2
        notes = (
            Note("repaired", "elevation", f"{area:.0f} m² of small gaps in the elevation were interpolated"),
            *notes,
        )
    remaining = np.isnan(elev_m) & (structure_index == 0)
    if remaining.any():
        leaves = "leaves there" if criteria.nodata_drains else "is held back by them"
        notes = (
            *notes,
            Note(
                "missing",
                "elevation",
                f"{float(remaining.sum()) * grid.cell_area_m2:.0f} m² of the window have no elevation; "
                f"water that reaches them {leaves}",
            ),
        )
    return Surface(grid, elev_m, routed, structure_index, is_interpolated, notes)


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
    if n_groups == 0:
        return elev_m.copy()
    known = np.where(np.isnan(elev_m), -np.inf, elev_m)
    beside = ndimage.maximum_filter(known, size=3, mode="nearest")
    top = ndimage.maximum(beside, labels=group, index=np.arange(1, n_groups + 1))
    level = np.concatenate(([np.nan], np.where(np.isinf(top), np.nan, top + wall_height_m)))
    return np.where(group > 0, level[group], elev_m).astype(np.float32)


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


def _open_drains(block: Block, elev_m: F32) -> tuple[F32, tuple[Note, ...]]:
    if block.drains.empty:
        return elev_m, ()
    opened, notes = elev_m.copy(), []
    for drain in block.drains.itertuples():
        cells = cells_along(block.grid, drain.geometry, closed=False)
        ground = opened[tuple(cells.T)] if cells.size else np.empty(0, np.float32)
        if cells.shape[0] < 2 or np.isnan(ground[[0, -1]]).any():
            notes.append(Note("missing", "drains", f"drain {drain.drain_id} has an end without elevation: not opened"))
            continue
        up = float(drain.invert_up_m) if drain.invert_up_m == drain.invert_up_m else float(ground[0])
        down = float(drain.invert_down_m) if drain.invert_down_m == drain.invert_down_m else float(ground[-1])
        grade = np.linspace(up, down, cells.shape[0]).astype(np.float32)
        opened[tuple(cells.T)] = np.fmin(ground, grade)
        cut = float(np.nanmax(ground - grade))
        if down > up:
            notes.append(Note("caution", "drains", f"drain {drain.drain_id} rises along its line: check its direction"))
        notes.append(
            Note(
                "assumed",
                "drains",
                f"drain {drain.drain_id} is taken as open, cut up to {max(cut, 0):.2f} m deep",
            )
        )
    return opened, tuple(notes)


def _breach(block: Block, walled: F32, criteria: Criteria) -> tuple[F32, tuple[Note, ...]]:
    """Cut channels where the criteria ask for it, and say where: a cut hides a low spot that may be real."""
    from scipy import ndimage

    from screening._whitebox import breach_least_cost

    if criteria.breach_length_max_m == 0:
        return walled, ()
    grid = block.grid
    cut = breach_least_cost(
        walled, cell_m=grid.cell_m, length_max_m=criteria.breach_length_max_m, cost_max_m=criteria.breach_cost_max_m
    )
    depth = np.nan_to_num(walled - cut)
    label, n_cuts = ndimage.label(depth > 0, structure=np.ones((3, 3), int))
    deepest = ndimage.maximum(depth, label, np.arange(1, n_cuts + 1))
    places = ndimage.maximum_position(depth, label, np.arange(1, n_cuts + 1))
    ranked = sorted(zip(np.atleast_1d(deepest).tolist(), places, strict=True), reverse=True)[:_CUTS_NAMED]
    where = "; ".join(f"{d:.2f} m at x {grid.x_of(col):.0f}, y {grid.y_of(row):.0f}" for d, (row, col) in ranked)
    text = (
        f"{n_cuts} channels were cut by least-cost breaching; low spots that they drain are not seen. Deepest: {where}"
    )
    return cut, (Note("assumed", "breaching", text),) if n_cuts else ()
