"""Which lots and structures the water of low spots touches, where it stands and on its way on."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from screening.models import I64, Block, Surface


def lots_touched(row: I64, cells: I64, block: Block, n_spots: int, around: I64 | None = None) -> list[str]:
    """Name the lots that water stands or runs on.

    Parameters
    ----------
    row, cells
        Number of a low spot from 1 and flat index of a cell of its water, int64 (n,) each.
    block
        `lots`.
    n_spots
        How many low spots there are.
    around
        Row of the low spot next around each or -1, int64 (n_spots,), after which it comes. Then those count too that
        a part within it touches, and a cell is given once, for the innermost.

    Returns
    -------
    For each low spot the ids, joined by commas.
    """
    return _name_pairs(row, block.lot_index.ravel()[cells], block.lots["lot_id"].tolist(), n_spots, around)


def structures_touched(
    row: I64, cells: I64, surface: Surface, block: Block, n_spots: int, around: I64 | None = None
) -> list[str]:
    """Name the structures with water on the ground beside their walls; parameters as for `lots_touched`."""
    from screening.kernels.zones import ring_of_labels

    ids = block.structures["structure_id"].tolist()
    starts, ring = ring_of_labels(surface.structure_index, len(ids))
    structure = np.repeat(np.arange(1, len(ids) + 1), np.diff(starts))
    in_ring = np.zeros(surface.structure_index.size, np.bool_)
    in_ring[ring] = True
    is_near = in_ring[cells]
    cells, row = cells[is_near], row[is_near]
    by_cell = np.argsort(cells, kind="stable")
    first = np.searchsorted(cells[by_cell], ring, side="left")
    count = np.searchsorted(cells[by_cell], ring, side="right") - first
    # several ways may lead through a ring cell
    place = np.repeat(first - np.cumsum(count) + count, count) + np.arange(count.sum())
    return _name_pairs(row[by_cell][place], np.repeat(structure, count), ids, n_spots, around)


def _name_pairs(
    spot: NDArray[Any], other: NDArray[Any], ids: list[str], n_spots: int, around: I64 | None = None
) -> list[str]:
    """For each low spot, the ids of the others it shares a cell with, joined by commas."""
    both = (spot > 0) & (other > 0)
    # One number for a pair, so that sorting once orders both.
    pairs = np.unique(spot[both].astype(np.int64) * (len(ids) + 1) + other[both])
    touched: list[set[int]] = [set() for _ in range(n_spots)]
    for pair in pairs.tolist():
        spot_number, other_number = divmod(pair, len(ids) + 1)
        touched[spot_number - 1].add(other_number - 1)
    if around is not None:
        for row in np.flatnonzero(around >= 0)[::-1].tolist():
            touched[around[row]] |= touched[row]
    return [", ".join(ids[number] for number in sorted(found)) for found in touched]
