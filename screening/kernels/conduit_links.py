"""Conduit links: water that goes to a cell that is no neighbour, through a pipe or down from a roof."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from screening.kernels.compiling import F32, I64, U8, compiled


class Pipes(NamedTuple):
    """Pairs of cells that water moves between under the ground, either way, one element a pipe."""

    inlet: I64
    """Flat index of the end that is meant to take water in."""
    outlet: I64
    crest: F32
    """Elevation that water must reach to go through, no lower than either cell [m]."""


class ConduitLinks(NamedTuple):
    """Cells whose receiver is no neighbour."""

    cell: I64
    """Flat indices, ascending, each once."""
    target: I64
    """Flat index of the cell that takes the water of each."""
    landing: I64
    """Number of the target among the distinct targets."""


NO_CELLS = np.empty(0, np.int64)
NO_PIPES = Pipes(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.float32))
NO_LINKS = ConduitLinks(np.empty(0, np.int64), np.empty(0, np.int64), np.empty(0, np.int64))


def collect_links(cell: I64, target: I64) -> ConduitLinks:
    """Put conduit links in order; of those from one cell the first given counts.

    Parameters
    ----------
    cell, target : (n,) int64
        Flat indices.

    Returns
    -------
    ConduitLinks
    """
    if cell.size == 0:
        return NO_LINKS
    # `return_index` gives the first place of each: the first link of a cell counts.
    cells, first = np.unique(cell, return_index=True)
    targets = target[first]
    _, landing = np.unique(targets, return_inverse=True)
    return ConduitLinks(cells.astype(np.int64), targets.astype(np.int64), landing.astype(np.int64))


def await_links(n_donors: U8, links: ConduitLinks) -> None:
    """Count all conduit links to a cell as one donor more, in place: a roof of many cells may lead to one of them.

    Parameters
    ----------
    n_donors : (n_cells,) uint8
        Neighbours that each cell receives from.
    links : ConduitLinks
    """
    # `unique`, because a repeated index is added once only by numpy; 9 donors at most fit a byte with marks to spare.
    n_donors[np.unique(links.target)] += 1


def landings(links: ConduitLinks, left: U8, listed: int) -> Iterator[tuple[I64, I64]]:
    """Carry on where a walk over neighbours stopped: round by round, as cells with a conduit link are listed.

    Parameters
    ----------
    links : ConduitLinks
    left : (n_cells,) uint8
        Donors that each cell waits for, prepared by `await_links`; `listed` where it has been walked. Changed.
    listed : int

    Yields
    ------
    ready : (n_ready,) int64
        Numbers of the conduit links whose cell is now listed: their water is to be carried to their target.
    sources : (n_sources,) int64
        Cells that now wait for nothing: to be walked from, before the next round is asked for.
    """
    is_waiting = np.ones(links.cell.size, np.bool_)
    n_due = np.bincount(links.landing)
    # Links that do not wait have been handed out; `n_due` counts for each target the links still to come.
    while True:
        ready = np.flatnonzero(is_waiting & (left[links.cell] == listed))
        if ready.size == 0:
            return
        is_waiting[ready] = False
        # `minlength`, because a round may bring nothing to the last targets.
        n_due -= np.bincount(links.landing[ready], minlength=n_due.size)
        landed = np.unique(links.target[ready[n_due[links.landing[ready]] == 0]])
        # All links of a target count as one donor, and all of them are in.
        left[landed] -= 1
        yield ready, landed[left[landed] == 0]


@compiled
def target_of(link_cell: I64, link_target: I64, cell: int) -> int:
    """Where the conduit link of a cell leads, -1 if it has none.

    Parameters
    ----------
    link_cell, link_target : (n,) int64
        Of `ConduitLinks`, `link_cell` ascending.
    cell : int

    Returns
    -------
    int
        Flat index.
    """
    # By bisection: cells with a conduit link are few, and all outlets are asked.
    place = np.searchsorted(link_cell, cell)
    if place < link_cell.size and link_cell[place] == cell:
        return link_target[place]  # type: ignore[no-any-return]
    return -1
