"""Inflow from beyond on real ground: cut to many small windows, each with the ground around it in cells of 10 m."""

import numpy as np
import pytest

from screening.grid import Grid
from screening.inputs import open_elevation, read_elevation
from screening.models import ContextElevation
from tests.blocks import CRS, NORTH, WEST, make_block
from tests.flow.test_boundary_inflow import averaged, routed, with_context

pytestmark = pytest.mark.realdata

EVERYWHERE = (-1e9, -1e9, 1e9, 1e9)


def found_in_windows(elev, *, cell_m, size, factor):
    """Share of the true area that is found with and without the ground around, where most drains in each window."""
    wide = np.ascontiguousarray(averaged(elev, factor), np.float32)
    whole, margin, shares = routed(make_block(elev, cell_m=cell_m)), size // 5, []
    for top in range(size // 4, elev.shape[0] - size, size // 2):
        for left in range(size // 4, elev.shape[1] - size, size // 2):
            part = np.s_[top : top + size, left : left + size]
            true = whole.contributing_area_m2[part]
            inner = true[margin:-margin, margin:-margin]
            row, col = np.unravel_index(inner.argmax(), inner.shape)
            row, col = row + margin, col + margin
            near = np.s_[row - 5 : row + 6, col - 5 : col + 6]  # a channel may shift by a few cells
            grid = Grid(
                crs=CRS,
                west_m=WEST - left * cell_m,
                north_m=NORTH + top * cell_m,
                cell_m=factor * cell_m,
                n_rows=wide.shape[0],
                n_cols=wide.shape[1],
            )
            block = make_block(elev[part], cell_m=cell_m)
            flows = (routed(with_context(block, ContextElevation(grid, wide, "wide.tif"))), routed(block))
            shares.append([flow.contributing_area_m2[near].max() / true[row, col] for flow in flows])
    return np.array(shares)


def test_bangor_from_small_windows(real_data):
    """Windows of 274 m in 1370 m x 914 m of 0.914 m cells, with cells of 10.06 m around: 40 of them."""
    source = open_elevation(real_data / "bangor" / "dem_3ft_tin_DERIVED.tif")
    grid, elev, _, _ = read_elevation(source, EVERYWHERE)
    shares = found_in_windows(elev, cell_m=grid.cell_m, size=300, factor=11)
    error = np.abs(shares - 1.0)
    assert len(shares) == 40
    # Measured: 0.13 against 0.35 on average, 30 against 14 of 40 within a tenth.
    assert error[:, 0].mean() < 0.2 < 0.3 < error[:, 1].mean()
    assert np.median(error[:, 0]) < 0.06
    assert (error[:, 0] < 0.1).sum() >= 26 and (error[:, 1] < 0.1).sum() < 20


def test_alexandria_keeps_its_windows(real_data):
    """Windows of 240 m of 2 m cells; the rest reaches 150 m farther at most, so little is left to find."""
    source = open_elevation(real_data / "alexandria" / "dtm.tif", vertical_unit="m")
    grid, elev, _, _ = read_elevation(source, EVERYWHERE)
    shares = found_in_windows(elev, cell_m=grid.cell_m, size=120, factor=5)
    assert (np.abs(shares[:, 0] - 1.0) < 0.2).all()
