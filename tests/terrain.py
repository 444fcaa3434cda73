"""Invented terrain for tests and benchmarks."""

import numpy as np
from numpy.typing import NDArray

F32 = NDArray[np.float32]


def suburb(n_rows: int, n_cols: int, seed: int) -> F32:
    """One-metre elevation of an invented suburb: rolling ground, streets, level pads, berms, survey noise.

    Rounded to 1 mm, as elevation products often are, so that equal neighbours and flats occur.
    """
    rng = np.random.default_rng(seed)
    row = np.arange(n_rows, dtype=np.float32)[:, np.newaxis]
    col = np.arange(n_cols, dtype=np.float32)[np.newaxis, :]
    elev = 250 - np.float32(0.008) * col - np.float32(0.005) * row
    height_m = 5.0
    for wavelength in (1024, 512, 256, 128, 64, 32, 16, 8):
        if wavelength <= max(n_rows, n_cols):
            elev += np.float32(height_m) * _rolling(n_rows, n_cols, wavelength, rng)
        height_m *= 0.48
    _sink_streets(elev)
    _level_pads(elev, rng)
    for top in range(400, n_rows, 900):
        elev[top : top + 6] += np.float32(0.8)
    elev += rng.standard_normal(elev.shape, dtype=np.float32) * np.float32(0.012)
    return np.round(elev, 3)


def bumps(n_rows: int, n_cols: int, seed: int, *, step_m: float = 0.0, gap_share: float = 0.0) -> F32:
    """Rough random ground; rounded to `step_m` if positive, and with that share of cells without data."""
    rng = np.random.default_rng(seed)
    elev = rng.random((n_rows, n_cols)) * 4.0
    if step_m > 0:
        elev = np.round(elev / step_m) * step_m
    elev[rng.random(elev.shape) < gap_share] = np.nan
    return elev.astype(np.float32)


def _rolling(n_rows: int, n_cols: int, wavelength: int, rng: np.random.Generator) -> F32:
    """Smooth interpolation of random heights on a lattice."""
    lattice = rng.standard_normal((n_rows // wavelength + 3, n_cols // wavelength + 3)).astype(np.float32)
    row, row_part = _place_on_lattice(n_rows, wavelength)
    col, col_part = _place_on_lattice(n_cols, wavelength)
    by_row = lattice[row] * (1 - row_part)[:, np.newaxis] + lattice[row + 1] * row_part[:, np.newaxis]
    return by_row[:, col] * (1 - col_part) + by_row[:, col + 1] * col_part


def _place_on_lattice(n: int, wavelength: int) -> tuple[NDArray[np.int64], F32]:
    place = np.arange(n) / wavelength
    index = place.astype(np.int64)
    part = (place - index).astype(np.float32)
    return index, part**3 * (part * (part * 6 - 15) + 10)


def _sink_streets(elev: F32) -> None:
    """Streets every 180 m, crowned, 0.25 m below the ground beside them, with kerbs."""
    for axis, n in enumerate(elev.shape):
        across = np.zeros(n, np.float32)
        for centre in range(60, n, 180):
            distance = np.abs(np.arange(n, dtype=np.float32) - centre)
            street = np.where(distance < 4, -0.25 + 0.08 * (1 - distance / 4), 0.0)
            across += np.where((distance >= 4) & (distance < 5), 0.12, street).astype(np.float32)
        elev += across[:, np.newaxis] if axis == 0 else across


def _level_pads(elev: F32, rng: np.random.Generator) -> None:
    """Level pads of 14 x 10 m for buildings, one per 2200 m2."""
    n_rows, n_cols = elev.shape
    if n_rows < 40 or n_cols < 40:
        return
    for _ in range(elev.size // 2200):
        row = int(rng.integers(8, n_rows - 24))
        col = int(rng.integers(8, n_cols - 24))
        elev[row : row + 14, col : col + 10] = elev[row + 7, col + 5] + np.float32(rng.uniform(0.1, 0.4))
