"""Zones of cells as ragged lists."""

from typing import Any

import numpy as np

from screening.kernels.compiling import I32, I64, compiled


def ragged_from_labels(label: I32, n_zones: int) -> tuple[I64, I64]:
    """List the cells of each zone of a label raster.

    Parameters
    ----------
    label : (n_rows, n_cols) int32
        Zone number 1..n_zones, 0 elsewhere.
    n_zones : int

    Returns
    -------
    zone_start : (n_zones + 1,) int64
    zone_cells : (n,) int64
        Flat indices, ascending within each zone.
    """
    flat = label.ravel()
    cells = np.flatnonzero(flat)
    order = np.argsort(flat[cells], kind="stable")
    return _starts(flat[cells], n_zones), cells[order].astype(np.int64)


def ring_of_labels(label: I32, n_zones: int) -> tuple[I64, I64]:
    """List the unlabelled cells that touch each zone, by side or corner.

    Parameters
    ----------
    label : (n_rows, n_cols) int32
        Zone number 1..n_zones, 0 elsewhere.
    n_zones : int

    Returns
    -------
    zone_start : (n_zones + 1,) int64
    zone_cells : (n,) int64
        Flat indices, ascending within each zone; a cell may lie in several rings.
    """
    cells = np.flatnonzero(label.ravel()).astype(np.int64)
    # One number for a zone and a cell together, so that sorting once gives both orders.
    keys = np.unique(_ring_keys(label, cells))
    zone = keys // label.size
    return _starts(zone, n_zones), keys - zone * label.size


def _starts(zone_of_cell: Any, n_zones: int) -> I64:
    counts = np.bincount(zone_of_cell, minlength=n_zones + 1)[1 : n_zones + 1]
    return np.concatenate((np.zeros(1, np.int64), np.cumsum(counts, dtype=np.int64)))


@compiled
def _ring_keys(label, cells):  # type: ignore[no-untyped-def]
    n_rows, n_cols = label.shape
    keys = np.empty(cells.size * 8, np.int64)
    n = 0
    # `keys[:n]` are of the cells before this one; eight neighbours each at most, so the room suffices.
    for cell in cells:
        row = cell // n_cols
        col = cell - row * n_cols
        # Cut off at the window edge; the cell itself is labelled, and so left out.
        for near_row in range(max(row - 1, 0), min(row + 2, n_rows)):
            for near_col in range(max(col - 1, 0), min(col + 2, n_cols)):
                if label[near_row, near_col] == 0:
                    # A cell beside several cells of a zone is listed several times; the caller keeps one.
                    keys[n] = np.int64(label[row, col]) * label.size + near_row * n_cols + near_col
                    n += 1
    return keys[:n]
