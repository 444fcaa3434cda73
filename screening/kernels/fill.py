"""Fill depressions exactly, to the level at which they spill."""

import numpy as np
from numba import prange

from screening.kernels.basins import basin_floors, label_basins
from screening.kernels.compiling import F32, I32, striped
from screening.kernels.flood import flood_levels
from screening.kernels.passes import find_passes, outlet_elevations


def fill_depressions(elev: F32, nodata_drains: bool) -> F32:
    """Raise every cell to the lowest level from which water can leave the window.

    The surface is exact: no small gradient is laid on the filled flats.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
        Elevation, NaN = no data. The window edge always drains. Fewer than 2**31 cells.
    nodata_drains : bool
        True: cells that touch no data drain there. False: no data is a closed wall; in a region that it
        walls in altogether the lowest cells (all of them, if tied) are the outlets.

    Returns
    -------
    (n_rows, n_cols) float32 [m]
        Filled elevation, NaN where there is no data.

    References
    ----------
    Barnes, Lehman and Mulla (2014), Priority-flood, doi:10.1016/j.cageo.2013.04.024 (the surface; here it
    is found on the graph of basins, not cell by cell).
    """
    label, n_basins = label_basins(elev)
    basin_a, basin_b, pass_elev = find_passes(elev, label)
    has_nodata = bool(np.isnan(elev.min()))
    outlet_elev = outlet_elevations(elev, label, n_basins, nodata_drains and has_nodata)
    enclosed_possible = has_nodata and not nodata_drains
    floor_elev = basin_floors(elev, label, n_basins) if enclosed_possible else np.empty(0, np.float32)
    level = flood_levels(basin_a, basin_b, pass_elev, outlet_elev, floor_elev)
    filled = np.empty(elev.shape, np.float32)
    _raise(elev, label, level, filled)
    return filled


@striped
def _raise(elev: F32, label: I32, level: F32, filled: F32) -> None:
    n_rows, n_cols = elev.shape
    for row in prange(n_rows):
        for col in range(n_cols):
            flooded = level[label[row, col]]
            # at no data both are NaN and the comparison is false
            filled[row, col] = flooded if flooded > elev[row, col] else elev[row, col]
