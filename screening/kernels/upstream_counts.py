"""How many cells drain through each, counted along the direction codes in strips."""

import numpy as np
from numba import prange

from screening.kernels.compiling import I32, I64, U8, compiled, strip_rows, striped
from screening.kernels.direction_codes import NODATA
from screening.kernels.neighbours import COL_STEP, ROW_STEP, flat_offsets

# Marks in place of the number of donors left to wait for, which is eight at most.
_COUNTED, _WAITS_AT_SEAM = 255, 254


def count_upstream(codes: U8) -> I32:
    """Count the cells that drain through each cell, itself included; conduit links are not followed.

    Parameters
    ----------
    codes : (n_rows, n_cols) uint8

    Returns
    -------
    (n_rows, n_cols) int32
        0 at no data.
    """
    n_donors = np.empty(codes.shape, np.uint8)
    _count_donors(codes, n_donors)
    strips = strip_rows(*codes.shape)
    n_upstream = np.empty(codes.shape, np.int32)
    _count_in_strips(codes, n_donors, n_upstream, strips)
    _count_across_seams(codes.ravel(), n_donors.ravel(), n_upstream.ravel(), strips, codes.shape[1])
    return n_upstream


@striped
def _count_donors(codes: U8, n_donors: U8) -> None:
    n_rows, n_cols = codes.shape
    # Rows are independent: each writes its own counts.
    for row in prange(n_rows):
        if 0 < row < n_rows - 1:
            _count_donors_inside(codes[row - 1], codes[row], codes[row + 1], n_donors[row])
        # The cells that the fast row above leaves out: whole first and last rows, else the first and the last column.
        step = 1 if row == 0 or row == n_rows - 1 else max(1, n_cols - 1)
        for col in range(0, n_cols, step):
            n = 0
            # `n` of the neighbours before k drain here: neighbour k does if its code is the opposite, 7 - k.
            for k in range(8):
                near_row = row + ROW_STEP[k]
                near_col = col + COL_STEP[k]
                inside = 0 <= near_row < n_rows and 0 <= near_col < n_cols
                if inside and codes[near_row, near_col] == 7 - k:
                    n += 1
            n_donors[row, col] = n


@compiled
def _count_donors_inside(north: U8, here: U8, south: U8, n_donors: U8) -> None:
    # No branches and no bounds, so that the compiler takes many cells at a time.
    for col in range(1, here.size - 1):
        n_donors[col] = (
            np.uint8(north[col - 1] == 7)
            + np.uint8(north[col] == 6)
            + np.uint8(north[col + 1] == 5)
            + np.uint8(here[col - 1] == 4)
            + np.uint8(here[col + 1] == 3)
            + np.uint8(south[col - 1] == 2)
            + np.uint8(south[col] == 1)
            + np.uint8(south[col + 1] == 0)
        )


@striped
def _count_in_strips(codes: U8, n_donors: U8, n_upstream: I32, strips: I64) -> None:
    """Walk down from every cell without donors, as far as the other donors have been counted.

    Walks stop where they would leave the strip.
    """
    n_cols = codes.shape[1]
    code_of = codes.reshape(-1)
    left = n_donors.reshape(-1)
    count = n_upstream.reshape(-1)
    offsets = flat_offsets(n_cols)
    # A strip writes its own cells alone: walks end before a seam.
    for strip in prange(strips.size - 1):
        start = strips[strip] * n_cols
        stop = strips[strip + 1] * n_cols
        # Each cell counts itself before any walk begins.
        for cell in range(start, stop):
            count[cell] = 1 if code_of[cell] != NODATA else 0
        # All that drains within the strip from cells before `source` is carried as far as their donors allow.
        for source in range(start, stop):
            cell = source
            # All donors of `cell` are in, so its count is whole. The last donor to come carries it on.
            while left[cell] == 0:
                left[cell] = _COUNTED
                # An outlet, or no data, which nothing drains to.
                if code_of[cell] > 7:
                    break
                target = cell + offsets[code_of[cell]]
                if target < start or target >= stop:
                    left[cell] = _WAITS_AT_SEAM
                    break
                count[target] += count[cell]
                left[target] -= 1
                cell = target


@compiled
def _count_across_seams(code_of: U8, left: U8, count: I32, strips: I64, n_cols: int) -> None:
    offsets = flat_offsets(n_cols)
    # All cells that waited at the seams before this one have been walked from, as far as other donors allowed.
    for seam in strips[1:-1]:
        # Only the rows on both sides of a seam hold cells that wait.
        for source in range((seam - 1) * n_cols, (seam + 1) * n_cols):
            if left[source] != _WAITS_AT_SEAM:
                continue
            cell = source
            # The count of `cell` is whole. Walks may go over any number of seams.
            while True:
                left[cell] = _COUNTED
                if code_of[cell] > 7:
                    break
                target = cell + offsets[code_of[cell]]
                count[target] += count[cell]
                left[target] -= 1
                # Another donor is still to come, and will carry it on.
                if left[target] != 0:
                    break
                cell = target
