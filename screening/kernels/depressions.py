"""Filled depressions: label, measure, and level for a given volume."""

from typing import NamedTuple

import numpy as np

from screening.kernels.compiling import F32, F64, I32, I64, compiled
from screening.kernels.neighbours import COL_STEP, ROW_STEP


class DepressionMeasures(NamedTuple):
    """One element per depression, element 0 for label 1; cells count as 1 in area."""

    volume: F64
    """Sum of the depths [cell * m]."""
    depth_max: F32
    """[m]."""
    n_cells: I32
    pit: I64
    """Flat index of the lowest cell, the first of them in raster order."""
    spill_cell: I64
    """Flat index of the first cell downstream outside the depression, -1 if its outlet lies inside."""
    level: F32
    """Elevation at which it spills [m]."""


def label_depressions(elev: F32, filled: F32) -> tuple[I32, int]:
    """Label the groups of raised cells that touch, sides or corners, and fill to the same level.

    Parameters
    ----------
    elev, filled : (n_rows, n_cols) float32 [m]
        NaN = no data.

    Returns
    -------
    label : (n_rows, n_cols) int32
        1..n in raster order of their first cells, 0 elsewhere.
    n : int
    """
    label, n = _label(elev, filled)
    return label, int(n)


def measure_depressions(elev: F32, filled: F32, receiver: I32, labels: I32, n: int) -> DepressionMeasures:
    """Measure volume, depth, size, pit, spill cell and level of each labelled depression.

    Parameters
    ----------
    elev, filled : (n_rows, n_cols) float32 [m]
    receiver : (n_rows * n_cols,) int32
        D8 receiver on `filled`.
    labels : (n_rows, n_cols) int32
    n : int

    Returns
    -------
    DepressionMeasures
        `volume` float64 [cell * m], `depth_max` float32 [m], `n_cells` int32, `pit` int64,
        `spill_cell` int64, `level` float32 [m], each (n,).
    """
    return DepressionMeasures(*_measure(elev.ravel(), filled.ravel(), receiver, labels.ravel(), n))


def level_for_volume(elev_sorted: F64, n: int, volume: float) -> float:
    """Level of the water when a given volume stands over cells of unit area.

    Parameters
    ----------
    elev_sorted : (>= n,) float64 [m]
        Elevations, ascending.
    n : int
        How many of them take part, at least 1; beyond the highest the walls are taken as vertical.
    volume : float [cell * m]

    Returns
    -------
    float [m]

    References
    ----------
    Barnes, Callaghan and Wickert (2021), doi:10.5194/esurf-9-105-2021 (lake-level equation).
    """
    return float(_level_for_volume(elev_sorted, n, volume))


@compiled
def _label(elev: F32, filled: F32) -> tuple[I32, int]:
    n_rows, n_cols = elev.shape
    label = np.zeros((n_rows, n_cols), np.int32)
    queue = np.empty(n_rows * n_cols, np.int32)
    n = 0
    # All raised cells before this one in raster order have their label. Each is queued once, when labelled: room for
    # all cells suffices.
    for start_row in range(n_rows):
        for start_col in range(n_cols):
            level = filled[start_row, start_col]
            # Written so that no data, whose comparison is false, is left out.
            if label[start_row, start_col] != 0 or not level > elev[start_row, start_col]:
                continue
            n += 1
            label[start_row, start_col] = n
            queue[0] = start_row * n_cols + start_col
            n_queue = 1
            # `queue[:n_queue]` are labelled cells of this depression whose neighbours wait to be looked at, the last
            # first.
            while n_queue > 0:
                n_queue -= 1
                row = int(queue[n_queue]) // n_cols
                col = int(queue[n_queue]) - row * n_cols
                # The neighbours before k that belong here are labelled and queued.
                for k in range(8):
                    near_row = row + ROW_STEP[k]
                    near_col = col + COL_STEP[k]
                    if not (0 <= near_row < n_rows and 0 <= near_col < n_cols):
                        continue
                    # One level as well: depressions that touch but spill at other levels stay apart.
                    is_raised = elev[near_row, near_col] < level and filled[near_row, near_col] == level
                    if is_raised and label[near_row, near_col] == 0:
                        label[near_row, near_col] = n
                        queue[n_queue] = near_row * n_cols + near_col
                        n_queue += 1
    return label, n


@compiled
def _measure(elev_of: F32, filled_of: F32, receiver: I32, label_of: I32, n: int) -> tuple[F64, F32, I32, I64, I64, F32]:
    volume = np.zeros(n, np.float64)
    depth_max = np.zeros(n, np.float32)
    n_cells = np.zeros(n, np.int32)
    pit = np.full(n, -1, np.int64)
    spill_cell = np.full(n, -1, np.int64)
    level = np.full(n, np.float32(np.nan), np.float32)
    # Measures are those of the cells before this one. The pit moves to lower cells only: the first of equals stays.
    for cell in range(elev_of.size):
        i = label_of[cell] - 1
        if i < 0:
            continue
        # In double: a sum of many small depths.
        volume[i] += np.float64(filled_of[cell]) - np.float64(elev_of[cell])
        n_cells[i] += 1
        level[i] = filled_of[cell]
        if pit[i] < 0 or elev_of[cell] < elev_of[pit[i]]:
            pit[i] = cell
    # Depressions before `i` are done.
    for i in range(n):
        depth_max[i] = level[i] - elev_of[pit[i]]
        cell = pit[i]
        # Down from the pit; receivers form no cycle, so the walk leaves the depression or ends at an outlet in it.
        while label_of[cell] == i + 1 and receiver[cell] != cell:
            cell = int(receiver[cell])
        if label_of[cell] != i + 1:
            spill_cell[i] = cell
    return volume, depth_max, n_cells, pit, spill_cell, level


@compiled
def _level_for_volume(elev_sorted: F64, n: int, volume: float) -> float:
    total = 0.0
    # `total` is the sum of the k - 1 lowest elevations, and the volume is more than stands over them when the water
    # just reaches the next.
    for k in range(1, n + 1):
        total += elev_sorted[k - 1]
        # volume that stands when the water just reaches the next cell up
        if k == n or volume <= k * elev_sorted[k] - total:
            return float((volume + total) / k)
    return np.nan
