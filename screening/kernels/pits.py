"""The pits of basins, and those that drain where no data walls their basins in."""

import numpy as np
from numba import prange

from screening.kernels.compiling import F32, I32, I64, compiled, striped
from screening.kernels.joins import find_root, index_of_rank, rank_by_height


def find_pits(elev: F32, label: I32, n_labels: int, n_parts: int) -> tuple[F32, I64]:
    """Find the lowest cell of each basin, the first in raster order of those that tie.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    label : (n_rows, n_cols) int32
        Basins 1..n_labels - 1, 0 at no data.
    n_labels : int
    n_parts : int
        Parts of the grid that are searched side by side.

    Returns
    -------
    floor : (n_labels,) float32 [m]
        +inf for the ocean, element 0.
    pit : (n_labels,) int64
        Flat index, -1 for the ocean.
    """
    lowest = np.full((n_parts, n_labels), np.iinfo(np.int64).max)
    _rank_lowest(elev.ravel(), label.ravel(), lowest)
    floor, pit = np.full(n_labels, np.inf, np.float32), np.full(n_labels, -1, np.int64)
    pit[1:] = index_of_rank(lowest.min(axis=0)[1:])
    floor[1:] = elev.ravel()[pit[1:]]
    return floor, pit


@striped
def _rank_lowest(elev_of: F32, label_of: I32, lowest: I64) -> None:
    n_parts = lowest.shape[0]
    # Each part has its own row of `lowest`.
    for part in prange(n_parts):
        # `lowest[part]` is that of the cells of the part before this one.
        for cell in range(label_of.size * part // n_parts, label_of.size * (part + 1) // n_parts):
            # No data goes to the ocean; adding 0 makes one of -0 and 0. There is no branch to mistake.
            rank = rank_by_height(elev_of[cell] + np.float32(0), cell)
            lowest[part, label_of[cell]] = min(lowest[part, label_of[cell]], rank)


@compiled
def open_enclosed(pit: I64, floor: F32, basin_a: I32, basin_b: I32, outlet_elev: F32, outlet_cell: I32) -> None:
    """Let the lowest pits of a group without outlet drain; all that tie do, so mirroring changes nothing.

    Parameters
    ----------
    pit : (n_basins + 1,) int64
    floor : (n_basins + 1,) float32 [m]
    basin_a, basin_b : (n_saddles,) int32
    outlet_elev : (n_basins + 1,) float32 [m]
        Changed, and `outlet_cell` with it.
    outlet_cell : (n_basins + 1,) int32
        -1 where a basin has no outlet.
    """
    n = pit.size
    member_of = np.arange(n).astype(np.int32)
    # Basins that saddles before i join are of one group.
    for i in range(basin_a.size):
        member_of[find_root(member_of, np.int64(basin_a[i]))] = find_root(member_of, np.int64(basin_b[i]))
    lowest = np.full(n, np.float32(np.inf), np.float32)
    # `lowest` of a group is its lowest floor so far, -inf once it has an outlet: no floor equals that.
    for basin in range(1, n):
        group = find_root(member_of, basin)
        lowest[group] = np.float32(-np.inf) if outlet_cell[basin] >= 0 else min(lowest[group], floor[basin])
    # Only groups without outlet have a floor that is their lowest.
    for basin in range(1, n):
        if floor[basin] == lowest[find_root(member_of, basin)]:
            outlet_elev[basin] = floor[basin]
            outlet_cell[basin] = pit[basin]
