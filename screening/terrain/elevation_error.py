"""Error of the elevation as a random field: the same at a place, whatever window it is seen through."""

from __future__ import annotations

import math

import numpy as np

from screening.grid import Grid
from screening.models import F32, F64
from screening.schema.criteria import QUALITY_LEVEL_RMSE_M, Criteria

TILE_CELLS = 256
"""Side of the squares of the projected grid whose noise has a generator of its own."""

_CUT_AT_SIGMAS = 3.0
_CORRELATED, _UNCORRELATED = 0, 1
_SNAP = 1e-3
_WORD = 2**32


def elevation_error_m(grid: Grid, realisation: int, *, criteria: Criteria) -> F32:
    """Make one realisation of the elevation error: Gaussian, mean 0, correlated over the ground.

    White noise, drawn by square of the projected grid, is smoothed by a Gaussian kernel that is cut at three standard
    deviations and scaled to the exact variance: correlation falls as exp(-(distance / `error_correlation_m`)^2). Noise
    that differs from cell to cell is added to it. The sums run in the same order at each cell, so the error at a place
    is the same bit for bit in every window that shows it, and the window's edge changes nothing.

    Parameters
    ----------
    grid
        The window.
    realisation
        Number of the realisation, from 0.
    criteria
        `lidar_quality_level`, `elevation_rmse_m`, `error_correlation_m`, `error_uncorrelated_frac`, `error_seed`.

    Returns
    -------
    float32 of the grid's shape [m].

    References
    ----------
    Lindsay & Creed 2006, Computers & Geosciences 32(8), 1192-1204 (low spots under simulated elevation error), from
    memory. Smoothed white noise has the kernel's autocorrelation as its own: a property of linear filters.
    """
    from scipy.ndimage import correlate1d

    own = criteria.terrain.error_uncorrelated_frac
    kernel = error_kernel(grid.cell_m, correlation_m=criteria.terrain.error_correlation_m)
    margin = kernel.size // 2
    error: F32 = _white_noise(grid, margin, (criteria.terrain.error_seed, realisation, _CORRELATED))
    error = correlate1d(error, kernel, axis=0, mode="constant")[margin : margin + grid.n_rows]
    error = correlate1d(error, kernel, axis=1, mode="constant")[:, margin : margin + grid.n_cols].copy()
    error *= np.float32(math.sqrt(1.0 - own))
    if own > 0:
        noise = _white_noise(grid, 0, (criteria.terrain.error_seed, realisation, _UNCORRELATED))
        error += np.float32(math.sqrt(own)) * noise
    error *= np.float32(vertical_rmse_m(criteria))
    return error


def vertical_rmse_m(criteria: Criteria) -> float:
    """Vertical RMSE of the elevation [m]: as stated, else of its lidar quality level.

    Examples
    --------
    >>> vertical_rmse_m(Criteria.of(lidar_quality_level="QL3")), vertical_rmse_m(Criteria.of(elevation_rmse_m=0.07))
    (0.2, 0.07)
    """
    return criteria.terrain.elevation_rmse_m or QUALITY_LEVEL_RMSE_M[criteria.terrain.lidar_quality_level]


def error_kernel(cell_m: float, *, correlation_m: float) -> F64:
    """Weights along one axis that give white noise a correlation of 1/e at `correlation_m`, and keep its variance.

    Returns
    -------
    float64 (2 n + 1,), its squares add up to 1; one weight where nothing is correlated.
    """
    # A kernel exp(-x^2 / 2 s^2) correlates as exp(-h^2 / 4 s^2).
    sigma = correlation_m / 2.0 / cell_m
    n = math.ceil(_CUT_AT_SIGMAS * sigma)
    weight = np.exp(-0.5 * (np.arange(-n, n + 1) / sigma) ** 2) if n else np.ones(1)
    scaled: F64 = weight / math.sqrt(float((weight**2).sum()))
    return scaled


def _white_noise(grid: Grid, margin: int, key: tuple[int, ...]) -> F32:
    """Noise of the window and a margin round it, by squares of the projected grid."""
    n_rows, n_cols = (n + 2 * margin for n in grid.shape)
    # Whole steps from the projection's origin: a window's corner may be rounded, a cell's number may not.
    top = math.floor(-grid.north_m / grid.cell_m + _SNAP) - margin
    left = math.floor(grid.west_m / grid.cell_m + _SNAP) - margin
    noise = np.empty((n_rows, n_cols), np.float32)
    for tile_row in range(top // TILE_CELLS, (top + n_rows - 1) // TILE_CELLS + 1):
        row = tile_row * TILE_CELLS - top
        for tile_col in range(left // TILE_CELLS, (left + n_cols - 1) // TILE_CELLS + 1):
            col = tile_col * TILE_CELLS - left
            seed = np.random.SeedSequence([*key, tile_row % _WORD, tile_col % _WORD])
            tile = np.random.Generator(np.random.PCG64(seed)).standard_normal((TILE_CELLS, TILE_CELLS), np.float32)
            part = tile[max(-row, 0) : n_rows - row, max(-col, 0) : n_cols - col]
            noise[max(row, 0) : row + TILE_CELLS, max(col, 0) : col + TILE_CELLS] = part
    return noise
