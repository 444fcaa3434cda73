"""D-infinity flow: one direction per cell, shared between the two neighbours it points between."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, F64, I32, I64, U8, compiled, striped
from screening.kernels.conduit_links import NO_LINKS, ConduitLinks, await_links, landings, target_of
from screening.kernels.d8 import NODATA
from screening.kernels.neighbours import COL_STEP, DIAGONALS, ROW_STEP, SIDES, flat_offsets
from screening.kernels.receiver_sets import LISTED, count_donors, order_of_graph

# The side and the diagonal neighbour of each of the eight triangular facets around a cell.
_FACET_SIDE = (4, 1, 1, 3, 3, 6, 6, 4)
_FACET_DIAGONAL = (2, 2, 0, 0, 5, 5, 7, 7)
_QUARTER_TURN_SHARE = 4.0 / np.pi
_NO_FACET = 8


def accumulate_dinf(filled: F32, codes: U8, weight: F64, links: ConduitLinks = NO_LINKS) -> F64:
    """Sum the weights that flow through each cell, its own included, along the steepest facet.

    Cells on the window edge, on flats and wherever no facet descends follow their D8 receiver.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
        Filled elevation, NaN = no data.
    codes : (n_rows, n_cols) uint8
        D8 directions on `filled`.
    weight : (n_rows, n_cols) float64
    links : ConduitLinks
        Cells all of whose water goes to one cell that is no neighbour; `codes` has them as outlets.

    Returns
    -------
    (n_rows, n_cols) float64
        0 at no data.

    References
    ----------
    Tarboton (1997), doi:10.1029/96WR03137.
    """
    graph, side_share = dinf_shares(filled, codes)
    left = count_donors(graph).reshape(-1)
    await_links(left, links)
    total = np.where(codes == NODATA, 0.0, weight)
    total_of = total.reshape(-1)
    stack = np.empty(total.size, np.int32)
    _accumulate(graph.ravel(), side_share.ravel(), left, total_of, stack, filled.shape[1])
    for ready, sources in landings(links, left, LISTED):
        np.add.at(total_of, links.target[ready], total_of[links.cell[ready]])
        _accumulate_on(
            graph_of=graph.ravel(),
            side_share_of=side_share.ravel(),
            left=left,
            total=total_of,
            stack=stack,
            n_cols=filled.shape[1],
            sources=sources,
        )
    return total


def reach_fraction_dinf(filled: F32, codes: U8, target: U8, pen: I32, links: ConduitLinks = NO_LINKS) -> F64:
    """Fraction of the water of each cell that meets a target cell before it leaves the pen it starts in.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8
    target : (n_rows, n_cols) uint8
        Non-zero at target cells.
    pen : (n_rows, n_cols) int32
        Label of the pen; a step or a conduit link to a cell of another label leaves it.
    links : ConduitLinks

    Returns
    -------
    (n_rows, n_cols) float64 [0-1]
        1 at target cells, 0 at no data.
    """
    graph, side_share = dinf_shares(filled, codes)
    order = order_of_graph(graph, codes, links)
    fraction: F64 = _reach(
        graph_of=graph.ravel(),
        side_share_of=side_share.ravel(),
        order=order,
        is_target=target.ravel(),
        pen_of=pen.ravel(),
        link_cell=links.cell,
        link_target=links.target,
        n_cols=filled.shape[1],
    )
    return fraction.reshape(filled.shape)


def dinf_shares(filled: F32, codes: U8) -> tuple[U8, F32]:
    """Receivers of each cell, and the share of the one it shares a side with (else of its only one).

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8

    Returns
    -------
    graph : (n_rows, n_cols) uint8
        Bit `k` where neighbour `k` receives.
    side_share : (n_rows, n_cols) float32 [0-1]
    """
    graph = np.empty(filled.shape, np.uint8)
    side_share = np.ones(filled.shape, np.float32)
    _steepest_facets(filled, codes, graph, side_share)
    return graph, side_share


@striped
def _steepest_facets(filled: F32, codes: U8, graph: U8, side_share: F32) -> None:
    n_rows, n_cols = filled.shape
    for row in prange(n_rows):
        is_inside = 0 < row < n_rows - 1
        if is_inside:
            _choose_facets(filled[row - 1], filled[row], filled[row + 1], graph[row])
        for col in range(n_cols):
            code = codes[row, col]
            if code < 8 and is_inside and 0 < col < n_cols - 1 and graph[row, col] < _NO_FACET:
                _follow_facet(filled, row, col, graph, side_share)
            else:
                graph[row, col] = 1 << code if code < 8 else 0


@compiled
def _choose_facets(north: F32, here: F32, south: F32, facets: U8) -> None:
    """Write the steepest facet of each cell of a row but the outer ones; the first of equals.

    Written out without branches so that the compiler can take many cells at a time.
    """
    facet: int
    for col in range(1, here.size - 1):
        centre = np.float64(here[col])
        n, s = np.float64(north[col]), np.float64(south[col])
        w, e = np.float64(here[col - 1]), np.float64(here[col + 1])
        nw, ne = np.float64(north[col - 1]), np.float64(north[col + 1])
        sw, se = np.float64(south[col - 1]), np.float64(south[col + 1])
        best = 0.0
        facet = np.int64(_NO_FACET)  # type: ignore[assignment]  # as wide as a gradient
        squared = _squared_gradient(centre, e, ne)
        facet = 0 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, n, ne)
        facet = 1 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, n, nw)
        facet = 2 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, w, nw)
        facet = 3 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, w, sw)
        facet = 4 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, s, sw)
        facet = 5 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, s, se)
        facet = 6 if squared > best else facet
        best = squared if squared > best else best
        squared = _squared_gradient(centre, e, se)
        facet = 7 if squared > best else facet
        facets[col] = facet


@compiled
def _follow_facet(filled: F32, row: int, col: int, graph: U8, side_share: F32) -> None:
    """Put the receivers on the chosen facet in its place, and their shares."""
    side = _FACET_SIDE[graph[row, col]]
    diagonal = _FACET_DIAGONAL[graph[row, col]]
    elev_side = np.float64(filled[row + ROW_STEP[side], col + COL_STEP[side]])
    along = np.float64(filled[row, col]) - elev_side
    across = elev_side - np.float64(filled[row + ROW_STEP[diagonal], col + COL_STEP[diagonal]])
    if across >= along:
        graph[row, col] = 1 << diagonal
    elif across > 0:
        graph[row, col] = 1 << side | 1 << diagonal
        side_share[row, col] = 1.0 - np.arctan2(across, along) * _QUARTER_TURN_SHARE
    else:
        graph[row, col] = 1 << side


@compiled
def _squared_gradient(centre: float, elev_side: float, elev_diagonal: float) -> float:
    """Square of the descent on a facet, at most along its edges; 0 if it does not descend or has no data."""
    along = centre - elev_side
    across = elev_side - elev_diagonal
    to_diagonal = centre - elev_diagonal
    within = along * along + across * across
    inner = within if (across < along) & (across > 0) else 0.0
    by_side = along * along if (along > 0) & (across <= 0) else 0.0
    by_diagonal = to_diagonal * to_diagonal / 2.0 if (to_diagonal > 0) & (across >= along) else 0.0
    return max(inner, max(by_side, by_diagonal))


@compiled
def _accumulate(graph_of: U8, side_share_of: F32, left: U8, total: F64, stack: I32, n_cols: int) -> None:
    """Walk down from every cell whose donors have all been counted; `total` holds the weights at first."""
    offsets = flat_offsets(n_cols)
    for source in range(graph_of.size):
        if left[source] == 0:
            _walk(
                source=source,
                graph_of=graph_of,
                side_share_of=side_share_of,
                left=left,
                total=total,
                stack=stack,
                offsets=offsets,
            )


@compiled
def _accumulate_on(
    graph_of: U8, side_share_of: F32, left: U8, total: F64, stack: I32, n_cols: int, sources: I64
) -> None:
    offsets = flat_offsets(n_cols)
    for source in sources:
        _walk(
            source=source,
            graph_of=graph_of,
            side_share_of=side_share_of,
            left=left,
            total=total,
            stack=stack,
            offsets=offsets,
        )


@compiled
def _walk(source: int, graph_of: U8, side_share_of: F32, left: U8, total: F64, stack: I32, offsets: I64) -> None:
    left[source] = LISTED
    stack[0] = source
    n_stack = 1
    while n_stack > 0:
        n_stack -= 1
        cell = int(stack[n_stack])
        to_side = total[cell] * side_share_of[cell]
        receivers = graph_of[cell]
        is_shared = receivers & SIDES != 0 and receivers & DIAGONALS != 0
        for k in range(8):
            if receivers >> k & 1:
                near = cell + offsets[k]
                is_side = SIDES >> k & 1
                total[near] += to_side if is_side or not is_shared else total[cell] - to_side
                left[near] -= 1
                if left[near] == 0:
                    left[near] = LISTED
                    stack[n_stack] = near
                    n_stack += 1


@compiled
def _reach(
    graph_of: U8,
    side_share_of: F32,
    order: I32,
    is_target: U8,
    pen_of: I32,
    link_cell: I64,
    link_target: I64,
    n_cols: int,
) -> F64:
    offsets = flat_offsets(n_cols)
    fraction = np.zeros(graph_of.size, np.float64)
    for cell in order[::-1]:
        if is_target[cell] != 0:
            fraction[cell] = 1.0
            continue
        receivers = graph_of[cell]
        if receivers == 0:
            far = target_of(link_cell, link_target, cell)
            if far >= 0 and pen_of[far] == pen_of[cell]:
                fraction[cell] = fraction[far]
            continue
        is_shared = receivers & SIDES != 0 and receivers & DIAGONALS != 0
        to_side = np.float64(side_share_of[cell])
        for k in range(8):
            if receivers >> k & 1 and pen_of[cell + offsets[k]] == pen_of[cell]:
                share = 1.0
                if is_shared:
                    share = to_side if SIDES >> k & 1 else 1.0 - to_side
                fraction[cell] += share * fraction[cell + offsets[k]]
    return fraction
