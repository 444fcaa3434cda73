"""Flats drained the shortest way to their outlets, in breadth."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, U8, compiled, striped
from screening.kernels.conduit_links import Pipes
from screening.kernels.direction_codes import FLAT, NODATA, OUTLET
from screening.kernels.neighbours import COL_STEP, ROW_STEP, flat_offsets

_SEED = 16  # added to the code of a flat cell beside its outlet until all such cells are found
# Of outlets at one distance a flat cell takes the one across a side: the shorter step.
_SIDES_FIRST = (1, 3, 4, 6, 0, 2, 5, 7)


def drain_flats(filled: F32, codes: U8, level_pipes: Pipes) -> U8:
    """Give each flat cell a direction: the shortest way to an outlet of its flat, sides before diagonals.

    A flat without outlet drains through a pipe that leads to drained water of its level; where there is none, its
    first cell in raster order becomes an outlet.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
        Filled elevation, NaN = no data.
    codes : (n_rows, n_cols) uint8
        FLAT where no direction is known yet, never on the window edge. Changed: no cell is FLAT any more.
    level_pipes : Pipes
        Those whose ends lie under water of one level.

    Returns
    -------
    (n_pipes,) uint8
        1 where the inlet of a pipe takes water, 2 where its outlet does, else 0.
    """
    n_rows, n_cols = filled.shape
    n_seeds = np.zeros(n_rows, np.int64)
    n_flat = np.zeros(n_rows, np.int64)
    _mark_seeds(filled, codes, n_seeds, n_flat)
    # Each row writes its seeds to its own stretch of the queue; every flat cell enters the queue once.
    first = np.cumsum(n_seeds) - n_seeds
    queue = np.empty(int(n_flat.sum()), np.int32)
    _collect_seeds(codes, first, queue)
    taken = np.zeros(level_pipes.inlet.size, np.uint8)
    _drain_flats(
        elev_of=filled.ravel(),
        code_of=codes.ravel(),
        n_cols=n_cols,
        queue=queue,
        n_queue=int(n_seeds.sum()),
        inlet=level_pipes.inlet,
        outlet=level_pipes.outlet,
        taken=taken,
    )
    return taken


@striped
def _mark_seeds(filled: F32, codes: U8, n_seeds: I64, n_flat: I64) -> None:
    """Find the flat cells beside an equally high cell that drains.

    Rows run at the same time: a neighbour may turn from FLAT to seed meanwhile; neither counts as draining.
    """
    n_rows, n_cols = filled.shape
    # `n_seeds[:]` and `n_flat[:]` are of the row alone; all flat cells are counted, for the queue must hold them all.
    for row in prange(n_rows):
        for col in range(n_cols):
            if codes[row, col] != FLAT:
                continue
            n_flat[row] += 1
            # No neighbour so far drains at this level. A flat cell is never on the window edge: all eight neighbours
            # exist.
            for k in _SIDES_FIRST:
                near = codes[row + ROW_STEP[k], col + COL_STEP[k]]
                same = filled[row + ROW_STEP[k], col + COL_STEP[k]] == filled[row, col]
                # Codes from `_SEED` up do not count: seeds, which another row may have marked just now, and no data.
                if same and near != FLAT and near < _SEED:
                    codes[row, col] = _SEED + k
                    n_seeds[row] += 1
                    break


@striped
def _collect_seeds(codes: U8, first: I64, queue: I32) -> None:
    n_rows, n_cols = codes.shape
    # Seeds of the rows before lie before `first[row]`: the queue is in raster order, whatever the threads.
    for row in prange(n_rows):
        place = first[row]
        for col in range(n_cols):
            # From here on a seed is a cell that drains to the neighbour of its code.
            if _SEED <= codes[row, col] < NODATA:
                codes[row, col] -= _SEED
                queue[place] = row * n_cols + col
                place += 1


@compiled
def _drain_flats(
    elev_of: F32, code_of: U8, n_cols: int, queue: I32, n_queue: int, inlet: I64, outlet: I64, taken: U8
) -> None:
    """Spread from the seeds over their flats, in breadth; flats without an outlet drain by a pipe, or get one."""
    offsets = flat_offsets(n_cols)
    read = 0
    unread = 0
    # `queue[:n_queue]` are the flat cells that drain, by their distance from the outlets; the queue is full when all
    # do.
    while n_queue < queue.size:
        read, n_queue = _spread(elev_of, code_of, offsets, queue, read, n_queue)
        n_spread = n_queue
        n_queue = _drain_by_pipes(code_of, inlet, outlet, taken, queue, n_queue)
        # No pipe has opened anything: the first cell left becomes an outlet, one at a time, for it may drain the rest.
        if n_spread == n_queue < queue.size:
            # All cells before `unread` drain, and stay so: the search never goes back.
            while code_of[unread] != FLAT:
                unread += 1
            code_of[unread] = OUTLET
            queue[n_queue] = unread
            n_queue += 1


@compiled
def _spread(elev_of: F32, code_of: U8, offsets: I64, queue: I32, read: int, n_queue: int) -> tuple[int, int]:
    # `queue[:read]` have drained their level neighbours; `queue[read:n_queue]` drain, their neighbours not yet looked
    # at.
    while read < n_queue:
        cell = np.int64(queue[read])
        read += 1
        # Cells of the queue are off the window edge: no bounds to check.
        for k in _SIDES_FIRST:
            near = cell + offsets[k]
            if code_of[near] == FLAT and elev_of[near] == elev_of[cell]:
                # Back to `cell`: the opposite of neighbour k is 7 - k.
                code_of[near] = 7 - k
                queue[n_queue] = near
                n_queue += 1
    return read, n_queue


@compiled
def _drain_by_pipes(code_of: U8, inlet: I64, outlet: I64, taken: U8, queue: I32, n_queue: int) -> int:
    """Open the end of a pipe that lies in a flat without outlet, where the other end drains."""
    # Ends that earlier pipes opened count as drained, so a pipe may lead on to the next.
    for pipe in range(inlet.size):
        if code_of[inlet[pipe]] == FLAT and code_of[outlet[pipe]] != FLAT:
            taken[pipe] = 1
            source = inlet[pipe]
        elif code_of[outlet[pipe]] == FLAT and code_of[inlet[pipe]] != FLAT:
            taken[pipe] = 2
            source = outlet[pipe]
        else:
            continue
        # Not FLAT any more: of several pipes from one cell only the first is taken.
        code_of[source] = OUTLET
        queue[n_queue] = source
        n_queue += 1
    return n_queue
