"""The eight neighbours of a cell, in the one fixed order that every tie is broken by.

Index:  0 1 2      NW N NE
        3 . 4      W  .  E
        5 6 7      SW S SE
The opposite of neighbour `k` is `7 - k`; neighbours 0 to 3 come before the cell in raster order.
"""

import numpy as np

from screening.kernels.compiling import F32, I64, U8, compiled

ROW_STEP = (-1, -1, -1, 0, 0, 1, 1, 1)
COL_STEP = (-1, 0, 1, -1, 1, -1, 0, 1)
SQRT_HALF = np.float32(0.70710678)
# One over the distance in cells: single precision everywhere, so that the two ways below give the same steps.
PER_DISTANCE = (SQRT_HALF, np.float32(1), SQRT_HALF, np.float32(1), np.float32(1), SQRT_HALF, np.float32(1), SQRT_HALF)
NO_STEP = 8
SIDES = 1 << 1 | 1 << 3 | 1 << 4 | 1 << 6
"""Bits of the neighbours that share a side."""
DIAGONALS = 255 - SIDES


@compiled
def flat_offsets(n_cols: int) -> I64:
    """Step in flat index to each of the eight neighbours.

    Parameters
    ----------
    n_cols : int

    Returns
    -------
    (8,) int64
    """
    offsets = np.empty(8, np.int64)
    # Each element by itself.
    for k in range(8):
        offsets[k] = ROW_STEP[k] * n_cols + COL_STEP[k]
    return offsets


@compiled
def steepest_step(elev: F32, row: int, col: int) -> int:
    """Index of the steepest lower neighbour of one cell anywhere in the grid.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
        NaN = no data.
    row, col : int

    Returns
    -------
    int
        0 to 7, the first of equals; NO_STEP where none is lower, and at no data.

    References
    ----------
    O'Callaghan and Mark (1984), doi:10.1016/S0734-189X(84)80011-0.
    """
    n_rows, n_cols = elev.shape
    best = np.float32(0)
    step = NO_STEP
    # `best` is the steepest descent to the neighbours before k: a later one must be steeper. No data is never steeper.
    for k in range(8):
        near_row = row + ROW_STEP[k]
        near_col = col + COL_STEP[k]
        if 0 <= near_row < n_rows and 0 <= near_col < n_cols:
            gradient = (elev[row, col] - elev[near_row, near_col]) * PER_DISTANCE[k]
            if gradient > best:
                best = gradient
                step = k
    return step


@compiled
def steepest_steps(elev: F32, row: int, steps: U8) -> None:
    """Write `steepest_step` of each cell of one row into `steps`.

    The interior is written out without branches so that the compiler can take many cells at a time.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
        NaN = no data.
    row : int
    steps : (n_cols,) uint8
        Written.
    """
    n_rows, n_cols = elev.shape
    # Cells of the outer rows and columns lack neighbours.
    if row == 0 or row == n_rows - 1:
        for col in range(n_cols):
            steps[col] = steepest_step(elev, row, col)
        return
    north = elev[row - 1]
    here = elev[row]
    south = elev[row + 1]
    step: int
    # Each cell by itself; the eight neighbours in the fixed order, as in `steepest_step`.
    for col in range(1, n_cols - 1):
        centre = here[col]
        best = np.float32(0)
        step = np.int32(NO_STEP)  # type: ignore[assignment]  # as wide as a gradient
        # `step` is the steepest of those so far, `best` its gradient; it is chosen before `best` is moved.
        gradient = (centre - north[col - 1]) * SQRT_HALF
        step = 0 if gradient > best else step
        best = gradient if gradient > best else best
        gradient = centre - north[col]
        step = 1 if gradient > best else step
        best = gradient if gradient > best else best
        gradient = (centre - north[col + 1]) * SQRT_HALF
        step = 2 if gradient > best else step
        best = gradient if gradient > best else best
        gradient = centre - here[col - 1]
        step = 3 if gradient > best else step
        best = gradient if gradient > best else best
        gradient = centre - here[col + 1]
        step = 4 if gradient > best else step
        best = gradient if gradient > best else best
        gradient = (centre - south[col - 1]) * SQRT_HALF
        step = 5 if gradient > best else step
        best = gradient if gradient > best else best
        gradient = centre - south[col]
        step = 6 if gradient > best else step
        best = gradient if gradient > best else best
        gradient = (centre - south[col + 1]) * SQRT_HALF
        step = 7 if gradient > best else step
        best = gradient if gradient > best else best
        steps[col] = step
    steps[0] = steepest_step(elev, row, 0)
    steps[n_cols - 1] = steepest_step(elev, row, n_cols - 1)
