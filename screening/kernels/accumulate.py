"""Sums, labels and marks carried along the receivers; what drains through zones, ragged lists of cells."""

import numpy as np

from screening.kernels.compiling import F64, I32, I64, U8, Mask, compiled
from screening.kernels.neighbours import COL_STEP, ROW_STEP

# State of a cell while one zone is worked on; stamps of other zones are out of range.
_MEMBER, _COUNTED, _LEAVES, _RETURNS = 0, 1, 2, 3
_N_STATES = 4


def accumulate(receiver: I32, order: I32, weight: F64) -> F64:
    """Sum the weights of all cells that drain through each cell, itself included.

    Parameters
    ----------
    receiver : (n_cells,) int32
    order : (n_valid,) int32
        Every cell before its receiver.
    weight : (n_cells,) float64

    Returns
    -------
    (n_cells,) float64
        0 at no data.
    """
    total = np.zeros(receiver.size, np.float64)
    _accumulate(receiver, order, weight, total)
    return total


def nearest_label_downstream(receiver: I32, order: I32, label: I32) -> I32:
    """Label of each cell itself, else of the first labelled cell downstream of it.

    Parameters
    ----------
    receiver : (n_cells,) int32
    order : (n_valid,) int32
    label : (n_cells,) int32
        Positive where labelled.

    Returns
    -------
    (n_cells,) int32
        0 where no labelled cell lies downstream, and at no data.
    """
    nearest = np.zeros(receiver.size, np.int32)
    _nearest_label(receiver, order, label, nearest)
    return nearest


def upstream_mask(receiver: I32, order: I32, mask: Mask) -> Mask:
    """Mark the cells that drain through any cell of `mask`, those included.

    Parameters
    ----------
    receiver : (n_cells,) int32
    order : (n_valid,) int32
    mask : (n_cells,) bool

    Returns
    -------
    (n_cells,) bool
        False at no data.
    """
    upstream = np.zeros(receiver.size, np.bool_)
    _upstream_mask(receiver, order, mask, upstream)
    return upstream


def carry_downstream(receiver: I32, order: I32, seed: U8) -> U8:
    """OR the bits of each cell into all cells downstream of it.

    Parameters
    ----------
    receiver : (n_cells,) int32
    order : (n_valid,) int32
    seed : (n_cells,) uint8
        Bits that start at each cell.

    Returns
    -------
    (n_cells,) uint8
    """
    bits = seed.copy()
    _carry(receiver, order, bits)
    return bits


def zone_upstream_total(
    receiver: I32, accumulated: F64, zone_start: I64, zone_cells: I64, zone_end: I64 | None = None
) -> F64:
    """Total of what drains through each zone, its own cells included, each cell counted once.

    The total is the sum of `accumulated` where water leaves the zone for good, so that the work follows the
    zones and the paths below them, not the grid.

    Parameters
    ----------
    receiver : (n_cells,) int32
    accumulated : (n_cells,) float64
        Area, volume or count that drains through each cell, itself included.
    zone_start : (n_zones + 1,) int64
        Cells of zone `i` are `zone_cells[zone_start[i]:zone_start[i + 1]]`; zones may overlap.
    zone_cells : (n,) int64
        Flat indices; repeated cells and cells without data do no harm.
    zone_end : (n_zones,) int64
        Where the cells of each zone end, if zones share a part of the list; then `zone_start` has no last element.

    Returns
    -------
    (n_zones,) float64
    """
    stamp = np.full(receiver.size, -1, np.int32)
    first, last = (zone_start[:-1], zone_start[1:]) if zone_end is None else (zone_start, zone_end)
    total: F64 = _zone_total(receiver, accumulated, first, last, zone_cells, stamp)
    return total


def zone_upstream_cells(receiver: I32, n_rows: int, n_cols: int, cells: I64, far_cells: I64 | None = None) -> I64:
    """List the cells that drain through any of the given cells, those included.

    The search climbs from the cells, so that the work follows the answer, not the grid.

    Parameters
    ----------
    receiver : (n_rows * n_cols,) int32
    n_rows, n_cols : int
    cells : (n,) int64
        Flat indices; repeated cells and cells without data do no harm.
    far_cells : (n,) int64
        Cells whose receiver may not be a neighbour: the cells of `conduit_links.ConduitLinks`.

    Returns
    -------
    (n_found,) int64
        Flat indices, ascending.
    """
    # zeroed by the system page by page when touched, unlike a zeroed array made in compiled code
    seen = np.zeros(receiver.size, np.bool_)
    found: I64 = _climb(receiver, n_rows, n_cols, cells, seen)
    # `found` holds all that drains to the cells by neighbours; what comes by a conduit link is looked for round by
    # round, until a round brings nothing new.
    while far_cells is not None:
        arriving = far_cells[~seen[far_cells] & seen[receiver[far_cells]]]
        if arriving.size == 0:
            break
        found = np.concatenate((found, _climb(receiver, n_rows, n_cols, arriving, seen)))
    found.sort()
    return found


