"""Steepest-descent basins of the raw elevation: the leaves of the depression hierarchy."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, U8, compiled, strip_rows, striped
from screening.kernels.neighbours import COL_STEP, NO_STEP, ROW_STEP, flat_offsets, steepest_steps

PIT = NO_STEP
NODATA = 255
LONGEST_PATH = 1024


def label_basins(elev: F32) -> tuple[I32, int]:
    """Label every cell with the basin, hence the pit, that steepest descent takes it to.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
        Elevation, NaN = no data.

    Returns
    -------
    label : (n_rows, n_cols) int32
        1..n_basins, 0 at no data.
    n_basins : int
    """
    n_rows, n_cols = elev.shape
    steps = np.empty((n_rows, n_cols), np.uint8)
    _descend(elev, steps)
    strips = strip_rows(n_rows, n_cols)
    first = np.zeros(strips.size, np.int64)
    heights = np.diff(strips)
    # No two pits touch, so a strip holds at most one per 2 x 2 block; its two border rows may lead out; paths are cut.
    n_cut = heights * n_cols // LONGEST_PATH
    first[1:] = np.cumsum((heights + 1) // 2 * ((n_cols + 1) // 2) + 2 * n_cols + n_cut)
    leads_to = np.empty(first[-1] + 1, np.int32)
    n_found = np.zeros(heights.size, np.int64)
    label = np.zeros((n_rows, n_cols), np.int32)
    _label_strips(steps, label, strips, first, leads_to, n_found)
    final = np.zeros(leads_to.size, np.int32)
    n_basins = _join_strips(label.ravel(), first, leads_to, n_found, final)
    _renumber(label, final)
    return label, int(n_basins)


def basin_floors(elev: F32, label: I32, n_basins: int) -> F32:
    """Elevation of the pit of each basin; element 0 is unused.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    label : (n_rows, n_cols) int32
    n_basins : int

    Returns
    -------
    (n_basins + 1,) float32 [m]
    """
    floors: F32 = _lowest_by_label(elev.ravel(), label.ravel(), n_basins)
    return floors


@striped
def _descend(elev: F32, steps: U8) -> None:
    n_rows, n_cols = elev.shape
    # Rows are independent: each writes its own steps and reads elevation only.
    for row in prange(n_rows):
        steepest_steps(elev, row, steps[row])
        for col in range(n_cols):
            # Nothing is lower: a pit, a part of a flat, or no data, whose comparisons are all false.
            if steps[row, col] == NO_STEP:
                steps[row, col] = _step_on_level(elev, row, col)


@compiled
def _step_on_level(elev: F32, row: int, col: int) -> int:
    """Step to an equal neighbour that is earlier in raster order, so that level ground has no cycles."""
    centre = elev[row, col]
    if np.isnan(centre):
        return NODATA
    n_cols = elev.shape[1]
    # Neighbours before the cell in raster order, sides first. Each step goes back in that order, so no cycle can close.
    for k in (1, 3, 2, 0):
        near_row = row + ROW_STEP[k]
        near_col = col + COL_STEP[k]
        # None of the four lies further south: the last row needs no check.
        if near_row >= 0 and 0 <= near_col < n_cols and elev[near_row, near_col] == centre:
            return k
    return PIT


@striped
def _label_strips(steps: U8, label: I32, strips: I64, first: I64, leads_to: I32, n_found: I64) -> None:
    """Label each strip on its own.

    A label is a pit, with `leads_to` -1, or a step out of the strip or at the end of a long path, with the cell it
    leads to. The path is kept, so that labels are written without following the steps again.
    """
    n_cols = steps.shape[1]
    step_of = steps.reshape(-1)
    label_of = label.reshape(-1)
    offsets = flat_offsets(n_cols)
    # Labels above `first[strip]` belong to this strip alone, so strips that run side by side never write one place.
    for strip in prange(strips.size - 1):
        start = strips[strip] * n_cols
        stop = strips[strip + 1] * n_cols
        newest = first[strip]
        path = np.empty(LONGEST_PATH, np.int32)
        # Every cell of the strip before `source` has its label, or no data.
        for source in range(start, stop):
            if label_of[source] != 0 or step_of[source] == NODATA:
                continue
            cell = source
            n = 0
            found = 0
            # `path[:n]` lead from `source` to the cell before `cell`, all without label. Steps go down or back on level
            # ground, so the walk ends.
            while found == 0:
                path[n] = cell
                n += 1
                target = -1
                if step_of[cell] != PIT:
                    target = int(cell + offsets[step_of[cell]])
                # -1 at a pit is outside of every strip.
                if n < LONGEST_PATH and start <= target < stop:
                    cell = target
                    found = label_of[cell]
                else:
                    # Pit, seam, or a full path: a label of its own. A target in this strip gets its label when its turn
                    # comes.
                    newest += 1
                    leads_to[newest] = target
                    found = newest
            # All of the path drains to one place.
            for i in range(n):
                label_of[path[i]] = found
        n_found[strip] = newest - first[strip]


@compiled
def _join_strips(label_of: I32, first: I64, leads_to: I32, n_found: I64, final: I32) -> int:
    """Write the final number of each label of the strips: pits in raster order of strips, others take their pit's."""
    n_basins = 0
    # Pits first, so that their numbers do not depend on where paths were cut.
    for strip in range(n_found.size):
        # `n_basins` pits have been numbered; labels that lead on wait with 0.
        for name in range(first[strip] + 1, first[strip] + n_found[strip] + 1):
            if leads_to[name] < 0:
                n_basins += 1
                final[name] = n_basins
    # All labels before `name` have their final number.
    for strip in range(n_found.size):
        for name in range(first[strip] + 1, first[strip] + n_found[strip] + 1):
            last = int(name)
            # `last` drains to where `name` does; the chain ends at a pit, which is numbered.
            while final[last] == 0:
                last = int(label_of[leads_to[last]])
            basin = final[last]
            here = int(name)
            # The chain again, each label with its answer: none is followed twice.
            while final[here] == 0:
                final[here] = basin
                here = int(label_of[leads_to[here]])
    return n_basins


@striped
def _renumber(label: I32, final: I32) -> None:
    n_rows, n_cols = label.shape
    # Rows are independent. `final[0]` is 0: no data keeps its label.
    for row in prange(n_rows):
        for col in range(n_cols):
            label[row, col] = final[label[row, col]]


@compiled
def _lowest_by_label(elev_of: F32, label_of: I32, n_labels: int) -> F32:
    lowest = np.full(n_labels + 1, np.float32(np.inf), np.float32)
    # `lowest` is that of the cells before `cell`; NaN is never lower.
    for cell in range(elev_of.size):
        if elev_of[cell] < lowest[label_of[cell]]:
            lowest[label_of[cell]] = elev_of[cell]
    return lowest
