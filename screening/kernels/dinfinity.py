"""D-infinity flow: one direction per cell, shared between the two neighbours it points between."""

import numpy as np

from screening.kernels.compiling import F32, F64, I32, I64, U8, compiled
from screening.kernels.conduit_links import NO_LINKS, ConduitLinks, await_links, landings, target_of
from screening.kernels.direction_codes import NODATA
from screening.kernels.facets import dinf_shares
from screening.kernels.neighbours import DIAGONALS, SIDES, flat_offsets
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
    # `total` is whole for every cell whose donors are all in; the links of a round carry theirs on.
    for ready, sources in landings(links, left, LISTED):
        # Not `+=`: several links may end at one target.
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


@compiled
def _accumulate(graph_of: U8, side_share_of: F32, left: U8, total: F64, stack: I32, n_cols: int) -> None:
    """Walk down from every cell whose donors have all been counted; `total` holds the weights at first."""
    offsets = flat_offsets(n_cols)
    # All cells before `source` that waited for nothing have been walked from; those walked are marked, not 0.
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
    # Sources before this one have been walked from.
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
    # A cell is marked when it is put on the stack, so it is there once: room for all cells suffices.
    stack[0] = source
    n_stack = 1
    # The cells on the stack have their whole totals, and have not shared them yet.
    while n_stack > 0:
        n_stack -= 1
        cell = int(stack[n_stack])
        to_side = total[cell] * side_share_of[cell]
        receivers = graph_of[cell]
        is_shared = receivers & SIDES != 0 and receivers & DIAGONALS != 0
        # Two receivers at most, of one facet: what the side does not get the diagonal does. A set has existing
        # neighbours only.
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
    # Downstream first: all receivers of `cell` have their fraction.
    for cell in order[::-1]:
        if is_target[cell] != 0:
            fraction[cell] = 1.0
            continue
        receivers = graph_of[cell]
        if receivers == 0:
            # An outlet: its water goes on by a conduit link, or leaves.
            far = target_of(link_cell, link_target, cell)
            if far >= 0 and pen_of[far] == pen_of[cell]:
                fraction[cell] = fraction[far]
            continue
        is_shared = receivers & SIDES != 0 and receivers & DIAGONALS != 0
        to_side = np.float64(side_share_of[cell])
        # `fraction[cell]` has the shares of the receivers before k; what leaves the pen adds nothing.
        for k in range(8):
            if receivers >> k & 1 and pen_of[cell + offsets[k]] == pen_of[cell]:
                share = 1.0
                if is_shared:
                    share = to_side if SIDES >> k & 1 else 1.0 - to_side
                fraction[cell] += share * fraction[cell + offsets[k]]
    return fraction
