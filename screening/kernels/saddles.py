"""Lowest saddles between touching basins, and where basins drain out of the data."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, compiled, strip_rows, striped

# Saddles kept open per strip while scanning; a saddle pushed out early is found again and listed twice.
OPEN_SADDLES = 1024
# Columns scanned together, so that the saddles of a neighbourhood stay open while it is scanned.
BLOCK_COLS = 128
CELLS_PER_SADDLE = 2


def find_saddles(elev: F32, label: I32, *, cells_per_saddle: int = CELLS_PER_SADDLE) -> tuple[I32, I32, F32, I32]:
    """List the saddles between touching basins: the lowest of each pair, and some higher ones.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    label : (n_rows, n_cols) int32
        Basins 1..n, 0 at no data.
    cells_per_saddle : int
        Room provided at first; where it does not suffice the scan is run again with the room it needs.

    Returns
    -------
    basin_a, basin_b : (n_saddles,) int32
        The two basins, basin_a < basin_b.
    saddle_elev : (n_saddles,) float32 [m]
    saddle_cell : (n_saddles,) int32
        Flat index of the higher of the two cells that the saddle lies between; of those that tie, the first in
        raster order.
    """
    strips = strip_rows(*elev.shape)
    room = np.diff(strips) * elev.shape[1] // cells_per_saddle + 16
    # `room` of each strip is a guess at first, and then what the scan counted: the second always suffices.
    while True:
        first = np.zeros(strips.size, np.int64)
        first[1:] = np.cumsum(room)
        pairs = np.empty(first[-1], np.int64)
        ranks = np.empty(first[-1], np.int64)
        n_found = np.zeros(room.size, np.int64)
        _scan_saddles(elev=elev, label=label, strips=strips, first=first, pairs=pairs, ranks=ranks, n_found=n_found)
        if (n_found <= room).all():
            break
        room = n_found
    saddles: tuple[I32, I32, F32, I32] = _gather(elev.ravel(), pairs, ranks, first, n_found)
    return saddles


def find_outlets(elev: F32, label: I32, n_basins: int, nodata_drains: bool) -> tuple[F32, I32]:
    """Find the lowest cell by which each basin drains out of the data.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    label : (n_rows, n_cols) int32
    n_basins : int
    nodata_drains : bool
        Whether cells that touch no data drain there; cells on the window edge always drain.

    Returns
    -------
    outlet_elev : (n_basins + 1,) float32 [m]
        +inf where a basin does not drain out of the data; element 0 is unused.
    outlet_cell : (n_basins + 1,) int32
        Flat index; of those that tie, the first in raster order; -1 where there is none.
    """
    outlets: tuple[F32, I32] = _lowest_outlets(elev, label, n_basins, bool(nodata_drains))
    return outlets


@compiled
def _rank(height: float, sill: int) -> int:
    """Height and cell as one number that sorts as the height, then the cell: one comparison with no branch."""
    bits = np.int64(np.float32(height).view(np.int32))
    # As `joins.rank_by_height`, which stands above this module: negative floats have all bits but the sign flipped.
    key = bits if bits >= 0 else bits ^ 0x7FFFFFFF
    return np.int64(key << 32 | np.int64(sill))  # type: ignore[return-value]


@striped
def _scan_saddles(elev: F32, label: I32, strips: I64, first: I64, pairs: I64, ranks: I64, n_found: I64) -> None:
    n_rows, n_cols = elev.shape
    # A strip writes to its own stretch of the lists; of the row below its last it only reads.
    for strip in prange(strips.size - 1):
        open_pair = np.full(OPEN_SADDLES, -1, np.int64)
        open_rank = np.empty(OPEN_SADDLES, np.int64)
        n = 0
        room = first[strip + 1] - first[strip]
        # For each pair the saddles met so far are in the table or in the lists, the lowest among them.
        for block in range(0, n_cols, BLOCK_COLS):
            # Block by block, so that the saddles of a neighbourhood are still in the table when the next row is
            # scanned.
            for row in range(strips[strip], strips[strip + 1]):
                for col in range(block, min(n_cols, block + BLOCK_COLS)):
                    here = np.int64(label[row, col])
                    if here == 0:
                        continue
                    for k in range(4):  # E, SW, S, SE: each pair of cells is met once
                        near_row = row if k == 0 else row + 1
                        near_col = col + 1 if k == 0 else col + k - 2
                        if near_row >= n_rows or near_col < 0 or near_col >= n_cols:
                            continue
                        near = np.int64(label[near_row, near_col])
                        if near == here or near == 0:
                            continue
                        low = min(here, near)
                        high = max(here, near)
                        pair = low << 32 | high
                        height = max(elev[row, col], elev[near_row, near_col])
                        # Any spread over the table will do: two pairs in one slot cost a second line in the lists, no
                        # more.
                        slot = (low * 40503 + high * 9973) >> 3 & (OPEN_SADDLES - 1)
                        is_near_higher = elev[near_row, near_col] > elev[row, col]
                        # Of two cells of one height this one: it comes first in raster order.
                        sill = near_row * n_cols + near_col if is_near_higher else row * n_cols + col
                        rank = _rank(height, sill)
                        if open_pair[slot] == pair:
                            open_rank[slot] = min(open_rank[slot], rank)
                            continue
                        if open_pair[slot] >= 0:
                            # `n` counts on where there is no room, so that the caller knows how much is needed.
                            if n < room:
                                pairs[first[strip] + n] = open_pair[slot]
                                ranks[first[strip] + n] = open_rank[slot]
                            n += 1
                        open_pair[slot] = pair
                        open_rank[slot] = rank
        # What is still in the table goes to the lists.
        for place in range(OPEN_SADDLES):
            if open_pair[place] >= 0:
                if n < room:
                    pairs[first[strip] + n] = open_pair[place]
                    ranks[first[strip] + n] = open_rank[place]
                n += 1
        n_found[strip] = n


@compiled
def _gather(elev_of: F32, pairs: I64, ranks: I64, first: I64, n_found: I64) -> tuple[I32, I32, F32, I32]:
    total = n_found.sum()
    basin_a = np.empty(total, np.int32)
    basin_b = np.empty(total, np.int32)
    saddle_elev = np.empty(total, np.float32)
    saddle_cell = np.empty(total, np.int32)
    n = 0
    # `[:n]` hold the saddles of the strips before this one.
    for strip in range(n_found.size):
        # The lists of a strip may end before its room does.
        for found in range(first[strip], first[strip] + n_found[strip]):
            basin_a[n] = pairs[found] >> 32
            basin_b[n] = pairs[found] & 0x7FFFFFFF
            # The lower half of a rank is its cell, whatever the sign of the height.
            sill = ranks[found] & 0x7FFFFFFF
            saddle_elev[n] = elev_of[sill]
            saddle_cell[n] = sill
            n += 1
    return basin_a, basin_b, saddle_elev, saddle_cell


@compiled
def _touches_nodata(label: I32, row: int, col: int) -> bool:
    # None of the neighbours looked at so far has no data. Cells of the window edge do not come here: no bounds to
    # check.
    for near_row in range(row - 1, row + 2):
        for near_col in range(col - 1, col + 2):
            if label[near_row, near_col] == 0:
                return True
    return False


@compiled
def _lowest_outlets(elev: F32, label: I32, n_basins: int, nodata_drains: bool) -> tuple[F32, I32]:
    n_rows, n_cols = elev.shape
    lowest = np.full(n_basins + 1, np.float32(np.inf), np.float32)
    outlet = np.full(n_basins + 1, np.int32(-1), np.int32)
    # `lowest` and `outlet` are of the cells before this one; only lower ones replace them, so the first of equals
    # stays.
    for row in range(n_rows):
        whole_row = nodata_drains or row == 0 or row == n_rows - 1
        # Where only the window edge drains, inner rows have but two cells to ask.
        col_step = 1 if whole_row else max(1, n_cols - 1)
        for col in range(0, n_cols, col_step):
            basin = label[row, col]
            if basin == 0 or elev[row, col] >= lowest[basin]:
                continue
            on_edge = row == 0 or row == n_rows - 1 or col == 0 or col == n_cols - 1
            if on_edge or _touches_nodata(label, row, col):
                lowest[basin] = elev[row, col]
                outlet[basin] = row * n_cols + col
    return lowest, outlet
