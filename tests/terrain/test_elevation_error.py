"""The field of elevation error against theory, and alike through every window."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from screening.grid import Grid
from screening.schema.criteria import Criteria
from screening.terrain.elevation_error import TILE_CELLS, elevation_error_m, error_kernel, vertical_rmse_m

CRITERIA = Criteria.of(elevation_rmse_m=0.2, error_correlation_m=3.0, error_uncorrelated_frac=0.25, error_seed=7)


def grid_at(west_m, north_m, n_rows, n_cols, cell_m=1.0):
    return Grid(crs="EPSG:26917", west_m=west_m, north_m=north_m, cell_m=cell_m, n_rows=n_rows, n_cols=n_cols)


@pytest.mark.parametrize(("level", "rmse_m"), [("QL0", 0.05), ("QL1", 0.10), ("QL2", 0.10), ("QL3", 0.20)])
def test_rmse_by_quality_level(level, rmse_m):
    # USGS Lidar Base Specification (TM 11-B4), from memory.
    assert vertical_rmse_m(Criteria.of(lidar_quality_level=level)) == rmse_m
    assert vertical_rmse_m(Criteria.of(lidar_quality_level=level, elevation_rmse_m=0.07)) == 0.07


@pytest.mark.parametrize(("cell_m", "correlation_m"), [(1.0, 10.0), (0.5, 3.0), (0.3048, 5.0), (2.0, 100.0)])
def test_kernel_keeps_the_variance_and_correlates_as_a_gaussian(cell_m, correlation_m):
    """White noise through a filter has the filter's autocorrelation; a Gaussian's is a Gaussian, 1/e at the length."""
    kernel = error_kernel(cell_m, correlation_m=correlation_m)
    correlation = np.correlate(kernel, kernel, "full")[kernel.size - 1 :]
    assert correlation[0] == pytest.approx(1.0, abs=1e-12)
    distance = np.arange(kernel.size) * cell_m
    np.testing.assert_allclose(correlation, np.exp(-((distance / correlation_m) ** 2)), atol=0.005)


@pytest.mark.parametrize(("correlation_m", "cell_m"), [(0.0, 1.0), (0.05, 1.0)])
def test_nothing_is_correlated_within_a_cell(correlation_m, cell_m):
    kernel = error_kernel(cell_m, correlation_m=correlation_m)
    assert kernel[kernel.size // 2] == pytest.approx(1.0)


@pytest.fixture(scope="module")
def fields():
    grid = grid_at(500_000.0, 4_400_000.0, 300, 420)
    return np.array([elevation_error_m(grid, number, criteria=CRITERIA) for number in range(4)], np.float64)


def test_mean_variance_and_tails(fields):
    # 36,000 independent places' worth: the standard error of the variance is 0.7 %, of the mean 0.0075 sigma.
    assert fields.dtype == np.float64 and fields.shape == (4, 300, 420)
    assert fields.mean() == pytest.approx(0.0, abs=0.03 * 0.2)
    assert fields.var() == pytest.approx(0.2**2, rel=0.03)
    beyond = (np.abs(fields) > 1.96 * 0.2).mean()
    assert beyond == pytest.approx(0.05, abs=0.005)


@pytest.mark.parametrize(("n_rows", "n_cols"), [(0, 1), (1, 0), (0, 2), (0, 3), (3, 0), (2, 2), (6, 0), (0, 12)])
def test_variogram(fields, n_rows, n_cols):
    """Semivariance: the share that differs from cell to cell, and a Gaussian's rise to the variance."""
    ahead = fields[:, n_rows:, n_cols:]
    behind = fields[:, : 300 - n_rows, : 420 - n_cols]
    semivariance = 0.5 * ((ahead - behind) ** 2).mean() / 0.2**2
    correlated = 0.75 * np.exp(-(n_rows**2 + n_cols**2) / 3.0**2)
    assert semivariance == pytest.approx(1.0 - correlated, abs=0.03)


def test_realisations_and_seeds_are_independent(fields):
    pairs = np.corrcoef(fields.reshape(4, -1))
    assert np.abs(pairs[~np.eye(4, dtype=bool)]).max() < 0.03
    grid = grid_at(500_000.0, 4_400_000.0, 300, 420)
    again = elevation_error_m(grid, 1, criteria=CRITERIA)
    np.testing.assert_array_equal(again, fields[1])
    other = elevation_error_m(grid, 1, criteria=CRITERIA.replaced(error_seed=8))
    assert abs(np.corrcoef(other.ravel(), fields[1].ravel())[0, 1]) < 0.03


def test_it_is_in_proportion_to_the_rmse(fields):
    grid = grid_at(500_000.0, 4_400_000.0, 300, 420)
    double = elevation_error_m(grid, 0, criteria=CRITERIA.replaced(elevation_rmse_m=0.4))
    np.testing.assert_allclose(double, 2.0 * fields[0], rtol=1e-6)


@pytest.mark.parametrize("origin", [(500_000.0, 4_400_000.0), (499_999.5, 4_400_000.5), (-250.25, -130.75)])
@pytest.mark.parametrize("cell_m", [1.0, 0.3048])
@given(
    st.integers(0, 250), st.integers(0, 300), st.integers(1, 90), st.integers(1, 110), st.sampled_from([0.0, 3.0, 9.0])
)
@settings(max_examples=10, deadline=None)
def test_it_is_the_same_bit_for_bit_in_every_window(origin, cell_m, top, left, n_rows, n_cols, correlation_m):
    criteria = CRITERIA.replaced(error_correlation_m=correlation_m)
    west_m, north_m = origin
    whole = elevation_error_m(grid_at(west_m, north_m, 340, 410, cell_m), 3, criteria=criteria)
    part = grid_at(west_m + left * cell_m, north_m - top * cell_m, n_rows, n_cols, cell_m)
    np.testing.assert_array_equal(
        elevation_error_m(part, 3, criteria=criteria), whole[top : top + n_rows, left : left + n_cols]
    )
    assert TILE_CELLS < 340  # more than one square of noise in each direction


def test_noise_does_not_repeat_from_square_to_square():
    grid = grid_at(0.0, 0.0, 2 * TILE_CELLS, 2 * TILE_CELLS)
    error = elevation_error_m(grid, 0, criteria=CRITERIA.replaced(error_correlation_m=0.0))
    half = TILE_CELLS
    squares = [error[:half, :half], error[half:, :half], error[:half, half:], error[half:, half:]]
    pairs = np.corrcoef([square.ravel() for square in squares])
    assert np.abs(pairs[~np.eye(4, dtype=bool)]).max() < 0.03
