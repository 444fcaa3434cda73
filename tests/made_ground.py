"""Invented terrain for tests and benchmarks."""

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]
ROWS_AT_ONCE = 256


def suburb(n_rows: int, n_cols: int, seed: int) -> F32:
    """One-metre elevation of an invented suburb: rolling ground, streets, level pads, berms, survey noise.

    Rounded to 1 mm, as elevation products often are, so that equal neighbours and flats occur. Made a band of rows
    at a time, so that hardly more memory is touched than the result takes.
    """
    rng = np.random.default_rng(seed)
    hills = _draw_hills(n_rows, n_cols, rng)
    across_row, across_col = _streets(n_rows), _streets(n_cols)
    col = np.arange(n_cols, dtype=np.float32)[np.newaxis, :]
    elev = np.empty((n_rows, n_cols), np.float32)
    for band in _bands(n_rows):
        row = np.arange(band.start, band.stop, dtype=np.float32)[:, np.newaxis]
        elev[band] = 250 - np.float32(0.008) * col - np.float32(0.005) * row
        for height_m, wavelength, lattice in hills:
            elev[band] += height_m * _rolling(band, n_cols, wavelength, lattice)
        elev[band] += across_row[band, np.newaxis]
        elev[band] += across_col
    _level_pads(elev, rng)
    for top in range(400, n_rows, 900):
        elev[top : top + 6] += np.float32(0.8)
    for band in _bands(n_rows):
        elev[band] += rng.standard_normal(elev[band].shape, dtype=np.float32) * np.float32(0.012)
        np.round(elev[band], 3, out=elev[band])
    return elev


def bumps(n_rows: int, n_cols: int, seed: int, *, step_m: float = 0.0, gap_share: float = 0.0) -> F32:
    """Rough random ground; rounded to `step_m` if positive, and with that share of cells without data."""
    rng = np.random.default_rng(seed)
    elev = rng.random((n_rows, n_cols)) * 4.0
    if step_m > 0:
        elev = np.round(elev / step_m) * step_m
    elev[rng.random(elev.shape) < gap_share] = np.nan
    return elev.astype(np.float32)


def _bands(n_rows: int) -> list[slice]:
    return [slice(top, min(top + ROWS_AT_ONCE, n_rows)) for top in range(0, n_rows, ROWS_AT_ONCE)]


def _draw_hills(n_rows: int, n_cols: int, rng: np.random.Generator) -> list[tuple[np.float32, int, F32]]:
    """Height, wavelength and random lattice of each size of hill."""
    hills = []
    height_m = 5.0
    for wavelength in (1024, 512, 256, 128, 64, 32, 16, 8):
        if wavelength <= max(n_rows, n_cols):
            lattice = rng.standard_normal((n_rows // wavelength + 3, n_cols // wavelength + 3)).astype(np.float32)
            hills.append((np.float32(height_m), wavelength, lattice))
        height_m *= 0.48
    return hills


def _rolling(band: slice, n_cols: int, wavelength: int, lattice: F32) -> F32:
    """Smooth interpolation of random heights on a lattice."""
    row, row_part = _place_on_lattice(band.start, band.stop, wavelength)
    col, col_part = _place_on_lattice(0, n_cols, wavelength)
    by_row = lattice[row] * (1 - row_part)[:, np.newaxis] + lattice[row + 1] * row_part[:, np.newaxis]
    return by_row[:, col] * (1 - col_part) + by_row[:, col + 1] * col_part


def _place_on_lattice(start: int, stop: int, wavelength: int) -> tuple[NDArray[np.int64], F32]:
    place = np.arange(start, stop) / wavelength
    index = place.astype(np.int64)
    part = (place - index).astype(np.float32)
    return index, part**3 * (part * (part * 6 - 15) + 10)


def _streets(n: int) -> F32:
    """Profile across streets every 180 m, crowned, 0.25 m below the ground beside them, with curbs."""
    across = np.zeros(n, np.float32)
    for centre in range(60, n, 180):
        distance = np.abs(np.arange(n, dtype=np.float32) - centre)
        street = np.where(distance < 4, -0.25 + 0.08 * (1 - distance / 4), 0.0)
        across += np.where((distance >= 4) & (distance < 5), 0.12, street).astype(np.float32)
    return across


def _level_pads(elev: F32, rng: np.random.Generator) -> None:
    """Level pads of 14 x 10 m for buildings, one per 2200 m2."""
    n_rows, n_cols = elev.shape
    if n_rows < 40 or n_cols < 40:
        return
    for _ in range(elev.size // 2200):
        row = int(rng.integers(8, n_rows - 24))
        col = int(rng.integers(8, n_cols - 24))
        elev[row : row + 14, col : col + 10] = elev[row + 7, col + 5] + np.float32(rng.uniform(0.1, 0.4))
