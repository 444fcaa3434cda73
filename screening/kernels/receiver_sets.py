"""Receivers of each cell as a set of neighbours, for flow that spreads.

A set is a byte, bit `k` for neighbour `k` in the order of `neighbours`.
"""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, U8, Mask, compiled, striped
from screening.kernels.conduit_links import NO_LINKS, ConduitLinks, await_links, landings
from screening.kernels.direction_codes import NODATA
from screening.kernels.neighbours import COL_STEP, ROW_STEP, flat_offsets

LISTED = 255  # in place of the number of donors left to wait for: eight at most, and one for all conduit links


def lower_neighbours(filled: F32, codes: U8) -> U8:
    """Receivers of each cell as a set: bit `k` for neighbour `k`; 0 at outlets and no data.

    A cell that has a conduit link is an outlet, and shares nothing with lower ground beside it.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8

    Returns
    -------
    (n_rows, n_cols) uint8
    """
    lower = np.empty(filled.shape, np.uint8)
    _lower_neighbours(filled, codes, lower)
    return lower


def order_of_graph(graph: U8, codes: U8, links: ConduitLinks = NO_LINKS) -> I32:
    """List the cells with data upstream first, for receivers given as sets of neighbours.

    Parameters
    ----------
    graph : (n_rows, n_cols) uint8
        Bit `k` where neighbour `k` receives.
    codes : (n_rows, n_cols) uint8
    links : ConduitLinks

    Returns
    -------
    (n_valid,) int32
    """
    is_valid = codes != NODATA
    order = np.empty(np.count_nonzero(is_valid), np.int32)
    stack = np.empty(order.size, np.int32)
    left = count_donors(graph).ravel()
    await_links(left, links)
    n = _list(graph.ravel(), left, is_valid.ravel(), order, stack, graph.shape[1])
    # `order[:n]` is right as far as it goes: each cell in it comes after all its donors.
    for _, sources in landings(links, left, LISTED):
        n = _list_on(
            graph_of=graph.ravel(), left=left, order=order, n=n, stack=stack, n_cols=graph.shape[1], sources=sources
        )
    return order


def count_donors(graph: U8) -> U8:
    """Count the neighbours that each cell receives from.

    Parameters
    ----------
    graph : (n_rows, n_cols) uint8
        Bit `k` where neighbour `k` receives.

    Returns
    -------
    (n_rows, n_cols) uint8
    """
    n_donors = np.empty(graph.shape, np.uint8)
    _count_donors(graph, n_donors)
    return n_donors


@striped
def _lower_neighbours(filled: F32, codes: U8, lower: U8) -> None:
    n_rows, n_cols = filled.shape
    # Rows are independent: each writes its own sets.
    for row in prange(n_rows):
        if 0 < row < n_rows - 1:
            _lower_inside(filled[row - 1], filled[row], filled[row + 1], lower[row])
        # The cells that the fast row above leaves out: whole first and last rows, else the first and the last column.
        step = 1 if row == 0 or row == n_rows - 1 else max(1, n_cols - 1)
        for col in range(0, n_cols, step):
            lower[row, col] = _lower_at_edge(filled, row, col)
        # Codes have the last word: outlets have no receivers, and on a flat the one D8 receiver takes all.
        for col in range(n_cols):
            if codes[row, col] > 7:
                lower[row, col] = 0
            elif lower[row, col] == 0:
                lower[row, col] = 1 << codes[row, col]


@compiled
def _lower_inside(north: F32, here: F32, south: F32, lower: U8) -> None:
    # Each cell by itself, without branches, so that the compiler takes many at a time; no data is never lower.
    for col in range(1, here.size - 1):
        centre = here[col]
        lower[col] = (
            np.uint8(north[col - 1] < centre)
            | np.uint8(north[col] < centre) << 1
            | np.uint8(north[col + 1] < centre) << 2
            | np.uint8(here[col - 1] < centre) << 3
            | np.uint8(here[col + 1] < centre) << 4
            | np.uint8(south[col - 1] < centre) << 5
            | np.uint8(south[col] < centre) << 6
            | np.uint8(south[col + 1] < centre) << 7
        )


@compiled
def _lower_at_edge(filled: F32, row: int, col: int) -> int:
    n_rows, n_cols = filled.shape
    lower = 0
    # `lower` has the bits of the neighbours before k.
    for k in range(8):
        near_row = row + ROW_STEP[k]
        near_col = col + COL_STEP[k]
        inside = 0 <= near_row < n_rows and 0 <= near_col < n_cols
        if inside and filled[near_row, near_col] < filled[row, col]:
            lower |= 1 << k
    return lower


@striped
def _count_donors(graph: U8, n_donors: U8) -> None:
    n_rows, n_cols = graph.shape
    # Rows are independent: each writes its own counts.
    for row in prange(n_rows):
        for col in range(n_cols):
            n = 0
            # `n` of the neighbours before k drain here; from there this cell is neighbour 7 - k.
            for k in range(8):
                near_row = row + ROW_STEP[k]
                near_col = col + COL_STEP[k]
                if 0 <= near_row < n_rows and 0 <= near_col < n_cols:
                    n += graph[near_row, near_col] >> (7 - k) & 1
            n_donors[row, col] = n


@compiled
def _list(graph_of: U8, left: U8, is_valid: Mask, order: I32, stack: I32, n_cols: int) -> int:
    offsets = flat_offsets(n_cols)
    n = 0
    # All cells before `source` that waited for nothing are listed, with what they led to.
    for source in range(graph_of.size):
        if left[source] == 0 and is_valid[source]:
            n = _list_from(source=source, graph_of=graph_of, left=left, order=order, n=n, stack=stack, offsets=offsets)
    return n


@compiled
def _list_on(graph_of: U8, left: U8, order: I32, n: int, stack: I32, n_cols: int, sources: I64) -> int:
    offsets = flat_offsets(n_cols)
    # Sources before this one are listed, with what they led to.
    for source in sources:
        n = _list_from(source=source, graph_of=graph_of, left=left, order=order, n=n, stack=stack, offsets=offsets)
    return n


@compiled
def _list_from(source: int, graph_of: U8, left: U8, order: I32, n: int, stack: I32, offsets: I64) -> int:
    """Depth first, so that cells near in the order are near on the ground."""
    # A cell is put on the stack when its last donor is listed, so once: room for all cells suffices.
    stack[0] = source
    n_stack = 1
    # All donors of the cells on the stack are in `order[:n]`.
    while n_stack > 0:
        n_stack -= 1
        cell = int(stack[n_stack])
        left[cell] = LISTED
        order[n] = cell
        n += 1
        # A set has existing neighbours only: no bounds to check.
        for k in range(8):
            if graph_of[cell] >> k & 1:
                near = cell + offsets[k]
                left[near] -= 1
                if left[near] == 0:
                    stack[n_stack] = near
                    n_stack += 1
    return n