@compiled
def _accumulate(receiver: I32, order: I32, weight: F64, total: F64) -> None:
    # Upstream first: all donors of `cell` have added their whole sums to it.
    for cell in order:
        total[cell] += weight[cell]
        # An outlet is its own receiver: its sum must not be added to itself.
        if receiver[cell] != cell:
            total[receiver[cell]] += total[cell]


@compiled
def _nearest_label(receiver: I32, order: I32, label: I32, nearest: I32) -> None:
    # Downstream first: the receiver has its answer already. An outlet is its own receiver and reads its own 0.
    for cell in order[::-1]:
        nearest[cell] = label[cell] if label[cell] > 0 else nearest[receiver[cell]]


@compiled
def _upstream_mask(receiver: I32, order: I32, mask: Mask, upstream: Mask) -> None:
    # Downstream first: the receiver has its answer already. An outlet is its own receiver and reads its own False.
    for cell in order[::-1]:
        upstream[cell] = mask[cell] or upstream[receiver[cell]]


@compiled
def _carry(receiver: I32, order: I32, bits: U8) -> None:
    # Upstream first: `bits[cell]` has all that comes from above. An outlet takes its own bits again, which adds none.
    for cell in order:
        bits[receiver[cell]] |= bits[cell]


@compiled
def _zone_total(receiver: I32, accumulated: F64, first: I64, last: I64, zone_cells: I64, stamp: I32) -> F64:
    total = np.zeros(first.size, np.float64)
    # Stamps below `base` are those of earlier zones, or the first -1: nothing has to be cleared for a new zone.
    for zone in range(first.size):
        base = _N_STATES * zone
        # All cells of the zone are stamped before the first is judged: the water of one may come back at any other.
        for cell in zone_cells[first[zone] : last[zone]]:
            stamp[cell] = base + _MEMBER
        # `total[zone]` has what leaves for good by the cells before this one. Of a cell that is listed twice the second
        # is `_COUNTED` by now.
        for cell in zone_cells[first[zone] : last[zone]]:
            if receiver[cell] < 0 or stamp[cell] != base + _MEMBER:
                continue
            if receiver[cell] == cell or _leaves_for_good(receiver, stamp, base, receiver[cell]):
                stamp[cell] = base + _COUNTED
                total[zone] += accumulated[cell]
    return total


@compiled
def _leaves_for_good(receiver: I32, stamp: I32, base: int, start: int) -> bool:
    """Whether the path from `start` never meets the zone; the answer is stamped along the path."""
    cell = np.int64(start)
    # All cells walked so far lie outside the zone, and nothing is known of them yet.
    while stamp[cell] < base and receiver[cell] != cell:
        cell = np.int64(receiver[cell])
    # Negative at an outlet without stamp; a cell of the zone itself, counted or not, is a return.
    state = stamp[cell] - base
    answer = _LEAVES if state < 0 or state == _LEAVES else _RETURNS
    cell = np.int64(start)
    # The same cells once more; an outlet ends the walk by its own stamp.
    while stamp[cell] < base:
        stamp[cell] = base + answer
        cell = np.int64(receiver[cell])
    return answer == _LEAVES


@compiled
def _climb(receiver: I32, n_rows: int, n_cols: int, cells: I64, seen: Mask) -> I64:
    found = np.empty(max(1024, 2 * cells.size), np.int64)
    n = 0
    # `found[:n]` are the cells before this one, each once, all of them seen.
    for cell in cells:
        if receiver[cell] >= 0 and not seen[cell]:
            seen[cell] = True
            found[n] = cell
            n += 1
    read = 0
    # `found[:read]` have had their neighbours looked at; `found[read:n]` are seen, and wait.
    while read < n:
        cell = found[read]
        read += 1
        # Each cell adds its eight neighbours at most.
        if n + 8 > found.size:
            longer = np.empty(2 * found.size, np.int64)
            longer[:n] = found[:n]
            found = longer
        row = cell // n_cols
        col = cell - row * n_cols
        # A neighbour drains to one cell alone, so it is found once; `seen` guards cells that were given.
        for k in range(8):
            near_row = row + ROW_STEP[k]
            near_col = col + COL_STEP[k]
            if 0 <= near_row < n_rows and 0 <= near_col < n_cols:
                near = near_row * n_cols + near_col
                if receiver[near] == cell and not seen[near]:
                    seen[near] = True
                    found[n] = near
                    n += 1
    return found[:n].copy()
