"""Paths of water from one cell down, as lists of cells."""

import numpy as np

from screening.kernels.compiling import I32, I64, compiled


def downstream_path(receiver: I32, start: int) -> I64:
    """List the cells from `start` down to its outlet, both included; empty at no data.

    Parameters
    ----------
    receiver : (n_cells,) int32
    start : int

    Returns
    -------
    (n_path,) int64
    """
    path: I64 = _path(receiver, int(start))
    return path


def path_to_label(receiver: I32, start: int, label: I32, passing: int = 0) -> I64:
    """List the cells from `start` down to the first with a label > 0 other than `passing`, or to the outlet.

    Parameters
    ----------
    receiver : (n_cells,) int32
    start : int
    label : (n_cells,) int32
    passing : int

    Returns
    -------
    (n_path,) int64
        The last cell included; empty at no data.
    """
    path: I64 = _path_to_label(receiver, int(start), label, int(passing))
    return path


@compiled
def _path(receiver: I32, start: int) -> I64:
    if receiver[start] < 0:
        return np.empty(0, np.int64)
    n = 1
    cell = np.int64(start)
    # `n` cells lead from `start` to `cell`: counted first, so that the list has its exact size.
    while receiver[cell] != cell:
        cell = np.int64(receiver[cell])
        n += 1
    path = np.empty(n, np.int64)
    cell = np.int64(start)
    # `path[:i]` lead from `start` to the cell before `cell`.
    for i in range(n):
        path[i] = cell
        cell = np.int64(receiver[cell])
    return path


@compiled
def _path_to_label(receiver: I32, start: int, label: I32, passing: int) -> I64:
    if receiver[start] < 0:
        return np.empty(0, np.int64)
    path = np.empty(64, np.int64)
    n = 0
    cell = np.int64(start)
    # `path[:n]` lead from `start` to the cell before `cell`; none of them ends the path.
    while True:
        # Twice the room each time, so that a long path is copied a few times only.
        if n == path.size:
            longer = np.empty(2 * n, np.int64)
            longer[:n] = path
            path = longer
        path[n] = cell
        n += 1
        if receiver[cell] == cell or (label[cell] > 0 and label[cell] != passing):
            return path[:n].copy()
        cell = np.int64(receiver[cell])
