"""Fill depressions exactly, to the level at which they spill."""

from typing import NamedTuple

import numpy as np
from numba import prange

from screening.kernels.basins import basin_floors, label_basins
from screening.kernels.compiling import F32, I32, I64, striped
from screening.kernels.conduit_links import Pipes
from screening.kernels.flood import flood_levels
from screening.kernels.saddles import find_outlets, find_saddles


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
    return fill_basins(elev, build_basin_graph(elev, nodata_drains))


class BasinGraph(NamedTuple):
    """Basins 1..n of the raw ground, the saddles between them, and where they drain out of the data."""

    label: I32
    """Basin of each cell, 0 at no data; (n_rows, n_cols)."""
    basin_a: I32
    basin_b: I32
    """The two basins of each saddle; a pair may be listed more than once."""
    saddle_elev: F32
    saddle_cell: I32
    """Height of each saddle [m], and flat index of the higher of the two cells it lies between; of a pipe its inlet."""
    outlet_elev: F32
    outlet_cell: I32
    """Lowest outlet of the data for each basin [m], +inf and -1 where there is none; (n + 1,)."""
    floor_elev: F32
    """Elevation of each pit [m] if some basins may be walled in by no data, else empty."""


def build_basin_graph(elev: F32, nodata_drains: bool) -> BasinGraph:
    """Find basins, saddles and outlets: the fill floods them, the depression hierarchy merges them.

    Parameters
    ----------
    elev, nodata_drains
        As for `fill_depressions`.

    Returns
    -------
    BasinGraph
    """
    label, n_basins = label_basins(elev)
    saddles = find_saddles(elev, label)
    has_nodata = bool(np.isnan(elev.min()))
    outlets = find_outlets(elev, label, n_basins, nodata_drains and has_nodata)
    # Only then can a basin lack an outlet, and only then are floors asked for.
    may_be_enclosed = has_nodata and not nodata_drains
    floor_elev = basin_floors(elev, label, n_basins) if may_be_enclosed else np.empty(0, np.float32)
    return BasinGraph(label, *saddles, *outlets, floor_elev)


def with_pipes(graph: BasinGraph, pipes: Pipes) -> BasinGraph:
    """Add pipes to the saddles: water that stands as high as the crest of one goes through, either way.

    Parameters
    ----------
    graph : BasinGraph
    pipes : Pipes
        A pipe whose ends lie in one basin, or on no data, is no saddle.

    Returns
    -------
    BasinGraph
        The same one if there are no pipes.
    """
    if pipes.crest.size == 0:
        return graph
    # The lower number first, as the saddles have it.
    ends = np.stack((graph.label.ravel()[pipes.inlet], graph.label.ravel()[pipes.outlet]))
    joins = (ends[0] != ends[1]) & (ends > 0).all(axis=0)
    return graph._replace(
        basin_a=np.concatenate((graph.basin_a, ends.min(axis=0)[joins])),
        basin_b=np.concatenate((graph.basin_b, ends.max(axis=0)[joins])),
        saddle_elev=np.concatenate((graph.saddle_elev, pipes.crest[joins])),
        saddle_cell=np.concatenate((graph.saddle_cell, pipes.inlet[joins].astype(np.int32))),
    )


def with_sinks(graph: BasinGraph, elev: F32, sinks: I64) -> BasinGraph:
    """Add cells where water is taken off the ground to the outlets.

    Parameters
    ----------
    graph : BasinGraph
    elev : (n_rows, n_cols) float32 [m]
        The ground that the graph was built of.
    sinks : (n,) int64
        Flat indices; those on no data take nothing.

    Returns
    -------
    BasinGraph
        The same one if there are no sinks.
    """
    basin = graph.label.ravel()[sinks]
    sinks, basin = sinks[basin > 0], basin[basin > 0]
    level = elev.ravel()[sinks]
    # The lowest of a basin comes last and stays; of those that tie the first in raster order.
    order = np.lexsort((-sinks, -level))
    sinks, basin, level = sinks[order], basin[order], level[order]
    is_lower = level < graph.outlet_elev[basin]
    if not is_lower.any():
        return graph
    outlet_elev, outlet_cell = graph.outlet_elev.copy(), graph.outlet_cell.copy()
    outlet_elev[basin[is_lower]] = level[is_lower]
    outlet_cell[basin[is_lower]] = sinks[is_lower].astype(outlet_cell.dtype)
    return graph._replace(outlet_elev=outlet_elev, outlet_cell=outlet_cell)


def fill_basins(elev: F32, graph: BasinGraph) -> F32:
    """Raise every cell to the level at which its basin drains.

    Parameters
    ----------
    elev : (n_rows, n_cols) float32 [m]
    graph : BasinGraph
        Of the same elevation.

    Returns
    -------
    (n_rows, n_cols) float32 [m]
    """
    level = flood_levels(graph.basin_a, graph.basin_b, graph.saddle_elev, graph.outlet_elev, graph.floor_elev)
    filled = np.empty(elev.shape, np.float32)
    _raise(elev, graph.label, level, filled)
    return filled


@striped
def _raise(elev: F32, label: I32, level: F32, filled: F32) -> None:
    n_rows, n_cols = elev.shape
    # Rows are independent: each cell is written once, from its own basin's level.
    for row in prange(n_rows):
        for col in range(n_cols):
            flooded = level[label[row, col]]
            # at no data both are NaN and the comparison is false
            filled[row, col] = flooded if flooded > elev[row, col] else elev[row, col]
