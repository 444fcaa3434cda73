"""What multiple flow brings into zones, and how much of it meets target cells."""

import numpy as np

from screening.kernels.compiling import F32, F64, I32, I64, U8, compiled
from screening.kernels.conduit_links import NO_LINKS, ConduitLinks, target_of
from screening.kernels.neighbours import flat_offsets
from screening.kernels.receiver_sets import lower_neighbours
from screening.kernels.shares import ShareLaw, weigh


def zone_inflow(filled: F32, codes: U8, accumulated: F64, zone: I32, n_zones: int, law: ShareLaw) -> F64:
    """Sum the flow that crosses into each zone from neighbours of another label.

    The sum is gross: water that leaves a zone and comes back is counted each time it enters. Conduit links
    are not counted.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8
    accumulated : (n_rows, n_cols) float64
        Result of `accumulate_multiflow` with the same law.
    zone : (n_rows, n_cols) int32
        1..n_zones, 0 = no zone.
    n_zones : int
    law : ShareLaw

    Returns
    -------
    (n_zones,) float64
        Unit of `accumulated`; element 0 is zone 1.
    """
    lower = lower_neighbours(filled, codes).ravel()
    inflow: F64 = _zone_inflow(
        elev_of=filled.ravel(),
        lower_of=lower,
        accumulated=accumulated.ravel(),
        zone_of=zone.ravel(),
        n_zones=n_zones,
        law=law,
        n_cols=filled.shape[1],
    )
    return inflow


def reach_fraction(
    filled: F32, codes: U8, order: I64, target: U8, pen: I32, law: ShareLaw, links: ConduitLinks = NO_LINKS
) -> F64:
    """Fraction of the water of each cell that meets a target cell before it leaves the pen it starts in.

    Parameters
    ----------
    filled : (n_rows, n_cols) float32 [m]
    codes : (n_rows, n_cols) uint8
    order : (n_valid,) int64
        Result of `multiflow_order`.
    target : (n_rows, n_cols) uint8
        Non-zero at target cells.
    pen : (n_rows, n_cols) int32
        Label of the pen; a step or a conduit link to a cell of another label leaves it.
    law : ShareLaw
    links : ConduitLinks
        As `order` was made with.

    Returns
    -------
    (n_rows, n_cols) float64 [0-1]
        1 at target cells, 0 at no data.
    """
    lower = lower_neighbours(filled, codes).ravel()
    fraction: F64 = _reach(
        elev_of=filled.ravel(),
        lower_of=lower,
        order=order,
        is_target=target.ravel(),
        pen_of=pen.ravel(),
        law=law,
        link_cell=links.cell,
        link_target=links.target,
        n_cols=filled.shape[1],
    )
    return fraction.reshape(filled.shape)


@compiled
def _zone_inflow(
    elev_of: F32, lower_of: U8, accumulated: F64, zone_of: I32, n_zones: int, law: ShareLaw, n_cols: int
) -> F64:
    offsets = flat_offsets(n_cols)
    pull = np.empty(8, np.float32)
    inflow = np.zeros(n_zones, np.float64)
    # `inflow` has what crosses from the cells before this one.
    for cell in range(elev_of.size):
        crosses = False
        receivers = lower_of[cell]
        # Sharing costs powers: it is done only where something crosses.
        for k in range(8):
            if receivers >> k & 1:
                entered = zone_of[cell + offsets[k]]
                crosses = crosses or (entered > 0 and entered != zone_of[cell])
        if crosses:
            per_pull = accumulated[cell] / weigh(elev_of, receivers, cell, offsets, law, pull)
            # Each receiver of another zone gets its share; a set has existing neighbours only.
            for k in range(8):
                if receivers >> k & 1:
                    entered = zone_of[cell + offsets[k]]
                    if entered > 0 and entered != zone_of[cell]:
                        inflow[entered - 1] += per_pull * pull[k]
    return inflow


@compiled
def _reach(
    elev_of: F32,
    lower_of: U8,
    order: I64,
    is_target: U8,
    pen_of: I32,
    law: ShareLaw,
    link_cell: I64,
    link_target: I64,
    n_cols: int,
) -> F64:
    offsets = flat_offsets(n_cols)
    pull = np.empty(8, np.float32)
    fraction = np.zeros(elev_of.size, np.float64)
    # Downstream first: all receivers of `cell` have their fraction.
    for cell in order[::-1]:
        if is_target[cell] != 0:
            fraction[cell] = 1.0
            continue
        if lower_of[cell] == 0:
            # An outlet: its water goes on by a conduit link, or leaves.
            far = target_of(link_cell, link_target, cell)
            if far >= 0 and pen_of[far] == pen_of[cell]:
                fraction[cell] = fraction[far]
            continue
        reached = 0.0
        total = weigh(elev_of, lower_of[cell], cell, offsets, law, pull)
        # `reached` has the pull of the receivers before k, times what reaches from there; leaving the pen adds nothing.
        for k in range(8):
            if lower_of[cell] >> k & 1:
                near = cell + offsets[k]
                if pen_of[near] == pen_of[cell]:
                    reached += pull[k] * fraction[near]
        # all shares reaching can sum to a rounding more than the whole
        fraction[cell] = min(reached / total, 1.0)
    return fraction
